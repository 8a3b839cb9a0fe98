"""Markdown (CommonMark with tables) of texts and of blocks; what somebody else wrote can change none of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from o2sim.looks.blocks import Block, Code, Figures, Lines, Part, Picture, Points, Strong, Table

_SPECIAL = re.compile(r"([\\`*_\[\]<>&|~$#@^])")  # may begin something anywhere in a line
_AT_START = re.compile(
    r"^([-+=>:]|[0-9]{1,9}(?=[.)](?:\s|$)))"
)  # may begin a list, a heading, a rule at the start of one
_LINK = re.compile(r"(:)(?=//)|(?<=www)(\.)", re.IGNORECASE)  # some readers link these by themselves


def escape(text: str) -> str:
    """Return a text, in one line, that shows as it is wherever it stands."""
    line = _SPECIAL.sub(r"\\\1", " ".join(text.split()))
    line = _LINK.sub(lambda found: f"\\{found[0]}", line)
    start = _AT_START.match(line)
    if start is None:
        return line
    kept = start[1]
    return f"{kept}\\{line[len(kept) :]}" if kept.isdigit() else f"\\{line}"


def prose(text: str) -> str:
    """Return o2sim's own text, escaped but for what stands between backticks, which is shown as code."""
    parts = " ".join(text.split()).split("`")
    if len(parts) % 2 == 0:
        return escape(text)
    return "".join(f"`{part}`" if place % 2 else _inner(part) for place, part in enumerate(parts))


def _inner(text: str) -> str:
    """Return an escaped part of a line with the spaces at its ends."""
    lead, trail = text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]
    return f"{lead}{escape(text)}{trail}" if text.strip() else text


def heading(level: int, text: str) -> str:
    """Return a heading; text is escaped already."""
    return f"{'#' * level} {text}"


def bullets(texts: Iterable[str]) -> str:
    """Return a list; texts are escaped already."""
    return "\n".join(f"- {text}" for text in texts)


def numbered(texts: Iterable[str]) -> str:
    """Return a numbered list; texts are escaped already."""
    return "\n".join(f"{place}. {text}" for place, text in enumerate(texts, 1))


def table(heads: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
    """Return a table; cells are escaped already."""
    lines: list[Iterable[str]] = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def document(title: str, parts: Sequence[Part]) -> str:
    """Return the whole document (CommonMark with tables)."""
    blocks = [heading(1, escape(title))]
    for part in parts:
        blocks.append(heading(2, escape(part.title)))
        for block in part.blocks:
            blocks += _block(block)
    return "\n\n".join(blocks) + "\n"


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Strong):
        yield f"**{escape(block.text)}**"
    elif isinstance(block, Lines):
        yield from map(prose, filter(None, block.texts))
    elif isinstance(block, Points):
        if block.heading:
            yield heading(3, escape(block.heading))
        yield bullets(map(escape, block.texts))
    elif isinstance(block, Figures):
        yield bullets(
            f"**{escape(figure)}** {escape(what)} ({escape(sure)})" for figure, what, sure in block.shown
        )
    elif isinstance(block, Code):
        yield f"    {' '.join(block.text.split())}"
    elif isinstance(block, Picture):
        yield f"*{escape(block.title)}.* {escape(block.alt)}"
    elif isinstance(block, Table):
        yield table(list(map(_cell, block.columns)), (map(_cell, row) for row in block.rows))
        if block.note:
            yield escape(block.note)
    else:
        yield prose(block)


def _cell(text: str) -> str:
    """Return a cell in one line; what stood on two is separated by a semicolon."""
    return escape("; ".join(line.strip() for line in text.split("\n")))
