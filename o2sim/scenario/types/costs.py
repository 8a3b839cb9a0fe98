"""Prices as frozen dataclasses, all in one currency, with their keys."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal

from o2sim.scenario.keys.field import COMMON, Field, Section
from o2sim.scenario.keys.record import NEEDED, Key, key, of_file, part, time_key, whole_key
from o2sim.scenario.keys.sources import FROM_MEMORY, LIVES_7_YEARS, SHELLS, SOLAR_STUDY, TESTS
from o2sim.scenario.types.costing import PERSPECTIVES, OtherCost, StaffTime, Training, paid_by, years
from o2sim.scenario.types.listed import ASKED, KINDS, PUBLISHED_IN, Kind


@dataclass(frozen=True)
class Equipment:
    """Money for one kind of durable thing: price each, life in years, salvage at the end of life."""

    price: float = key("money", "to buy one", "0", "")
    life_years: float = time_key("years it lasts", "10 years", COMMON, "1 day", name="life", turned=years)
    salvage: float = key("money", "what one brings at the end of its life", "0", "")
    installation: float = key("money", "to install one, in place of the share costs.installation", "0", "")
    imported: bool = key("true or false", "pays costs.freight and costs.duty, where these are stated", "true")
    paid_by: str = paid_by("who buys it; a gift counts at its price in economic cost, at 0 in cash")


def _owned(name: str, help_: str = "", life: str = "", source: str = f"assumed, {FROM_MEMORY}") -> Any:
    lives = {"life": (life, source)} if life else None
    return key("section", help_, name=name, of=Equipment, value=Equipment(), defaults=lives)


def _upkeep(within: str) -> Any:
    return key("money a year", "each unit", "0", "", name="service", within=within)


@dataclass(frozen=True)
class Price:
    """What one thing of a line costs, in the currency of the costs."""

    key: str
    each: Equipment


def _priced(kind: Kind) -> Field:
    """Return the key of the price of a line, with its life."""
    lives = {"life": (kind.life, f"assumed, {FROM_MEMORY}")} if kind.life else None
    only = ("price",) if kind.yearly else ()
    made = of_file(key("section", kind.label, of=Equipment, only=only, defaults=lives)).field
    found = ASKED if kind.published is None else f"{ASKED}; {kind.published:g} {PUBLISHED_IN}: {SOLAR_STUDY}"
    return replace(made, name=kind.key, otherwise=found, help=f"{kind.label}, each")


PRICES = Section(tuple(map(_priced, KINDS)))


def prices(groups: Mapping[str, Any]) -> tuple[Price, ...]:
    """Return the prices that a section states, of its values by line; 0 is a price too: a gift."""
    found = []
    for name, values in groups.items():
        said = {} if values is None else values.whole
        if not said or said["price"].node is None:
            continue
        price = said["price"].amount
        if "life" not in said:  # used up within a year
            found.append(Price(name, Equipment(price, 1.0)))
            continue
        money = {part: said[part].amount for part in ("salvage", "installation")}
        others = {part: said[part] for part in ("imported", "paid_by")}
        found.append(Price(name, Equipment(price, years(said["life"]), **money, **others)))
    return tuple(found)


@dataclass(frozen=True)
class Costs:
    """Prices in one currency; rates as named."""

    currency: str = key("currency", "three capitals; every price is in it", "USD", value=NEEDED)
    discount_rate: float = key("share", "a year, real", "3 %", "usual in health economics, from memory")
    price_year: int | None = whole_key(
        "the year of the prices", least=1950, most=2200, otherwise="not stated, and the costing says so"
    )
    perspective: str = key(
        "word", "whose costs are counted: hospital leaves out what the health service or families pay, health "
        "service what families pay, society nothing but duty, which is a transfer", PERSPECTIVES[0],
        words=PERSPECTIVES,
    )  # fmt: skip
    freight: float | None = key("share", "of the price of what is imported", otherwise="not counted")
    duty: float | None = key("share", "of the price of what is imported", otherwise="not counted")
    installation: float | None = key(
        "share", "of the price of whatever has no `installation` of its own", otherwise="not counted"
    )
    cylinder: Equipment = _owned("cylinders", life="20 years", source=SHELLS)
    cylinder_rent_per_year: float = key(
        "money a year", "each; the price of a pressure test over the years between two may stand here", "0", "",
        name="rent", within="cylinders",
    )  # fmt: skip
    cylinder_test: float = key(
        "money", "each periodic test of a cylinder; where it stands in no rent", "0", "", name="test",
        within="cylinders",
    )  # fmt: skip
    test_every_years: float = time_key(
        "between two tests of a cylinder; the fleet's are spread evenly", "5 years", TESTS, "1 year",
        name="test_every", within="cylinders", turned=years,
    )  # fmt: skip
    refill: float = key("money", "each cylinder filled: ask your supplier", "0", "", within="cylinders")
    regulator: Equipment = _owned("regulators", life="7 years")
    splitter: Equipment = _owned("splitters", "flow splitters", "5 years")
    humidifier: Equipment = _owned("humidifiers", "where their number is limited", "3 years")
    oximeter: Equipment = _owned("oximeters", "those of noticed.by_oximeter", "3 years")
    concentrator: Equipment = _owned("concentrators", life="7 years", source=LIVES_7_YEARS)
    concentrator_service_per_year: float = _upkeep("concentrators")
    repair: float = key("money", "each failure", "0", "", within="concentrators")
    oxygen_monitor: Equipment = _owned("oxygen_monitor", "each unit's, where units have one")
    analyser: Equipment = _owned("analyser", "one, where units are checked with it")
    generator: Equipment = _owned("generator", "the generator, where there is one")
    generator_service_per_year: float = _upkeep("generator")
    battery: Equipment = _owned("battery", "battery and inverter", "4 years")
    solar: Equipment = _owned("solar", "all panels together", "25 years")
    stabiliser: Equipment = _owned("stabiliser", "all stabilisers together")
    manifold: Equipment = _owned("manifold", "the manifold with its pipework and outlets")
    manifold_service_per_year: float = _upkeep("manifold")
    transport: ClassVar[Key] = of_file(key("section", ""))
    trip: float = key("money", "each delivery: ask the carrier", "0", "", within="transport")
    transport_per_cylinder: float = key(
        "money", "each cylinder delivered", "0", "", name="cylinder", within="transport"
    )
    emergency: ClassVar[Key] = of_file(key("section", "on top of refill and transport, for emergency orders"))
    emergency_trip: float = key("money", "each delivery", "0", "", name="trip", within="emergency")
    emergency_cylinder: float = key(
        "money", "each cylinder delivered", "0", "", name="cylinder", within="emergency"
    )
    electricity_per_kwh: float = key(
        "money a kWh", "price of electricity from the grid", "0", "", name="electricity"
    )
    fuel_per_litre: float = key("money a litre", "price of the generator's fuel", "0", "", name="fuel")
    consumables_per_patient: float = key("money", "each patient", "0", "", name="consumables")
    per_transfer: float = key("money", "each patient transferred", "0", "", name="transfer")
    staff: StaffTime | None = part(StaffTime, "what the time of staff costs", "not counted")
    training: Training | None = part(Training, "of those who handle oxygen", "not counted")
    other: tuple[OtherCost, ...] = key(
        "named sections", "further lines by name; a strategy changes a line, to 0 USD for none, and adds none",
        of=OtherCost, most="50",
        otherwise="none", value=(),
    )  # fmt: skip
    equipment: tuple[Price, ...] = part(
        PRICES, "prices of the lines of `o2sim equipment` that are not above", "no price is known", turned=prices,
        value=(),
    )  # fmt: skip
    prices_left_out: Literal["asked", "published"] = key(
        "word", "a price of `equipment` that is left out is asked for and counted as none, or is the one that was "
        "published, in USD, where there is one", "asked", words=("asked", "published"),
    )  # fmt: skip
    owned_cost: Literal["sunk", "as bought"] = key(
        "word", "what is owned costs a year the interest on its salvage, or what it would if it were bought",
        "sunk", words=("sunk", "as bought"),
    )  # fmt: skip
