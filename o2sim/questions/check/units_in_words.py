"""Which concentrators there are where they differ, and how they start, in words."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.looks.words import joined, number
from o2sim.quantities.units import format_duration
from o2sim.scenario.types.costing import years
from o2sim.scenario.types.hospital import Concentrators, Power, UnitGroup


def listed(units: Concentrators) -> Iterator[str]:
    """Yield which units there are, by row, and what becomes of a repaired one."""
    if units.listed:
        yield f"Concentrators, by number: {'; '.join(map(_row, units.listed))}."
    old = [group.model for group in units.groups if group.rules.repaired_as == "old"]
    if old:
        whose = f" of {joined(list(dict.fromkeys(old)))}" if all(old) else ""
        yield f"A repaired unit{whose} is as old as when it failed: its clock goes on."


def _row(group: UnitGroup) -> str:
    rules, said = group.rules, []
    name = f" {group.model}" if group.model else ""
    if group.owned:
        said.append("owned")
    if group.age_s:
        said.append(f"{_age(group.age_s)} old" + _by(group))
    if group.working < group.count:
        said.append(f"{group.working} of them working at the start")
    if group.ward:
        said.append(f"on {group.ward}")
    outlets = "1 outlet" if rules.outlets == 1 else f"{rules.outlets} outlets"
    flow = f"{number(rules.rated_flow_ml_min / 1_000)} L/min, {outlets}, {rules.power_w:,.0f} W"
    return f"{group.count}{name} ({', '.join([flow, *said])})"


def _age(seconds: int) -> str:
    """Return an age in years above one, else as any time."""
    age = years(seconds)
    return f"{number(age)} years" if age > 1 else format_duration(seconds)


def _by(group: UnitGroup) -> str:
    return " by running hours" if group.rules.failure_clock == "running" else ""


def by_model(units: Concentrators) -> list[tuple[str, Concentrators]]:
    """Return what holds for each model by its name, "" for like units."""
    found: dict[str, Concentrators] = {}
    for group in units.groups:
        found.setdefault(group.model, group.rules)
    return list(found.items())


def starts(units: Concentrators, power: Power) -> Iterator[str]:
    """Yield how much a unit draws as it starts, and what gives as much for a moment."""
    surges = {group.rules.start_surge_permille for group in units.groups} - {None}
    sources = {"the battery": power.battery, "the generator": power.generator}
    limits = {name: each.start_limit_w for name, each in sources.items() if each is not None}
    gives = [f"{name} gives {watts:,} W" for name, watts in limits.items() if watts is not None]
    if surges and gives:
        times = joined([number(each / 1_000) for each in sorted(surge for surge in surges if surge)])
        yield (
            f"A unit draws {times} times its power as it starts, one after the other; for a moment "
            f"{joined(gives)} to them."
        )
