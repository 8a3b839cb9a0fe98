"""What each strategy of a study needs at its peak, from the numbers in use at once and over a year.

Simultaneous use is pooled over the time of all replications; a quantity is the least number that is enough for
99 % of that time. What goes with cylinders is taken over the time in which any is in use: else a reserve behind
concentrators, used half a day a year, would come to nothing. What no simulation shows (filters, spanners,
oximeters) stands with its assumption beside it. Quantities a year are for per_days days.

A unit can fail and its power can go, so where there are concentrators alone every point of use needs a cylinder
ready beside it, with a regulator, a flowmeter and the key or spanner that opens it (common practice). Fewer may
ever have been in use at once, but a cylinder beside another bed is not beside this one; that number is in the line
for those who decide. No run uses this back-up: it is in no figure of the simulation, and in the cost only where
its prices are stated. What stands beside a bed, a unit or a ward follows from a rule each (lines.py).
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from o2sim.looks.sizes import uses_of
from o2sim.money.by_model import named
from o2sim.money.by_size import line_of
from o2sim.money.cheque import capital
from o2sim.money.cost import CONCENTRATORS, HUMIDIFIERS, OXIMETERS, REGULATORS
from o2sim.money.cost import MANIFOLD as OF_MANIFOLD
from o2sim.money.listed import has_cylinders_at_hand
from o2sim.money.to_buy import unpriced
from o2sim.money.unbought import lacking_of, mean_of, unbought
from o2sim.planning.by_model import OfModel, are_named, models_of, outlets_of
from o2sim.questions.equipment import lines
from o2sim.questions.equipment.devices import RANGES
from o2sim.questions.equipment.occupancy import ENOUGH_PERCENT, Peak, peak, while_any
from o2sim.questions.equipment.peaks import ALL, Use, use_by_strategy
from o2sim.questions.equipment.result import (
    ASSUMED,
    BEDSIDE,
    CONSUMABLES,
    EACH,
    EACH_YEAR,
    NEED,
    SCENARIO,
    UNITS,
    Entry,
    Lists,
    Needed,
    peak_entry,
)
from o2sim.questions.equipment.workshop import workshop
from o2sim.runs.executors import Crew
from o2sim.runs.study import Study, provenance_of
from o2sim.scenario.changing.joint import require_no_draws
from o2sim.scenario.types.hospital import Cylinders, Hospital, Scenario

MANIFOLD = "Manifold"
SETS_PER_PATIENT = 1.2  # prongs, catheters, masks: one each, one in five replaced
ENOUGH = "Regulators that are enough"
NOT_RUN = "not simulated, and in the costs only at a price of its own"
KPA_PER_BAR = 100
ALL_MODELS = "as stated; how many of each model are in use at once is not counted"


def equipment(study: Study, crew: Crew | None = None) -> Needed:
    """Return what each strategy needs at its peak and in the workshop's year.

    crew: who draws the patients again, in place by default; changes no figure.
    """
    require_no_draws(study.joint, "what to buy", "it is made for one hospital, not for rows")
    size = size_of(study.scenario)
    strategies = {name: _strategy(use, size) for name, use in use_by_strategy(study, crew).items()}
    hospitals = study.scenario.hospitals.values()
    currency = next((each.costs.currency for each in hospitals if each.costs is not None), "")
    return Needed(provenance_of(study), study.scenario.figures, ENOUGH_PERCENT / 100, strategies, currency)


def _strategy(use: Use, size: str) -> Lists:
    """Return the three parts of one strategy; size: of the scenario's cylinders, for a back-up of them."""
    parts = (
        *(_at_once(use), _bedside(use), _manifold(use), _units(use), lines.of_power(use)),
        *(lines.of_group(use, "place"), _back_up(use, size), _consumables(use), lines.of_group(use, "year")),
    )
    per_year = use.per_year / 3_600 / len(use.outcomes)
    running_s = use.outcomes.column("unit_running_s").sum(axis=0).tolist()
    bought = lines.to_buy(use.hospital)
    there = {each.item: (each.there, each.due or None) for each in bought if each.there}
    return Lists(
        equipment=tuple(_with_yard(each, *there.get(each.item, (None, None))) for part in parts for each in part),
        workshop=tuple(workshop(use)),
        running_hours_by_unit=tuple(seconds * per_year for seconds in running_s),
        model_by_unit=_models_by_unit(use),
        to_buy=bought,
        capital=None if use.hospital.costs is None else capital(use.hospital),
        unpriced=tuple(unpriced(use.hospital)),
        unbought=mean_of(unbought(use.hospital, lacking_of(each)) for each in use.outcomes),
    )


def _models_by_unit(use: Use) -> tuple[str, ...] | None:
    """Return the model of each unit; None without models."""
    units = use.hospital.concentrators
    if units is None or not are_named(units):
        return None
    return tuple(row.model for row in units.groups for _ in row.numbers)


def _with_yard(entry: Entry, there: int | None, due: int | None) -> Entry:
    """Return a line with how many are there already, and how many of these are due."""
    return replace(entry, there=there, due=due)


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
        rule, most = "one outlet of a unit for each", outlets_of(units)
        entries.append(peak_entry(NEED, "Patients on units", at_once["outlets"], rule, most=most))
        rule = "powered and serving"
        entries.append(peak_entry(NEED, "Units running", at_once["units_running"], rule, most=units.count))
    return entries


