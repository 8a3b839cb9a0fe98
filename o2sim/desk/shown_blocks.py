"""Blocks of an answer as plain data, made where drawings are, and turned back where pages are made.

So the process that serves pages loads no drawing library, and an answer can be kept as JSON.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from markupsafe import Markup

from o2sim.looks.blocks import Block, Code, Lines, Picture, Points, Strong, Table
from o2sim.looks.words import capital

KINDS: dict[str, type[Any]] = {each.__name__: each for each in (Strong, Lines, Points, Code, Table)}
WIDE_IN = 5.0  # drawings for a phone are narrower
OF_THE_TERMINAL = (  # what texts name by options and keys with a value, and what it is here
    (r" \(--[^()]*\)", ""),
    (r": (?:give a lower --range|--csv has them)", ""),
    (r"write it with --vary \S+, then size the fleet anew", "put it into the file, then work this out again"),
    (r"(?<=More )--(?=replications)", ""),
    (r"\bcylinders\.fleet (\d[\d,]*)", r"\1 cylinders"),
    (r"\b1 cylinders\b", "1 cylinder"),
    (r"(\d cylinders) is enough", r"\1 are enough"),
    (r"(\d cylinders) gives", r"\1 give"),
)
Data = dict[str, Any]


@dataclass(frozen=True)
class Drawing:
    """A drawing that is made: its title, the drawing itself, a note."""

    title: str
    svg: Markup
    note: str
    wide: bool  # made for more than a phone


def data_of(blocks: Iterable[Block]) -> list[Data]:
    """Return blocks as data; a drawing is made here."""
    return [_data(block) for block in blocks if block]


def _data(block: Block) -> Data:
    if isinstance(block, str):
        return {"kind": "text", "text": block}
    if isinstance(block, Picture):
        from o2sim.looks.drawing import inline_svg

        svg = inline_svg(block.figure, block.name, block.title, block.alt)
        wide = bool(block.figure.get_figwidth() > WIDE_IN)
        return {"kind": "Drawing", "title": block.title, "svg": svg, "note": block.note, "wide": wide}
    return {"kind": type(block).__name__, **asdict(block)}


def without_keys(blocks: Iterable[Block], words: Mapping[str, str]) -> list[Block]:
    """Return sentences and tables with words in place of the keys of a file, and without options of commands."""
    found: list[Block] = []
    for block in blocks:
        if isinstance(block, Table):
            parts = {name: _said(getattr(block, name), words) for name in ("columns", "rows", "note")}
            found.append(replace(block, **parts))
        else:
            found.append(capital(_said(block, words)) if isinstance(block, str) else block)
    return found


def _said(part: Any, words: Mapping[str, str]) -> Any:
    if isinstance(part, str):
        for named, here in OF_THE_TERMINAL:
            part = re.sub(named, here, part)
        for key in sorted(words, key=len, reverse=True):
            part = part.replace(key, words[key])
        return part
    return tuple(_said(each, words) for each in part) if isinstance(part, tuple) else part


def blocks_of(data: Iterable[Data]) -> list[Any]:
    """Return the blocks that data stand for."""
    return [_block(dict(each)) for each in data]


def _block(data: Data) -> Any:
    kind = data.pop("kind")
    if kind == "text":
        return data["text"]
    if kind == "Drawing":
        return Drawing(data["title"], Markup(data["svg"]), data["note"], data["wide"])
    return KINDS[kind](**{key: _tuples(value) for key, value in data.items()})


def _tuples(value: Any) -> Any:
    return tuple(map(_tuples, value)) if isinstance(value, list) else value
