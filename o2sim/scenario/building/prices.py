"""The values of the costs section in, the frozen Costs out; RefusedError where they do not fit together."""

from __future__ import annotations

from o2sim.scenario.building.reader import Money, Values
from o2sim.scenario.keys.fields import COSTS
from o2sim.scenario.text.problems import Problems, RefusedError
from o2sim.scenario.types.types import DAY_S, YEAR_DAYS, Costs, Equipment


def costs(problems: Problems, values: Values) -> Costs:
    """Return the prices, all in one currency."""
    if not values.has(*COSTS.names):
        raise RefusedError
    groups = [values[field.name] for field in COSTS.fields if field.section is not None]
    every = [item for group in (values, *groups) for item in group.data.values() if isinstance(item, Money)]
    fits = [_currency_fits(problems, money, values["currency"]) for money in every]
    sections = [field.section for field in COSTS.fields if field.section is not None]
    fits += [group.has(*section.names) for group, section in zip(groups, sections, strict=True)]
    if not all(fits):
        raise RefusedError
    salvages = [_salvage_fits(problems, group) for group in groups if "salvage" in group.data]
    if not all(salvages):
        raise RefusedError
    cylinder, regulator, concentrator, transport, emergency = (
        values[name] for name in ("cylinders", "regulators", "concentrators", "transport", "emergency")
    )
    return Costs(
        currency=values["currency"],
        discount_rate=values["discount_rate"],
        cylinder=_equipment(cylinder),
        cylinder_rent_per_year=cylinder["rent"].amount,
        refill=cylinder["refill"].amount,
        regulator=_equipment(regulator),
        splitter=_equipment(values["splitters"]),
        humidifier=_equipment(values["humidifiers"]),
        concentrator=_equipment(concentrator),
        concentrator_service_per_year=concentrator["service"].amount,
        repair=concentrator["repair"].amount,
        trip=transport["trip"].amount,
        transport_per_cylinder=transport["cylinder"].amount,
        emergency_trip=emergency["trip"].amount,
        emergency_cylinder=emergency["cylinder"].amount,
        oxygen_monitor=_equipment(values["oxygen_monitor"]),
        analyser=_equipment(values["analyser"]),
        electricity_per_kwh=values["electricity"].amount,
        fuel_per_litre=values["fuel"].amount,
        generator=_equipment(values["generator"]),
        generator_service_per_year=values["generator"]["service"].amount,
        battery=_equipment(values["battery"]),
        solar=_equipment(values["solar"]),
        stabiliser=_equipment(values["stabiliser"]),
        manifold=_equipment(values["manifold"]),
        manifold_service_per_year=values["manifold"]["service"].amount,
        consumables_per_patient=values["consumables"].amount,
        per_transfer=values["transfer"].amount,
    )


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


def _equipment(values: Values) -> Equipment:
    life_years = values["life"] / (YEAR_DAYS * DAY_S)
    return Equipment(values["price"].amount, life_years, values["salvage"].amount)
