"""What an answer is made of, as plain parts that any look can show: prose, points, tables, drawings.

Whoever shows the parts (terminal, page, Markdown, workbook, notebook) escapes them; nothing here is markup.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Union

if TYPE_CHECKING:
    from o2sim.looks.picture import Picture


@dataclass(frozen=True)
class Points:
    """A list of texts, with a small heading where it has one."""

    texts: tuple[str, ...]
    heading: str = ""


@dataclass(frozen=True)
class Lines:
    """Sentences that stand together, each in a line of its own; an empty one says nothing."""

    texts: tuple[str, ...]


@dataclass(frozen=True)
class Strong:
    """A paragraph to be seen first."""

    text: str


@dataclass(frozen=True)
class Code:
    """A line for the terminal."""

    text: str


@dataclass(frozen=True)
class Table:
    """A table of text: the first column holds the headings, its head the table's title; a note may follow.

    grey: numbers of the rows, from 0, that matter less; they say so in words as well.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    grey: tuple[int, ...] = ()


Block = Union[str, Strong, Lines, Points, Code, Table, "Picture"]


@dataclass(frozen=True)
class Part:
    """A heading and what stands under it; name is its anchor.

    question: what the part answers, to be put with the others; again: what to add to the command to get it again.
    """

    name: str
    title: str
    blocks: tuple[Block, ...]
    question: str = ""
    again: str = ""
