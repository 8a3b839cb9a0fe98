"""A hospital with its prices and the record of one replication in, money a year by item out."""

from __future__ import annotations

from math import exp, log1p

from o2sim.model.rules import keep_gas
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import (
    DAY_S,
    YEAR_DAYS,
    Concentrators,
    Costs,
    Cylinders,
    Equipment,
    Hospital,
    Power,
)

CYLINDERS = "cylinders"
CYLINDER_RENT = "cylinder rent"
REGULATORS = "regulators"
SPLITTERS = "splitters"
HUMIDIFIERS = "humidifiers"
REFILL = "refill"
STOCK_CHANGE = "stock change"
TRANSPORT = "transport"
EMERGENCY = "emergency"
LOST = "lost cylinders"
TRANSFERS = "transfers"
CONCENTRATORS = "concentrators"
SERVICE = "concentrator service"
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
FIXED_ITEMS = frozenset(
    {
        CYLINDERS,
        CYLINDER_RENT,
        REGULATORS,
        SPLITTERS,
        HUMIDIFIERS,
        CONCENTRATORS,
        SERVICE,
        MONITORS,
        ANALYSER,
        GENERATOR,
        BATTERY,
        SOLAR,
        STABILISER,
        MANIFOLD,
    }
)  # known without a run
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

    Only what the strategy uses is charged, and an item stands only where its price is not zero. Refill is paid
    on cylinders emptied; `stock change` is what else was bought, or taken from stock and part-used cylinders, at
    the refill price, so that a bigger first fill is not free gas. Cylinders lost from the fleet cost their price,
    as if bought again. Electricity is what units and charger take from the grid; fuel is what would not have been
    used without concentrators. Consumables go to patients who were not transferred away.
    """
    costs = hospital.costs
    if costs is None:
        return {}
    per_year = YEAR_DAYS * DAY_S / outcome.horizon_s
    items: dict[str, float] = {}
    if hospital.cylinders is not None:
        items |= _cylinder_items(hospital.cylinders, costs, outcome, per_year)
        if "cylinder" not in hospital.strategy.sources:  # an outlet has its own flowmeter
            items.pop(REGULATORS, None)
    if hospital.manifold is not None and (costs.manifold.price or costs.manifold_service_per_year):
        items[MANIFOLD] = _yearly(costs.manifold, costs) + costs.manifold_service_per_year
    if hospital.concentrators is not None:
        items |= _concentrator_items(hospital.concentrators, costs, outcome, per_year)
        items |= _power_items(hospital.power or Power(), costs, outcome, per_year)
    if costs.humidifier.price and hospital.bedside.humidifiers is not None:
        items[HUMIDIFIERS] = hospital.bedside.humidifiers * _yearly(costs.humidifier, costs)
    if costs.consumables_per_patient:
        treated = outcome.patients - outcome.transferred
        items[CONSUMABLES] = treated * costs.consumables_per_patient * per_year
    if costs.per_transfer:
        items[TRANSFERS] = outcome.transferred * costs.per_transfer * per_year
    return items


def _cylinder_items(cylinders: Cylinders, costs: Costs, outcome: Outcome, per_year: float) -> dict[str, float]:
    """Return money a year for the cylinders: owning, renting, filling and carrying them."""
    items: dict[str, float] = {}
    if costs.cylinder.price:
        items[CYLINDERS] = cylinders.fleet * _yearly(costs.cylinder, costs)
    if costs.cylinder_rent_per_year:
        items[CYLINDER_RENT] = cylinders.fleet * costs.cylinder_rent_per_year
    if costs.regulator.price:
        items[REGULATORS] = cylinders.regulators * _yearly(costs.regulator, costs)
    if costs.splitter.price and cylinders.splitters is not None:
        items[SPLITTERS] = cylinders.splitters.count * _yearly(costs.splitter, costs)
    if costs.refill:
        fall = outcome.opening_usable_gas - outcome.closing_usable_gas
        fills = outcome.cylinders_delivered + fall / (cylinders.full_gas - keep_gas(cylinders))
        items[REFILL] = outcome.cylinders_emptied * costs.refill * per_year
        items[STOCK_CHANGE] = (fills - outcome.cylinders_emptied) * costs.refill * per_year
    if costs.trip or costs.transport_per_cylinder:
        carried = outcome.cylinders_delivered * costs.transport_per_cylinder
        items[TRANSPORT] = ((outcome.deliveries + outcome.collections) * costs.trip + carried) * per_year
    if costs.emergency_trip or costs.emergency_cylinder:
        carried = outcome.emergency_cylinders * costs.emergency_cylinder
        items[EMERGENCY] = (outcome.emergency_deliveries * costs.emergency_trip + carried) * per_year
    if costs.cylinder.price and (cylinders.refused or cylinders.losses_per_day):
        items[LOST] = outcome.cylinders_lost * costs.cylinder.price * per_year
    return items


def _concentrator_items(units: Concentrators, costs: Costs, outcome: Outcome, per_year: float) -> dict[str, float]:
    """Return money a year for the concentrators: owning, watching, servicing, mending and powering them."""
    items: dict[str, float] = {}
    if costs.concentrator.price:
        items[CONCENTRATORS] = units.count * _yearly(costs.concentrator, costs)
    if costs.concentrator_service_per_year:
        items[SERVICE] = units.count * costs.concentrator_service_per_year
    if units.oxygen_monitor and costs.oxygen_monitor.price:
        items[MONITORS] = units.count * _yearly(costs.oxygen_monitor, costs)
    if units.analyser_check_s is not None and costs.analyser.price:
        items[ANALYSER] = _yearly(costs.analyser, costs)
    if costs.repair:
        items[REPAIR] = outcome.concentrator_failures * costs.repair * per_year
    if costs.electricity_per_kwh:
        on_grid_s = outcome.concentrator_running_s - outcome.off_grid_running_s
        kwh = (on_grid_s * units.power_w + outcome.grid_charging_ws) / JOULES_PER_KWH
        items[ELECTRICITY] = kwh * costs.electricity_per_kwh * per_year
    return items


def _power_items(power: Power, costs: Costs, outcome: Outcome, per_year: float) -> dict[str, float]:
    """Return money a year for what stands behind the grid: owning it, and fuel."""
    items: dict[str, float] = {}
    owned = (
        (GENERATOR, power.generator, costs.generator, costs.generator_service_per_year),
        (BATTERY, power.battery, costs.battery, 0.0),
        (SOLAR, power.solar, costs.solar, 0.0),
        (STABILISER, power.stabiliser, costs.stabiliser, 0.0),
    )
    for name, present, equipment, service in owned:
        if present and (equipment.price or service):
            items[name] = _yearly(equipment, costs) + service
    if power.generator is not None and costs.fuel_per_litre:
        items[FUEL] = outcome.fuel_for_oxygen / FUEL_PER_LITRE * costs.fuel_per_litre * per_year
    return items


def _yearly(equipment: Equipment, costs: Costs) -> float:
    """Return the equivalent annual cost of one piece of equipment."""
    return equivalent_annual_cost(
        equipment.price, equipment.life_years, costs.discount_rate, salvage=equipment.salvage
    )
