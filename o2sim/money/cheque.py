"""The cheque to be signed for a hospital: what is paid when, in plain money.

The yearly cost of `compare` spreads each purchase over its life, which is right for comparing and useless for a
budget: nobody can pay the 90 dollars a year of a concentrator. Here is what is paid in the first year, what
comes back each month, and which year brings which replacement. Nothing is discounted; prices stay as stated.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from math import ceil
from typing import Any

import numpy as np

from o2sim.money import cost
from o2sim.money.not_counted import not_counted
from o2sim.money.payers import is_counted, is_paid
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital

YEARS_AHEAD = 10
FIRST_FILL = "first filling of the cylinders"


@dataclass(frozen=True)
class Purchase:
    """One line of the first year's purchases."""

    item: str
    count: int
    price: float
    life_years: float
    salvage: float

    @property
    def amount(self) -> float:
        """Return the money to pay."""
        return self.count * self.price


def purchases(hospital: Hospital) -> list[Purchase]:
    """Return what is to be bought to begin with, all of it new, gifts left out; empty without prices."""
    costs = hospital.costs
    return [
        Purchase(item, count, each.price, each.life_years, each.salvage)
        for item, count, each, _ in cost.lines(hospital)
        if each.price and count and costs is not None and is_paid(costs, each.paid_by)
    ]


def capital(hospital: Hospital) -> float:
    """Return the money for the first year's purchases, the first filling included; 0 without prices."""
    return sum(item.amount for item in purchases(hospital)) + _first_fill(hospital)


def _first_fill(hospital: Hospital) -> float:
    if hospital.cylinders is None or hospital.costs is None:
        return 0.0
    return hospital.cylinders.full_at_start * hospital.costs.refill


def recurrent(hospital: Hospital, outcome: Outcome) -> float:
    """Return what is paid in a year beside purchases; gas is paid as it is delivered. 0 without prices."""
    items, costs = cost.annual_cost(hospital, outcome), hospital.costs
    if not items or costs is None:
        return 0.0
    spread = sum(
        count * cost.yearly(each, costs)
        for item, count, each, _ in cost.lines(hospital)
        if each.price and count and cost.is_economic(costs, item, each.paid_by)
    )
    gas = items.get(cost.REFILL, 0.0) + items.get(cost.STOCK_CHANGE, 0.0)
    per_year = YEAR_DAYS * DAY_S / outcome.horizon_s
    stock = hospital.cylinders
    bill = 0.0 if stock is None else cost.refills_billed(stock, outcome) * costs.refill
    paid = bill * per_year
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

    first_year_capital and its purchases; recurrent a year and a month as {mean, low, high}, low and high being the
    cheap and the dear year (5 and 95 of 100 replications); replacements by year over the next YEARS_AHEAD, less
    what the old ones bring; not_counted: what has no price or is not stated.
    """
    if hospital.costs is None:
        return None
    lines = [{**asdict(item), "amount": item.amount} for item in purchases(hospital)]
    filling = _first_fill(hospital)
    if filling and hospital.cylinders is not None:
        count = hospital.cylinders.full_at_start
        lines.append({"item": FIRST_FILL, "count": count, "price": hospital.costs.refill, "life_years": None,
                      "salvage": 0.0, "amount": filling})  # fmt: skip
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
    }


def replacements(hospital: Hospital, years: int = YEARS_AHEAD) -> list[dict[str, Any]]:
    """Return what is bought again in each of the next years that brings something: {year, items, amount}.

    Year 1 is the first; a thing that lasts 7 years is bought again as year 8 begins, one of 2.5 years in years 3,
    6 and 8. What the old one brings is taken off.
    """
    found: dict[int, dict[str, float]] = {}
    for item in purchases(hospital):
        amount = item.count * (item.price - item.salvage)
        for turn in range(1, ceil(years / item.life_years) + 1):
            year = int(turn * item.life_years + 1e-9) + 1
            if year <= years and amount:
                items = found.setdefault(year, {})
                items[item.item] = items.get(item.item, 0.0) + amount
    return [{"year": year, "items": items, "amount": sum(items.values())} for year, items in sorted(found.items())]
