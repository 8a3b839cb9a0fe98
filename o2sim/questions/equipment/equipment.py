"""A study in, what each strategy needs at its peak out: the object that `o2sim equipment --json` prints.

Simultaneous use is pooled over the time of all replications; a quantity is the least number that is enough for
99 % of that time. What goes with cylinders is taken over the time in which any is in use: else a reserve behind
concentrators, used half a day a year, would come to nothing. What no simulation tells (filters, spanners,
oximeters) stands with its assumption beside it.

Each strategy has three parts. `equipment` and `workshop` are lists of entries (see Entry): group, item, quantity
(null where not known), unit, basis, rule, figures, highest, limited. `running_hours_by_unit` is hours a year, a
number for each unit from the first on. Quantities a year are for per_days days.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import ceil
from typing import Any

from o2sim.questions.equipment.back_up import back_up, size_of
from o2sim.questions.equipment.devices import RANGES
from o2sim.questions.equipment.entries import ASSUMED, COMMON, EACH, EACH_YEAR, SCENARIO, Entry, peak_entry
from o2sim.questions.equipment.occupancy import ENOUGH_PERCENT, Peak, peak, while_any
from o2sim.questions.equipment.peaks import ALL, HUMIDIFIER, Use, of_class, of_flowmeter, use_by_strategy
from o2sim.questions.equipment.result import Lists, Needed
from o2sim.questions.equipment.workshop import workshop
from o2sim.runs.executors import Crew
from o2sim.runs.study import Study, provenance_of
from o2sim.scenario.types.hospital import Cylinders
from o2sim.typed import as_json

NEED, BEDSIDE, MANIFOLD, UNITS, CONSUMABLES = (
    "At once",
    "At the bedside",
    "Manifold",
    "Concentrators",
    "Consumables, a year",
)
SETS_PER_PATIENT = 1.2  # prongs, catheters, masks: one each, one in five replaced
PATIENTS_PER_OXIMETER = 4
GROSS_FILTERS, INTERNAL_FILTERS = 2, 2  # a unit and year


def equipment(study: Study, crew: Crew | None = None) -> dict[str, Any]:
    """Return what each strategy needs at its peak and in the workshop's year, ready for JSON.

    crew: who draws the patients again, in place by default; changes no figure.
    """
    size = size_of(study.scenario)
    strategies = {name: _strategy(use, size) for name, use in use_by_strategy(study, crew).items()}
    needed = Needed(provenance_of(study), study.scenario.figures, ENOUGH_PERCENT / 100, strategies)
    found: dict[str, Any] = as_json(needed)
    return found


def _strategy(use: Use, size: str) -> Lists:
    """Return the three parts of one strategy; size: of the scenario's cylinders, for a back-up of them."""
    makers: tuple[Callable[[Use], list[Entry]], ...] = (
        *(_at_once, _bedside, _manifold, _units),
        lambda one: back_up(one.hospital, size, one.at_once["outlets"].highest),
        _consumables,
    )
    per_year = use.per_year / 3_600 / len(use.outcomes)
    return Lists(
        equipment=tuple(entry for make in makers for entry in make(use)),
        workshop=tuple(workshop(use)),
        running_hours_by_unit=tuple(
            sum(seconds) * per_year
            for seconds in zip(*(outcome.unit_running_s for outcome in use.outcomes), strict=True)
        ),
    )


def _at_once(use: Use) -> list[Entry]:
    """Return the numbers at once that the rest follows from."""
    hospital, need = use.hospital, use.need
    told = "by admissions and stays, if all were served"
    entries = [peak_entry(NEED, "Patients on oxygen", need[ALL], told)]
    if len(hospital.patients) > 1:
        entries += [
            peak_entry(NEED, f"  {kind.name}", need[of_class(kind.name)], told) for kind in hospital.patients
        ]
    if hospital.cylinders is not None:
        most = min(hospital.cylinders.fleet, hospital.cylinders.regulators)
        told = "one for each patient on cylinders, over the whole time"
        entries.append(peak_entry(NEED, "Cylinders in use", use.at_once["cylinders"], told, most=most))
    if hospital.concentrators is not None:
        rules, outlets, running = hospital.concentrators, use.at_once["outlets"], use.at_once["units_running"]
        on_units = "one outlet of a unit for each"
        entries.append(peak_entry(NEED, "Patients on units", outlets, on_units, most=rules.count * rules.outlets))
        entries.append(peak_entry(NEED, "Units running", running, "powered and serving", most=rules.count))
    return entries


def _bedside(use: Use) -> list[Entry]:
    """Return what stands at the bedside, for cylinders and for patients."""
    entries = _with_cylinders(use)
    rules, humidifiers, patients = use.hospital.concentrators, use.need[HUMIDIFIER], use.need[ALL].enough
    if rules is not None and rules.outlets > 1:
        entries += _flowmeters(use, "outlets", use.at_once["outlets"])
    if humidifiers.highest > 0:
        above = f"above {use.hospital.bedside.humidify_above_ml_min / 1_000:g} L/min"
        rule = f"each patient on a nasopharyngeal catheter or {above} (common practice), if all were served"
        entries.append(peak_entry(BEDSIDE, "Humidifiers", humidifiers, rule))
    rule = f"one for {PATIENTS_PER_OXIMETER} patients at once, for spot checks, and a spare"
    number = ceil(patients / PATIENTS_PER_OXIMETER) + 1
    entries.append(Entry(BEDSIDE, "Pulse oximeters", number, EACH, ASSUMED, rule, f"{patients} patients at once"))
    return entries


