"""Power: the grid goes down and comes back, by itself, by plan, by record, or in its voltage."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import whole_draw
from o2sim.model.kernel.battery import begin_solar, follow_battery
from o2sim.model.kernel.chain import backed, grid_usable
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.generator import begin_generator, follow_fuel, run_generator
from o2sim.model.kernel.layout import NONE, note, spell_at, start_at
from o2sim.model.kernel.repairs import surge
from o2sim.model.kernel.supply import credit_chain, shift_load, switch_supply
from o2sim.model.rules import DRAWN, LISTED, VOLTAGE


def _lasts_s(k: Record, law: Record, stream: Whole, ordinal: Whole) -> Whole:
    return whole_draw(law, 1, k.seed, k.replication, stream, np.uint64(0), ordinal)


def begin_power(k: Record) -> None:
    """Schedule the first power cut after a fresh up-time; without a grid there is no power from the start."""
    r = k.rules
    begin_generator(k)
    begin_solar(k)
    if r.has_grid and r.grid_up_s.kind >= 0 and r.grid_down_s.kind >= 0:
        _begin_grid(k)
    elif r.has_grid and r.grid_never_on:
        k.grid_up = k.grid_holds[DRAWN] = False
        _take_grid(k, False, True)
    _next_listed_cut(k, 0)
    start = start_at(k, 0)
    if r.has_power_voltage and (not start.present or start.voltage_good):
        good_s = start.voltage_rest_s
        if not start.present:
            good_s = _lasts_s(k, r.power_voltage_good_s, STREAM.VOLTAGE_GOOD, 0)
        schedule(k, good_s, RANK.POWER_LOST, VOLTAGE, STEP.VOLTAGE_LOST, NONE, 0)
    elif r.has_power_voltage:
        _take_grid(k, k.grid_up, False)
        schedule(k, start.voltage_rest_s, RANK.POWER_RESTORED, VOLTAGE, STEP.VOLTAGE_RESTORED, NONE, 0)


def _begin_grid(k: Record) -> None:
    """Let the drawn grid be up for a fresh time, or as it was counted: in a cut, or up for the rest."""
    start = start_at(k, 0)
    k.cuts = k.cut_number = start.cuts
    if not start.present or start.grid_up:
        rest_s = start.grid_rest_s if start.present else _lasts_s(k, k.rules.grid_up_s, STREAM.GRID_UP, 0)
        schedule(k, rest_s, RANK.POWER_LOST, DRAWN, STEP.POWER_LOST, NONE, 0)
        return
    k.grid_up = k.grid_holds[DRAWN] = False
    _take_grid(k, False, True)
    schedule(k, start.grid_rest_s, RANK.POWER_RESTORED, DRAWN, STEP.POWER_RESTORED, NONE, 0)


def power_lost(k: Record) -> None:
    """The grid goes down by itself."""
    due_s = k.now + _lasts_s(k, k.rules.grid_down_s, STREAM.GRID_DOWN, k.cuts)
    schedule(k, due_s, RANK.POWER_RESTORED, DRAWN, STEP.POWER_RESTORED, NONE, 0)
    k.cuts += 1
    _grid_part(k, DRAWN, False)


def power_restored(k: Record) -> None:
    """The grid is sound again."""
    due_s = k.now + _lasts_s(k, k.rules.grid_up_s, STREAM.GRID_UP, k.cuts)
    schedule(k, due_s, RANK.POWER_LOST, DRAWN, STEP.POWER_LOST, NONE, 0)
    _grid_part(k, DRAWN, True)


def _next_listed_cut(k: Record, place: Whole) -> None:
    """Schedule a cut of the load-shedding windows or of a recorded list, by its place in the run."""
    if place < k.cuts_listed_count:
        start_s = spell_at(k.cuts_listed, place).start_s
        schedule(k, start_s, RANK.POWER_LOST, LISTED, STEP.LISTED_CUT, NONE, place)


def listed_cut(k: Record, place: Whole) -> None:
    """The grid is switched off by plan, or by the record."""
    end_s = spell_at(k.cuts_listed, place).end_s
    schedule(k, end_s, RANK.POWER_RESTORED, LISTED, STEP.LISTED_CUT_ENDS, NONE, place)
    _grid_part(k, LISTED, False)


def listed_cut_ends(k: Record, place: Whole) -> None:
    """A planned or recorded cut is over."""
    _next_listed_cut(k, place + 1)
    _grid_part(k, LISTED, True)


def _grid_part(k: Record, part: Whole, holds: Whole) -> None:
    """Bring the grid up or down with its parts: it is up while all of them hold."""
    k.grid_holds[part] = holds
    up = k.grid_holds[0] + k.grid_holds[1] == 2
    if up == k.grid_up:
        return
    note(k, LOG.POWER_RESTORED if up else LOG.POWER_LOST, -1, -1, -1)
    credit_power(k)
    k.grid_up = up
    if up:
        surge(k)
    else:
        k.cut_number += 1
        k.ledger.power_cuts += 1
    _take_grid(k, up, k.chain.voltage_good)


def voltage_lost(k: Record, ordinal: Whole) -> None:
    """The voltage of the grid becomes unusable for the units."""
    note(k, LOG.VOLTAGE_LOST, -1, -1, -1)
    due_s = k.now + _lasts_s(k, k.rules.power_voltage_bad_s, STREAM.VOLTAGE_BAD, ordinal)
    schedule(k, due_s, RANK.POWER_RESTORED, VOLTAGE, STEP.VOLTAGE_RESTORED, NONE, ordinal)
    _take_grid(k, k.grid_up, False)


def voltage_restored(k: Record, ordinal: Whole) -> None:
    """The voltage of the grid is usable again."""
    note(k, LOG.VOLTAGE_RESTORED, -1, -1, -1)
    due_s = k.now + _lasts_s(k, k.rules.power_voltage_good_s, STREAM.VOLTAGE_GOOD, ordinal + 1)
    schedule(k, due_s, RANK.POWER_LOST, VOLTAGE, STEP.VOLTAGE_LOST, NONE, ordinal + 1)
    _take_grid(k, k.grid_up, True)


def _take_grid(k: Record, up: Whole, voltage_good: Whole) -> None:
    """Let what stands behind the grid answer to the state of the grid."""
    chain, was_usable = k.chain, grid_usable(k)
    credit_chain(k)
    chain.grid_up, chain.voltage_good = up, voltage_good
    if grid_usable(k) != was_usable:
        if was_usable:
            chain.unusable_since_s = k.now
        run_generator(k)
        switch_supply(k)


def carry_load(k: Record) -> None:
    """After all else has settled: follow what the units running now take from battery and tank."""
    if backed(k) and shift_load(k):
        follow_battery(k)
        follow_fuel(k)


def credit_power(k: Record) -> None:
    """Count the seconds without grid since they were last counted."""
    if not k.grid_up:
        k.ledger.power_out_s += k.now - k.grid_since_s
    k.grid_since_s = k.now
    credit_chain(k)


compile_file(globals())
