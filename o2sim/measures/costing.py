"""The costing of a study: economic and financial side by side, at several discount rates, by litre and patient."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from o2sim.measures.replications import Replications
from o2sim.money import costing as money
from o2sim.money.costing import FIVE, RATES, CostLine, LeftOut
from o2sim.money.not_counted import not_counted
from o2sim.money.payers import WHOSE
from o2sim.outcome import Outcome
from o2sim.scenario.types.costing import DONOR
from o2sim.scenario.types.hospital import Hospital
from o2sim.typed import Currency, Share, item

PER_1000_L, PER_PATIENT = "money per 1,000 L delivered; null where none was", "per patient treated; null for none"


@dataclass(frozen=True)
class Economic:
    """What is used up in a year, purchases as annuities at one discount rate, gifts at their worth."""

    discount_rate: Share
    capital: float
    recurrent: float
    total: float
    per_1000_l: float | None = item(PER_1000_L)
    per_patient: float | None = item(PER_PATIENT)
    five_years: float = item("present value of the total at the end of each of five years")


@dataclass(frozen=True)
class CashYear:
    """What leaves the purse in one year: purchases as it begins, all else at its end."""

    year: int
    capital: float
    recurrent: float
    total: float


@dataclass(frozen=True)
class PresentValue:
    """What five years of cash are worth today at one discount rate."""

    discount_rate: Share
    amount: float


@dataclass(frozen=True)
class Financial:
    """What leaves the purse in five years; gifts at 0, nothing spread, nothing left credited at the end."""

    by_year: tuple[CashYear, ...]
    capital: float = item("in five years, undiscounted")
    recurrent: float = item("in five years, undiscounted")
    total: float = item("in five years, undiscounted")
    per_1000_l: float | None = item(f"total over five years; {PER_1000_L}")
    per_patient: float | None = item(f"total over five years; {PER_PATIENT}")
    present_values: tuple[PresentValue, ...] = item()


@dataclass(frozen=True)
class Costing:
    """One strategy's costs, as means over the replications."""

    currency: Currency
    price_year: int | None = item("null where the scenario does not state it")
    perspective: str = item("whose costs are counted")
    discount_rate: Share = item("the one stated")
    lines: tuple[CostLine, ...] = item()
    economic: tuple[Economic, ...] = item("at the stated rate, then at 0, 3 and 6 %")
    gifts: float = item("of the economic total at the stated rate, what donors give")
    financial: Financial = item()
    staff_hours: Mapping[str, float] = item("a year by task, or of the posts; {} without a wage")
    not_counted: tuple[str, ...] = item("no price, or not stated")
    left_out: tuple[LeftOut, ...] = item("what others pay, whose costs the perspective does not count")


def costing(hospital: Hospital, outcomes: Sequence[Outcome], table: Replications) -> Costing | None:
    """Return the costing of a strategy; None without prices. outcomes: those that the table is made of."""
    costs = hospital.costs
    if costs is None:
        return None
    made = list(outcomes)
    lines = money.cost_lines(hospital, made)
    litres, patients = (float(np.mean(table.values[each])) for each in ("litres_delivered", "patients_treated"))
    recurrent = sum(line.economic for line in lines if line.kind == "recurrent")

    def at(rate: float) -> Economic:
        capital = money.capital_a_year(money.at_rate(hospital, rate))
        total = capital + recurrent
        five = total * money.annuity_factor(FIVE, rate)
        return Economic(rate, capital, recurrent, total, *_each(total, litres, patients), five)

    return Costing(
        currency=costs.currency,
        price_year=costs.price_year,
        perspective=costs.perspective,
        discount_rate=costs.discount_rate,
        lines=tuple(lines),
        economic=tuple(at(rate) for rate in (costs.discount_rate, *RATES)),
        gifts=sum(line.economic for line in lines if line.paid_by == DONOR),
        financial=_financial(lines, litres, patients, costs.discount_rate),
        staff_hours=money.hours_by_task(hospital, made),
        not_counted=not_counted(hospital),
        left_out=tuple(money.left_out(hospital, made)),
    )


def _financial(lines: Iterable[CostLine], litres: float, patients: float, stated: float) -> Financial:
    capital, recurrent = np.zeros(FIVE), np.zeros(FIVE)
    for line in lines:
        (capital if line.kind == "capital" else recurrent)[:] += line.cash
    years = [
        CashYear(year, float(bought), float(ran), float(bought + ran))
        for year, (bought, ran) in enumerate(zip(capital, recurrent, strict=True), 1)
    ]
    total = float(capital.sum() + recurrent.sum())
    worth = [
        PresentValue(rate, float(money.present_value(capital.tolist(), recurrent.tolist(), rate)))
        for rate in (stated, *RATES)
    ]
    each = _each(total, FIVE * litres, FIVE * patients)
    return Financial(tuple(years), float(capital.sum()), float(recurrent.sum()), total, *each, tuple(worth))


def _each(total: float, litres: float, patients: float) -> tuple[float | None, float | None]:
    """Return money per 1,000 L and per patient."""
    return (total / litres * 1_000 if litres else None), (total / patients if patients else None)


def whose(found: Mapping[str, Any]) -> str:
    """Return whose costs are counted, in words, of a costing as in JSON."""
    return WHOSE[found["perspective"]]


HEADS = ("strategy", "item", "capital or recurrent", "paid by", "economic, a year")
YEARS = tuple(f"cash, year {year}" for year in range(1, FIVE + 1))
TOTAL_HEADS = ("strategy", "view", "measure", "discount rate", "amount")
Row = tuple[str | float | None, ...]


def line_rows(costings: Mapping[str, Any]) -> Iterator[tuple[str | float, ...]]:
    """Yield every line of every strategy, to add again; columns as HEADS and YEARS name them."""
    for name, found in costings.items():
        for line in found["lines"]:
            yield name, line["item"], line["kind"], line["paid_by"], line["economic"], *line["cash"]


def total_rows(costings: Mapping[str, Any]) -> Iterator[Row]:
    """Yield the totals of every strategy as a long table, columns as TOTAL_HEADS names them."""
    sums = ("capital", "recurrent", "total", "per_1000_l", "per_patient")
    for name, found in costings.items():
        for each in found["economic"]:
            for measure in (*sums, "five_years"):
                yield name, "economic, a year", measure, each["discount_rate"], each[measure]
        yield name, "economic, a year", "gifts", found["discount_rate"], found["gifts"]
        cash = found["financial"]
        for measure in sums:
            yield name, "financial, five years", measure, 0.0, cash[measure]
        for worth in cash["present_values"]:
            yield name, "financial, five years", "present value", worth["discount_rate"], worth["amount"]
        for task, hours in found["staff_hours"].items():
            yield name, "hours of staff a year", task, None, hours
        for each in found["left_out"]:
            yield name, "left out, a year", f"{each['item']} (paid by {each['paid_by']})", None, each["amount"]
        for said in found["not_counted"]:
            yield name, "not counted", said, None, None
