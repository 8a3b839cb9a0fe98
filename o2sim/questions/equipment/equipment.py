"""What each strategy of a study needs at its peak, from the numbers in use at once and over a year.

Simultaneous use is pooled over the time of all replications; a quantity is the least number that is enough for
99 % of that time. What goes with cylinders is taken over the time in which any is in use: else a reserve behind
concentrators, used half a day a year, would come to nothing. What no simulation shows (filters, spanners,
oximeters) stands with its assumption beside it. Quantities a year are for per_days days.

A unit can fail and its power can go, so where there are concentrators alone every point of use needs a cylinder
ready beside it, with a regulator, a flowmeter and the key or spanner that opens it (common practice). Fewer may
ever have been in use at once, but a cylinder beside another bed is not beside this one; that number is in the line
for those who decide. No run uses this back-up: it is in no figure of the simulation and in no cost.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from o2sim.questions.equipment.devices import RANGES
from o2sim.questions.equipment.occupancy import ENOUGH_PERCENT, Peak, peak, while_any
from o2sim.questions.equipment.peaks import ALL, HUMIDIFIER, Use, use_by_strategy
from o2sim.questions.equipment.result import (
    ASSUMED,
    BACK_UP,
    COMMON,
    EACH,
    EACH_YEAR,
    NEED,
    SCENARIO,
    Entry,
    Lists,
    Needed,
    peak_entry,
)
from o2sim.questions.equipment.workshop import workshop
from o2sim.runs.executors import Crew
from o2sim.runs.study import Study, provenance_of
from o2sim.scenario.changing.joint import require_no_draws
from o2sim.scenario.types.hospital import Hospital, Scenario

BEDSIDE, MANIFOLD, UNITS, CONSUMABLES = "At the bedside", "Manifold", "Concentrators", "Consumables, a year"
SETS_PER_PATIENT = 1.2  # prongs, catheters, masks: one each, one in five replaced
PATIENTS_PER_OXIMETER = 4
GROSS_FILTERS, INTERNAL_FILTERS = 2, 2  # a unit and year
UNPRICED = "neither simulated nor in the costs"
EACH_REGULATOR = f"one for each back-up regulator, of a kind that fits; {UNPRICED}"
KPA_PER_BAR = 100


def equipment(study: Study, crew: Crew | None = None) -> Needed:
    """Return what each strategy needs at its peak and in the workshop's year.

    crew: who draws the patients again, in place by default; changes no figure.
    """
    require_no_draws(study.joint, "what to buy", "it is made for one hospital, not for rows")
    size = size_of(study.scenario)
    strategies = {name: _strategy(use, size) for name, use in use_by_strategy(study, crew).items()}
    return Needed(provenance_of(study), study.scenario.figures, ENOUGH_PERCENT / 100, strategies)


def _strategy(use: Use, size: str) -> Lists:
    """Return the three parts of one strategy; size: of the scenario's cylinders, for a back-up of them."""
    parts = _at_once(use), _bedside(use), _manifold(use), _units(use), _back_up(use, size), _consumables(use)
    per_year = use.per_year / 3_600 / len(use.outcomes)
    running_s = use.outcomes.column("unit_running_s").sum(axis=0).tolist()
    return Lists(
        equipment=tuple(entry for part in parts for entry in part),
        workshop=tuple(workshop(use)),
        running_hours_by_unit=tuple(seconds * per_year for seconds in running_s),
    )


def _stated(group: str, item: str, quantity: int, figures: str = "", rule: str = "as stated") -> Entry:
    """Return a line of which the scenario has so many."""
    return Entry(group, item, quantity, EACH, SCENARIO, rule, figures)


