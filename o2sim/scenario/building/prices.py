"""The values of the costs section in; prices in another currency, and salvages above their prices, noted."""

from __future__ import annotations

from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Money, Values
from o2sim.scenario.text.problems import Problems, RefusedError


def costs(setting: Setting, values: Values) -> dict[str, Any]:
    """Check that all prices are in one currency, and that nothing brings more than it cost."""
    values.need_all()
    problems = setting.problems
    groups = [each for each in values.data.values() if isinstance(each, Values)]
    prices = [each for group in (values, *groups) for each in group.data.values() if isinstance(each, Money)]
    fits = [_currency_fits(problems, money, values["currency"]) for money in prices]
    if not all(fits):
        raise RefusedError
    for group in groups:
        group.need_all()
    fits = [_salvage_fits(problems, group) for group in groups if "salvage" in group.data]
    if not all(fits):
        raise RefusedError
    return {}


def _currency_fits(problems: Problems, money: Money, currency: str) -> bool:
    if money.node is None or money.currency in ("", currency):
        return True
    hint = f"convert it, or set currency: {money.currency}"
    problems.add(money.node, f"found a price in {money.currency}", f"{currency}, the currency of costs", hint)
    return False


def _salvage_fits(problems: Problems, values: Values) -> bool:
    price, salvage = values["price"].amount, values["salvage"].amount
    if salvage <= price:
        return True
    problems.add(values.at("salvage", "price"), f"found salvage {salvage:g}, price {price:g}", "at most the price")
    return False
