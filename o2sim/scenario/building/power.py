"""Rules of concentrators and power: what follows from several of their keys, and what does not fit together."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.columns import dialect_of
from o2sim.scenario.building.recorded_cuts import recorded_grid
from o2sim.scenario.building.units import rows_of
from o2sim.scenario.building.values import Values
from o2sim.scenario.keys.record import permille, section_of
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import RefusedError, listing
from o2sim.scenario.types.laws import Law
from o2sim.scenario.types.period import REPLAY
from o2sim.scenario.types.power import OF_RECORD, Grid, Window
from o2sim.scenario.types.tables import DIALECT_KEYS, Dialect

IDLE_ML_H_PER_KW = 46  # of the power stated, 0.037 L/h for each kVA at a power factor of 0.8: FUEL_CHARTS
IDLE_ML_H = 950  # of a set of 20 kW, where no power is stated: FUEL_CHARTS
WATTS_PER_ML_MIN = 0.07  # 70 W per L/min: WHO_2019
STATED_TO_M = 2_000.0  # altitude up to which the rated flow holds: WHO_2019
START_BELOW_PERMILLE = 300  # of the battery: assumption of o2sim
NIGHT = Window(20 * 3_600, 6 * 3_600)
_NEED_REPAIR = ("failure", "cut_damage", "drift")
_ENDLESS = ("exponential", "lognormal", "gamma", "weibull")


def _air_pressure(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere over that at sea level (ISO 2533:1975, below 11 km)."""
    return float((1 - 2.25577e-5 * altitude_m) ** 5.25588)


def derated(flow_ml_min: int, altitude_m: float) -> int:
    """Return the flow a unit gives at an altitude, in whole mL/min.

    The rated flow is stated up to 2,000 m. Above that it is taken to fall as the pressure of the air that is
    drawn in: an assumption where no figure is stated; a maker's figure can be written as rated_flow instead.
    """
    if altitude_m <= STATED_TO_M:
        return flow_ml_min
    return max(1, int(flow_ml_min * _air_pressure(altitude_m) / _air_pressure(STATED_TO_M)))


def concentrators(setting: Setting, values: Values) -> dict[str, Any]:
    """Return what follows from several keys of concentrators; their flow is derated with altitude."""
    _check_repair(values)
    _check_crew(values)
    _check_drift(values)
    _check_as_old(values)
    listed = rows_of(setting, values)
    values.need_all()
    rated, power = values["rated_flow"], values["power"]
    alarms = values["oxygen_monitor"] and values["drift"]
    return {
        "rated_flow_ml_min": derated(rated, setting.general.altitude_m),
        "power_w": rated * WATTS_PER_ML_MIN if power is None else power,
        "repair_s": values["repair"] if any(values[name] for name in _NEED_REPAIR) else None,
        "alarm_permille": permille(values["alarm_level"]) if alarms else None,
        "service_time_s": values["service_time"] if values["service_every"] else 0,
        "listed": listed,
        "repaired_as": values["repaired_as"] if values["failure"] else "new",
    }


def _check_repair(values: Values) -> None:
    """Failure and repair come together; `failure: never` may stand over both, to undo them in a strategy."""
    stated = [name for name in _NEED_REPAIR if values.states(name)]
    broken = [name for name in stated if values.data.get(name) not in (None, 0)]
    if broken and not values.states("repair"):
        values.fault(broken[0], f"{broken[0]} without repair", "both together")
    alone = [name for name in ("repair", "failure_clock") if values.states(name) and not stated]
    if alone:
        values.fault(alone[0], f"{alone[0]} without failure", "both together")


def _check_crew(values: Values) -> None:
    """A way is that of a technician; a model has the crew of all."""
    travels = values.data.get("travel") not in (None, Law("constant", (0.0,)))
    if travels and values.has("crew") and values["crew"] is None:
        values.fault("travel", "travel without crew", "both together", "write crew: 1")


def _check_drift(values: Values) -> None:
    """What finds or undoes drift has a drift to work on."""
    if values.states("drift"):
        return
    stated = [name for name in ("analyser_check", "service_every") if values.data.get(name)]
    if stated:
        values.fault(stated[0], f"{stated[0]} without drift", "both together")


