"""Power: the grid goes down and comes back, by itself, by plan, by record, or in its voltage."""

from __future__ import annotations

from o2sim.draws import Series
from o2sim.model.rules import DRAWN, LISTED, VOLTAGE, Rank
from o2sim.model.state import State
from o2sim.model.steps.battery import begin_solar, follow_battery
from o2sim.model.steps.generator import begin_generator, follow_fuel, run_generator
from o2sim.model.steps.repairs import surge
from o2sim.model.steps.supply import credit_chain, shift_load, switch_supply


def begin_power(state: State) -> None:
    """Schedule the first power cut after a fresh up-time; without a grid there is no power from the start."""
    begin_generator(state)
    begin_solar(state)
    if state.grid is not None:
        _begin_grid(state, state.grid[0])
    elif state.rules.grid is not None and state.rules.grid.never_on:
        state.grid_up = state.grid_holds[DRAWN] = False
        _take_grid(state, up=False, voltage_good=True)
    _next_listed_cut(state, 0)
    if state.voltage is not None and (state.start is None or state.start["voltage_good"]):
        good_s = state.voltage[0][0] if state.start is None else state.start["voltage_rest_s"]
        state.clock.at(good_s, Rank.POWER_LOST, VOLTAGE, voltage_lost, 0)
    elif state.voltage is not None and state.start is not None:
        _take_grid(state, up=state.grid_up, voltage_good=False)
        state.clock.at(state.start["voltage_rest_s"], Rank.POWER_RESTORED, VOLTAGE, voltage_restored, 0)


def _begin_grid(state: State, up: Series) -> None:
    """Let the drawn grid be up for a fresh time, or as it was counted: in a cut, or up for the rest."""
    start = state.start
    if start is None or start["grid_up"]:
        rest_s = up[0] if start is None else start["grid_rest_s"]
        state.cuts = state.cut_number = 0 if start is None else start["cuts"]
        state.clock.at(rest_s, Rank.POWER_LOST, DRAWN, power_lost)
        return
    state.cuts = state.cut_number = start["cuts"]
    state.grid_up = state.grid_holds[DRAWN] = False
    _take_grid(state, up=False, voltage_good=True)
    state.clock.at(start["grid_rest_s"], Rank.POWER_RESTORED, DRAWN, power_restored)


def power_lost(state: State) -> None:
    """The grid goes down by itself."""
    assert state.grid is not None
    state.clock.at(state.now + state.grid[1][state.cuts], Rank.POWER_RESTORED, DRAWN, power_restored)
    state.cuts += 1
    _grid_part(state, DRAWN, holds=False)


def power_restored(state: State) -> None:
    """The grid is sound again."""
    assert state.grid is not None
    state.clock.at(state.now + state.grid[0][state.cuts], Rank.POWER_LOST, DRAWN, power_lost)
    _grid_part(state, DRAWN, holds=True)


def _next_listed_cut(state: State, place: int) -> None:
    """Schedule a cut of the load-shedding windows or of a recorded list, by its place in the run."""
    if place < len(state.listed_cuts):
        state.clock.at(state.listed_cuts[place][0], Rank.POWER_LOST, LISTED, listed_cut, place)


def listed_cut(state: State, place: int) -> None:
    """The grid is switched off by plan, or by the record."""
    state.clock.at(state.listed_cuts[place][1], Rank.POWER_RESTORED, LISTED, listed_cut_ends, place)
    _grid_part(state, LISTED, holds=False)


def listed_cut_ends(state: State, place: int) -> None:
    """A planned or recorded cut is over."""
    _next_listed_cut(state, place + 1)
    _grid_part(state, LISTED, holds=True)


def _grid_part(state: State, part: int, *, holds: bool) -> None:
    """Bring the grid up or down with its parts: it is up while all of them hold."""
    state.grid_holds[part] = holds
    up = all(state.grid_holds)
    if up == state.grid_up:
        return
    state.note("power restored" if up else "power lost")
    credit_power(state)
    state.grid_up = up
    if up:
        surge(state)
    else:
        state.cut_number += 1
        state.ledger.power_cuts += 1
    _take_grid(state, up=up, voltage_good=state.chain.voltage_good)


def voltage_lost(state: State, ordinal: int) -> None:
    """The voltage of the grid becomes unusable for the units."""
    assert state.voltage is not None
    state.note("voltage lost")
    due_s = state.now + state.voltage[1][ordinal]
    state.clock.at(due_s, Rank.POWER_RESTORED, VOLTAGE, voltage_restored, ordinal)
    _take_grid(state, up=state.grid_up, voltage_good=False)


def voltage_restored(state: State, ordinal: int) -> None:
    """The voltage of the grid is usable again."""
    assert state.voltage is not None
    state.note("voltage restored")
    due_s = state.now + state.voltage[0][ordinal + 1]
    state.clock.at(due_s, Rank.POWER_LOST, VOLTAGE, voltage_lost, ordinal + 1)
    _take_grid(state, up=state.grid_up, voltage_good=True)


def _take_grid(state: State, *, up: bool, voltage_good: bool) -> None:
    """Let what stands behind the grid answer to the state of the grid."""
    chain = state.chain
    was_usable = chain.grid_usable
    credit_chain(state)
    chain.grid_up, chain.voltage_good = up, voltage_good
    if chain.grid_usable != was_usable:
        if was_usable:
            chain.unusable_since_s = state.now
        run_generator(state)
        switch_supply(state)


def carry_load(state: State) -> None:
    """After all else has settled: follow what the units running now take from battery and tank."""
    if state.chain.backed and shift_load(state):
        follow_battery(state)
        follow_fuel(state)


def credit_power(state: State) -> None:
    """Count the seconds without grid since they were last counted."""
    if not state.grid_up:
        state.ledger.power_out_s += state.now - state.grid_since_s
    state.grid_since_s = state.now
    credit_chain(state)
