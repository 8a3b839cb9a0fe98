"""The costing of a hospital line by line: economic, with purchases as annuities, and in cash, year by year.

Economic cost is what is used up in a year, gifts at their worth. Cash is what leaves the purse in each of the next
FIVE years: purchases and replacements as a year begins, all else at its end, gifts at 0, nothing spread. Gas is
used in the one and billed as delivered in the other, the first filling with the purchases.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import expm1, log1p
from typing import Literal

from o2sim.money import added, cheque, cost
from o2sim.money.payers import is_counted, is_paid
from o2sim.outcome import Outcome
from o2sim.scenario.types.costing import OWN
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Costs, Hospital
from o2sim.typed import item as said

FIVE = 5  # years of cash that are shown
RATES = (0.0, 0.03, 0.06)  # discount rates side by side, beside the one stated
Kind = Literal["capital", "recurrent"]


@dataclass(frozen=True)
class CostLine:
    """One line of a costing."""

    item: str
    kind: Kind
    paid_by: str
    economic: float = said("a year, at the stated discount rate; 0 where this is cash alone")
    cash: tuple[float, ...] = said("in each year, the first first; 0 for what others give")


@dataclass(frozen=True)
class LeftOut:
    """What somebody pays whose costs the perspective does not count; amount is a year's, as an economic cost."""

    item: str
    paid_by: str
    amount: float


def annuity_factor(years: float, discount_rate: float) -> float:
    """Return what 1 at the end of each year is worth today: (1 - (1 + rate)^-years) / rate; years at a rate of 0.

    Its inverse is the capital recovery factor of `equivalent_annual_cost`. Raises ValueError for a negative rate.
    """
    if discount_rate < 0:
        raise ValueError(f"a discount rate cannot be negative: {discount_rate}")
    return -expm1(-years * log1p(discount_rate)) / discount_rate if discount_rate else years


def present_value(begun: Sequence[float], ended: Sequence[float], discount_rate: float) -> float:
    """Return what payments are worth today: begun as each year begins, ended at its end, the first year first."""
    growth = 1 + discount_rate
    as_begun = sum(amount / growth**year for year, amount in enumerate(begun))
    return as_begun + sum(amount / growth**year for year, amount in enumerate(ended, 1))


def at_rate(hospital: Hospital, discount_rate: float) -> Hospital:
    """Return a hospital with prices at another discount rate."""
    assert hospital.costs is not None
    return replace(hospital, costs=replace(hospital.costs, discount_rate=discount_rate))


def cost_lines(hospital: Hospital, outcomes: Iterable[Outcome]) -> list[CostLine]:
    """Return every line that is counted, purchases first, as means over the replications; empty without prices."""
    costs = hospital.costs
    if costs is None:
        return []
    return [*_capital(hospital, costs), *_kept(hospital, costs), *_run(hospital, costs, list(outcomes))]


def left_out(hospital: Hospital, outcomes: Iterable[Outcome]) -> list[LeftOut]:
    """Return what others pay than those whose costs the perspective counts."""
    costs = hospital.costs
    if costs is None:
        return []
    found = []
    for line in cost.lines(hospital):
        name, count, each, upkeep = line
        if each.price and not is_counted(costs, each.paid_by):
            found.append(LeftOut(name, each.paid_by, cost.spread_over_life(hospital, line)))
        if upkeep and not is_counted(costs, cost.keeper(line)):
            found.append(LeftOut(name, cost.keeper(line), count * upkeep))
    if costs.staff is not None and not is_counted(costs, costs.staff.paid_by):
        running = _means(hospital, costs, list(outcomes)).items()
        found += [LeftOut(*who, amount) for who, amount in running if amount and not is_counted(costs, who[1])]
    return found


def capital_a_year(hospital: Hospital) -> float:
    """Return purchases as annuities, all together, at the hospital's discount rate."""
    return sum(line.economic for line in _capital(hospital, hospital.costs)) if hospital.costs else 0.0


