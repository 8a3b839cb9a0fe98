"""How a notebook shows a result: its statement, tables with intervals, and provenance, as HTML.

It holds no script and loads nothing; all text is escaped.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from o2sim.looks import blocks as plain
from o2sim.looks import cautions
from o2sim.looks import doubt as precision
from o2sim.looks.blocks import Lines, Picture, Points, Strong, Table
from o2sim.looks.html import result_section, shown_figure
from o2sim.looks.screen import provenance
from o2sim.runs.study import Study
from o2sim.shown import html

Block = plain.Block | Sequence[str]  # a sequence of texts is points
IN_PYTHON = (  # what texts name for the command line, and what it is here; of the rest the hyphens go
    (r"--hold-levels keeps", "hold_levels=True keeps"),
    (r"give a lower --range", "give lower values in vary"),
    (r"--csv has them", "to_frame() has them"),
    (r"all [\d,]+ are in --csv and --json", "to_frame() has all"),
    (r"--full lists", "to_frame() lists"),
    (r"--([a-z]+)\b", r"\1"),
)


def run_line(study: Study) -> str:
    """Return the line that says how to get a study again."""
    stopped = "" if study.complete else f" of {study.requested:,} (stopped)"
    return provenance(study.scenario, study.seed, precision.done(study) + stopped, study.engine)


def result_line(said: Mapping[str, Any], what: str) -> str:
    """Return the line that says how to get a result again."""
    return (
        f"o2sim {said['version']} | scenario {said['scenario_hash']} | seed {said['seed']} | {what} | "
        f"engine {said['engine']}"
    )


@html.register
def _picture(result: Picture) -> str:
    words = f"{result.title}\n{result.alt}\n{result.note}".encode()
    name = f"{result.name}-{hashlib.sha256(words).hexdigest()[:8]}"  # ids of several drawings on one page
    return shown_figure(result, name, _text(result.note))


def page(title: str, blocks: Iterable[Block], line: str, *, strong: bool = True) -> str:
    """Return a result's HTML: its title as a label, the first paragraph set off, the caution, the provenance."""
    return result_section(title, _in_python(blocks, strong), cautions.SHORT[0], line)


def _in_python(blocks: Iterable[Block], strong: bool) -> Iterator[plain.Block]:
    """Yield the blocks that say something, in words for Python; the first paragraph set off if strong."""
    for block in _one_by_one(blocks):
        match block:
            case str():
                yield Strong(_text(block)) if strong else _text(block)
                strong = False
            case Table():
                yield replace(block, note=_text(block.note))
            case Strong():
                yield Strong(_text(block.text))
            case Points():
                yield replace(block, texts=tuple(map(_text, block.texts)))
            case _:
                yield block


def _one_by_one(blocks: Iterable[Block]) -> Iterator[plain.Block]:
    """Yield the blocks that are not empty; lines as paragraphs, and headings too: a cell has none of its own."""
    for block in blocks:
        if isinstance(block, Lines):
            yield from filter(None, block.texts)
        elif isinstance(block, Points) and block.heading:
            yield from (block.heading, Points(block.texts))
        elif isinstance(block, str) or not isinstance(block, Sequence):
            yield from [block] if block else []
        elif block:
            yield Points(tuple(block))


def _text(text: str) -> str:
    for flag, here in IN_PYTHON:
        text = re.sub(rf"(?<![\w-]){flag}", here, text)
    return text
