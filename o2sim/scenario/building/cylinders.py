"""Rules of cylinders, bedside and manifold: contents of gas, regulator sets, and what does not fit together.

Where a key that a check needs was refused before, the check says nothing.
"""

from __future__ import annotations

from typing import Any

from o2sim.quantities import gas
from o2sim.scenario.building.built import Setting, listed
from o2sim.scenario.building.sizes import error_gas, one_size, sizes_of, whole, with_error
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import Listing
from o2sim.scenario.text.problems import RefusedError, listing
from o2sim.scenario.types.hospital import Cylinders, CylinderSize, RegulatorSet, SendPartUsed, Timed


def cylinders(setting: Setting, values: Values) -> dict[str, Any]:
    """Return contents in 1/60 mL by the real-gas relation, the regulator sets, and the sizes."""
    sizes: tuple[CylinderSize, ...] = ()
    sets: tuple[RegulatorSet, ...] = ()
    try:
        sizes = sizes_of(setting, values)
    except RefusedError as error:
        values.faults.append(error)
    try:
        sets = _regulator_sets(setting, values, sizes)
    except RefusedError as error:
        values.faults.append(error)
    _check_looks(values)
    _check_timed(values)
    one = {} if values.states("sizes") else one_size(setting, values)
    values.need_all()
    if sizes:
        sizes = tuple(with_error(each, values["gauge_error"]) for each in sizes)
        one = whole(values, sizes)
    else:
        one["gauge_error_gas"] = error_gas(one["full_gas"], values["gauge_error"], values["filling_pressure"])
    found_sets = {"regulators": sum(each.count for each in sets)} if sets else {}
    by_note = {"timed": Timed()} if values["change_when"] == "timed" and values["timed"] is None else {}
    sent = {} if values.states("send_part_used") else {"send_part_used": SendPartUsed()}
    return {
        **found_sets,
        **by_note,
        **sent,
        "regulator_sets": sets,
        **one,
        "sizes": sizes,
    }


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


def _regulator_sets(setting: Setting, values: Values, sizes: tuple[CylinderSize, ...]) -> tuple[RegulatorSet, ...]:
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
    valves = [size.valve for size in sizes] or [values.data.get("valve")]
    if not sets or (values.states("sizes") and not sizes):
        raise RefusedError
    if not any(each.fits(valve) for each in sets for valve in valves):
        found = f"no set that fits the cylinders' valve, {listing(str(valve) for valve in valves)}"
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
