"""What is legal but doubtful in who comes, what they need, and whether the sources can give as much."""

from __future__ import annotations

import math
from collections.abc import Iterator

from o2sim.quantities.gas import GAS_PER_LITRE
from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Hospital, Law
from o2sim.scenario.types.laws import law_high, law_maximum, law_mean, share_above
from o2sim.scenario.types.records import flow_needed, grid_share

LITRES_A_DAY = 1.44  # per mL/min
WORTH_A_WARNING = 0.001  # share of a class's patients whose flow cannot be set, or is too high


def admissions(hospital: Hospital) -> Iterator[Doubt]:
    """A surge that the run does not meet changes nothing."""
    for patients in hospital.patients:
        for place, surge in enumerate(patients.surges, 1):
            begins_s = hospital.warm_up_s + (surge.start - hospital.start).days * DAY_S
            if begins_s >= hospital.end_s or begins_s + law_high(surge.length_s) <= 0:
                yield f"patients.{patients.name}.surges[{place}]", "outside the run", "check the dates"
            elif surge.multiplier == 1:
                yield f"patients.{patients.name}.surges[{place}]", "a multiplier of 1", "it adds nobody"
        for place, step in enumerate(patients.flow_steps, 1):
            if step.after_s >= law_maximum(patients.duration_s):
                where = f"patients.{patients.name}.flow_steps[{place}]"
                yield where, "after the longest stay", "it changes nothing"


def flows(hospital: Hospital) -> Iterator[Doubt]:
    """A flow above the rated flow can only come from a cylinder, or from two units where that is allowed."""
    units, allocation = hospital.concentrators, hospital.allocation
    if units is None or "cylinder" in hospital.strategy.sources:
        return
    rated = sorted((units.rules_of(number).rated_flow_ml_min for number in range(units.count)), reverse=True)
    two = allocation.two_units and units.count > 1
    most = sum(rated[:2]) if two else max(rated, default=units.rated_flow_ml_min)
    fate = "they go without" if allocation.reduced_flow == "never" else "they get a part of it"
    for patients in hospital.patients:
        share = share_above(patients.flow_ml_min, most)
        if share > WORTH_A_WARNING:
            found = f"{100 * share:.1f} % of these patients need more than the rated flow of {most / 1000:g} L/min"
            found += " of two units" if two else ""
            yield f"patients.{patients.name}.flow", found, f"{fate}; give them cylinders as well"


def supply_below_need(hospital: Hospital) -> Iterator[Doubt]:
    """A mean need above what the sources can give on average cannot be met, whatever the luck."""
    need = sum(flow_needed(hospital, patients) for patients in hospital.patients) * LITRES_A_DAY
    leak = hospital.manifold.leak_ml_min * LITRES_A_DAY if hospital.manifold else 0.0
    supply = concentrator_litres_a_day(hospital) + max(cylinder_litres_a_day(hospital) - leak, 0.0)
    if need > supply:
        found = f"the need of {need:,.0f} L a day on average is above the supply of at most {supply:,.0f} L a day"
        yield "patients", found, "many will go without; check admissions and flows, fleet, lead time and units"


def concentrator_litres_a_day(hospital: Hospital) -> float:
    """Return what the concentrators give running all the time they are in order and have power."""
    units, power = hospital.concentrators, hospital.power
    if units is None:
        return 0.0
    backed = power is not None and (power.generator is not None or power.battery is not None)
    powered = 1.0 if backed else grid_share(hospital)
    return sum(
        group.count * group.rules.rated_flow_ml_min * LITRES_A_DAY * powered
        * _share_up(group.rules.failure_s, group.rules.repair_s)
        for group in units.groups
    )  # fmt: skip


def _share_up(up: Law | None, down: Law | None) -> float:
    if up is None or down is None:
        return 1.0
    return law_mean(up) / (law_mean(up) + law_mean(down))


def cylinder_litres_a_day(hospital: Hospital) -> float:
    """Return the most the cylinders can give on average, each used down to the residual pressure.

    No more are on order at once than the fleet or the order-up-to level, so by Little's law no more arrive than
    that over the mean lead time; nor more than one order each review, no larger than the vehicle. Of several sizes
    each is taken as if it had the vehicle to itself.
    """
    cylinders, resupply = hospital.cylinders, hospital.resupply
    if cylinders is None:
        return 0.0
    levels = (None,) * len(cylinders.each) if resupply is None else resupply.levels
    sizes = zip(cylinders.each, levels, strict=True)
    return sum(_of_size(hospital, size, level and level[1]) for size, level in sizes)


def _of_size(hospital: Hospital, size: Cylinders, level: int | None) -> float:
    """Return the most litres a day of cylinders of a size; level: order-up-to, None without resupply."""
    usable = max(size.full_gas - size.kept_gas, 0) / GAS_PER_LITRE
    first_fill, resupply = size.full_at_start * usable / (hospital.end_s / DAY_S), hospital.resupply
    if resupply is None or level is None:
        return first_fill
    most = min(size.fleet, level)
    lead_days = law_mean(resupply.lead_time_s) / DAY_S
    a_day = most / lead_days if lead_days > 0 and most else (math.inf if most else 0.0)
    if resupply.review_s is not None:
        limits = (
            resupply.vehicle_capacity,
            resupply.vehicle_space and resupply.vehicle_space // (size.space or 1),
        )
        load = min([most, *(limit for limit in limits if limit is not None)])
        a_day = min(a_day, load / (resupply.review_s / DAY_S))
    return first_fill + a_day * usable
