"""The money a year, by item, of a hospital in one replication."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import exp, log1p

from o2sim.money import by_model, by_size, listed
from o2sim.money.added import (
    DUTY,
    FREIGHT,
    INSTALLATION,
    OTHER,
    STAFF,
    TESTS,
    TRAINING,
    Line,
    beside,
    item_of,
    on_top,
    staff_cost,
    thing_of,
)
from o2sim.money.payers import is_counted
from o2sim.money.yard import stock
from o2sim.outcome import Outcome
from o2sim.planning.by_model import models_of
from o2sim.scenario.types.costing import OWN
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Costs, Equipment, Hospital, Power
from o2sim.scenario.types.listed import KINDS

CYLINDERS = by_size.CYLINDERS
CYLINDER_RENT = "cylinder rent"
REGULATORS = "regulators"
SPLITTERS = "splitters"
HUMIDIFIERS = "humidifiers"
OXIMETERS = "oximeters"
REFILL = "refill"
STOCK_CHANGE = "stock change"
TRANSPORT = "transport"
EMERGENCY = "emergency"
LOST = "lost cylinders"
TRANSFERS = "transfers"
CONCENTRATORS = by_model.THINGS
SERVICE = by_model.UPKEEP
REPAIR = "concentrator repair"
MONITORS = "oxygen monitors"
ANALYSER = "analyser"
ELECTRICITY = "electricity"
FUEL = "fuel"
GENERATOR = "generator"
BATTERY = "battery"
SOLAR = "solar panels"
STABILISER = "stabiliser"
MANIFOLD = "manifold"
CONSUMABLES = "consumables"
LISTED = tuple(kind.item for kind in KINDS)  # lines of the list of equipment
ITEMS = (  # in the order of a table of costs
    CYLINDERS, CYLINDER_RENT, REGULATORS, SPLITTERS, REFILL, STOCK_CHANGE, TRANSPORT, EMERGENCY, LOST, MANIFOLD,
    CONCENTRATORS, SERVICE, MONITORS, ANALYSER, REPAIR, ELECTRICITY, GENERATOR, BATTERY, SOLAR, STABILISER, FUEL,
    HUMIDIFIERS, OXIMETERS, CONSUMABLES, TRANSFERS, *LISTED,
    FREIGHT, DUTY, INSTALLATION, TESTS, STAFF, TRAINING, OTHER,
)  # fmt: skip
FIXED_ITEMS = frozenset(ITEMS) - {  # known without a run
    REFILL, STOCK_CHANGE, TRANSPORT, EMERGENCY, LOST, REPAIR, ELECTRICITY, FUEL, CONSUMABLES, TRANSFERS, STAFF,
}  # fmt: skip
UNBOUGHT = Equipment()  # of items that are rent or service alone
JOULES_PER_KWH = 3_600_000
FUEL_PER_LITRE = 3_600_000_000  # fuel is counted in 1/3600 microlitre


def equivalent_annual_cost(
    price: float, life_years: float, discount_rate: float, salvage: float = 0.0, yearly: float = 0.0
) -> float:
    """Return the level yearly sum worth the same as buying, running and at the end of its life selling a thing.

    (price - salvage) x capital recovery factor + salvage x rate + yearly, which is the annuity of the price less
    the sinking fund of the salvage (any engineering economy textbook, from memory). discount_rate is a share a
    year; at 0 the price is spread evenly. Raises ValueError for a life of 0 or less, or a negative rate.
    """
    if life_years <= 0:
        raise ValueError(f"a life must be longer than zero, not {life_years} years")
    if discount_rate < 0:
        raise ValueError(f"a discount rate cannot be negative: {discount_rate}")
    if discount_rate == 0:
        return (price - salvage) / life_years + yearly
    recovery = discount_rate / (1 - exp(-life_years * log1p(discount_rate)))
    return (price - salvage) * recovery + salvage * discount_rate + yearly


def annual_cost(hospital: Hospital, outcome: Outcome) -> dict[str, float]:
    """Return money by item for one replication, scaled from the horizon to 365 days; empty without prices.

    Only what the strategy uses is charged, and an item stands only where its price is not zero. Cylinders lost
    from the fleet cost their price, as if bought again. Electricity is what units and charger take from the
    grid; fuel is what would not have been used without concentrators. Consumables go to patients who were not
    transferred away. It is the economic cost: gifts count at their price, and what others pay than those whose
    costs the perspective counts stays out (money/payers.py). What is owned already costs the interest on its
    salvage, with its service, repair and power, and no purchase; `owned_cost: as bought` charges all alike.
    """
    costs = hospital.costs
    if costs is None:
        return {}
    per_year = YEAR_DAYS * DAY_S / outcome.horizon_s
    items: dict[str, float] = {}
    for line in lines(hospital):
        name, count, equipment, upkeep = line
        bought = equipment.price > 0 and is_economic(costs, name, equipment.paid_by)
        kept = upkeep > 0 and is_counted(costs, keeper(line))
        if bought or kept:
            each = (yearly(equipment, costs) if bought else 0.0) + (upkeep if kept else 0.0)
            saved = spared(hospital, line) if bought else 0.0
            items[item_of(name)] = items.get(item_of(name), 0.0) + count * each - saved
    for name, payer, price, amount in running(hospital, costs, outcome):
        if price and is_counted(costs, payer):
            items[name] = amount * per_year
    return {name: items[name] for name in ITEMS if name in items}


def lines(hospital: Hospital) -> Iterator[Line]:
    """Yield what a strategy owns or rents, as `owned`, and what comes on top of it; empty without prices."""
    if hospital.costs is not None:
        yield from owned(hospital)
        yield from added(hospital)


def added(hospital: Hospital) -> Iterator[Line]:
    """Yield what comes on top of the prices of what a strategy owns, and beside it; empty without prices."""
    if hospital.costs is not None:
        yield from on_top(hospital.costs, owned(hospital))
        yield from beside(hospital, hospital.costs)


def keeper(line: Line) -> str:
    """Return who pays rent or service of a line: of a thing that is bought, or given, the hospital."""
    equipment = line[2]
    return OWN if equipment.price else equipment.paid_by


def is_economic(costs: Costs, line: str, payer: str) -> bool:
    """Return True for what economic cost counts; to society duty is no cost, as it is only passed on."""
    return is_counted(costs, payer) and not (item_of(line) == DUTY and costs.perspective == "society")


def owned(hospital: Hospital) -> Iterator[tuple[str, int, Equipment, float]]:
    """Yield (item, how many, equipment, rent or service a year of each) of what a strategy owns or rents.

    Empty without prices. Rent of cylinders and service of concentrators are items by themselves; each model of
    concentrators is a line, as `concentrators, ten`.
    """
    costs, cylinders, units = hospital.costs, hospital.cylinders, hospital.concentrators
    if costs is None:
        return
    if cylinders is not None:
        for size in cylinders.each:
            yield by_size.line_of(size), size.fleet, by_size.shell(costs, size), 0.0
        yield CYLINDER_RENT, cylinders.fleet, UNBOUGHT, costs.cylinder_rent_per_year
        if listed.has_sets(hospital):
            yield REGULATORS, cylinders.regulators, costs.regulator, 0.0
        if cylinders.splitters is not None:
            yield SPLITTERS, cylinders.splitters.count, costs.splitter, 0.0
    if hospital.manifold is not None:
        yield MANIFOLD, 1, costs.manifold, costs.manifold_service_per_year
    if units is not None:
        models = models_of(units)
        for model in models:
            each = by_model.price_of(costs, model.rules)
            yield by_model.named(CONCENTRATORS, model.name), model.count, each, 0.0
        for model in models:
            upkeep = by_model.service_of(costs, model.rules)
            yield by_model.named(SERVICE, model.name), model.count, UNBOUGHT, upkeep
        monitors = sum(model.count for model in models if model.rules.oxygen_monitor)
        if monitors or units.oxygen_monitor:
            yield MONITORS, monitors, costs.oxygen_monitor, 0.0
        if any(model.rules.analyser_check_s is not None for model in models):
            yield ANALYSER, 1, costs.analyser, 0.0
        power = hospital.power or Power()
        behind = (
            (GENERATOR, power.generator, costs.generator, costs.generator_service_per_year),
            (BATTERY, power.battery, costs.battery, 0.0),
            (SOLAR, power.solar, costs.solar, 0.0),
            (STABILISER, power.stabiliser, costs.stabiliser, 0.0),
        )
        yield from ((name, 1, equipment, upkeep) for name, there, equipment, upkeep in behind if there)
    if hospital.bedside.humidifiers is not None:
        yield HUMIDIFIERS, hospital.bedside.humidifiers, costs.humidifier, 0.0
    if hospital.noticed is not None and hospital.noticed.by_oximeter is not None:
        yield OXIMETERS, hospital.noticed.by_oximeter.count, costs.oximeter, 0.0
    yield from listed.priced(hospital)


def spared(hospital: Hospital, line: Line) -> float:
    """Return what a year costs less as some of a line is owned: its purchase, but for what selling it brings.

    Whoever keeps a thing forgoes the interest on its salvage. 0 where nothing is owned, where all is charged as if
    bought, and for what is due within the first year, which is bought again.
    """
    name, count, equipment, _ = line
    costs = hospital.costs
    if costs is None or not hospital.owned or costs.owned_cost == "as bought":
        return 0.0
    kept = len(stock(hospital, thing_of(name), count, equipment.life_years).kept)
    return kept * (yearly(equipment, costs) - equipment.salvage * costs.discount_rate)


def spread_over_life(hospital: Hospital, line: Line) -> float:
    """Return what the purchase of a line costs a year: annuities, less what is spared; 0 without prices."""
    costs = hospital.costs
    return 0.0 if costs is None else line[1] * yearly(line[2], costs) - spared(hospital, line)


def running(hospital: Hospital, costs: Costs, outcome: Outcome) -> Iterator[tuple[str, str, float, float]]:
    """Yield (item, who pays, its price, or zero, money within the horizon) of what depends on the run."""
    yield from ((item, OWN, price, amount) for item, price, amount in _running(hospital, costs, outcome))
    if costs.staff is not None:
        yield STAFF, costs.staff.paid_by, costs.staff.wage_per_year, staff_cost(hospital, costs, outcome)


def _running(hospital: Hospital, costs: Costs, outcome: Outcome) -> Iterator[tuple[str, float, float]]:
    """Yield (item, its price, or zero, money within the horizon) of what the hospital pays, by the run."""
    cylinders, units = hospital.cylinders, hospital.concentrators
    if cylinders is not None:
        yield from _gas(costs, list(by_size.counted(cylinders, outcome)))
        carried = outcome.cylinders_delivered * costs.transport_per_cylinder
        trips = (outcome.deliveries + outcome.collections) * costs.trip
        yield TRANSPORT, costs.trip or costs.transport_per_cylinder, trips + carried
        carried, trips = outcome.emergency_cylinders * costs.emergency_cylinder, outcome.emergency_deliveries
        yield EMERGENCY, costs.emergency_trip or costs.emergency_cylinder, trips * costs.emergency_trip + carried
        if any(size.refused or size.losses_per_day for size in cylinders.each):
            worth = [
                (each.lost, by_size.shell(costs, each.rules).price) for each in by_size.counted(cylinders, outcome)
            ]
            yield LOST, max(price for _, price in worth), sum(lost * price for lost, price in worth)
    if units is not None:
        kwh = (by_model.on_grid_ws(units, outcome) + outcome.grid_charging_ws) / JOULES_PER_KWH
        dearest = max(by_model.repair_of(costs, model.rules) for model in models_of(units))
        yield REPAIR, dearest, by_model.repairs(costs, units, outcome)
        yield ELECTRICITY, costs.electricity_per_kwh, kwh * costs.electricity_per_kwh
        if hospital.power is not None and hospital.power.generator is not None:
            yield FUEL, costs.fuel_per_litre, outcome.fuel_for_oxygen / FUEL_PER_LITRE * costs.fuel_per_litre
    treated = outcome.patients - outcome.transferred
    yield CONSUMABLES, costs.consumables_per_patient, treated * costs.consumables_per_patient
    yield TRANSFERS, costs.per_transfer, outcome.transferred * costs.per_transfer


def _gas(costs: Costs, sizes: Sequence[by_size.OfSize]) -> Iterator[tuple[str, float, float]]:
    """Yield refills and the change of the stock at the price of each size; nothing where no refill has a price."""
    prices = [by_size.refill_price(costs, each.rules) for each in sizes]
    if not any(prices):
        return
    went = [by_size.used_and_bought(each) for each in sizes]
    yield REFILL, max(prices), sum(used * price for (used, _), price in zip(went, prices, strict=True))
    changed = sum((fills - used) * price for (used, fills), price in zip(went, prices, strict=True))
    yield STOCK_CHANGE, max(prices), changed


def gas_bill(hospital: Hospital, outcome: Outcome) -> float:
    """Return the money of the bills for gas within the horizon; 0 without cylinders or prices."""
    cylinders, costs = hospital.cylinders, hospital.costs
    if cylinders is None or costs is None:
        return 0.0
    sizes = by_size.counted(cylinders, outcome)
    return sum(by_size.billed(each) * by_size.refill_price(costs, each.rules) for each in sizes)


def yearly(equipment: Equipment, costs: Costs) -> float:
    """Return the equivalent annual cost of one piece of equipment."""
    return equivalent_annual_cost(
        equipment.price, equipment.life_years, costs.discount_rate, salvage=equipment.salvage
    )