def _capital(hospital: Hospital, costs: Costs) -> list[CostLine]:
    """Return a line for each thing that is bought or given, and the first filling, which is cash alone."""
    cash = _purchases_by_year(hospital)
    found = []
    for line in cost.lines(hospital):
        name, count, each, _ = line
        if not each.price or not count or not is_counted(costs, each.paid_by):
            continue
        worth = cost.spread_over_life(hospital, line) if cost.is_economic(costs, name, each.paid_by) else 0.0
        paid = cash[name] if is_paid(costs, each.paid_by) else [0.0] * FIVE
        found.append(CostLine(name, "capital", each.paid_by, worth, tuple(paid)))
    filling = cheque.capital(hospital) - sum(each.amount for each in cheque.purchases(hospital))
    if filling:
        found.append(CostLine(cheque.FIRST_FILL, "capital", OWN, 0.0, (filling, *[0.0] * (FIVE - 1))))
    return found


def _purchases_by_year(hospital: Hospital) -> dict[str, list[float]]:
    """Return what is paid for each item as each year begins, as the cheque has it."""
    found: dict[str, list[float]] = {}
    for each in cheque.purchases(hospital):
        found.setdefault(each.item, [0.0] * FIVE)[0] += each.amount
    for again in cheque.replacements(hospital, FIVE):
        for name, amount in again["items"].items():
            found[name][again["year"] - 1] += amount
    return found


def _kept(hospital: Hospital, costs: Costs) -> list[CostLine]:
    """Return a line for each rent, service and the like, known without a run."""
    found = []
    for line in cost.lines(hospital):
        name, count, each, upkeep = line
        payer, amount = cost.keeper(line), count * upkeep
        if amount and is_counted(costs, payer):
            said = f"{name}: service" if each.price else name
            found.append(_recurrent(said, payer, amount, amount if is_paid(costs, payer) else 0.0))
    return found


def _run(hospital: Hospital, costs: Costs, outcomes: Sequence[Outcome]) -> list[CostLine]:
    """Return a line for each item that depends on the run; the bill for gas stands in the cash of the refills."""
    found = []
    for (name, payer), amount in _means(hospital, costs, outcomes).items():
        paid = amount if is_paid(costs, payer) else 0.0
        if name == cost.REFILL:
            billed = [cost.gas_bill(hospital, each) * _per_year(each) for each in outcomes]
            paid = sum(billed) / len(billed)
        if name == cost.STOCK_CHANGE:
            paid = 0.0
        if is_counted(costs, payer):
            found.append(_recurrent(name, payer, amount, paid))
    return found


def _recurrent(name: str, payer: str, economic: float, paid: float) -> CostLine:
    return CostLine(name, "recurrent", payer, economic, (paid,) * FIVE)


def _means(hospital: Hospital, costs: Costs, outcomes: Sequence[Outcome]) -> dict[tuple[str, str], float]:
    """Return the mean a year of what depends on the run and has a price, by item and who pays."""
    found: dict[tuple[str, str], float] = {}
    for outcome in outcomes:
        for name, payer, price, amount in cost.running(hospital, costs, outcome):
            if price:
                found[name, payer] = found.get((name, payer), 0.0) + amount * _per_year(outcome)
    return {who: amount / len(outcomes) for who, amount in found.items()}


def hours_by_task(hospital: Hospital, outcomes: Sequence[Outcome]) -> Mapping[str, float]:
    """Return the mean hours of staff a year by task; empty without a wage."""
    found: dict[str, float] = {}
    if hospital.costs is None or hospital.costs.staff is None:
        return found
    for outcome in outcomes:
        for task, hours in added.staff_hours(hospital, hospital.costs, outcome).items():
            found[task] = found.get(task, 0.0) + hours * _per_year(outcome)
    return {task: hours / len(outcomes) for task, hours in found.items()}


def _per_year(outcome: Outcome) -> float:
    return YEAR_DAYS * DAY_S / outcome.horizon_s