def _check_as_old(values: Values) -> None:
    """A unit whose clock goes on needs a law without a longest life: none would be left to it."""
    law = values.data.get("failure")
    if law is not None and values.data.get("repaired_as") == "old" and law.kind not in _ENDLESS:
        found, allowed = f"repaired_as: old with a {law.kind} failure", f"a failure that is {listing(_ENDLESS)}"
        hint = "by such a law no unit lasts beyond its longest life; write repaired_as: new, or another law"
        values.fault("repaired_as", found, allowed, hint)


def grid(setting: Setting, values: Values) -> Grid | None:
    """Return the grid from the power section; None where it is always up."""
    if not values.has("grid"):
        raise RefusedError
    found = values["grid"]
    if found is None or found == "always":
        return None
    if found == "none":
        return Grid(never_on=True)
    found.need_all()
    stated, allowed = set(found.node.entries).difference(DIALECT_KEYS), "up and down, or file"
    if "file" in stated and stated.isdisjoint(("up", "down")):
        return recorded_grid(setting, found)
    if "file" in stated:
        hint = "a recorded list has no laws: use, and scale, which makes all cuts longer or shorter, can be varied"
        raise found.fault("", describe(found.node), allowed, hint)
    if dialect_of(found) != Dialect():  # which is how a file is written
        raise found.fault("", describe(found.node), allowed)
    for name in OF_RECORD:
        if found[name] not in (None, REPLAY, 1):  # other than the defaults
            raise found.fault(
                name, f"{name}, but no file", "with a file of recorded cuts", "delete it, or write file"
            )
    if stated.difference(OF_RECORD) == {"up", "down"}:
        return Grid(found["up"], found["down"])
    for field in section_of(Grid).fields[:2]:
        if field.name not in stated:
            path = f"{found.node.path}.{field.name}"
            setting.problems.add(found.node, "this key is missing", allowed, field.help, field=path)
    raise RefusedError


def power(_: Setting, values: Values) -> None:
    """Check that panels have a battery to work through, and so has a generator that starts when it is low."""
    values.need_all()
    generator, battery = values["generator"], values["battery"]
    if values["solar"] is not None and battery is not None and round(battery["usable"] * 3_600) == 0:
        hint = "panels feed the units through the battery, so none at all lets no sun in; write usable: 3 kWh, or "
        raise battery.fault("usable", "0 kWh beside solar", "more than 0 Wh", f"{hint}leave solar out")
    if values["battery"] is None and generator is not None and generator.data.get("start_when"):
        raise generator.fault("start_when", "start_when: battery low without battery", "both together")


def generator(setting: Setting, values: Values) -> dict[str, Any]:
    """Return when the generator starts, the most it gives and its fuel, ordered before its tank is empty."""
    values.need_all()
    refuel, below = values["refuel"], values["start_below"]
    low = START_BELOW_PERMILLE if below is None else permille(below)
    found = {
        "power_w": _watts(setting, values),
        "start_below_permille": low if values["start_when"] else None,
        "idle_ml_h": _idle_ml_h(values["fuel"].whole["idle"], values["power"]),
    }
    if refuel is not None and refuel.whole["reorder_at"] >= values["tank"]:
        raise refuel.fault("reorder_at", "reorder_at not below tank", "less than the tank holds")
    return found if values["night"] is not None else {**found, "night": NIGHT}


def _idle_ml_h(stated: int | None, power_w: float | None) -> int:
    """Return the fuel used without load: as stated, else by the power at sea level."""
    if stated is not None:
        return stated
    return IDLE_ML_H if power_w is None else round(IDLE_ML_H_PER_KW * power_w / 1_000)


def _watts(setting: Setting, values: Values) -> int | None:
    """Return the most a generator gives at an altitude, in whole W rounded down; None without a limit."""
    watts, derating = values["power"], values["derating"]
    if derating is None:
        return None if watts is None else round(watts)
    thousands = max(0.0, setting.general.altitude_m - derating.whole["above"]) / 1_000
    return int(round(watts) * max(0.0, 1 - derating["lost"] * thousands))


def solar(_: Setting, values: Values) -> None:
    """Check that the sun sets after it rises."""
    values.need_all()
    if values["sunset"] <= values["sunrise"]:
        raise values.fault("sunset sunrise", "sunset not after sunrise", "a later time")
