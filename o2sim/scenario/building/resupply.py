"""Rules of resupply and prices: levels, emergency orders, closures, and what does not fit together."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from o2sim.scenario.building.built import Setting, built
from o2sim.scenario.building.values import Money, Values
from o2sim.scenario.text.nodes import describe
from o2sim.scenario.text.problems import RefusedError
from o2sim.scenario.types.hospital import Emergency
from o2sim.scenario.types.listed import PUBLISHED_IN


def resupply(setting: Setting, values: Values) -> dict[str, Any]:
    """Return the levels of the reorder rule, which follow from the fleet, and the emergency rule."""
    stock, data = setting.parts.get("cylinders"), values.data
    level, point, emergency = (data.get(name) for name in ("order_up_to", "reorder_point", "emergency"))
    if level is None and stock is not None:
        level = stock.fleet
    if point is not None and level and point > level:
        found, allowed = f"reorder_point {point}, order_up_to {level}", "a reorder_point of at most order_up_to"
        values.fault("reorder_point order_up_to", found, allowed)
    _check_order(values, level, "order_up_to", "no order could ever be placed")
    if point is None:
        point = max((level or 0) - 1, 0)
    rule = None if emergency is None else _emergency(setting, emergency, point)
    if level is None:
        raise RefusedError
    return {"reorder_point": point, "order_up_to": level, "emergency": rule}


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


def _groups(values: Values) -> Iterator[Values]:
    """Yield all sections of prices, however deep; raise RefusedError where one was refused."""
    for each in values.whole.values():
        if isinstance(each, Values):
            yield each
            yield from _groups(each)


def costs(setting: Setting, values: Values) -> None:
    """Check that all prices are in one currency, and that nothing brings more than it cost."""
    values.need_all()
    currency = values["currency"]
    groups = list(_groups(values))
    prices = [each for group in (values, *groups) for each in group.data.values() if isinstance(each, Money)]
    for money in prices:
        if money.node is not None and money.currency not in ("", currency):
            found, hint = f"found a price in {money.currency}", f"convert it, or set currency: {money.currency}"
            allowed = f"{currency}, the currency of costs"
            values.faults.append(setting.problems.add(money.node, found, allowed, hint))
    if values["prices_left_out"] == "published" and currency != PUBLISHED_IN:
        found, hint = f"prices_left_out: published, with prices in {currency}", "state each price, converted"
        values.fault("prices_left_out", found, f"published with currency {PUBLISHED_IN}, or asked", hint)
    values.need_all()
    for group in groups:
        if "salvage" in group.data and group["salvage"].amount > group["price"].amount:
            salvage, price = group["salvage"].amount, group["price"].amount
            group.fault("salvage price", f"salvage {salvage:g}, price {price:g}", "at most the price")