def _at_once(use: Use) -> list[Entry]:
    """Return the numbers at once that the rest follows from."""
    hospital, need, at_once = use.hospital, use.need, use.at_once
    cylinders, units = hospital.cylinders, hospital.concentrators
    names = {"Patients on oxygen": ALL}
    if len(hospital.patients) > 1:
        names |= {f"  {kind.name}": ("class", kind.name) for kind in hospital.patients}
    by_need = "by admissions and stays, if all were served"
    entries = [peak_entry(NEED, name, need[group], by_need) for name, group in names.items()]
    if cylinders is not None:
        rule, most = (
            "one for each patient on cylinders, over the whole time",
            min(cylinders.fleet, cylinders.regulators),
        )
        entries.append(peak_entry(NEED, "Cylinders in use", at_once["cylinders"], rule, most=most))
    if units is not None:
        rule, most = "one outlet of a unit for each", units.count * units.outlets
        entries.append(peak_entry(NEED, "Patients on units", at_once["outlets"], rule, most=most))
        rule = "powered and serving"
        entries.append(peak_entry(NEED, "Units running", at_once["units_running"], rule, most=units.count))
    return entries


def _bedside(use: Use) -> list[Entry]:
    """Return what stands at the bedside, for cylinders and for patients."""
    entries = _with_cylinders(use)
    rules, humidifiers, patients = use.hospital.concentrators, use.need[HUMIDIFIER], use.need[ALL].enough
    if rules is not None and rules.outlets > 1:
        entries += _flowmeters(use, "outlets", use.at_once["outlets"])
    if humidifiers.highest > 0:
        above = _dry_above(use.hospital)
        rule = f"each patient on a nasopharyngeal catheter or {above} (common practice), if all were served"
        entries.append(peak_entry(BEDSIDE, "Humidifiers", humidifiers, rule))
    rule = f"one for {PATIENTS_PER_OXIMETER} patients at once, for spot checks, and a spare"
    number = ceil(patients / PATIENTS_PER_OXIMETER) + 1
    noticed = use.hospital.noticed
    if noticed is not None and noticed.by_oximeter is not None:
        alarm = "Oximeters that stay on a patient and alarm"
        entries.append(_stated(BEDSIDE, alarm, noticed.by_oximeter.count, "one patient each"))
    return [
        *entries,
        Entry(BEDSIDE, "Pulse oximeters", number, EACH, ASSUMED, rule, f"{patients} patients at once"),
    ]


def _dry_above(hospital: Hospital) -> str:
    """Return above which flows patients need a humidifier."""
    limits = {hospital.bedside.dry_above_ml_min(kind.size) / 1_000 for kind in hospital.patients}
    by_size = f"{min(limits):g} to {max(limits):g} L/min by size" if len(limits) > 1 else f"{min(limits):g} L/min"
    return f"above {by_size}"


