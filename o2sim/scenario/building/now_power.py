"""Concentrators, grid, battery and fuel of a count, as a strategy sees them."""

from __future__ import annotations

from o2sim.scenario.building.now_count import Count
from o2sim.scenario.types.hospital import Battery, Concentrators, Generator, Grid, Power
from o2sim.scenario.types.now import GridNow, UnitsNow


def units_of(count: Count) -> UnitsNow | None:
    """Return which units work; None for unknown.

    Those of the scenario not accounted for are down since an unknown time; those that a strategy adds are new.
    """
    units: Concentrators | None = count.setting.parts.get("concentrators")
    stated = count.stated.concentrators
    if stated is None:
        return None
    values = count.values["concentrators"]
    ages = [
        count.age_s(each, "since", row.since)
        for row, each in zip(stated.down, values.data.get("down") or (), strict=True)
    ]
    if units is None:
        return None
    there = min(units.count, count.setting.general.units_there or units.count)
    working = there - len(ages) if stated.working is None else stated.working
    if working < 0 or working + len(ages) > units.count:
        found = f"{len(ages)} down" if stated.working is None else f"{working} working and {len(ages)} down"
        hint = count.whose("concentrators", "count", "count again, or raise concentrators.count")
        count.fault(values, "working down", f"{found}, of {units.count} units", "together at most the units", hint)
    if len(stated.meters_s) > max(working, 0):
        found = f"{len(stated.meters_s)} meters, but {max(working, 0)} units that work"
        count.fault(values, "meters", found, "at most one for each unit that works")
    unsaid = max(0, there - working - len(ages))
    return UnitsNow(working, (*ages, *[None] * unsaid), stated.meters_s)


def grid_of(count: Count) -> GridNow | None:
    """Return whether the grid is up, None for unknown."""
    stated, grid = count.stated.grid, count.setting.parts.get("grid")
    if stated is None:
        return None
    values = count.values["grid"]
    age_s = count.age_s(values, "since", stated.since)
    if stated.up is None and age_s is not None:
        count.fault(values, "since", "since, but not whether the grid is up", "both together")
    _check_grid(count, stated.up, grid)
    return GridNow(stated.up, age_s)


def _check_grid(count: Count, up: bool | None, grid: Grid | None) -> None:
    """Note a grid that is down though it never fails, or up though there is none."""
    parts, values = count.setting.parts, count.values["grid"]
    power: Power | None = parts.get("power")
    never_fails = grid is None and (power is None or not power.load_shedding)
    if up is False and never_fails and parts.get("concentrators") is not None and count.setting.hospital.sound:
        allowed = "power.grid with up and down, by which the cut is drawn to its end"
        count.fault(values, "up", "the grid down, but by the scenario it is always up", allowed)
    if up and grid is not None and grid.never_on:
        count.fault(values, "up", "the grid up, but by the scenario there is none", "power.grid with up and down")


def battery_of(count: Count) -> int | None:
    """Return the charge of the battery in per mille, None for full or a strategy without one."""
    power: Power | None = count.setting.parts.get("power")
    battery: Battery | None = power.battery if power is not None else None
    return count.stated.battery_permille if battery is not None else None


def fuel_of(count: Count) -> int | None:
    """Return the fuel in mL, None for a full tank or a strategy without one."""
    power: Power | None = count.setting.parts.get("power")
    generator: Generator | None = power.generator if power is not None else None
    fuel_ml = count.stated.fuel_ml
    if fuel_ml is None or generator is None or generator.tank_ml is None:
        return None
    if fuel_ml > generator.tank_ml:
        found = f"{fuel_ml / 1_000:g} L, but the tank holds {generator.tank_ml / 1_000:g} L"
        count.fault(count.values, "fuel", found, "at most the tank")
    return fuel_ml
