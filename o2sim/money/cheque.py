"""The cheque to be signed for a hospital: what is paid when, in plain money.

The yearly cost of `compare` spreads each purchase over its life, which is right for comparing and useless for a
budget: nobody can pay the 90 dollars a year of a concentrator. Here is what is paid in the first year, what
comes back each month, and which year brings which replacement. Nothing is discounted; prices stay as stated.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from math import ceil
from typing import Any

import numpy as np

from o2sim.money import by_size, cost
from o2sim.money.added import thing_of
from o2sim.money.not_counted import not_counted
from o2sim.money.payers import PaidBy, is_counted, is_paid
from o2sim.money.to_buy import Thing, things, unpriced
from o2sim.money.yard import stock, years_due
from o2sim.outcome import Outcome
from o2sim.scenario.types.costing import OWN
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Equipment, Hospital

YEARS_AHEAD = 10
FIRST_FILL = "first filling of the cylinders"


@dataclass(frozen=True)
class Purchase:
    """One line of the first year's purchases; there: how many are owned, due: of these, bought again now."""

    item: str
    count: int
    price: float
    life_years: float
    salvage: float
    there: int = 0
    due: int = 0

    @property
    def amount(self) -> float:
        """Return the money to pay, less what those that are due bring."""
        return self.count * self.price - self.due * self.salvage


def purchases(hospital: Hospital) -> list[Purchase]:
    """Return what there is to be that has a price: how many are bought to begin with, how many are there already.

    Gifts are left out. Empty without prices.
    """
    return [
        Purchase(each.item, each.stock.bought, price.price, price.life_years, price.salvage, *_in_yard(each))
        for each, price in _durable(hospital)
    ]


def _in_yard(thing: Thing) -> tuple[int, int]:
    """Return how many are there, and due: none of what comes on top of a thing, which is no thing itself."""
    return (thing.stock.there, thing.stock.due) if thing_of(thing.item) == thing.item else (0, 0)


def _durable(hospital: Hospital) -> Iterator[tuple[Thing, Equipment]]:
    """Yield what lasts, has a price and is paid for, with its price; nothing without prices."""
    costs = hospital.costs
    if costs is None:
        return
    for each in (*things(hospital), *_added(hospital)):
        if each.each is not None and each.each.price and not each.yearly and is_paid(costs, each.each.paid_by):
            yield each, each.each


def _added(hospital: Hospital) -> Iterator[Thing]:
    """Yield what comes on top of prices and beside things; on top of what is kept only as it is replaced."""
    for item, count, each, _ in cost.added(hospital):
        if count:
            found = stock(hospital, thing_of(item), count, each.life_years)
            yield Thing(item, count, found, each, each.life_years)


def capital(hospital: Hospital) -> float:
    """Return the money for the first year's purchases, the first filling included; 0 without prices."""
    return sum(item.amount for item in purchases(hospital)) + _first_fill(hospital)


def _first_fill(hospital: Hospital) -> float:
    return sum(count * price for _, count, price in _first_filled(hospital))


def _first_filled(hospital: Hospital) -> Iterator[tuple[str, int, float]]:
    """Yield (line, cylinders filled first, price) of each size: those full at the start, less those kept."""
    stock_of, costs = hospital.cylinders, hospital.costs
    if stock_of is None or costs is None:
        return
    for size in stock_of.each:
        mine = stock(hospital, by_size.line_of(size), size.fleet, costs.cylinder.life_years)
        line = f"{FIRST_FILL}: {size.name}" if size.name else FIRST_FILL
        yield line, max(0, size.full_at_start - len(mine.kept)), by_size.refill_price(costs, size)


def first_year_by_payer(hospital: Hospital) -> tuple[PaidBy, ...] | None:
    """Return what is bought to begin with by who pays it, the hospital first; None where it pays all.

    Gifts stand at their price. The first filling of the cylinders is the hospital's own.
    """
    if hospital.costs is None:
        return None
    filling = _first_fill(hospital)
    bought = [(OWN, FIRST_FILL, filling)] if filling else []
    for thing in (*things(hospital), *_added(hospital)):
        each = thing.each
        if each is not None and each.price and not thing.yearly and thing.stock.bought:
            amount = thing.stock.bought * each.price - thing.stock.due * each.salvage
            bought.append((each.paid_by, thing.item, amount))
    payers = sorted({payer for payer, _, _ in bought}, key=lambda payer: (payer != OWN, payer))
    if payers in ([], [OWN]):
        return None
    mine = {payer: [(item, amount) for who, item, amount in bought if who == payer] for payer in payers}
    return tuple(
        PaidBy(payer, sum(amount for _, amount in lines), tuple(item for item, _ in lines))
        for payer, lines in mine.items()
    )


