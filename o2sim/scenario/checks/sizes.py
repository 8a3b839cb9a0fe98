"""What is legal but doubtful in cylinders of several sizes: no set fits, none can go on the way, idle sizes."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from o2sim.errors import Problem
from o2sim.scenario.checks.doubt import Doubt, key_of
from o2sim.scenario.types.hospital import Cylinders, Hospital, PatientClass, Scenario, Transfer
from o2sim.scenario.types.laws import law_mean

RESERVE = 1.5  # times what flow and leak take on the way: o2sim/model/steps/transfers.py


def valves(_: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield sizes that no regulator set fits: they are never opened."""
    for size in cylinders.each if cylinders.sizes else ():
        if size.fleet and not any(each.fits(size.valve) for each in cylinders.usable_sets):
            found = f"no regulator set fits {size.valve}"
            yield key_of(size, "valve"), found, "it is never opened; add a set to cylinders.regulator_sets"


def lorries(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield sizes of which not one fits on a lorry, and spaces where no size says how many it takes."""
    rule = hospital.resupply
    if rule is None:
        return
    each = [("resupply", rule.vehicle_space)]
    each += [("resupply.emergency", rule.emergency.vehicle_space)] if rule.emergency is not None else []
    for where, spaces in each:
        if spaces is not None and all(size.space is None for size in cylinders.each):
            hint = "each takes one; state the space of each size, or vehicle_capacity"
            yield f"{where}.vehicle_space", "no cylinder says how many spaces it takes", hint
        for size in cylinders.each:
            if spaces is not None and (size.space or 1) > spaces:
                found, hint = (
                    f"{size.space}, above the {spaces} of a trip",
                    f"none ever comes; raise {where}.vehicle_space",
                )
                yield key_of(size, "space"), found, hint


def on_the_way(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield classes whose patients stay, as no size has as many cylinders as the way takes."""
    for number, kind in enumerate(hospital.patients):
        rule, own = hospital.transfer_of(number), kind.transfer is not None
        if rule is None or not rule.with_cylinder:
            continue
        wanted = [(cylinders.each[place], kind, rule) for place in cylinders.places_for("transfer")]
        short = [(_needed(*each), each[0]) for each in wanted]
        if all(count > size.fleet for count, size in short):
            count, size = short[0]
            of = f"{size.name} cylinders" if size.name else "cylinders"
            found = f"{count} {of} for the way at the mean flow of {kind.name}, of a fleet of {size.fleet}"
            where = f"patients.{kind.name}.transfer" if own else "transfer"
            yield f"{where}.oxygen", found, "they stay, unserved; raise the fleet, or take a larger size"


def _needed(size: Cylinders, kind: PatientClass, rule: Transfer) -> int:
    usable = max(1, size.full_gas - size.lost_gas)
    return ceil(RESERVE * (law_mean(kind.flow_ml_min) + size.leak_ml_min) * rule.travel_s / usable)


def idle(scenario: Scenario) -> Iterator[Problem]:
    """Yield sizes that no strategy has a use for."""
    used, known = set[str](), dict[str, None]()
    for hospital in scenario.hospitals.values():
        stock = hospital.cylinders
        if stock is None or not stock.sizes:
            continue
        uses = [stock.places_for("bedside")] if "cylinder" in hospital.strategy.sources else []
        uses += [stock.places_for("backup")] if hospital.has_backups else []
        rules = [hospital.transfer_of(number) for number in range(len(hospital.patients))]
        sent = any(rule is not None and rule.with_cylinder for rule in rules)
        uses += [stock.places_for("transfer")] if sent else []
        used |= {stock.each[place].name for places in uses for place in places}
        known |= dict.fromkeys(size.name for size in stock.sizes)
    for name in known:
        if name not in used:
            where, found = f"cylinders.sizes.{name}", "for no use under any strategy"
            hint = "name it under cylinders.use, or delete it"
            yield Problem(scenario.file, scenario.lines.get(where, 0), where, found, "", hint)
