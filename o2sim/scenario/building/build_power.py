"""The values of concentrators and power in, the frozen dataclasses out; RefusedError where keys do not fit."""

from __future__ import annotations

import datetime as dt
from typing import Any

from o2sim.scenario.building.cut_lists import read_cuts
from o2sim.scenario.building.reader import Reader, Values
from o2sim.scenario.keys.field import Section
from o2sim.scenario.keys.power_fields import (
    BATTERY,
    CONCENTRATORS,
    DERATING,
    FUEL,
    GENERATOR,
    GRID,
    POWER,
    REFUEL,
    SHEDDING,
    SOLAR,
    VOLTAGE,
    WINDOW,
)
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.types import (
    Battery,
    Concentrators,
    Generator,
    Grid,
    Law,
    Power,
    Refuel,
    Solar,
    Voltage,
    Window,
)

WATTS_PER_ML_MIN = 0.07  # 70 W per L/min: WHO-UNICEF technical specifications, 2019
STATED_TO_M = 2_000.0  # altitude up to which the rated flow holds: WHO-UNICEF technical specifications, 2019
START_BELOW_PERMILLE = 300  # of the battery: assumption of o2sim
NIGHT = Window(20 * 3_600, 6 * 3_600)


def _air_pressure(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere over that at sea level (ISO 2533:1975, below 11 km)."""
    return float((1 - 2.25577e-5 * altitude_m) ** 5.25588)


def derated(flow_ml_min: int, altitude_m: float) -> int:
    """Return the flow a unit gives at an altitude, in whole mL/min.

    The rated flow is stated up to 2,000 m. Above that it is taken to fall as the pressure of the air that is
    drawn in: an assumption, for want of a stated figure; a maker's figure can be written as rated_flow instead.
    """
    if altitude_m <= STATED_TO_M:
        return flow_ml_min
    return max(1, int(flow_ml_min * _air_pressure(altitude_m) / _air_pressure(STATED_TO_M)))


def concentrators(problems: Problems, values: Values, altitude_m: float) -> Concentrators:
    """Return the concentrators, their flow derated with altitude."""
    fits = [_failure_fits(problems, values), _crew_fits(problems, values), _monitor_fits(problems, values)]
    if not all(fits) or not values.has(*CONCENTRATORS.names):
        raise RefusedError
    rated, power, monitored = values["rated_flow"], values["power"], values["oxygen_monitor"]
    needs_repair = any(values[name] for name in _NEED_REPAIR)
    return Concentrators(
        count=values["count"],
        rated_flow_ml_min=derated(rated, altitude_m),
        outlets=values["outlets"],
        power_w=rated * WATTS_PER_ML_MIN if power is None else power,
        failure_s=values["failure"],
        failure_clock=values["failure_clock"] or "running",
        repair_s=values["repair"] if needs_repair else None,
        never_repaired=values["never_repaired"],
        cut_damage=values["cut_damage"],
        crew=values["crew"],
        travel_s=values["travel"],
        start_up_s=values["start_up"],
        drift_s=values["drift"],
        alarm_permille=round(values["alarm_level"] * 1000) if monitored and values["drift"] else None,
        analyser_check_s=values["analyser_check"],
        service_every_s=values["service_every"],
        service_time_s=values["service_time"] if values["service_every"] else 0,
        oxygen_monitor=monitored,
    )


_NEED_REPAIR = ("failure", "cut_damage", "drift")


def _failure_fits(problems: Problems, values: Values) -> bool:
    """Failure and repair come together; `failure: never` may stand over both, to undo them in a strategy."""
    for name in _NEED_REPAIR:
        if not values.states(name) or values.data.get(name) in (None, 0) or values.states("repair"):
            continue
        problems.add(values.at(name), f"found {name} without repair", "both together")
        return False
    if any(values.states(name) for name in _NEED_REPAIR):
        return True
    for name in ("repair", "failure_clock"):
        if values.states(name):
            problems.add(values.at(name), f"found {name} without failure", "both together")
            return False
    return True


def _crew_fits(problems: Problems, values: Values) -> bool:
    travels = values.data.get("travel") not in (None, Law("constant", (0.0,)))
    if not travels or not values.has("crew") or values["crew"] is not None:
        return True
    problems.add(values.at("travel"), "found travel without crew", "both together", "write crew: 1")
    return False


def _monitor_fits(problems: Problems, values: Values) -> bool:
    """Return True if what finds or undoes drift has a drift to work on."""
    if not values.has("drift") or values["drift"] is not None or values.states("drift"):
        return True
    for name in ("analyser_check", "service_every"):
        if values.states(name) and values.data.get(name) is not None:
            problems.add(values.at(name), f"found {name} without drift", "both together")
            return False
    return True


def grid(reader: Reader, values: Values, start: dt.date) -> Grid | None:
    """Return the grid from the power section; None where it is always up."""
    if not values.has("grid"):
        raise RefusedError
    found = values["grid"]
    if found is None or found == "always":
        return None
    if found == "none":
        return Grid(never_on=True)
    if not found.has(*GRID.names):
        raise RefusedError
    stated = {name for name in GRID.names if found.states(name)}
    if stated == {"file"}:
        return Grid(cuts=read_cuts(reader, found.at("file"), found["file"], start))
    for name in ("up", "down"):
        if "file" not in stated and name not in stated:
            path = f"{found.node.path}.{name}"
            field = GRID.field(name)
            hint = field.help if field else ""
            reader.problems.add(found.node, "this key is missing", "up and down, or file", hint, field=path)
    if stated != {"up", "down"}:
        if "file" in stated:
            reader.problems.add(found.node, f"found {describe(found.node)}", "up and down, or file")
        raise RefusedError
    return Grid(found["up"], found["down"])


def power(problems: Problems, values: Values, altitude_m: float) -> Power | None:
    """Return what stands beside and behind the grid, the generator derated with altitude; None for nothing."""
    if not values.has(*POWER.names):
        raise RefusedError
    parts = {
        name: _part(problems, values[name], name, altitude_m)
        for name in ("voltage", "generator", "battery", "solar")
    }
    if parts["generator"] and parts["generator"].start_below_permille is not None and not parts["battery"]:
        found = "found start_when: battery low without battery"
        raise problems.add(values["generator"].at("start_when"), found, "both together")
    if parts["solar"] and not parts["battery"]:
        hint = "panels work through the battery's inverter; write battery: {usable: ..., charge: ...}"
        raise problems.add(values.at("solar"), "found solar without battery", "both together", hint)
    built = Power(
        load_shedding=tuple(window(each, SHEDDING) for each in values["load_shedding"] or ()),
        stabiliser=values["stabiliser"],
        shed_first=values["shed_first"] or "number",
        **parts,
    )
    return None if built == Power() else built


def _part(problems: Problems, values: Values | None, name: str, altitude_m: float) -> Any:
    if values is None:
        return None
    section, make = _PARTS[name]
    if not values.has(*section.names):
        raise RefusedError
    return make(problems, values, altitude_m)


def window(values: Values, section: Section = WINDOW) -> Window:
    """Return a time of day."""
    if not values.has(*section.names):
        raise RefusedError
    days = values.data.get("days")
    found = Window(values["from"], values["to"])
    return found if days is None else Window(values["from"], values["to"], days)


def _voltage(_problems: Problems, values: Values, _altitude_m: float) -> Voltage:
    return Voltage(values["good"], values["bad"])


def _whole_watts(watts: float | None) -> int | None:
    return None if watts is None else round(watts)


def _derated_watts(problems: Problems, values: Values, altitude_m: float) -> int | None:
    """Return the most a generator gives at an altitude, in whole W rounded down; None without a limit."""
    watts, found = _whole_watts(values["power"]), values["derating"]
    if found is None:
        return watts
    if not found.has(*DERATING.names):
        raise RefusedError
    if watts is None:
        raise problems.add(found.node, "found derating without power", "both together")
    thousands = max(0.0, altitude_m - found["above"]) / 1_000
    return int(watts * max(0.0, 1 - found["lost"] * thousands))


def _start_below(problems: Problems, values: Values) -> int | None:
    """Return the charge of the battery at which the generator is started; None: when the grid fails."""
    if values["start_when"]:
        share = values["start_below"]
        return START_BELOW_PERMILLE if share is None else round(share * 1_000)
    if values.states("start_below") and not values.states("start_when"):
        raise problems.add(values.at("start_below"), "found start_below without start_when", "both together")
    return None


def _generator(problems: Problems, values: Values, altitude_m: float) -> Generator:
    fuel = values["fuel"]
    if not fuel.has(*FUEL.names):
        raise RefusedError
    delay = values["start_delay"]
    return Generator(
        start_delay_s=delay,
        night_delay_s=delay if values["night_delay"] is None else values["night_delay"],
        night=NIGHT if values["night"] is None else window(values["night"]),
        start_chance=values["start_chance"],
        running_failure_s=values["running_failure"],
        repair_s=values["repair"],
        hours=tuple(window(each) for each in values["hours"] or ()),
        power_w=_derated_watts(problems, values, altitude_m),
        base_load_w=round(values["base_load"]),
        idle_ml_h=fuel["idle"],
        per_kw_ml_h=fuel["per_kW"],
        tank_ml=None if values["tank"] is None else round(values["tank"]),
        refuel=_refuel(problems, values),
        started_by_staff=values["started_by"],
        start_below_permille=_start_below(problems, values),
    )


def _refuel(problems: Problems, values: Values) -> Refuel | None:
    found = values["refuel"]
    if found is None:
        return None
    if not found.has(*REFUEL.names):
        raise RefusedError
    if values["tank"] is None:
        raise problems.add(found.node, "found refuel without tank", "both together")
    if found["reorder_at"] >= values["tank"]:
        raise problems.add(found.at("reorder_at"), "found reorder_at not below tank", "less than the tank holds")
    return Refuel(round(found["reorder_at"]), found["lead_time"])


def _battery(_problems: Problems, values: Values, _altitude_m: float) -> Battery:
    return Battery(
        usable_ws=round(values["usable"] * 3_600),
        charge_w=round(values["charge"]),
        charge_permille=round(values["charge_efficiency"] * 1_000),
        inverter_w=_whole_watts(values["inverter"]),
        inverter_permille=round(values["inverter_efficiency"] * 1_000),
        reconnect_permille=round(values["reconnect"] * 1_000),
        gather=values["gather"],
    )


def _solar(problems: Problems, values: Values, _altitude_m: float) -> Solar:
    if values["sunset"] <= values["sunrise"]:
        raise problems.add(values.at("sunset", "sunrise"), "found sunset not after sunrise", "a later time")
    return Solar(round(values["peak"]), values["clearness"], values["sunrise"], values["sunset"])


_PARTS: dict[str, tuple[Section, Any]] = {
    "voltage": (VOLTAGE, _voltage),
    "generator": (GENERATOR, _generator),
    "battery": (BATTERY, _battery),
    "solar": (SOLAR, _solar),
}
