"""The values of concentrators and power in, what follows from several of their keys out, and what does not fit."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.cut_lists import read_cuts
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.record import permille, section_of
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.law import Law
from o2sim.scenario.types.power import Grid, Window

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


def concentrators(setting: Setting, values: Values) -> dict[str, Any]:
    """Return what follows from several keys of concentrators; their flow is derated with altitude."""
    problems = setting.problems
    fits = [_failure_fits(problems, values), _crew_fits(problems, values), _monitor_fits(problems, values)]
    values.need_all()
    if not all(fits):
        raise RefusedError
    rated, power = values["rated_flow"], values["power"]
    alarms = values["oxygen_monitor"] and values["drift"]
    return {
        "rated_flow_ml_min": derated(rated, setting.general.altitude_m),
        "power_w": rated * WATTS_PER_ML_MIN if power is None else power,
        "repair_s": values["repair"] if any(values[name] for name in _NEED_REPAIR) else None,
        "alarm_permille": permille(values["alarm_level"]) if alarms else None,
        "service_time_s": values["service_time"] if values["service_every"] else 0,
    }


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


def grid(setting: Setting, values: Values) -> Grid | None:
    """Return the grid from the power section; None where it is always up."""
    if not values.has("grid"):
        raise RefusedError
    reader = setting.reader
    found = values["grid"]
    if found is None or found == "always":
        return None
    if found == "none":
        return Grid(never_on=True)
    found.need_all()
    stated = set(found.node.entries)
    if stated == {"file"}:
        return Grid(cuts=read_cuts(reader, found.at("file"), found["file"], setting.general.start))
    for name in ("up", "down"):
        if "file" not in stated and name not in stated:
            path = f"{found.node.path}.{name}"
            field = section_of(Grid).field(name)
            hint = field.help if field else ""
            reader.problems.add(found.node, "this key is missing", "up and down, or file", hint, field=path)
    if stated != {"up", "down"}:
        if "file" in stated:
            reader.problems.add(found.node, f"found {describe(found.node)}", "up and down, or file")
        raise RefusedError
    return Grid(found["up"], found["down"])


def power(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that what works through the battery stands beside one."""
    values.need_all()
    generator, problems = values["generator"], setting.problems
    if values["battery"] is None and generator is not None and generator.data.get("start_when"):
        found = "found start_when: battery low without battery"
        raise problems.add(generator.at("start_when"), found, "both together")
    if values["battery"] is None and values["solar"] is not None:
        hint = "panels work through the battery's inverter; write battery: {usable: ..., charge: ...}"
        raise problems.add(values.at("solar"), "found solar without battery", "both together", hint)
    return {}


def generator(setting: Setting, values: Values) -> dict[str, Any]:
    """Return when the generator starts and the most it gives."""
    values.need_all()
    found = {
        "power_w": _derated_watts(setting, values),
        "start_below_permille": _start_below(setting.problems, values),
    }
    _refuel_fits(setting.problems, values)
    return found if values["night"] is not None else {**found, "night": NIGHT}


def _derated_watts(setting: Setting, values: Values) -> int | None:
    """Return the most a generator gives at an altitude, in whole W rounded down; None without a limit."""
    watts, found = values["power"], values["derating"]
    if found is None:
        return None if watts is None else round(watts)
    found.need_all()
    if watts is None:
        raise setting.problems.add(found.node, "found derating without power", "both together")
    thousands = max(0.0, setting.general.altitude_m - found["above"]) / 1_000
    return int(round(watts) * max(0.0, 1 - found["lost"] * thousands))


def _start_below(problems: Problems, values: Values) -> int | None:
    """Return the charge of the battery at which the generator is started; None: when the grid fails."""
    if values["start_when"]:
        share = values["start_below"]
        return START_BELOW_PERMILLE if share is None else permille(share)
    if values.states("start_below") and not values.states("start_when"):
        raise problems.add(values.at("start_below"), "found start_below without start_when", "both together")
    return None


def _refuel_fits(problems: Problems, values: Values) -> None:
    """Raise RefusedError unless fuel is ordered for a tank, before it is empty or never full."""
    found = values["refuel"]
    if found is None:
        return
    found.need_all()
    if values["tank"] is None:
        raise problems.add(found.node, "found refuel without tank", "both together")
    if found["reorder_at"] >= values["tank"]:
        raise problems.add(found.at("reorder_at"), "found reorder_at not below tank", "less than the tank holds")


def solar(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that the sun sets after it rises."""
    values.need_all()
    if values["sunset"] <= values["sunrise"]:
        found = "found sunset not after sunrise"
        raise setting.problems.add(values.at("sunset", "sunrise"), found, "a later time")
    return {}
