"""The values of the supplier's sections in, frozen dataclasses out; RefusedError where keys do not fit together.

Spells without deliveries or without a supplier, part deliveries, emergency orders, deliveries that go wrong.
"""

from __future__ import annotations

import contextlib

from o2sim.scenario.building.reader import Values
from o2sim.scenario.keys.fields import EMERGENCY, PART_DELIVERY, ROAD_CLOSURE, UNDERFILLED
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.laws import law_minimum
from o2sim.scenario.types.types import Emergency, PartDelivery, RoadClosure, Underfilled


def spells(problems: Problems, values: Values, name: str) -> tuple[RoadClosure, ...]:
    """Return all spells of a list such as road_closures; raise RefusedError where one is refused."""
    found = []
    listed = values.data.get(name) or []
    for each in listed:
        with contextlib.suppress(RefusedError):
            found.append(spell(problems, each))
    if len(found) < len(listed):
        raise RefusedError
    return tuple(found)


def spell(problems: Problems, values: Values) -> RoadClosure:
    """Return a road closure or an outage of the supplier, dated or drawn."""
    if not values.has(*ROAD_CLOSURE.names):
        raise RefusedError
    first, last, chance, length = (values[name] for name in ("from", "to", "chance_per_day", "length"))
    if chance is None and (first is None or last is None or length is not None):
        allowed = "from and to, or chance_per_day and length"
        raise problems.add(values.node, f"found {describe(values.node)}", allowed, "without a chance it is dated")
    if chance is not None and length is None:
        raise problems.add(values.at("chance_per_day"), "found chance_per_day without length", "both together")
    if first is not None and last is not None and last < first:
        found = f"found {last}, which is before {first}"
        raise problems.add(values.at("to", "from"), found, "a day from `from` on")
    return RoadClosure(first, last, chance, length)


def part_delivery(values: Values | None) -> PartDelivery | None:
    """Return how often and how far an order falls short."""
    if values is None:
        return None
    if not values.has(*PART_DELIVERY.names):
        raise RefusedError
    return PartDelivery(values["chance"], values["share"])


def emergency(problems: Problems, values: Values | None, reorder_point: int) -> Emergency | None:
    """Return the rule of emergency orders: triggered by a number of cylinders, or by hours or days of cover."""
    if values is None:
        return None
    if not values.has(*EMERGENCY.names):
        raise RefusedError
    below, up_to = values["below"], values["up_to"]
    triggers = below, values["cover"], values["days_of_cover"]
    if sum(trigger is not None for trigger in triggers) != 1:
        found = f"found {describe(values.node)}"
        raise problems.add(
            values.node, found, "either below, as 4, or cover, as 24 h, or days_of_cover, as 3 days"
        )
    least = below or 1
    if up_to is not None and up_to < least:
        found = f"found up_to {up_to}, below {below}"
        raise problems.add(values.at("up_to", "below"), found, "an up_to of at least below")
    level = max(reorder_point, least) if up_to is None else up_to
    vehicle, fewest = values["vehicle_capacity"], values["minimum_order"]
    for name, limit in (("vehicle_capacity", vehicle), ("up_to", level)):
        if limit is not None and fewest > limit:
            found = f"found minimum_order {fewest}, {name} {limit}"
            hint = "no emergency order could ever be placed"
            raise problems.add(values.at("minimum_order", name), found, f"a minimum_order of at most {name}", hint)
    return Emergency(level, values["lead_time"], *triggers, vehicle, fewest)


def underfilled(problems: Problems, values: Values | None, empty_share: float) -> Underfilled | None:
    """Return how many cylinders hold less than they should; empty_share is what an empty holds of a full one."""
    if values is None:
        return None
    if not values.has(*UNDERFILLED.names):
        raise RefusedError
    if law_minimum(values["content"]) <= empty_share:
        found = f"found a content that may be as low as {100 * law_minimum(values['content']):.3g} %"
        hint = f"at {100 * empty_share:.3g} % a cylinder counts as empty; use unusable for such"
        raise problems.add(values.at("content"), found, "always more than the residual pressure leaves", hint)
    return Underfilled(values["share"], values["content"])
