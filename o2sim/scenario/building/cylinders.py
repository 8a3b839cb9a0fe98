"""Rules of cylinders, bedside and manifold: contents of gas, regulator sets, and what does not fit together.

Where a key that a check needs was refused before, the check says nothing.
"""

from __future__ import annotations

from typing import Any

from o2sim.quantities import gas
from o2sim.scenario.building.built import Setting, listed
from o2sim.scenario.building.refused import likely
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import Listing, Scalar
from o2sim.scenario.text.problems import RefusedError
from o2sim.scenario.types.hospital import Cylinders, RegulatorSet, SendPartUsed, Timed
from o2sim.scenario.types.laws import law_minimum


def cylinders(setting: Setting, values: Values) -> dict[str, Any]:
    """Return contents in 1/60 mL by the real-gas relation, and the regulator sets."""
    sets: tuple[RegulatorSet, ...] = ()
    try:
        sets = _regulator_sets(setting, values)
    except RefusedError as error:
        values.faults.append(error)
    _check_content(values)
    _check_start(values)
    _check_looks(values)
    _check_timed(values)
    values.need_all()
    full, residual, lost = _contents(values)
    for name, content in (("residual_pressure", residual), ("flow_lost_below", lost)):
        if content >= full:
            found = f"{name} {values[name]:g} kPa, filling_pressure {values['filling_pressure']:g} kPa"
            hint = _pressure_meant(values, name) or "a cylinder would be empty when full"
            raise values.fault(f"{name} filling_pressure", found, f"{name} below filling_pressure", hint)
    _check_underfilled(values["underfilled"], max(residual, lost) / full)
    found_sets = {"regulators": sum(each.count for each in sets)} if sets else {}
    by_note = {"timed": Timed()} if values["change_when"] == "timed" and values["timed"] is None else {}
    sent = {} if values.states("send_part_used") else {"send_part_used": SendPartUsed()}
    return {
        **found_sets,
        **by_note,
        **sent,
        "regulator_sets": sets,
        "full_gas": full,
        "residual_gas": residual,
        "lost_gas": lost,
        "gauge_error_gas": round(full * values["gauge_error"] / values["filling_pressure"]),
    }


def _pressure_meant(values: Values, name: str) -> str:
    """Return what was probably meant by either of two pressures, an empty text where both are usual."""
    nodes = [values.node.entries.get(key) for key in ("filling_pressure", name)]
    hints = [likely(node.path, node.text, "pressure") for node in nodes if isinstance(node, Scalar)]
    return next((hint for hint in hints if hint), "")


def _check_underfilled(values: Values | None, empty_share: float) -> None:
    """Raise RefusedError unless what underfilled cylinders hold is always more than an empty one does."""
    if values is None:
        return
    values.need_all()
    lowest = law_minimum(values["content"])
    if lowest <= empty_share:
        hint = f"at {100 * empty_share:.3g} % a cylinder counts as empty; use unusable for such"
        found = f"a content that may be as low as {100 * lowest:.3g} %"
        raise values.fault("content", found, "always more than the residual pressure leaves", hint)


def _check_looks(values: Values) -> None:
    """Gauges are looked at by an interval or at clock times; a watched gauge is never missed nor waited for."""
    if values.states("check_times"):
        if values.states("gauge_check"):
            values.fault("check_times", "check_times and gauge_check", "one of them")
        return
    stated = [name for name in ("missed_check", "change_when") if values.states(name)]
    if stated and values.data.get("gauge_check") == 0:
        found = f"{stated[0]} with gauge_check 0 (watched)"
        values.fault(stated[0], found, "a time between checks", "a watched gauge is never missed")


def _check_timed(values: Values) -> None:
    """What is said of a timed change stands beside one."""
    if values.data.get("timed") is not None and values.data.get("change_when") not in (None, "timed"):
        found, hint = (
            f"timed beside change_when {values['change_when']}",
            "write change_when: timed, or timed: none",
        )
        values.fault("timed change_when", found, "timed beside change_when timed", hint)


def _check_content(values: Values) -> None:
    stated = [name for name in ("water_capacity", "content") if values.states(name)]
    if not stated:
        allowed = "water_capacity such as 47 L, or content such as 6800 L"
        values.fault("", "neither water_capacity nor content", allowed)
    elif len(stated) == 2:
        values.fault("content", "both content and water_capacity", "one of them", "delete one")
    elif stated == ["content"] and values.states("fill_temperature"):
        hint = "a stated content holds at any temperature"
        values.fault("fill_temperature", "fill_temperature beside content", "one of them", hint)


def _check_start(values: Values) -> None:
    full, fleet = values.data.get("full_at_start"), values.data.get("fleet")
    if full is not None and fleet is not None and full > fleet:
        found = f"{full} full cylinders in a fleet of {fleet}"
        values.fault("full_at_start fleet", found, "full_at_start of at most fleet")


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


def _regulator_sets(setting: Setting, values: Values) -> tuple[RegulatorSet, ...]:
    """Return the kinds of regulator sets of a section cylinders, none where only a number is stated."""
    if not values.states("regulator_sets"):
        return ()
    if values.states("regulators"):
        raise values.fault(
            "regulator_sets regulators", "regulators and regulator_sets", "one of them", "delete one"
        )
    node = values.node.entries["regulator_sets"]
    if isinstance(node, Listing) and not node.items:
        raise values.fault("regulator_sets", "no sets", "a list of mappings with count", "or write regulators")
    sets = listed(setting, RegulatorSet, values, "regulator_sets")
    valve = values.data.get("valve")
    if not sets:
        raise RefusedError
    if not any(each.fits(valve) for each in sets):
        found = f"no set that fits the cylinders' valve, {valve}"
        raise values.fault("regulator_sets valve", found, "at least one kind of set that fits")
    return sets


def regulator_set(_: Setting, values: Values) -> None:
    """Check the range of a flowmeter."""
    values.need_all()
    flows = values["flowmeter"]
    if flows is not None:
        low, high = flows.whole["low"], flows["high"]
        if high <= low:
            raise flows.fault(
                "high low", f"a range from {low / 1000:g} to {high / 1000:g} L/min", "low below high"
            )


def bedside(_: Setting, values: Values) -> dict[str, Any]:
    """Check that humidify_above stands beside a number of humidifiers; left out it goes by the size of a class."""
    values.need_all()
    if values.states("humidify_above") and values["humidifiers"] is None:
        found, hint = "humidify_above, but no number of humidifiers", "unlimited ones are never wanting"
        raise values.fault("humidify_above", found, "both or neither", hint)
    return {"humidify_above_ml_min": values["humidify_above"]}


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
        found = f"{gauge:g} kPa, cylinders from {lowest:g} kPa (flow_lost_below) to {highest:g} kPa (full)"
        raise values.fault("changeover_pressure", found, "a pressure between them")
    return {"changeover_pressure_kpa": gauge, "changeover_gas": content_at(cylinders, gauge)}


def content_at(cylinders: Cylinders, gauge_kpa: float) -> int:
    """Return the content (1/60 mL) of a cylinder at a gauge pressure, by the relation its other contents have."""
    known = {
        cylinders.flow_lost_below_kpa: cylinders.lost_gas,
        cylinders.residual_pressure_kpa: cylinders.residual_gas,
    }
    if gauge_kpa in known:
        return known[gauge_kpa]
    full_l = cylinders.full_gas / gas.GAS_PER_LITRE
    litres = gas.content_at(gauge_kpa, full_l, cylinders.filling_pressure_kpa, cylinders.fill_temperature_c)
    return round(litres * gas.GAS_PER_LITRE)