def _bedside(use: Use) -> list[Entry]:
    """Return what stands at the bedside, for cylinders and for patients."""
    entries = _with_cylinders(use)
    units, noticed = use.hospital.concentrators, use.hospital.noticed
    if any(model.rules.outlets > 1 for model in models_of(units)):
        entries += _flowmeters(use, "outlets", use.at_once["outlets"])
    entries += lines.stated_of(use, (HUMIDIFIERS,), BEDSIDE)
    if noticed is not None and noticed.by_oximeter is not None:
        entries += lines.stated_of(use, (OXIMETERS,), BEDSIDE, "as stated, one patient each")
    return entries + lines.of_group(use, "beside")


def _manifold(use: Use) -> list[Entry]:
    """Return what the manifold has, as the scenario says."""
    rules = use.hospital.manifold
    if rules is None:
        return []
    reserve = f" and a reserve of {rules.reserve}" if rules.reserve else ""
    of_fleet = f"two banks of {rules.bank}{reserve}, of the fleet"
    patients = f"{use.need[ALL].enough} patients at once"
    return [
        *lines.stated_of(use, (OF_MANIFOLD,), MANIFOLD),
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
        *_fleets(use.hospital, rules, fleet),
        *lines.stated_of(use, (REGULATORS,), BEDSIDE),
        *_by_valve(rules),
        peak_entry(BEDSIDE, ENOUGH, for_buying, rule, short, most),
        *_flowmeters(use, "regulators", peak(while_any(use.by_level["patients_on_cylinders"]))),
    ]
    if rules.splitters is not None:
        outlets = f"{rules.splitters.outlets} outlets, a flowmeter at each"
        entries.append(_stated(BEDSIDE, "Flow splitters, on cylinders", rules.splitters.count, outlets))
    return entries


def _fleets(hospital: Hospital, rules: Cylinders, figures: str) -> list[Entry]:
    """Return the fleet, of each size where there are several, with what that is for."""
    if not rules.sizes:
        return [_stated(BEDSIDE, lines.stated_name(line_of(rules)), rules.fleet, figures)]
    held = (f"{size.full_gas / 60_000:,.0f} L of gas in one" for size in rules.each)
    said = (f"{litres}; for {uses_of(hospital, place)}" for place, litres in enumerate(held))
    sizes = zip(rules.each, said, strict=True)
    return [
        _stated(BEDSIDE, lines.stated_name(line_of(size)), size.fleet, words)
        for size, words in sizes
        if size.fleet
    ]


def _by_valve(rules: Cylinders) -> list[Entry]:
    """Return how many of the regulators fit each valve, where the sizes have several."""
    valves = dict.fromkeys(size.valve for size in rules.each if size.valve is not None)
    if len(valves) < 2:
        return []
    return [
        _stated(BEDSIDE, f"  that fit {valve}", sum(each.count for each in rules.usable_sets if each.fits(valve)))
        for valve in valves
    ]


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
    units, out = use.hospital.concentrators, use.at_once["units_out"]
    if units is None:
        return []
    entries = [_units_of(use, model) for model in models_of(units)]
    if out.highest > 0:
        rule = "as many as are out of order at once, so that the stated number works"
        rule += "; of which model is not counted" if are_named(units) else ""
        entries.append(peak_entry(UNITS, "Spare concentrators", out, rule))
    return [*entries, *lines.beside_units(use), *lines.of_group(use, "units")]


def _units_of(use: Use, model: OfModel) -> Entry:
    """Return the units of a model; how many run at once is counted over all models together."""
    running, rules = f"{use.at_once['units_running'].enough} running at once", model.rules
    item = lines.stated_name(named(CONCENTRATORS, model.name))
    if not model.name:
        return _stated(UNITS, item, model.count, running)
    gives = f"{rules.rated_flow_ml_min / 1_000:g} L/min, {lines.outlets_said(rules.outlets)}"
    figures = f"{gives}, {rules.power_w:,.0f} W each; {running}, of all models"
    return _stated(UNITS, item, model.count, figures, ALL_MODELS)


def size_of(scenario: Scenario) -> str:
    """Return the size of the cylinders of the first strategy that has any, or that it is a local choice."""
    stock = next((each.cylinders for each in scenario.hospitals.values() if each.cylinders is not None), None)
    if stock is None:
        return "size by local choice"
    rules = stock.each[stock.places_for("backup")[0]]
    if rules.water_capacity_l is None:
        return f"size as in the scenario, {rules.full_gas / 60_000:,.0f} L of gas"
    filled = f"filled to {rules.filling_pressure_kpa / KPA_PER_BAR:.0f} bar"
    return f"size as in the scenario, {rules.water_capacity_l:g} L of water {filled}"


def _back_up(use: Use, size: str) -> list[Entry]:
    """Return cylinders, regulators, flowmeters and keys for points of use; nothing where there are cylinders."""
    units, most = use.hospital.concentrators, use.at_once["outlets"].highest
    if units is None or has_cylinders_at_hand(use.hospital):
        return []
    seen = ""
    if most < outlets_of(units):
        seen = f" (a patient may be put on any of them; at most {most} were in use at once)"
    more = {"Back-up cylinders, full": f"{seen}; {size}", "Back-up regulators": seen}
    return [
        replace(each, rule=f"{each.rule}{more.get(each.item, '')}; {NOT_RUN}")
        for each in lines.of_group(use, "back-up")
    ]


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
