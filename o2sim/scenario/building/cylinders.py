"""The values of the cylinders and of the manifold in, contents and sets out; what does not fit together is noted.

Each `_..._fit` function checks one relation between keys, notes what is wrong and returns whether it holds; it
holds its tongue where a key it needs was refused before.
"""

from __future__ import annotations

import contextlib
from typing import Any

from o2sim.quantities import gas
from o2sim.scenario.building.bedside import regulator_sets
from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.cylinders import Cylinders
from o2sim.scenario.types.laws import law_minimum


def cylinders(setting: Setting, values: Values) -> dict[str, Any]:
    """Return contents in 1/60 mL by the real-gas relation, and the regulator sets."""
    sets, problems = None, setting.problems
    with contextlib.suppress(RefusedError):
        sets = regulator_sets(setting, values)
    fits = [
        _content_fits(problems, values),
        _full_at_start_fits(problems, values),
        _checks_fit(problems, values),
    ]
    values.need_all()
    if sets is None or not all(fits):
        raise RefusedError
    full, residual, lost = _contents(values)
    if not _pressures_fit(problems, values, full, residual, lost):
        raise RefusedError
    _underfilled_fit(problems, values["underfilled"], max(residual, lost) / full)
    found: dict[str, Any] = {"regulators": sum(each.count for each in sets)} if sets else {}
    return {
        **found,
        "regulator_sets": sets,
        "full_gas": full,
        "residual_gas": residual,
        "lost_gas": lost,
        "gauge_error_gas": round(full * values["gauge_error"] / values["filling_pressure"]),
    }


def _underfilled_fit(problems: Problems, values: Values | None, empty_share: float) -> None:
    """Raise RefusedError unless what underfilled cylinders hold is always more than an empty one does."""
    if values is None:
        return
    values.need_all()
    lowest = law_minimum(values["content"])
    if lowest <= empty_share:
        found = f"found a content that may be as low as {100 * lowest:.3g} %"
        hint = f"at {100 * empty_share:.3g} % a cylinder counts as empty; use unusable for such"
        raise problems.add(values.at("content"), found, "always more than the residual pressure leaves", hint)


def _checks_fit(problems: Problems, values: Values) -> bool:
    """Gauges are looked at by an interval or at clock times; a watched gauge is never missed nor waited for."""
    if values.states("gauge_check") and values.states("check_times"):
        problems.add(values.at("check_times"), "found check_times and gauge_check", "one of them")
        return False
    watched = not values.states("check_times") and values.data.get("gauge_check") == 0
    for name in ("missed_check", "change_when"):
        if watched and values.states(name):
            found = f"found {name} with gauge_check 0 (watched)"
            problems.add(values.at(name), found, "a time between checks", "a watched gauge is never missed")
            return False
    return True


def _content_fits(problems: Problems, values: Values) -> bool:
    stated = [name for name in ("water_capacity", "content") if values.states(name)]
    if not stated:
        allowed = "water_capacity such as 47 L, or content such as 6800 L"
        problems.add(values.node, "found neither water_capacity nor content", allowed)
    elif len(stated) == 2:
        problems.add(values.at("content"), "found both content and water_capacity", "one of them", "delete one")
    elif stated == ["content"] and values.states("fill_temperature"):
        hint = "a stated content holds at any temperature"
        problems.add(values.at("fill_temperature"), "found fill_temperature beside content", "one of them", hint)
    else:
        return True
    return False


def _full_at_start_fits(problems: Problems, values: Values) -> bool:
    if not values.has("full_at_start", "fleet") or values["full_at_start"] is None:
        return True
    if values["full_at_start"] <= values["fleet"]:
        return True
    found = f"found {values['full_at_start']} full cylinders in a fleet of {values['fleet']}"
    problems.add(values.at("full_at_start", "fleet"), found, "full_at_start of at most fleet")
    return False


def _contents(values: Values) -> tuple[int, int, int]:
    """Return the content (1/60 mL) when full, at the residual pressure and where flow is lost."""
    filling, temperature = values["filling_pressure"], values["fill_temperature"]
    if values["content"] is None:
        full_l = gas.content_litres(values["water_capacity"] / 1000, filling, temperature)
    else:
        full_l = values["content"] / 1000
    levels = [values["residual_pressure"], values["flow_lost_below"]]
    litres = [full_l, *(gas.content_at(gauge, full_l, filling, temperature) for gauge in levels)]
    full, residual, lost = (round(amount * gas.GAS_PER_LITRE) for amount in litres)
    return full, residual, lost


def _pressures_fit(problems: Problems, values: Values, full: int, residual: int, lost: int) -> bool:
    for name, content in (("residual_pressure", residual), ("flow_lost_below", lost)):
        if content >= full:
            found = f"found {name} {values[name]:g} kPa, filling_pressure {values['filling_pressure']:g} kPa"
            hint = "a cylinder would be empty when full"
            problems.add(values.at(name, "filling_pressure"), found, f"{name} below filling_pressure", hint)
            return False
    return True


def manifold(setting: Setting, values: Values) -> dict[str, Any]:
    """Return where a bank is spent; the cylinders are those it takes, refused where they are."""
    cylinders: Cylinders | None = setting.parts.get("cylinders")
    if cylinders is None:
        raise RefusedError
    values.need_all()
    gauge = values["changeover_pressure"]
    lowest, highest = cylinders.flow_lost_below_kpa, cylinders.filling_pressure_kpa
    if gauge is None:
        gauge = max(cylinders.residual_pressure_kpa, lowest)
    elif not lowest <= gauge < highest:
        found = f"found {gauge:g} kPa, cylinders from {lowest:g} kPa (flow_lost_below) to {highest:g} kPa (full)"
        raise setting.problems.add(values.at("changeover_pressure"), found, "a pressure between them")
    return {"changeover_pressure_kpa": gauge, "changeover_gas": _content_at(cylinders, gauge)}


def _content_at(cylinders: Cylinders, gauge_kpa: float) -> int:
    """Return the content (1/60 mL) of a cylinder at a gauge pressure, by the relation its other contents have."""
    for kpa, content in (
        (cylinders.residual_pressure_kpa, cylinders.residual_gas),
        (cylinders.flow_lost_below_kpa, cylinders.lost_gas),
    ):
        if gauge_kpa == kpa:
            return content
    full_l = cylinders.full_gas / gas.GAS_PER_LITRE
    litres = gas.content_at(gauge_kpa, full_l, cylinders.filling_pressure_kpa, cylinders.fill_temperature_c)
    return round(litres * gas.GAS_PER_LITRE)