def _manifold(use: Use) -> list[Entry]:
    """Return what the manifold has, as the scenario says."""
    rules = use.hospital.manifold
    if rules is None:
        return []
    places = 2 * rules.bank + rules.reserve
    patients, of_fleet = f"{use.need[ALL].enough} patients at once", f"two banks of {rules.bank}, of the fleet"
    if rules.reserve:
        of_fleet = f"two banks of {rules.bank} and a reserve of {rules.reserve}, of the fleet"
    return [
        Entry(MANIFOLD, "Outlets with a flowmeter", rules.outlets, EACH, SCENARIO, "as stated", patients),
        Entry(MANIFOLD, "Cylinders on it", places, EACH, SCENARIO, "as stated", of_fleet),
    ]


def _with_cylinders(use: Use) -> list[Entry]:
    """Return the fleet and, for each cylinder in use at once, what belongs to it."""
    rules = use.hospital.cylinders
    if rules is None:
        return []
    in_use, most = use.at_once["cylinders"], min(rules.fleet, rules.regulators)
    for_buying = peak(while_any(use.by_level["cylinders"]))
    rule = "one for each cylinder in use at once, for 99 % of the time in which any is"
    share = use.by_level["cylinders"][most] / in_use.seconds if in_use.highest == most else 0.0
    short = f"all {most} there are were in use {100 * share:.2g} % of the time" if share > 0 else ""
    fleet = f"{in_use.enough} in use at once, the others full, part-used, empty or on the way"
    return [
        Entry(BEDSIDE, "Cylinders, whole fleet", rules.fleet, EACH, SCENARIO, "as stated", fleet),
        peak_entry(BEDSIDE, "Regulators", for_buying, rule, short, most),
        peak_entry(BEDSIDE, "Spanners or cylinder keys", for_buying, "one for each regulator, by common practice"),
        *_flowmeters(use, "regulators", peak(while_any(use.by_level["patients_on_cylinders"]))),
        *_splitters(rules),
    ]


def _splitters(rules: Cylinders) -> list[Entry]:
    """Return the flow splitters for patients who share a cylinder, as the scenario says."""
    if rules.splitters is None:
        return []
    outlets = f"{rules.splitters.outlets} outlets, a flowmeter at each"
    return [
        Entry(BEDSIDE, "Flow splitters, on cylinders", rules.splitters.count, EACH, SCENARIO, "as stated", outlets)
    ]


def _flowmeters(use: Use, place: str, used: Peak) -> list[Entry]:
    """Return the flowmeters of each range: no more than are in use at the place, or than patients need.

    Where cylinders stand behind units the need that counts is the highest: they are used when it is high.
    """
    behind = place == "regulators" and use.hospital.strategy.sources[0] != "cylinder"
    rule = f"no more than patients on {place} at once, and no more than patients with such a flow"
    found = []
    for reach in RANGES:
        need = use.need[of_flowmeter(reach)]
        enough = min(used.enough, need.highest if behind else need.enough)
        found.append((reach, replace(used, enough=enough, highest=min(used.highest, need.highest))))
    return [
        peak_entry(BEDSIDE, f"Flowmeters {reach}, on {place}", number, rule)
        for reach, number in found
        if number.highest > 0
    ]


def _units(use: Use) -> list[Entry]:
    """Return the concentrators and what belongs to them."""
    rules, power, out = use.hospital.concentrators, use.hospital.power, use.at_once["units_out"]
    if rules is None:
        return []
    count, running = rules.count, f"{use.at_once['units_running'].enough} running at once"
    entries = [Entry(UNITS, "Concentrators", count, EACH, SCENARIO, "as stated", running)]
    if out.highest > 0:
        rule = "as many as are out of order at once, so that the stated number works"
        entries.append(peak_entry(UNITS, "Spare concentrators", out, rule))
    if rules.outlets > 1:
        rule = "one for each unit, with a flowmeter at each outlet"
        entries.append(Entry(UNITS, "Flow splitters", count, EACH, SCENARIO, rule, f"{rules.outlets} outlets"))
    if power is not None and power.stabiliser:
        entries.append(Entry(UNITS, "Voltage stabilisers", count, EACH, ASSUMED, "one for each unit"))
    gross = "two a year for each unit: one on while the other dries after its weekly wash"
    internal = "one for each unit every 6 months, the short end of 6 to 12"
    analyser = "one for the facility, to check what units give at their total flow"
    return [
        *entries,
        Entry(UNITS, "Gross particle filters", count * GROSS_FILTERS, EACH_YEAR, COMMON, gross),
        Entry(UNITS, "Internal filters", count * INTERNAL_FILTERS, EACH_YEAR, COMMON, internal),
        Entry(UNITS, "Oxygen analyser", 1, EACH, COMMON, analyser),
    ]


def _consumables(use: Use) -> list[Entry]:
    """Return prongs, catheters and masks by size for the patients of a year."""
    patients: dict[str, float] = {}
    for place, number in use.began.items():
        item = f"{place.device}, {place.size}"
        patients[item] = patients.get(item, 0.0) + number
    rule = f"patients a year, transferred ones included, x {SETS_PER_PATIENT:g}: one in five is replaced"
    return [
        Entry(
            CONSUMABLES,
            item[0].upper() + item[1:],
            ceil(number * SETS_PER_PATIENT),
            EACH_YEAR,
            ASSUMED,
            rule,
            f"{number:,.0f} patients a year",
        )
        for item, number in patients.items()
    ]
