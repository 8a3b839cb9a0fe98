"""The values of the bedside's sections in, frozen dataclasses out; RefusedError where keys do not fit together."""

from __future__ import annotations

import contextlib

from o2sim.scenario.building.reader import Values
from o2sim.scenario.keys.bedside_fields import BEDSIDE, FLOWMETER, REGULATOR_SET, SPLITTERS
from o2sim.scenario.text.nodes import Listing
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.bedside_types import ANY_FLOW_ML_MIN, Bedside, RegulatorSet, Splitters


def regulator_sets(problems: Problems, values: Values) -> tuple[RegulatorSet, ...]:
    """Return the kinds of regulator sets of a section cylinders, none where only a number is stated."""
    if values.states("regulators") and values.states("regulator_sets"):
        found = "found regulators and regulator_sets"
        raise problems.add(values.at("regulator_sets", "regulators"), found, "one of them", "delete one")
    if "regulator_sets" not in values.node.entries:
        return ()
    listed = values.data.get("regulator_sets") or []
    node, sets = values.node.entries["regulator_sets"], []
    if isinstance(node, Listing) and not node.items:
        problems.add(node, "found no sets", "a list of mappings with count", "or write regulators")
    for each in listed:
        with contextlib.suppress(RefusedError):
            sets.append(_regulator_set(problems, each))
    if not sets or len(sets) < (len(node.items) if isinstance(node, Listing) else 1):
        raise RefusedError
    valve = values.data.get("valve")
    if not any(each.fits(valve) for each in sets):
        found = f"found no set that fits the cylinders' valve, {valve}"
        raise problems.add(values.at("regulator_sets", "valve"), found, "at least one kind of set that fits")
    return tuple(sets)


def _regulator_set(problems: Problems, values: Values) -> RegulatorSet:
    if not values.has(*REGULATOR_SET.names):
        raise RefusedError
    low, high = _flowmeter(problems, values["flowmeter"])
    return RegulatorSet(values["count"], low, high, values["valve"])


def _flowmeter(problems: Problems, values: Values | None) -> tuple[int, int]:
    if values is None:
        return 0, ANY_FLOW_ML_MIN
    if not values.has(*FLOWMETER.names):
        raise RefusedError
    low, high = values["low"], values["high"]
    if high <= low:
        found = f"found a range from {low / 1000:g} to {high / 1000:g} L/min"
        raise problems.add(values.at("high", "low"), found, "low below high")
    return low, high


def splitters(values: Values | None) -> Splitters | None:
    """Return how many flow splitters there are, and of how many outlets."""
    if values is None:
        return None
    if not values.has(*SPLITTERS.names):
        raise RefusedError
    return Splitters(values["count"], values["outlets"])


def bedside(problems: Problems, values: Values) -> Bedside:
    """Return what is limited at the bedside, whatever the source."""
    if not values.has(*BEDSIDE.names):
        raise RefusedError
    if values.states("humidify_above") and values["humidifiers"] is None:
        found = "found humidify_above, but no number of humidifiers"
        raise problems.add(
            values.at("humidify_above"), found, "both or neither", "unlimited ones are never wanting"
        )
    sets = values["delivery_sets"]
    devices = () if sets is None else BEDSIDE.fields[-1].section
    names = devices.names if devices else ()
    if sets is not None and not sets.has(*names):
        raise RefusedError
    limits = tuple((name, sets[name]) for name in names if sets is not None and sets[name] is not None)
    return Bedside(values["humidifiers"], values["humidify_above"], limits)
