"""The values of resupply in, its levels and its emergency rule out; what does not fit together is noted."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting, built
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.hospital import Emergency


def resupply(setting: Setting, values: Values) -> dict[str, Any]:
    """Return the levels of the reorder rule, which follow from the fleet, and the emergency rule."""
    problems, stock = setting.problems, setting.parts.get("cylinders")
    level = values.data.get("order_up_to")
    if level is None and stock is not None:
        level = stock.fleet
    point = values.data.get("reorder_point")
    fits = [
        _levels_fit(problems, values, level),
        _order_fits(problems, values, level, "order_up_to", "no order could ever be placed"),
    ]
    if point is None:
        point = max((level or 0) - 1, 0)
    emergency = values.data.get("emergency")
    found = None if emergency is None else _emergency(setting, emergency, point)
    if not all(fits) or level is None:
        raise RefusedError
    return {"reorder_point": point, "order_up_to": level, "emergency": found}


def _levels_fit(problems: Problems, values: Values, order_up_to: int | None) -> bool:
    reorder_point = values.data.get("reorder_point")
    if reorder_point is None or not order_up_to or reorder_point <= order_up_to:
        return True
    found = f"found reorder_point {reorder_point}, order_up_to {order_up_to}"
    problems.add(values.at("reorder_point", "order_up_to"), found, "a reorder_point of at most order_up_to")
    return False


def _order_fits(problems: Problems, values: Values, level: int | None, level_key: str, hint: str) -> bool:
    """Return True unless no order could ever be placed: the least is more than vehicle or level."""
    least = values.data.get("minimum_order", 1)
    for name, limit in (("vehicle_capacity", values.data.get("vehicle_capacity")), (level_key, level)):
        if limit and least > limit:
            found = f"found minimum_order {least}, {name} {limit}"
            problems.add(values.at("minimum_order", name), found, f"a minimum_order of at most {name}", hint)
            return False
    return True


def _emergency(setting: Setting, values: Values, reorder_point: int) -> Emergency:
    """Return the rule of emergency orders: triggered by a number of cylinders, or by hours or days of cover."""
    values.need_all()
    problems, below, up_to = setting.problems, values["below"], values["up_to"]
    if sum(values[trigger] is not None for trigger in ("below", "cover", "days_of_cover")) != 1:
        allowed = "either below, as 4, or cover, as 24 h, or days_of_cover, as 3 days"
        raise problems.add(values.node, f"found {describe(values.node)}", allowed)
    least = below or 1
    if up_to is not None and up_to < least:
        found = f"found up_to {up_to}, below {below}"
        raise problems.add(values.at("up_to", "below"), found, "an up_to of at least below")
    level = max(reorder_point, least) if up_to is None else up_to
    if not _order_fits(problems, values, level, "up_to", "no emergency order could ever be placed"):
        raise RefusedError
    return built(setting, Emergency, values, up_to=level)


def road_closure(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that a road closure, or an outage of the supplier, is either dated or drawn."""
    values.need_all()
    problems = setting.problems
    first, last, chance, length = (values[name] for name in ("from", "to", "chance_per_day", "length"))
    if chance is None and (first is None or last is None or length is not None):
        allowed = "from and to, or chance_per_day and length"
        raise problems.add(values.node, f"found {describe(values.node)}", allowed, "without a chance it is dated")
    if chance is not None and length is None:
        raise problems.add(values.at("chance_per_day"), "found chance_per_day without length", "both together")
    if first is not None and last is not None and last < first:
        found = f"found {last}, which is before {first}"
        raise problems.add(values.at("to", "from"), found, "a day from `from` on")
    return {}
