"""The rules of a hospital's concentrators and its power chain that are switched on, in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from o2sim.looks.words import joined, number, percent
from o2sim.quantities.units import format_duration
from o2sim.questions.check import units_in_words
from o2sim.scenario.building.reader import WEEKDAYS
from o2sim.scenario.types.hospital import (
    Battery,
    Concentrators,
    Generator,
    Grid,
    Hospital,
    Law,
    Power,
    Recorded,
    Window,
)
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.period import BY_YEAR, REPLAY, RESAMPLE
from o2sim.scenario.types.power import EVERY_DAY
from o2sim.scenario.types.records import share_recorded

HOW: dict[str, str] = {
    REPLAY: "replayed as {}",
    RESAMPLE: "whole recorded days are drawn at random",
    BY_YEAR: "days outside take the same date of the latest recorded year",
}


def sentences(hospital: Hospital) -> Iterator[str]:
    """Yield one sentence a rule; nothing without concentrators, which the power is for."""
    units, power = hospital.concentrators, hospital.power or Power()
    if units is None:
        return
    yield from units_in_words.listed(units)
    said: dict[str, list[str]] = {}
    models = units_in_words.by_model(units)
    for name, each in models:
        for sentence in (*_failures(each, stabiliser=power.stabiliser, mended=not name), *_concentration(each)):
            said.setdefault(sentence, []).append(name)
    for sentence, names in said.items():
        yield sentence if len(names) == len(models) else f"{joined(names)}: {sentence}"
    if units.listed and units.listed[0].model:
        yield from _technicians(units)
    yield from units_in_words.starts(units, power)
    if hospital.grid is not None and hospital.grid.cuts:
        yield _recorded(hospital, hospital.grid)
    if power.load_shedding:
        yield f"The grid is switched off by plan: {_windows(power.load_shedding)}."
    if power.voltage is not None:
        good, bad = _mean(power.voltage.good_s), _mean(power.voltage.bad_s)
        yield f"The grid's voltage is usable for {good} and useless for {bad} in turn, on average."
    if power.stabiliser:
        yield "A stabiliser keeps bad voltage and surges from the units."
    if power.generator is not None:
        yield from _generator(power.generator)
    if power.battery is not None:
        yield from _battery(power.battery)
    if power.solar is not None:
        sun = power.solar
        yield (
            f"Panels of {sun.peak_w:,} W feed it from {clock(sun.sunrise_s)} to {clock(sun.sunset_s)}, "
            f"on average {percent(law_mean(sun.clearness))} of a clear day's sun."
        )
    if (power.generator and power.generator.power_w) or (power.battery and power.battery.inverter_w):
        first = "the fewest patients" if power.shed_first == "patients" else "the highest number"
        yield f"When the power cannot carry all units, the one with {first} stops first."


def _recorded(hospital: Hospital, grid: Grid) -> str:
    count = "1 cut" if len(grid.cuts) == 1 else f"{len(grid.cuts)} cuts"
    lasts = "" if grid.scale == 1 else f", each {number(grid.scale)} times as long as it was"
    if not grid.days:
        return f"{count} of the grid come from a record."
    up = f"the grid is up {percent(share_recorded(grid))} of that time"
    how = HOW[grid.use].format("they were")
    return f"{count} of the grid, {kept(hospital, grid)}, are recorded{lasts}: {how}; {up}."


def kept(hospital: Hospital, record: Grid | Recorded) -> str:
    """Return the days between which a record was kept."""
    first = hospital.start + dt.timedelta(days=record.first_day)
    return f"{first} to {first + dt.timedelta(days=record.days - 1)}"


def _failures(units: Concentrators, *, stabiliser: bool, mended: bool) -> Iterator[str]:
    if units.never_repaired:
        yield f"Of failures {percent(units.never_repaired)} are the end of a unit."
    if units.cut_damage and not stabiliser:
        yield f"Each unit fails with a chance of {percent(units.cut_damage)} as the grid comes back."
    if mended:
        yield from _technicians(units)
    if units.service_every_s is not None:
        every, takes = format_duration(units.service_every_s), format_duration(units.service_time_s)
        yield f"Each unit is out for {takes} of service after every {every} of running."


def _technicians(units: Concentrators) -> Iterator[str]:
    if units.crew is not None:
        who = "One technician mends" if units.crew == 1 else f"{units.crew} technicians mend"
        way = "" if units.travel_s is None else f", after a way of {_mean(units.travel_s)} on average"
        yield f"{who} one unit after another{way}."


def _concentration(units: Concentrators) -> Iterator[str]:
    if units.start_up_s:
        yield f"For {format_duration(units.start_up_s)} after each start a unit gives low concentration."
    if units.drift_s is not None:
        alarm, check_s = units.alarm_permille, units.analyser_check_s
        seen = [f"its monitor takes it out at {percent(alarm / 1_000)}"] if alarm is not None else []
        seen += [f"an analyser finds it within {format_duration(check_s)}"] if check_s is not None else []
        how = "; ".join(seen) or "nothing finds it"
        yield f"A unit falls from 93 % to 82 % oxygen in {_mean(units.drift_s)} of running, on average: {how}."
    elif units.oxygen_monitor:
        yield "Its oxygen monitor never alarms, for without drift no unit falls low."


def _generator(generator: Generator) -> Iterator[str]:
    when = "when the grid fails"
    if generator.start_below_permille is not None:
        when = f"when the battery is down to {percent(generator.start_below_permille / 1_000)}"
    said = f"The generator is started {when}: power after {format_duration(generator.start_delay_s)}"
    if generator.night_delay_s != generator.start_delay_s:
        said += f", {format_duration(generator.night_delay_s)} {_windows((generator.night,))}"
    if generator.start_chance < 1:
        said += f"; it starts in {percent(generator.start_chance)} of the cases"
    if generator.running_failure_s is not None:
        said += f"; it fails after {_mean(generator.running_failure_s)} of running on average"
    if generator.repair_s is not None and (generator.start_chance < 1 or generator.running_failure_s is not None):
        said += f" and is then out for {_mean(generator.repair_s)}"
    yield f"{said}."
    if generator.hours:
        yield f"The generator may run {_windows(generator.hours)}."
    if generator.power_w is not None:
        yield f"It gives at most {generator.power_w:,} W, its loss by altitude taken off."
    if generator.base_load_w:
        yield f"The generator also carries {generator.base_load_w:,} W of other load."
    idle, more = number(generator.idle_ml_h / 1_000), number(generator.per_kw_ml_h / 1_000)
    yield f"It burns {idle} L/h, and {more} L/h for each kW it gives{_tank(generator)}."


def _tank(generator: Generator) -> str:
    if generator.tank_ml is None:
        return ""
    said = f", from a tank of {number(generator.tank_ml / 1_000)} L"
    if generator.refuel is None:
        return f"{said} that nobody fills again"
    at, lead = number(generator.refuel.reorder_ml / 1_000), _mean(generator.refuel.lead_time_s)
    return f"{said}: at {at} L more is ordered, there after {lead} on average"


def _battery(battery: Battery) -> Iterator[str]:
    limit = "" if battery.inverter_w is None else f", {battery.inverter_w:,} W at most"
    yield (
        f"The battery gives {number(battery.usable_ws / 3_600_000)} kWh through an inverter of "
        f"{percent(battery.inverter_permille / 1_000)}{limit}; charged with {battery.charge_w:,} W at "
        f"{percent(battery.charge_permille / 1_000)}. Emptied in a cut it serves again from "
        f"{percent(battery.reconnect_permille / 1_000)} on."
    )
    if battery.gather:
        yield "While the battery carries the units, patients are gathered on as few of them as will do."


def _mean(law: Law) -> str:
    return format_duration(law_mean(law))


def _windows(windows: Sequence[Window]) -> str:
    return ", ".join(
        f"from {clock(each.from_s)} to {clock(each.to_s)}"
        + ("" if each.days == EVERY_DAY else f" on {', '.join(WEEKDAYS[day].capitalize() for day in each.days)}")
        for each in windows
    )


def clock(second: int) -> str:
    """Return a time of day as `19:00`."""
    return f"{second // 3_600:02}:{second % 3_600 // 60:02}"
