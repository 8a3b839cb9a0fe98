"""What is legal but doubtful in the money there is for gas."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.quantities.gas import GAS_PER_LITRE
from o2sim.scenario.checks.demand import LITRES_A_DAY, concentrator_litres_a_day
from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.funds import MONTH, YEAR, Allotment
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Costs, Cylinders, Funds, Hospital
from o2sim.scenario.types.records import flow_needed

_CENTS = 100


def money(hospital: Hospital) -> Iterator[Doubt]:
    """A purse into which nothing comes, or too little for what is needed on average; a limit below any order."""
    funds, costs, stock = hospital.funds, hospital.costs, hospital.cylinders
    if funds is None:
        return
    if funds.opening_cents == 0 and funds.allotment is None and funds.fees is None:
        yield (
            "funds",
            "nothing is in it and nothing comes",
            "say what is there (opening) or what comes (allotment)",
        )
    if costs is None or stock is None or hospital.resupply is None or not funds.pays("oxygen"):
        return
    least = costs.trip + max(1, hospital.resupply.minimum_order) * _cylinder(costs)
    limit = funds.supplier.limit_cents
    if limit is not None and limit < _CENTS * least:
        found = f"{limit / _CENTS:,.0f} {costs.currency}, less than the least order costs ({least:,.0f})"
        yield "funds.supplier.limit", found, "no order can ever be placed; check limit and prices"
    comes, needed = _comes_a_year(hospital, funds), _gas_a_year(hospital, costs, stock)
    if 0 < comes < needed:
        found = (
            f"{comes:,.0f} {costs.currency} a year come; gas for the mean need costs {needed:,.0f} without trips"
        )
        yield "funds", found, "many will go without; check what comes, the prices and the need"


def _cylinder(costs: Costs) -> float:
    return costs.refill + costs.transport_per_cylinder


def _comes_a_year(hospital: Hospital, funds: Funds) -> float:
    """Return what comes into the purse in a year on average."""
    allotted = funds.allotment.amount_cents * _times_a_year(funds.allotment) if funds.allotment else 0.0
    patients = 0.0  # a day
    for kind in hospital.patients:
        book = kind.recorded
        drawn = kind.admissions_per_day * kind.hypoxaemic
        patients += drawn if book is None else (len(book.arrival_s) - book.present) / book.days
    fees = funds.fees.amount_cents * funds.fees.paid_by * patients * YEAR_DAYS if funds.fees else 0.0
    return (allotted + fees) / _CENTS


def _times_a_year(rule: Allotment) -> float:
    if isinstance(rule.every_s, int):
        return YEAR_DAYS * DAY_S / rule.every_s
    return {MONTH: 12.0, YEAR: 1.0}[rule.every_s]


def _gas_a_year(hospital: Hospital, costs: Costs, stock: Cylinders) -> float:
    """Return what a year's gas costs that concentrators in order and with power cannot give, trips left out."""
    need = sum(flow_needed(hospital, kind) for kind in hospital.patients) * LITRES_A_DAY
    usable = max(stock.full_gas - stock.kept_gas, 1) / GAS_PER_LITRE
    return max(0.0, need - concentrator_litres_a_day(hospital)) / usable * _cylinder(costs) * YEAR_DAYS