def recurrent(hospital: Hospital, outcome: Outcome) -> float:
    """Return what is paid in a year beside purchases; gas is paid as it is delivered. 0 without prices."""
    items, costs = cost.annual_cost(hospital, outcome), hospital.costs
    if not items or costs is None:
        return 0.0
    spread = sum(
        cost.spread_over_life(hospital, line)
        for line in cost.lines(hospital)
        if line[1] and line[2].price and cost.is_economic(costs, line[0], line[2].paid_by)
    )
    gas = items.get(cost.REFILL, 0.0) + items.get(cost.STOCK_CHANGE, 0.0)
    per_year = YEAR_DAYS * DAY_S / outcome.horizon_s
    paid = cost.gas_bill(hospital, outcome) * per_year
    return sum(items.values()) - spread - gas - _given(hospital, outcome) * per_year + paid


def _given(hospital: Hospital, outcome: Outcome) -> float:
    """Return what others give beside things within the horizon: counted, but not paid."""
    costs = hospital.costs
    assert costs is not None
    share = outcome.horizon_s / (YEAR_DAYS * DAY_S)
    kept = [(cost.keeper(line), line[1] * line[3] * share) for line in cost.lines(hospital)]
    ran = [(payer, amount) for _, payer, price, amount in cost.running(hospital, costs, outcome) if price]
    return sum(amount for payer, amount in (*kept, *ran) if is_counted(costs, payer) and not is_paid(costs, payer))


def cheque(hospital: Hospital, outcomes: Iterable[Outcome]) -> dict[str, Any] | None:
    """Return the cheque of a strategy, ready for JSON; None without prices.

    first_year_capital and its purchases, but no freight and the like of what is all there; recurrent a year and a
    month as {mean, low, high}, low and high being the cheap and the dear year (5 and 95 of 100 replications);
    replacements by year over the next YEARS_AHEAD, less what the old ones bring; not_counted: what is in no cost,
    in words; unpriced: lines to buy without a price.
    """
    if hospital.costs is None:
        return None
    lines = [_as_line(item) for item in purchases(hospital) if item.count or thing_of(item.item) == item.item]
    lines += [
        {"item": line, "count": count, "price": price, "life_years": None, "salvage": 0.0, "amount": count * price}
        for line, count, price in _first_filled(hospital)
        if count * price
    ]
    years = np.array([recurrent(hospital, outcome) for outcome in outcomes])
    low, high = np.percentile(years, [5, 95])
    a_year = {"mean": float(years.mean()), "low": float(low), "high": float(high)}
    first = capital(hospital)
    return {
        "currency": hospital.costs.currency,
        "first_year_capital": first,
        "purchases": lines,
        "recurrent_a_year": a_year,
        "recurrent_a_month": {end: value / 12 for end, value in a_year.items()},
        "first_year_in_all": first + a_year["mean"],
        "replacements": replacements(hospital),
        "not_counted": not_counted(hospital),
        "unpriced": unpriced(hospital),
    }


def _as_line(item: Purchase) -> dict[str, Any]:
    """Return a line for JSON; what is there already is said only where something is."""
    said = {key: value for key, value in asdict(item).items() if key not in ("there", "due") or item.there}
    return {**said, "amount": item.amount}


def replacements(hospital: Hospital, years: int = YEARS_AHEAD) -> list[dict[str, Any]]:
    """Return what is bought again in each of the next years that brings something: {year, items, amount}.

    Year 1 is the first; a thing that lasts 7 years is bought again as year 8 begins, one of 2.5 years in years 3,
    6 and 8. What is owned already is so in the year in which its life less its age is over, then as often; what
    was due at once is bought with the rest. What the old one brings is taken off.
    """
    found: dict[int, dict[str, float]] = {}
    for thing, each in _durable(hospital):
        turns = range(1, ceil(years / each.life_years) + 1)
        times = [(int(turn * each.life_years + 1e-9) + 1, thing.stock.bought) for turn in turns]
        times += [(year, 1) for age in thing.stock.kept for year in years_due(age, each.life_years, years)]
        for year, number in times:
            amount = number * (each.price - each.salvage)
            if year <= years and amount:
                items = found.setdefault(year, {})
                items[thing.item] = items.get(thing.item, 0.0) + amount
    return [{"year": year, "items": items, "amount": sum(items.values())} for year, items in sorted(found.items())]
