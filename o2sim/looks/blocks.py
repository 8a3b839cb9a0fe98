"""What an answer is made of, as plain parts that any look can show: prose, points, tables, drawings.

Whoever shows the parts (terminal, page, Markdown, workbook, notebook) escapes them; nothing here is markup.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from o2sim.outcome import SUPPLY_CAUSES
from o2sim.shown import Shown

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLUMNS_AT_ONCE = 3  # strategies side by side within 100 characters
SUPPLY_LABELS = frozenset(cause.label for cause in SUPPLY_CAUSES)
Place = Literal["first", "body", "annex"]
Row = tuple[str, Callable[[Any], str]]  # the heading, and the cell made from one strategy's item


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
class Figures:
    """The few figures to remember: each as (the figure, what it is of, how sure it is)."""

    shown: tuple[tuple[str, str, str], ...]


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


@dataclass(frozen=True)
class Picture(Shown):
    """A drawing: a name for its ids, its title, what it shows in words, and a note under it."""

    name: str
    title: str
    alt: str
    note: str
    figure: Figure

    def save(self, path: str | Path) -> Path:
        """Write the drawing to a file, PNG or SVG by the end of its name; return its path."""
        from o2sim.looks.drawing import save

        save(self.figure, Path(path))
        return Path(path)


Block = str | Strong | Lines | Points | Figures | Code | Table | Picture


@dataclass(frozen=True)
class Part:
    """A heading and what stands under it; name is its anchor.

    question: what the part answers, to be put with the others; again: what to add to the command to get it again.
    place: on the first page, after it, or in the annex.
    """

    name: str
    title: str
    blocks: tuple[Block, ...]
    question: str = ""
    again: str = ""
    place: Place = "body"


def mean_of(value: Mapping[str, Any] | None) -> float:
    """Return the mean of a {mean, low, high}; 0 for None."""
    return float(value["mean"]) if value else 0.0


def split_hours(item: Mapping[str, Any]) -> tuple[float, float]:
    """Return the mean unserved patient-hours for lack of supply, and those in handling."""
    by_cause = {name: mean_of(value) for name, value in item["unserved_hours_by_cause"].items()}
    supply = sum(value for name, value in by_cause.items() if name in SUPPLY_LABELS)
    return supply, sum(value for name, value in by_cause.items() if name not in SUPPLY_LABELS)


def marked(name: str, chosen: str) -> str:
    """Return the name of a strategy, with a mark in words where it is the one chosen."""
    return f"{name} (chosen)" if name == chosen else name


def in_groups(names: Sequence[str], most: int, chosen: str = "") -> list[list[str]]:
    """Return names a few at a time; the chosen one begins each group, so that all can be read against it."""
    first = [chosen] if chosen in names else []
    others = [name for name in names if name not in first]
    each = most - len(first)
    if first and not others:
        return [first]
    return [[*first, *others[start : start + each]] for start in range(0, len(others), each)]


def by_strategy(
    title: str, items: Mapping[str, Any], rows: Sequence[Row], note: str = "", chosen: str = ""
) -> list[Table]:
    """Return tables with one column a strategy, so many at once as fit; the note stands under the last.

    chosen: the strategy that is marked, and stands first in each table, before those of its turn.
    """
    blocks = in_groups(list(items), COLUMNS_AT_ONCE + bool(chosen), chosen)
    return [
        Table(
            (title, *(marked(name, chosen) for name in block)),
            tuple((head, *(cell(items[name]) for name in block)) for head, cell in rows),
            note if block is blocks[-1] else "",
        )
        for block in blocks
    ]
