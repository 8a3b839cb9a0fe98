"""Say what is in the yard already, what is to be bought beside it and for what money, and what has no price."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from o2sim.looks.blocks import Row, Table, by_strategy
from o2sim.looks.words import joined, number
from o2sim.questions.equipment.result import EACH_YEAR, Bought, Lists, Needed

YARD = "Already in the yard"
AS_STATED = (
    "As many as the scenario has, or by the rules below; in all is what the cheque has: also the first filling of "
    "the cylinders, freight, duty, installation, training and other lines where they are stated, and nothing of "
    "what is used up by the year. "
)
ASKED = "no price"
GIVEN = "paid by others"
YARD_NOTE = (
    "Nothing to buy for these before the year in which the life of the first is over; due now: bought again in "
    "the first year. Lives are those of the prices."
)


def tables(needed: Needed) -> list[Table]:
    """Return what is in the yard, where anything is, and what is left to buy, strategies side by side."""
    by_name = {name: {each.item: each for each in lists.to_buy} for name, lists in needed.strategies.items()}
    items = list(dict.fromkeys(item for found in by_name.values() for item in found))
    there = [item for item in items if any(item in found and found[item].there for found in by_name.values())]
    yard: list[Row] = [(item, _there(item)) for item in there]
    found = by_strategy(YARD, by_name, yard, YARD_NOTE)
    lists, money = needed.strategies, bool(needed.currency)
    rows: list[Row] = [(_label(item, by_name.values()), _bought(item, money=money)) for item in items]
    if money:
        totals = {name: each.capital or 0.0 for name, each in lists.items()}
        columns: Mapping[str, Any] = {name: (by_name[name], totals[name]) for name in by_name}
        rows = [(head, _of_first(cell)) for head, cell in rows]
        rows.append(("in all, to begin with", lambda pair: f"{pair[1]:,.0f}"))
    else:
        columns = by_name
    head = f"To buy, {needed.currency}" if money else "To buy"
    note = AS_STATED + (unpriced_note(lists) if money else "")
    return [*(found if there else []), *by_strategy(head, columns, rows, note.strip())]


def unpriced_note(lists: Mapping[str, Lists]) -> str:
    """Return how many lines of each strategy have no price; an empty text where all have one."""
    counts = [f"{len(each.unpriced)} of “{name}”" for name, each in lists.items() if each.unpriced]
    return f"Lines with “{ASKED}” are in no total, ask for one: {joined(counts)}." if counts else ""


def _label(item: str, columns: Iterable[Mapping[str, Bought]]) -> str:
    yearly = any(found[item].unit == EACH_YEAR for found in columns if item in found)
    return f"{item}, a year" if yearly else item


def _of_first(cell: Callable[[Any], str]) -> Callable[[Any], str]:
    return lambda pair: cell(pair[0])


def _there(item: str) -> Callable[[Any], str]:
    def cell(found: Mapping[str, Bought]) -> str:
        each = found.get(item)
        if each is None or not each.there:
            return "-"
        said = f"{each.there} of {each.quantity}" + (f", {each.due} due now" if each.due else "")
        return said if each.next_due is None else f"{said}, until year {each.next_due}"

    return cell


def _bought(item: str, *, money: bool) -> Callable[[Any], str]:
    def cell(found: Mapping[str, Bought]) -> str:
        each = found.get(item)
        if each is None:
            return "-"
        if not each.to_buy:
            return "0"
        if each.rented:
            return f"{each.to_buy}, rented"
        if each.price is None or each.amount is None:
            return f"{each.to_buy}, {ASKED if money else ''}".removesuffix(", ")
        if each.price and not each.amount:
            return f"{each.to_buy}, {GIVEN}"
        return f"{each.to_buy} x {number(each.price)} = {each.amount:,.0f}"

    return cell
