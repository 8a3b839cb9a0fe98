"""Rules of resupply: levels, emergency orders, closures, and what does not fit together."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting, built
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import RefusedError, nearest, quote
from o2sim.scenario.types.hospital import Cylinders, CylinderSize, Emergency, SizeLevels


def resupply(setting: Setting, values: Values) -> dict[str, Any]:
    """Return the levels of the reorder rule, which follow from the fleet, and the emergency rule."""
    stock, data = setting.parts.get("cylinders"), values.data
    level, point, emergency = (data.get(name) for name in ("order_up_to", "reorder_point", "emergency"))
    by_size = _by_size(values, stock)
    if by_size:
        level, point = (sum(getattr(each, name) for each in by_size) for name in ("order_up_to", "reorder_point"))
    if level is None and stock is not None:
        level = stock.fleet
    if point is not None and level and point > level:
        found, allowed = f"reorder_point {point}, order_up_to {level}", "a reorder_point of at most order_up_to"
        values.fault("reorder_point order_up_to", found, allowed)
    _check_lorry(values)
    _check_order(values, level, "order_up_to", "no order could ever be placed")
    if point is None:
        point = max((level or 0) - 1, 0)
    rule = None if emergency is None else _emergency(setting, emergency, point)
    if level is None:
        raise RefusedError
    return {"reorder_point": point, "order_up_to": level, "emergency": rule, "sizes": by_size}


def _by_size(values: Values, stock: Cylinders | None) -> tuple[SizeLevels, ...]:
    """Return the levels of each size of the cylinders, none where these are of one type."""
    stated = values.data.get("sizes") or {}
    names = [size.name for size in stock.sizes] if stock is not None else []
    if stock is None:
        return ()
    if not names:
        if stated:
            hint = "state the sizes of the cylinders, or delete it"
            values.fault("sizes", "sizes, but none of the cylinders", "both together", hint)
        return ()
    for name in ("reorder_point", "order_up_to"):
        if values.states(name):
            hint = "state it of each size, under resupply.sizes"
            values.fault(name, f"{name} beside sizes of the cylinders", "one or the other", hint)
    for name, each in stated.items():
        if name not in names:
            found, allowed = f"found the size {quote(name)}", f"sizes of the cylinders: {', '.join(names)}"
            values.faults.append(values.problems.add(each.node, found, allowed, nearest(name, names)))
    return tuple(_levels(size, stated.get(size.name)) for size in stock.sizes)


def _levels(size: CylinderSize, values: Values | None) -> SizeLevels:
    """Return the levels of a size, which follow from its fleet where the file leaves them out."""
    if values is None:
        return SizeLevels(max(size.fleet - 1, 0), size.fleet, size.name)
    values.need_all()
    level = size.fleet if values["order_up_to"] is None else values["order_up_to"]
    point = max(level - 1, 0) if values["reorder_point"] is None else values["reorder_point"]
    if point > level:
        found, allowed = f"reorder_point {point}, order_up_to {level}", "a reorder_point of at most order_up_to"
        raise values.fault("reorder_point order_up_to", found, allowed)
    return SizeLevels(point, level, size.name)


def _check_lorry(values: Values) -> None:
    """A lorry is full by its cylinders or by its spaces."""
    if values.data.get("vehicle_capacity") and values.data.get("vehicle_space"):
        found = "vehicle_capacity and vehicle_space"
        values.fault("vehicle_space vehicle_capacity", found, "one of them", "set the other to none")


def _check_order(values: Values, level: int | None, level_key: str, hint: str) -> None:
    """Note that no order could ever be placed: the least is more than vehicle or level."""
    least = values.data.get("minimum_order", 1)
    for name, limit in (("vehicle_capacity", values.data.get("vehicle_capacity")), (level_key, level)):
        if limit and least > limit:
            found = f"minimum_order {least}, {name} {limit}"
            values.fault(f"minimum_order {name}", found, f"a minimum_order of at most {name}", hint)
            return


def _emergency(setting: Setting, values: Values, reorder_point: int) -> Emergency:
    """Return the rule of emergency orders: triggered by a number of cylinders, or by hours or days of cover."""
    values.need_all()
    below, up_to = values["below"], values["up_to"]
    if sum(values[trigger] is not None for trigger in ("below", "cover", "days_of_cover")) != 1:
        allowed = "either below, as 4, or cover, as 24 h, or days_of_cover, as 3 days"
        raise values.fault("", describe(values.node), allowed)
    least = below or 1
    if up_to is not None and up_to < least:
        raise values.fault("up_to below", f"up_to {up_to}, below {below}", "an up_to of at least below")
    _check_lorry(values)
    level = max(reorder_point, least) if up_to is None else up_to
    _check_order(values, level, "up_to", "no emergency order could ever be placed")
    return built(setting, Emergency, values, up_to=level)


def road_closure(_: Setting, values: Values) -> None:
    """Check that a road closure, or an outage of the supplier, is either dated or drawn."""
    values.need_all()
    first, last, chance, length = (values[name] for name in ("from", "to", "chance_per_day", "length"))
    if chance is None and (first is None or last is None or length is not None):
        allowed, hint = "from and to, or chance_per_day and length", "without a chance it is dated"
        raise values.fault("", describe(values.node), allowed, hint)
    if first is not None and last is not None and last < first:
        raise values.fault("to from", f"{last}, which is before {first}", "a day from `from` on")
