"""The rules of concentrators that are switched on, in words: which units there are, what holds for which model."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.looks.words import joined, number, percent
from o2sim.planning.by_model import OfModel, models_of
from o2sim.quantities.units import format_duration
from o2sim.scenario.types.costing import years
from o2sim.scenario.types.hospital import Concentrators, Law, Power
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.units import UnitGroup


def sentences(units: Concentrators, power: Power) -> Iterator[str]:
    """Yield one sentence a rule, naming the models where it does not hold for all."""
    yield from _listed(units)
    yield from _by_model(units, power)
    surges = [model for model in models_of(units) if model.rules.start_surge_permille is not None]
    if surges and _peaks(power):
        yield from _surge(surges, power)


def _listed(units: Concentrators) -> Iterator[str]:
    """Yield which units there are, where the file lists them."""
    for model in models_of(units) if units.listed else ():
        rules = model.rules
        outlets = "1 outlet" if rules.outlets == 1 else f"{rules.outlets} outlets"
        what = f"{rules.rated_flow_ml_min / 1_000:g} L/min, {outlets}"
        rows = joined([_row(row) for row in model.rows])
        named = f"Concentrators “{model.name}”" if model.name else "Concentrators"
        yield f"{named} ({what}, {rules.power_w:,.0f} W each): {rows}."


def _row(row: UnitGroup) -> str:
    """Return a row of units: `3 that are there, aged 5 years, 2 of them working at the start`."""
    running = row.rules.failure_clock == "running" and row.rules.failure_s is not None
    aged = f"aged {_age(row.age_s)}{' of running' if running else ''}" if row.age_s else ""
    works = f"{row.working} of them working at the start" if row.working < row.count else ""
    where = f"on {row.ward}" if row.ward else ""
    there = "that are there" if row.owned else "to be bought"
    return ", ".join(filter(None, (f"{row.count} {there}", where, aged, works)))


def _age(seconds: int) -> str:
    """Return an age in years above one, else as any time."""
    age = years(seconds)
    return f"{number(age)} years" if age > 1 else format_duration(seconds)


def _by_model(units: Concentrators, power: Power) -> Iterator[str]:
    """Yield what holds for each unit: said once where it does for all models, else for those it does."""
    models = models_of(units)
    found: dict[str, list[str]] = {}
    for model in models:
        for said in (*_failures(model.rules, stabiliser=power.stabiliser), *_concentration(model.rules)):
            found.setdefault(said, []).append(model.name)
    for said, names in found.items():
        yield said if len(names) == len(models) else f"Of {joined(names)}: {said}"


def _failures(rules: Concentrators, *, stabiliser: bool) -> Iterator[str]:
    if rules.never_repaired:
        yield f"Of failures {percent(rules.never_repaired)} are the end of a unit."
    if rules.cut_damage and not stabiliser:
        yield f"Each unit fails with a chance of {percent(rules.cut_damage)} as the grid comes back."
    if rules.repaired_as == "old":
        yield "A repaired unit is as old as it was: the clock of its failures goes on."
    if rules.crew is not None:
        who = "One technician mends" if rules.crew == 1 else f"{rules.crew} technicians mend"
        way = "" if rules.travel_s is None else f", after a way of {_mean(rules.travel_s)} on average"
        yield f"{who} one unit after another{way}."
    if rules.service_every_s is not None:
        every, takes = format_duration(rules.service_every_s), format_duration(rules.service_time_s)
        yield f"Each unit is out for {takes} of service after every {every} of running."


def _concentration(rules: Concentrators) -> Iterator[str]:
    if rules.start_up_s:
        yield f"For {format_duration(rules.start_up_s)} after each start a unit gives low concentration."
    if rules.drift_s is not None:
        alarm, check_s = rules.alarm_permille, rules.analyser_check_s
        seen = [f"its monitor takes it out at {percent(alarm / 1_000)}"] if alarm is not None else []
        seen += [f"an analyser finds it within {format_duration(check_s)}"] if check_s is not None else []
        how = "; ".join(seen) or "nothing finds it"
        yield f"A unit falls from 93 % to 82 % oxygen in {_mean(rules.drift_s)} of running, on average: {how}."
    elif rules.oxygen_monitor:
        yield "Its oxygen monitor never alarms, for without drift no unit falls low."


def _surge(models: list[OfModel], power: Power) -> Iterator[str]:
    times = dict.fromkeys(f"{number((each.rules.start_surge_permille or 0) / 1_000)} times" for each in models)
    yield (
        f"A unit takes {joined(list(times))} its power as it starts: it starts only where that and what runs is "
        f"within {joined(_peaks(power))}."
    )


def _peaks(power: Power) -> list[str]:
    """Return what the sources behind the grid give for a moment."""
    battery, generator = power.battery, power.generator
    found = []
    if battery is not None and (peak_w := battery.peak_w or 2 * (battery.inverter_w or 0)):
        found.append(f"the {peak_w:,} W of the battery's inverter")
    if generator is not None and generator.peak_w is not None:
        found.append(f"the {generator.peak_w:,} W of the generator, other load included")
    return found


def _mean(law: Law) -> str:
    return format_duration(law_mean(law))
