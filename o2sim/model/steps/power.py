"""Power: the grid goes down and comes back."""

from __future__ import annotations

from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.units import cut_off, resume


def begin_power(state: State) -> None:
    """Schedule the first power cut after a fresh up-time; without a grid there is no power from the start."""
    if state.grid is not None:
        state.clock.at(state.grid[0][0], Rank.POWER_LOST, 0, power_lost)
    elif state.rules.grid is not None:
        state.grid_up = False
        if state.bank is not None:
            state.bank.powered = False


def power_lost(state: State) -> None:
    """The grid goes down: every unit stops."""
    state.note("power lost")
    credit_power(state)
    state.grid_up = False
    state.ledger.power_cuts += 1
    assert state.grid is not None
    state.clock.at(state.now + state.grid[1][state.cuts], Rank.POWER_RESTORED, 0, power_restored)
    state.cuts += 1
    if state.bank is not None:
        state.bank.powered = False
        for unit in state.bank.units:
            cut_off(state, unit)


def power_restored(state: State) -> None:
    """The grid comes back: units run again."""
    assert state.grid is not None
    state.note("power restored")
    credit_power(state)
    state.grid_up = True
    state.clock.at(state.now + state.grid[0][state.cuts], Rank.POWER_LOST, 0, power_lost)
    if state.bank is not None:
        state.bank.powered = True
        for unit in state.bank.units:
            resume(state, unit)


def credit_power(state: State) -> None:
    """Count the seconds without grid since they were last counted."""
    if not state.grid_up:
        state.ledger.power_out_s += state.now - state.grid_since_s
    state.grid_since_s = state.now