def _manifold(use: Use) -> list[Entry]:
    """Return what the manifold has, as the scenario says."""
    rules = use.hospital.manifold
    if rules is None:
        return []
    reserve = f" and a reserve of {rules.reserve}" if rules.reserve else ""
    of_fleet = f"two banks of {rules.bank}{reserve}, of the fleet"
    patients = f"{use.need[ALL].enough} patients at once"
    return [
        _stated(MANIFOLD, "Outlets with a flowmeter", rules.outlets, patients),
        _stated(MANIFOLD, "Cylinders on it", 2 * rules.bank + rules.reserve, of_fleet),
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
    entries = [
        _stated(BEDSIDE, "Cylinders, whole fleet", rules.fleet, fleet),
        peak_entry(BEDSIDE, "Regulators", for_buying, rule, short, most),
        peak_entry(BEDSIDE, "Spanners or cylinder keys", for_buying, "one for each regulator, by common practice"),
        *_flowmeters(use, "regulators", peak(while_any(use.by_level["patients_on_cylinders"]))),
    ]
    if rules.splitters is not None:
        outlets = f"{rules.splitters.outlets} outlets, a flowmeter at each"
        entries.append(_stated(BEDSIDE, "Flow splitters, on cylinders", rules.splitters.count, outlets))
    return entries


def _flowmeters(use: Use, place: str, used: Peak) -> list[Entry]:
    """Return the flowmeters of each range: no more than are in use at the place, or than patients need.

    Where cylinders stand behind units the need that counts is the highest: they are used when it is high.
    """
    behind = place == "regulators" and use.hospital.strategy.sources[0] != "cylinder"
    rule = f"no more than patients on {place} at once, and no more than patients with such a flow"
    entries = []
    for reach in RANGES:
        need = use.need["flowmeter", reach]
        enough = min(used.enough, need.highest if behind else need.enough)
        found = replace(used, enough=enough, highest=min(used.highest, need.highest))
        if found.highest > 0:
            entries.append(peak_entry(BEDSIDE, f"Flowmeters {reach}, on {place}", found, rule))
    return entries


def _units(use: Use) -> list[Entry]:
    """Return the concentrators and what belongs to them."""
    rules, power, out = use.hospital.concentrators, use.hospital.power, use.at_once["units_out"]
    if rules is None:
        return []
    count, running = rules.count, f"{use.at_once['units_running'].enough} running at once"
    entries = [_stated(UNITS, "Concentrators", count, running)]
    if out.highest > 0:
        rule = "as many as are out of order at once, so that the stated number works"
        entries.append(peak_entry(UNITS, "Spare concentrators", out, rule))
    if rules.outlets > 1:
        rule = "one for each unit, with a flowmeter at each outlet"
        entries.append(_stated(UNITS, "Flow splitters", count, f"{rules.outlets} outlets", rule))
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


def size_of(scenario: Scenario) -> str:
    """Return the size of the cylinders of the first strategy that has any, or that it is a local choice."""
    rules = next((each.cylinders for each in scenario.hospitals.values() if each.cylinders is not None), None)
    if rules is None:
        return "size by local choice"
    if rules.water_capacity_l is None:
        return f"size as in the scenario, {rules.full_gas / 60_000:,.0f} L of gas"
    filled = f"filled to {rules.filling_pressure_kpa / KPA_PER_BAR:.0f} bar"
    return f"size as in the scenario, {rules.water_capacity_l:g} L of water {filled}"


def _back_up(use: Use, size: str) -> list[Entry]:
    """Return cylinders, regulators, flowmeters and keys for points of use; nothing where there are cylinders."""
    units, most = use.hospital.concentrators, use.at_once["outlets"].highest
    if units is None or use.hospital.cylinders is not None:
        return []
    points = units.count * units.outlets
    counted = f"{units.count} units of {units.outlets} outlet{'' if units.outlets == 1 else 's'}"
    each = "one for each point of use, that is every outlet of every unit"
    if most < points:
        each += f" (a patient may be put on any of them; at most {most} were in use at once)"
    lines = (
        ("Back-up cylinders, full", f"{each}; {size}; {UNPRICED}", counted),
        ("Back-up regulators", f"{each}; {UNPRICED}", counted),
        ("Flowmeters, on back-up regulators", EACH_REGULATOR, ""),
        ("Keys or spanners, for back-up cylinders", EACH_REGULATOR, ""),
    )
    return [Entry(BACK_UP, item, points, EACH, COMMON, rule, figures) for item, rule, figures in lines]


def _consumables(use: Use) -> list[Entry]:
    """Return prongs, catheters and masks by size for the patients of a year."""
    patients: dict[str, float] = {}
    for place, number in use.began.items():
        item = f"{place.device}, {place.size}"
        patients[item] = patients.get(item, 0.0) + number
    rule = f"patients a year, transferred ones included, x {SETS_PER_PATIENT:g}: one in five is replaced"
    return [
        Entry(CONSUMABLES, item[0].upper() + item[1:], ceil(number * SETS_PER_PATIENT), EACH_YEAR, ASSUMED, rule,
              f"{number:,.0f} patients a year")
        for item, number in patients.items()
    ]  # fmt: skip
