"""Levels: how many cylinders, outlets and units are in use at once, looked at when all is settled."""

from __future__ import annotations

from o2sim.model.levels import NOT_COUNTED
from o2sim.model.power import Supply
from o2sim.model.state import State


def count_levels(state: State) -> None:
    """Count what is in use from now on, if it has changed."""
    levels = state.levels
    cylinders = sum(store.in_use for store in state.stores), len(state.on_cylinder)
    if levels.units_changed:
        levels.units_changed = False
        levels.change((*cylinders, *_units(state)), state.now)
    elif levels.levels[:2] != cylinders:
        levels.change((*cylinders, *levels.levels[2:]), state.now)


def _units(state: State) -> tuple[int, ...]:
    """Return the levels of the concentrators, in the order of AtOnce."""
    outlets = running = out = 0
    for unit in state.bank.units if state.bank is not None else ():
        outlets += len(unit.patients)
        running += bool(unit.patients)
        out += not unit.working
    supply = state.chain.supply
    on_generator = running if supply == Supply.GENERATOR else NOT_COUNTED
    on_battery = running if supply == Supply.BATTERY else NOT_COUNTED
    return outlets, running, on_generator, on_battery, out, state.levels.in_repair
