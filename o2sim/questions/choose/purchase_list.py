"""What to buy for one choice as a list to hand over: a page to print and a table for a spreadsheet.

A line without a price says so and is in no total. The list says that it is a draft as long as figures that decide
are not known; it is made of plain data, so that no simulation has to be loaded for it.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from o2sim.looks.cautions import LONG
from o2sim.looks.files import write_rows
from o2sim.looks.sheet_page import boxed, cautions, page, paragraph, sign, table

if TYPE_CHECKING:  # which would load the engine
    from o2sim.measures.result_rows import Cell

TITLE, DRAFT = "Purchase list", "Draft purchase list: not for ordering"
ASK = "ask for a price"
HEADS = ("What", "in all", "there already", "to buy", "each", "amount")
IN_ALL = "In all, for lines with a price"


@dataclass(frozen=True)
class Line:
    """One thing: how many there are to be, are there, are bought; price and amount None without a price."""

    item: str
    in_all: int | None
    there: int
    buy: int
    each: float | None
    amount: float | None


@dataclass(frozen=True)
class Head:
    """What stands over the list and under it: of what, the currency, why it is a draft ("": it is none)."""

    of: str
    currency: str
    draft: str
    footer: str
    beside: tuple[str, ...] = ()  # what the money does not buy, and who pays, in sentences


def lines_of(data: Iterable[Mapping[str, Any]]) -> list[Line]:
    """Return lines kept as plain data."""
    return [Line(**each) for each in data]


def total(lines: Sequence[Line]) -> float:
    """Return the money for all that has a price."""
    return sum(line.amount or 0.0 for line in lines)


def list_page(lines: Sequence[Line], head: Head) -> str:
    """Return the list as a page to print, complete in one file."""
    amounts = [*map(_cells, lines), (IN_ALL, "", "", "", "", f"{total(lines):,.0f}")]
    heads = (*HEADS[:-1], f"{HEADS[-1]}, {head.currency}")
    blocks = [
        *([boxed([head.draft], "box")] if head.draft else []),
        paragraph(head.of, "for"),
        table(heads, amounts),
        *(paragraph(said) for said in (*_notes(lines), *head.beside)),
        sign("Checked by", "Approved by", "Date"),
        cautions(text for texts in LONG.values() for text in texts[:1]),
    ]
    return page(DRAFT if head.draft else TITLE, blocks, head.footer, "")


def _notes(lines: Sequence[Line]) -> Iterator[str]:
    without = [line.item for line in lines if line.each is None]
    if without:
        yield f"Without a price, and in no total: {'; '.join(without)}."
    yield "Freight, duty, installation and training are in the total only where the scenario states them."


def _cells(line: Line) -> tuple[str, ...]:
    whole = "" if line.in_all is None else f"{line.in_all:,}"
    each = ASK if line.each is None else f"{line.each:,.12g}"
    amount = "" if line.amount is None else f"{line.amount:,.0f}"
    return (line.item, whole, f"{line.there:,}", f"{line.buy:,}", each, amount)


def list_csv(lines: Sequence[Line], head: Head) -> str:
    """Return the list as CSV; a draft says so in its first line. Amounts are plain numbers."""
    rows: list[list[Cell]] = [[DRAFT, head.draft]] if head.draft else []
    rows.append([*HEADS, "currency"])
    for line in lines:
        whole: Cell = "" if line.in_all is None else line.in_all
        each: Cell = ASK if line.each is None else _bare(line.each)
        amount: Cell = "" if line.amount is None else _bare(line.amount)
        rows.append([line.item, whole, line.there, line.buy, each, amount, head.currency])
    rows.append([IN_ALL, "", "", "", "", _bare(total(lines)), head.currency])
    rows += [[said] for said in head.beside]
    out = io.StringIO(newline="")
    write_rows(out, rows)
    return out.getvalue()


def _bare(amount: float) -> float | int:
    """Return an amount to the cent, without decimals where it has none."""
    return int(amount) if amount == int(amount) else round(amount, 2)
