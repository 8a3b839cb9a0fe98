"""What is legal but doubtful in the stock of cylinders, its resupply and its manifold."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from o2sim.scenario.checks.doubt import Doubt, key_of, minutes
from o2sim.scenario.checks.of_records import begins_with_run
from o2sim.scenario.types.hospital import Cylinders, Hospital
from o2sim.scenario.types.laws import law_mean, law_minimum
from o2sim.scenario.types.records import at_once, mean_cut_s


def cylinder_levels(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """A residual pressure too low to give the flow, and a year that starts with all the stock and no patient."""
    for size in cylinders.each:
        if size.residual_pressure_kpa < size.flow_lost_below_kpa:
            found = (
                f"{size.residual_pressure_kpa:g} kPa, below flow_lost_below of {size.flow_lost_below_kpa:g} kPa"
            )
            hint = "the flow fades before a cylinder counts as used; raise it"
            yield key_of(size, "residual_pressure"), found, hint
    cold = hospital.warm_up_s == 0 and not any(begins_with_run(hospital, kind) for kind in hospital.patients)
    cold = cold and hospital.now is None
    if hospital.resupply is not None and cold and cylinders.full_at_start:
        found = "0 days: the year starts with full stock and nobody on oxygen"
        yield "warm_up", found, "write for example warm_up: 28 days"


def ordering(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Levels and orders that the fleet is too small for, closures outside the run, faults of what never comes."""
    resupply = hospital.resupply
    if resupply is None:
        if any(size.unusable or size.underfilled or size.refused for size in cylinders.each):
            found = "found deliveries or empties that go wrong, but no resupply"
            yield "cylinders", found, "nothing is delivered or handed over; add resupply, or delete them"
        return
    for size, (point, upto) in zip(cylinders.each, resupply.levels, strict=True):
        where = f"resupply.sizes.{size.name}" if size.name else "resupply"
        yield from _levels(where, size.fleet, point, upto)
    if cylinders.fleet and resupply.minimum_order > cylinders.fleet:
        found = f"{resupply.minimum_order}, above the fleet of {cylinders.fleet}"
        yield "resupply.minimum_order", found, "no order can ever be placed; lower it"
    first = hospital.start - dt.timedelta(seconds=hospital.warm_up_s)
    last = hospital.start + dt.timedelta(seconds=hospital.horizon_s - 1)
    for place, closure in enumerate(resupply.road_closures, 1):
        if (closure.end and closure.end < first) or (closure.start and closure.start > last):
            found = f"outside the run from {first} to {last}"
            yield f"resupply.road_closures[{place}]", found, "it closes nothing; check the dates"


def _levels(where: str, fleet: int, point: int, upto: int) -> Iterator[Doubt]:
    hint = "there are no empties for so many; lower it or enlarge the fleet"
    if fleet and point >= fleet:
        yield f"{where}.reorder_point", f"{point}, not below the fleet of {fleet}", hint
    if upto > fleet > 0:
        yield f"{where}.order_up_to", f"{upto}, above the fleet of {fleet}", hint


def banks(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Banks that cannot be filled at the start, and outlets too few for the patients who have no other source."""
    manifold = hospital.manifold
    if manifold is None:
        return
    places = 2 * manifold.bank + manifold.reserve
    if places > cylinders.full_at_start:
        found = f"{places} cylinders on banks and reserve, but {cylinders.full_at_start} full ones at the start"
        yield "manifold.bank", found, "the banks begin part-filled or empty; raise full_at_start and fleet"
    patients = sum(at_once(hospital, kind) for kind in hospital.patients)
    if hospital.strategy.sources == ("manifold",) and patients > manifold.outlets:
        found = f"{manifold.outlets}, but {patients:.3g} patients are on oxygen at once on average"
        yield "manifold.outlets", found, "they go without; add outlets, or another source"


def backups(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield back-ups that cannot be, or that are of no use."""
    rule = cylinders.backup
    if rule is None or not hospital.has_backups:
        return
    sizes = [cylinders.each[place] for place in cylinders.places_for("backup")]
    sets = sum(each.count for each in cylinders.usable_sets if any(each.fits(size.valve) for size in sizes))
    for most, what in ((sets, "regulators"), (sum(size.fleet for size in sizes), "cylinders")):
        if rule.count > most:
            found = f"{rule.count}, but only {most} {what}"
            yield "cylinders.backup.count", found, f"there can be no more back-ups than {what}"
    if law_minimum(rule.open_time_s) > hospital.tolerated_gap_s:
        found = f"longer than the tolerated gap of {minutes(hospital.tolerated_gap_s)}"
        yield "cylinders.backup.open_time", found, "each loss counts as an interruption all the same"
    cut_s = 0.0 if hospital.grid is None else mean_cut_s(hospital.grid)
    first = sizes[0]
    for kind in hospital.patients:
        lasts_s = (first.full_gas - first.kept_gas) / (law_mean(kind.flow_ml_min) + first.leak_ml_min)
        if kind.name in rule.classes and lasts_s < cut_s:
            found = f"a full cylinder lasts {kind.name} {minutes(lasts_s)}, a cut {minutes(cut_s)} on average"
            yield "cylinders.backup.for", found, "it has to be changed within a cut; see that there are others"
