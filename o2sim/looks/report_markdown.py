"""The parts of a report in, Markdown out; drawings are told in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from o2sim.looks.blocks import Block, Code, Lines, Part, Points, Strong, Table
from o2sim.looks.markdown import bullets, escape, heading, prose, table
from o2sim.looks.picture import Picture


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
    """Return a cell in one line; what stood on two is told apart by a semicolon."""
    return escape("; ".join(line.strip() for line in text.split("\n")))
