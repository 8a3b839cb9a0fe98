"""The costing in words and tables: economic beside cash, by discount rate, and what is not counted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import Any

from o2sim.looks import unbought
from o2sim.looks.blocks import Block, Points, Row, Table, by_strategy
from o2sim.looks.words import Summary, chosen_of, joined, percent
from o2sim.measures.costing import whose
from o2sim.money.costing import FIVE
from o2sim.money.not_counted import NEVER

MEANS = (
    "Economic cost is what is used up in a year: purchases as annuities over their lives, gifts at their worth. "
    f"Cash is what leaves the purse in the next {FIVE} years: purchases and replacements in the year they fall "
    f"in, gifts at 0; nothing left after {FIVE} years is credited. Means of the replications, prices as stated."
)
WHERE = "Every line, to add again: the report, its workbook, and costing-lines.csv of --out."
OF_ONE_LIST = "Capital, recurrent costs and cash by year are of one list of prices: run without --draws for them."


def has_costs(summary: Summary) -> bool:
    """Return True where a strategy has a cost a year."""
    return any(each["annual_cost"] is not None for each in summary["strategies"].values())


def blocks(summary: Summary, *, every_line: bool = False) -> list[Block]:
    """Return the costing of all strategies that have prices; every_line: with a table of lines for each."""
    found = {name: summary["costing"][name] for name in summary["strategies"] if name in summary["costing"]}
    if not found:
        return [OF_ONE_LIST] if "draws" in summary and has_costs(summary) else []
    lines: list[Block] = [_lines(name, each) for name, each in found.items()] if every_line else [WHERE]
    chosen = chosen_of(summary)
    return [
        " ".join(dict.fromkeys(statement(each) for each in found.values())),
        MEANS,
        *beside(summary, found),
        *by_strategy(
            f"Costing, {_money(found)}", found, list(_rows(found)), " ".join(not_counted(summary)), chosen
        ),
        *by_strategy("By discount rate", found, list(_rate_rows(found)), chosen=chosen),
        *_beside(found),
        *lines,
    ]


def beside(summary: Summary, names: Iterable[str]) -> list[Block]:
    """Return what was needed and not bought beside these costs; nothing where nobody counts money."""
    clauses = {name: unbought.clause(unbought.of_item(summary["strategies"][name])) for name in names}
    said = tuple(f"{name}: {clause}" for name, clause in clauses.items() if clause)
    return [Points(said, "Beside every cost here, also per litre and per patient:"), unbought.NOTE] if said else []


def statement(found: Mapping[str, Any]) -> str:
    """Return in which money, of which year, from whose view and at which rate costs are counted."""
    year = f"of {found['price_year']}" if found["price_year"] else "of a year that is not stated (price_year)"
    rate = percent(found["discount_rate"])
    return (
        f"Costs in {found['currency']} {year}, discounted at {rate} a year. Perspective: {found['perspective']}, "
        f"which counts {whose(found)}."
    )


def not_counted(summary: Summary) -> list[str]:
    """Return what is in no cost, in a sentence for all strategies or, where they differ, for each."""
    said = {name: joined(each["not_counted"]) for name, each in summary["costing"].items()}
    if len(set(said.values())) == 1:
        return [f"In no cost (no price, or not stated): {next(iter(said.values()))}."]
    return [f"In no cost of {name} (no price, or not stated): {each}." for name, each in said.items()]


def is_short_of_some(summary: Summary) -> bool:
    """Return True where something that could be in the costs of a strategy is not: no price, or not stated."""
    return any(not set(each["not_counted"]) <= set(NEVER) for each in summary["costing"].values())


def _money(found: Mapping[str, Any]) -> str:
    one = next(iter(found.values()))
    return f"{one['currency']} of {one['price_year']}" if one["price_year"] else str(one["currency"])


def _rows(found: Mapping[str, Any]) -> Iterator[Row]:
    """Yield the rows of economic cost at the stated rate, and of cash."""
    rates = dict.fromkeys(percent(each["discount_rate"]) for each in found.values())
    yield f"Economic, a year, at {joined(list(rates))}", lambda _: ""
    yield from _sums(lambda each: each["economic"][0])
    if any(each["gifts"] for each in found.values()):
        yield "  of it gifts", lambda each: whole(each["gifts"])
    yield f"Cash, {FIVE} years together", lambda _: ""
    yield from _sums(lambda each: each["financial"])
    for year in range(FIVE):
        yield f"  year {year + 1}", _year(year)


def _sums(part: Callable[[Any], Any]) -> Iterator[Row]:
    yield "  capital", lambda each: whole(part(each)["capital"])
    yield "  recurrent", lambda each: whole(part(each)["recurrent"])
    yield "  in all", lambda each: whole(part(each)["total"])
    yield "  per 1,000 L delivered", lambda each: _cents(part(each)["per_1000_l"])
    yield "  per patient treated", lambda each: _cents(part(each)["per_patient"])


def _year(place: int) -> Callable[[Any], str]:
    return lambda each: whole(each["financial"]["by_year"][place]["total"])


def _rate_rows(found: Mapping[str, Any]) -> Iterator[Row]:
    """Yield the rows of what a discount rate changes, those rates that all strategies have."""
    every = [[each["discount_rate"] for each in one["economic"]] for one in found.values()]
    rates = sorted(set(every[0]).intersection(*every[1:]))
    views: tuple[tuple[str, Callable[[Any, float], str]], ...] = (
        ("Economic, a year", lambda each, rate: whole(_at(each["economic"], rate)["total"])),
        ("  per 1,000 L delivered", lambda each, rate: _cents(_at(each["economic"], rate)["per_1000_l"])),
        ("  per patient treated", lambda each, rate: _cents(_at(each["economic"], rate)["per_patient"])),
        (f"  {FIVE} years, present value", lambda each, rate: whole(_at(each["economic"], rate)["five_years"])),
        (f"Cash, {FIVE} years, present value",
         lambda each, rate: whole(_at(each["financial"]["present_values"], rate)["amount"])),
    )  # fmt: skip
    for head, cell in views:
        for rate in rates:
            yield f"{head}, {percent(rate)}", partial(_at_rate, cell, rate)


def _at_rate(cell: Callable[[Any, float], str], rate: float, each: Any) -> str:
    return cell(each, rate)


def _at(many: Any, rate: float) -> Any:
    return next(each for each in many if each["discount_rate"] == rate)


def _beside(found: Mapping[str, Any]) -> Iterator[Block]:
    """Yield what others pay, and the hours of staff."""
    left = _points(found, "left_out", lambda each: f"{each['item']} {whole(each['amount'])} ({each['paid_by']})")
    if left:
        yield Points(left, "Left out of every total, as others pay it (a year):")
    hours = _points(found, "staff_hours", lambda each: f"{each[0]} {whole(each[1])}")
    if hours:
        yield Points(hours, "Hours of staff a year:")


def _points(found: Mapping[str, Any], part: str, say: Callable[[Any], str]) -> tuple[str, ...]:
    """Return a line for each strategy that has something in a part, a mapping or a list."""
    parts = {
        name: each[part].items() if isinstance(each[part], dict) else each[part] for name, each in found.items()
    }
    return tuple(f"{name}: {joined([say(one) for one in some])}" for name, some in parts.items() if some)


def _lines(name: str, found: Mapping[str, Any]) -> Table:
    """Return every line of one strategy, economic beside cash, with the sums of capital and recurrent."""
    rows = []
    for kind in ("capital", "recurrent"):
        some = [line for line in found["lines"] if line["kind"] == kind]
        rows += [_line(f"  {line['item']}", line["paid_by"], line["economic"], line["cash"]) for line in some]
        cash = [sum(line["cash"][year] for line in some) for year in range(FIVE)]
        rows.append(_line(kind, "", sum(line["economic"] for line in some), cash))
    rows.append(_line("in all", "", found["economic"][0]["total"],
                      [each["total"] for each in found["financial"]["by_year"]]))  # fmt: skip
    heads = (f"{name}, {found['currency']}", "paid by", "economic a year", "cash year 1", f"cash {FIVE} years")
    return Table(heads, tuple(rows))


def _line(head: str, payer: str, economic: float, cash: Any) -> tuple[str, ...]:
    return head, payer, whole(economic), whole(cash[0]), whole(sum(cash))


def whole(amount: float) -> str:
    """Return money without its hundredths, as 12,345."""
    return f"{round(amount):,}"


def _cents(amount: float | None) -> str:
    return "-" if amount is None else f"{amount:,.2f}"
