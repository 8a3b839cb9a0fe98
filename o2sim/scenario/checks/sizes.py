"""What is legal but doubtful in several sizes of cylinder, and in those that go with patients."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.hospital import Cylinders, Hospital, Transfer
from o2sim.scenario.types.laws import law_mean


def sizes(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield sizes that nobody can be given, and those that no lorry can bring."""
    used = {place for use in _uses(hospital, cylinders) for place in use}
    for place, size in enumerate(cylinders.each if cylinders.sizes else ()):
        where = f"cylinders.sizes.{size.name}"
        if place not in used:
            yield where, "named in no use of this strategy", "nobody is given one; add it to cylinders.use"
        elif not any(each.fits(size.valve) for each in cylinders.usable_sets):
            yield (
                where,
                f"no regulator set fits its valve, {size.valve}",
                "nobody is given one; add a set that fits",
            )
    yield from _lorries(hospital, cylinders)


def _uses(hospital: Hospital, cylinders: Cylinders) -> Iterator[tuple[int, ...]]:
    """Yield the sizes for each use that the hospital has."""
    if "cylinder" in hospital.strategy.sources:
        yield cylinders.places_for("bedside")
    if hospital.has_backups:
        yield cylinders.places_for("backup")
    if any(rule.with_cylinder for rule in _transfers(hospital)):
        yield cylinders.places_for("transfer")


def _transfers(hospital: Hospital) -> list[Transfer]:
    rules = [hospital.transfer_of(place) for place in range(len(hospital.patients))]
    return [rule for rule in rules if rule is not None]


def _lorries(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    rule = hospital.resupply
    if rule is None:
        return
    each = [("resupply.vehicle_space", rule.vehicle_space)]
    each += [("resupply.emergency.vehicle_space", rule.emergency.vehicle_space)] if rule.emergency else []
    for where, spaces in each:
        if spaces is None:
            continue
        if all(size.space is None for size in cylinders.each):
            found = f"{spaces} spaces, but no cylinder says how many it takes"
            yield where, found, "each takes one; state space of each size, or vehicle_capacity"
        for size in cylinders.each:
            if (size.space or 1) > spaces:
                found = f"{spaces} spaces, a cylinder takes {size.space}{size.name and f' ({size.name})'}"
                yield where, found, "none can ever come; raise it"


def transfers(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield patients who can never be sent on, since the way takes more cylinders than there are."""
    for place, kind in enumerate(hospital.patients):
        rule = hospital.transfer_of(place)
        if rule is None or not rule.with_cylinder:
            continue
        flow = law_mean(kind.flow_ml_min)
        fit = [cylinders.each[size] for size in cylinders.places_for("transfer")]
        fleets = [(size, 1.5 * (flow + size.leak_ml_min) * rule.travel_s) for size in fit]
        if all(gas > size.fleet * max(0, size.full_gas - size.lost_gas) for size, gas in fleets):
            found = f"the way takes more than all cylinders for it, for {kind.name} at a mean flow"
            yield "transfer.travel", found, "they stay; raise the fleet, or state oxygen: on board"
