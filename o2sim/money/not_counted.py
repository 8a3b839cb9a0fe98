"""What a costing does not count: things without a price, and costs that the scenario does not state.

A price of 0 is not told apart from none, so what is free is named here as well.
"""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.money import added, by_model, cost
from o2sim.money.by_size import refill_price
from o2sim.scenario.types.hospital import Costs, Hospital

NEVER = ("buildings", "overheads", "other care of the patients")  # nothing here counts them, but for lines by name
SERVICES = {cost.GENERATOR: "service of the generator", cost.MANIFOLD: "service of the manifold"}


def not_counted(hospital: Hospital) -> tuple[str, ...]:
    """Return what has a part in the hospital and no price, in words; empty where there are no prices at all."""
    costs = hospital.costs
    if costs is None:
        return ()
    return (*_unpriced(hospital, costs), *_staff(hospital, costs), *_unstated(hospital, costs), *NEVER)


def _unpriced(hospital: Hospital, costs: Costs) -> Iterator[str]:
    """Yield what a strategy owns, or what the run uses, at no price."""
    for name, count, each, upkeep in cost.owned(hospital):
        if count and added.item_of(name) == cost.SERVICE:
            yield from () if upkeep else (name,)
        elif count and name not in (cost.CYLINDER_RENT, *cost.LISTED):
            rented = added.item_of(name) == cost.CYLINDERS and costs.cylinder_rent_per_year
            yield from () if each.price or rented else (f"price of {name}",)
            yield from () if upkeep or name not in SERVICES else (SERVICES[name],)
    stock, units, power = hospital.cylinders, hospital.concentrators, hospital.power
    asked = (
        ("transport of cylinders", stock and hospital.resupply, costs.trip or costs.transport_per_cylinder),
        *((name, True, 0.0) for name in by_model.unpriced(costs, units)),
        ("electricity", units, costs.electricity_per_kwh),
        ("fuel", units and power and power.generator, costs.fuel_per_litre),
        ("consumables", True, costs.consumables_per_patient),
        ("transfers of patients", hospital.transfer, costs.per_transfer),
    )
    if stock is not None:
        sizes = [size for size in stock.each if not refill_price(costs, size)]
        yield from (f"refills: {size.name}" if size.name else "refills" for size in sizes)
    yield from (name for name, there, price in asked if there and not price)


def _unstated(hospital: Hospital, costs: Costs) -> Iterator[str]:
    """Yield what comes on top of prices and is not stated; a share of 0 % is stated."""
    bought = [line for line in cost.owned(hospital) if line[1] and line[2].price]
    imported = any(each.imported for _, _, each, _ in bought)
    if imported and costs.freight is None:
        yield added.FREIGHT
    if imported and costs.duty is None:
        yield added.DUTY
    if costs.installation is None and any(not each.installation for _, _, each, _ in bought):
        yield added.INSTALLATION
    if hospital.cylinders is not None and not costs.cylinder_test and not costs.cylinder_rent_per_year:
        yield added.TESTS
    if costs.training is None:
        yield added.TRAINING


def _staff(hospital: Hospital, costs: Costs) -> Iterator[str]:
    """Yield the time of staff, all of it or the tasks whose time is not stated."""
    staff, stock, units = costs.staff, hospital.cylinders, hospital.concentrators
    if staff is None:
        yield "time of staff"
        return
    if staff.posts is not None:
        return
    checked = stock is not None and bool(stock.gauge_check_s)
    asked = (
        ("time to look at gauges", checked, staff.look_s),
        ("time to fetch cylinders", stock, staff.fetch_s),
        ("time to connect patients", True, added.connect_time_s(hospital, costs)),
        ("time to clean filters", units, staff.filter_s),
    )
    yield from (name for name, there, time in asked if there and not time)
