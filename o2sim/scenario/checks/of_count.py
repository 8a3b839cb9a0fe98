"""What is doubtful in a count from which a run begins: cylinders not accounted for, a warm-up that is not run."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.errors import Problem
from o2sim.quantities.units import format_duration
from o2sim.scenario.checks.doubt import Doubt
from o2sim.scenario.types.hospital import Cylinders, Hospital, Scenario
from o2sim.scenario.types.laws import Law, law_maximum


def accounted(hospital: Hospital) -> tuple[int, int]:
    """Return (cylinders counted, cylinders of the fleet) of a run that begins from a count.

    Counted are full, part-used and empty ones and those known to be with patients; what is on order is none of the
    fleet. (0, 0) without a count, or for a strategy without cylinders.
    """
    if hospital.now is None or hospital.now.cylinders is None or hospital.cylinders is None:
        return 0, 0
    return hospital.now.cylinders_counted, hospital.cylinders.fleet


def not_accounted_for(hospital: Hospital, _: Cylinders) -> Iterator[Doubt]:
    """Yield cylinders of the fleet that nobody counted."""
    counted, fleet = accounted(hospital)
    if counted < fleet:
        found = f"{counted} of {fleet}: {fleet - counted} not accounted for"
        yield (
            "now.cylinders",
            found,
            "lent, away to be filled, with a patient? count again, or lower cylinders.fleet",
        )


def more_than_places(hospital: Hospital, cylinders: Cylinders) -> Iterator[Doubt]:
    """Yield more patients on cylinders than there are regulators."""
    sets = sum(each.count for each in cylinders.usable_sets)
    if hospital.now is not None and cylinders.splitters is None and hospital.now.on_cylinders > sets:
        found = f"{hospital.now.on_cylinders} patients on cylinders, but {sets} regulators"
        yield "now.on_oxygen", found, "count again, or raise cylinders.regulators"


def on_units(hospital: Hospital) -> tuple[int, int]:
    """Return (patients counted on concentrators, units that work); (0, 0) without a count, or without units."""
    now, units = hospital.now, hospital.concentrators
    if now is None or units is None:
        return 0, 0
    patients = sum(each.source == "concentrator" for each in now.on_oxygen or ())
    return patients, units.count if now.units is None else now.units.working


def more_than_outlets(hospital: Hospital) -> Iterator[Doubt]:
    """Yield more patients on concentrators than the units that work can serve."""
    patients, working = on_units(hospital)
    units = hospital.concentrators
    outlets = sum(units.rules_of(number).outlets for number in range(min(working, units.count))) if units else 0
    if units is not None and patients > outlets:
        each = f"{outlets} outlets together" if units.listed else f"{units.outlets} outlets"
        found = f"{patients} patients on concentrators, but {working} units of {each} that work"
        yield "now.on_oxygen", found, "count again, or correct concentrators.outlets"


def longer_than_its_law(hospital: Hospital) -> Iterator[Doubt]:
    """Yield stays and orders that have lasted longer than they can by their law."""
    now, resupply = hospital.now, hospital.resupply
    if now is None:
        return
    for index, kind in enumerate(hospital.patients):
        ages = [each.age_s for each in now.on_oxygen or () if each.class_index == index and each.age_s]
        key = f"patients.{kind.name}.duration"
        if found := _too_long(f"{kind.name} on oxygen", ages, kind.duration_s, key):
            yield "now.on_oxygen", found, "by the law it has ended; check begun, or the law"
    orders = [each.age_s for each in now.on_order if each.age_s]
    if resupply is None:
        return
    if found := _too_long("an order under way", orders, resupply.lead_time_s, "resupply.lead_time"):
        yield "now.on_order", found, "by the law it has come; has it, or is the law too short?"


def _too_long(what: str, ages: list[int], law: Law, key: str) -> str:
    longest_s, most_s = max(ages, default=0), law_maximum(law)
    if longest_s <= most_s:
        return ""
    return f"{what} for {format_duration(longest_s)}, at most {format_duration(most_s)} by {key}"


def idle_warm_up(scenario: Scenario) -> Iterator[Problem]:
    """Yield a warm-up that the file states beside a count."""
    line = scenario.lines.get("warm_up", 0)
    if line and any(hospital.now is not None for hospital in scenario.hospitals.values()):
        found, hint = "found beside now: the run begins from the count", "no warm-up is run; it may stay"
        yield Problem(scenario.file, line, "warm_up", found, "", hint)
