"""The values of the bedside's sections in, what does not fit together noted; regulator sets out."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting, listed
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import Listing
from o2sim.scenario.text.problems import RefusedError
from o2sim.scenario.types.bedside import RegulatorSet


def regulator_sets(setting: Setting, values: Values) -> tuple[RegulatorSet, ...]:
    """Return the kinds of regulator sets of a section cylinders, none where only a number is stated."""
    problems = setting.problems
    if values.states("regulators") and values.states("regulator_sets"):
        found = "found regulators and regulator_sets"
        raise problems.add(values.at("regulator_sets", "regulators"), found, "one of them", "delete one")
    if not values.states("regulator_sets"):
        return ()
    node = values.node.entries["regulator_sets"]
    if isinstance(node, Listing) and not node.items:
        problems.add(node, "found no sets", "a list of mappings with count", "or write regulators")
    sets = listed(setting, RegulatorSet, values, "regulator_sets")
    if not sets:
        raise RefusedError
    valve = values.data.get("valve")
    if not any(each.fits(valve) for each in sets):
        found = f"found no set that fits the cylinders' valve, {valve}"
        raise problems.add(values.at("regulator_sets", "valve"), found, "at least one kind of set that fits")
    return sets


def regulator_set(setting: Setting, values: Values) -> dict[str, Any]:
    """Check the range of a flowmeter."""
    values.need_all()
    flows = values["flowmeter"]
    if flows is None:
        return {}
    low, high = flows.whole["low"], flows["high"]
    if high <= low:
        found = f"found a range from {low / 1000:g} to {high / 1000:g} L/min"
        raise setting.problems.add(flows.at("high", "low"), found, "low below high")
    return {}


def bedside(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that humidify_above stands beside a number of humidifiers."""
    values.need_all()
    if values.states("humidify_above") and values["humidifiers"] is None:
        found = "found humidify_above, but no number of humidifiers"
        raise setting.problems.add(
            values.at("humidify_above"), found, "both or neither", "unlimited ones are never wanting"
        )
    return {}
