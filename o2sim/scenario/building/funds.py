"""Rules of the purse: what stands beside what, one currency, and a price for all that it pays for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.costing import check_currency
from o2sim.scenario.building.values import Values
from o2sim.scenario.types.funds import OXYGEN_ALONE, YEAR, Supplier

_PLAIN = Supplier()


def allotment(_: Setting, values: Values) -> None:
    """Check that a day of the calendar is named only where the allotment goes by the calendar."""
    values.need_all()
    every = values["every"]
    if isinstance(every, int) and values["day"] != 1:
        found, hint = "a day beside an interval", "an interval begins with the first second of the run"
        values.fault("day", found, "every: month or every: year with a day, or an interval alone", hint)
    if every != YEAR and values["month"] is not None:
        found = "a month of the year, but not every: year"
        values.fault("month", found, "month together with every: year")


def supplier(_: Setting, values: Values) -> dict[str, Any]:
    """Return that nothing limits what is owed where no limit is stated; check that only credit has one."""
    values.need_all()
    differs = {
        "limit": values.states("limit"),
        "due": values["due"] != _PLAIN.due_s,
        "stops_when_overdue": values["stops_when_overdue"],
    }
    for name in (name for name, stated in differs.items() if stated and values["terms"] != "credit"):
        found, hint = f"{name} with terms: {values['terms']}", f"write terms: credit, or leave {name} out"
        values.fault(name, found, "terms: credit beside it", hint)
    return {} if values.states("limit") else {"limit_cents": None}


def check_funds(setting: Setting) -> None:
    """Check that the purse and what it pays for are in one currency, and that each thing it buys has a price."""
    values = setting.hospital
    section = values.data.get("funds")
    if not isinstance(section, Values) or not values.has("costs"):
        return
    costs = values["costs"]
    if costs is None:
        hint = "add the prices of what it pays for, as costs: {cylinders: {refill: 30 USD}}"
        values.fault("funds", "funds, but no section costs", "both together", hint)
        return
    if costs.has("currency"):
        check_currency(setting.problems, section, costs["currency"])
        values.faults.extend(section.faults)
    pays_for = section.data.get("pays_for", ()) or OXYGEN_ALONE
    for what, key, example in _bought(setting.parts):
        if what not in pays_for or not section.has("pays_for"):
            continue
        if not _states(costs, key):
            said, hint = f"pays_for {what}, but no costs.{key}", f"take {what} out of pays_for where another pays"
            values.fault("funds", said, f"a price there, such as {example}", hint)


def _bought(parts: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Yield (what may be paid for, where its price stands in the costs, an example) of what a strategy buys."""
    power, units = parts.get("power"), parts.get("concentrators")
    generator = power.generator if power else None
    stock = parts.get("cylinders")
    if parts.get("resupply") and stock and any(size.refill is None for size in stock.each):
        yield "oxygen", "cylinders.refill", "30 USD"
    if units is not None and generator is not None and generator.refuel is not None:
        yield "fuel", "fuel", "1.10 USD/L"
    if units is not None and units.repair_s is not None:
        yield "parts", "concentrators.repair", "40 USD"


def _states(costs: Values, key: str) -> bool:
    """Return True where the file states a price; 0 is one too."""
    *above, name = key.split(".")
    found: Any = costs
    for step in above:
        found = found.data.get(step)
    return isinstance(found, Values) and found.states(name)
