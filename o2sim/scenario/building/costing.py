"""Rules of prices and of what is costed: one currency, nothing counted twice, each line of one kind."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Money, Values
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.types.listed import PUBLISHED_IN

TASKS = ("look", "connect", "fetch", "filter")


def costs(setting: Setting, values: Values) -> None:
    """Check that all prices are in one currency, and that nothing brings more than it cost."""
    values.need_all()
    currency, groups = values["currency"], list(_groups(values))
    check_currency(setting.problems, values, currency)
    stock = setting.hospital.data.get("cylinders")
    if isinstance(stock, Values):
        check_currency(setting.problems, stock, currency)
        values.faults.extend(stock.faults)
    if values["prices_left_out"] == "published" and currency != PUBLISHED_IN:
        found, hint = f"prices_left_out: published, with prices in {currency}", "state each price, converted"
        values.fault("prices_left_out", found, f"published with currency {PUBLISHED_IN}, or asked", hint)
    values.need_all()
    for group in groups:
        if "salvage" in group.whole and group["salvage"].amount > group["price"].amount:
            salvage, price = group["salvage"].amount, group["price"].amount
            group.fault("salvage price", f"salvage {salvage:g}, price {price:g}", "at most the price")


def check_currency(problems: Problems, values: Values, currency: str) -> None:
    """Note each amount of a section that is in another currency than the costs."""
    for group in (values, *_groups(values)):
        for money in group.data.values():
            if isinstance(money, Money) and money.node is not None and money.currency not in ("", currency):
                what = "money" if money.node.path.split(".")[0] == "funds" else "a price"
                found = f"found {what} in {money.currency}"
                hint = f"convert it, or set currency: {money.currency}"
                values.faults.append(problems.add(money.node, found, f"{currency}, the currency of costs", hint))


def _groups(values: Values) -> Iterator[Values]:
    """Yield the sections of prices, however deep, those with names of their own too."""
    for each in values.data.values():
        inner = [each] if isinstance(each, Values) else each.values() if isinstance(each, dict) else ()
        for group in inner:
            yield group
            yield from _groups(group)


def staff_time(_: Setting, values: Values) -> None:
    """Check that staff is counted by posts or by tasks: with both the same hours would be paid twice."""
    values.need_all()
    tasks = [name for name in TASKS if values[name] is not None]
    if values["posts"] is not None and tasks:
        found = f"posts and {', '.join(tasks)}"
        values.fault(f"posts {tasks[0]}", found, "either posts or times of tasks", "else hours are paid twice")


def other_cost(_: Setting, values: Values) -> None:
    """Check that a line of other costs is either so much a year or so much once."""
    values.need_all()
    if values.states("yearly") == values.states("once"):
        found = "both" if values.states("once") else "neither"
        values.fault("once yearly", f"{found} of yearly and once", "one of them, as yearly: 600 USD/year")
