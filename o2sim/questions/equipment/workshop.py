"""The workshop's year under one strategy: failures, parts, visits, hours, loads and fuel."""

from __future__ import annotations

from math import ceil

from o2sim.looks.words import joined
from o2sim.money.cost import FUEL_PER_LITRE
from o2sim.planning.by_model import are_named, highest_load_w, models_of
from o2sim.questions.equipment.occupancy import Peak
from o2sim.questions.equipment.peaks import Use
from o2sim.questions.equipment.result import COMMON, EACH_YEAR, PEAK, YEAR, Entry
from o2sim.scenario.types.hospital import DAY_S, Battery, Concentrators, Generator

WORKSHOP = "The workshop's year"
HOUR_S = 3_600
GENERATOR_SERVICE_H = 250
HOURS, DAYS = "h a year", "days a year"


def workshop(use: Use) -> list[Entry]:
    """Return what a year of the strategy asks of the workshop; means over all replications."""
    rules, power = use.hospital.concentrators, use.hospital.power
    entries: list[Entry] = []
    if use.hospital.cylinders is not None:
        rule = "to a patient or a bank, changes included"
        entries.append(_count(use, "Cylinders connected", "cylinders_opened", rule))
    if rules is None:
        return entries
    hours = use.mean("concentrator_running_s") / HOUR_S
    load = f"{_of_load(rules)}, whatever carries them"
    entries += [
        *_repairs(use, rules),
        Entry(WORKSHOP, "Running hours, all units", hours, HOURS, YEAR, "powered and serving"),
        _load("Load of the units", use.at_once["units_running"], rules, load),
    ]
    if power is not None and power.generator is not None:
        entries += _generator(use, power.generator, rules)
    if power is not None and power.battery is not None:
        entries += _battery(use, power.battery, rules)
    return entries


def _repairs(use: Use, rules: Concentrators) -> list[Entry]:
    """Return failures, the parts, visits and time of those that are repaired, and preventive services."""
    failures = "alarms and units found low included"
    entries = [_count(use, "Concentrator failures", "concentrator_failures", failures)]
    if use.most("concentrator_failures") > 0:
        repaired = use.mean("concentrator_failures") - use.mean("concentrators_written_off")
        busy = _level_days(use, "units_in_repair") if rules.crew is not None else None
        parts = "one for each failure that is repaired: sieve bed, compressor, board or other, as found"
        days = "on the way and at work, days of 24 h; not known without `crew`: the repair time includes the wait"
        waits, left = "repair, service and waiting for them", "failures less units written off"
        entries += [
            Entry(WORKSHOP, "Sets of repair parts", ceil(repaired), EACH_YEAR, COMMON, parts),
            Entry(WORKSHOP, "Repairs by a technician", repaired, EACH_YEAR, YEAR, left),
            Entry(WORKSHOP, "Technician's time", busy, DAYS, YEAR, days),
            Entry(WORKSHOP, "Units out of order", _level_days(use, "units_out"), "unit-days a year", YEAR, waits),
        ]
    models = models_of(rules)
    if any(model.rules.never_repaired > 0 for model in models):
        entries.append(_count(use, "Units written off", "concentrators_written_off", "to be bought again"))
    serviced = [(each.name, each.rules.service_every_s / HOUR_S) for each in models if each.rules.service_every_s]
    if serviced:
        every = joined([f"{name} every {hours:,.0f} running hours".strip() for name, hours in serviced])
        entries.append(_count(use, "Preventive services", "services", "by the running hours of each unit", every))
    return entries


def _generator(use: Use, generator: Generator, rules: Concentrators) -> list[Entry]:
    """Return hours, services, failures, load and fuel of the generator."""
    hours = use.mean("generator_running_s") / HOUR_S
    beside = f"beside {generator.base_load_w:,} W of other load" if generator.base_load_w else ""
    base = "; ".join(filter(None, (beside, _mixed(rules))))
    service, load = f"every {GENERATOR_SERVICE_H} running hours: oil and filters", "while it carries them"
    entries = [
        Entry(WORKSHOP, "Generator running", hours, HOURS, YEAR, "through cuts, whether or not a unit is on"),
        Entry(WORKSHOP, "Generator services", ceil(hours / GENERATOR_SERVICE_H), EACH_YEAR, COMMON, service),
        _count(use, "Generator failures", "generator_failures", "to start or in running"),
        _load("Units' load on the generator", use.at_once["units_on_generator"], rules, load, base),
    ]
    if generator.idle_ml_h or generator.per_kw_ml_h:
        litres = use.mean("fuel_used") / FUEL_PER_LITRE
        entries.append(Entry(WORKSHOP, "Fuel", litres, "L a year", YEAR, "for all that hangs on the generator"))
    return entries


def _battery(use: Use, battery: Battery, rules: Concentrators) -> list[Entry]:
    """Return the load of the inverter, and how long a full battery carries it."""
    rule = "while the battery carries them"
    load = _load("Units' load on the inverter", use.at_once["units_on_battery"], rules, rule, _mixed(rules))
    if not load.quantity:
        return [load]
    hours = battery.usable_at_first_ws * battery.inverter_permille / 1_000 / load.quantity / HOUR_S
    faded = "" if battery.fade is None else ", as it is when the run begins"
    rule = f"its usable energy{faded}, through the inverter at that load, without sun"
    return [load, Entry(WORKSHOP, "Full battery lasts at that load", hours, "h", PEAK, rule)]


def _load(item: str, running: Peak, rules: Concentrators, rule: str, figures: str = "") -> Entry:
    usual, most = (highest_load_w(rules, count) for count in (running.enough, running.highest))
    return Entry(WORKSHOP, item, usual, "W", PEAK, rule, figures, highest=most)


def _mixed(rules: Concentrators) -> str:
    return "at most: those of the most watts first" if are_named(rules) else ""


def _of_load(rules: Concentrators) -> str:
    """Return how a load follows from the units that run."""
    most = "at most: units running at once, those of the most watts first"
    return most if are_named(rules) else "units running at once x the power of one"


def _count(use: Use, item: str, name: str, rule: str, figures: str = "") -> Entry:
    most = use.most(name) * use.per_year
    return Entry(WORKSHOP, item, use.mean(name), EACH_YEAR, YEAR, rule, figures, highest=most)


def _level_days(use: Use, kind: str) -> float:
    """Return the sum of level x time in days a year."""
    seconds = sum(level * time_s for level, time_s in enumerate(use.by_level[kind]))
    return seconds / DAY_S / len(use.outcomes) * use.per_year
