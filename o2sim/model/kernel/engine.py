"""Run a hospital with its draws and return what the run found: the compiled engine as Python calls it."""

from __future__ import annotations

import time

from o2sim.draws import Draws
from o2sim.draws.cuts import are_drawn
from o2sim.draws.funds import as_records
from o2sim.draws.spells import spell_records
from o2sim.errors import InvariantError, O2simError
from o2sim.model.kernel import layout, records
from o2sim.model.kernel.events import FULL
from o2sim.model.kernel.loop import PAUSED, run
from o2sim.model.kernel.memory import LEAST_ROOM, Array, Finished, Memory
from o2sim.model.kernel.packed import PackedHospital, pack
from o2sim.outcome import LogEntry
from o2sim.scenario.types.hospital import Hospital

_LINES = 1 << 14  # of the log, to begin with
_TRIES = 24  # each with twice the room of the one before
_NO_SPELLS, _NO_TIMES = spell_records(()), as_records([])  # of a hospital without shocks, and without funds
_STEPS = 1 << 14  # that the loop takes at first before it comes back to Python: a few ms in most hospitals
_PAUSE_S = 0.25  # about how often it comes back, so that Ctrl-C is heard in a replication of minutes


def run_kernel(hospital: Hospital, draws: Draws, log: bool = False) -> Finished:
    """Run one replication; return what is left at the end of the horizon.

    Raises InvariantError if a balance breaks. Where a run needs more room than it was given it is run again with
    twice as much: draws depend on nothing that happens.
    """
    packed, rows = pack(hospital), draws.sample(hospital).rows
    spells = drawn(packed, draws)
    at_start = draws.start(hospital), draws.lives(hospital)
    memory = _spare(packed, _LINES if log else 0)
    for _ in range(_TRIES):
        status = _to_its_end(memory, memory.start(rows, spells, draws.key, *at_start))
        if status == FULL:
            memory = Memory(packed, 2 * memory.room, memory.lines)
        elif status != 0:
            raise InvariantError(
                f"balance broken (number {status}) in the compiled engine. This is a defect of o2sim; "
                "please report the scenario and seed"
            )
        elif memory.lines_written > memory.lines > 0:
            memory = Memory(packed, memory.room, memory.lines_written)
        else:
            found = memory.finished()
            if memory.lines == 0:
                packed.spare.append(memory)
            return found
    raise O2simError("the compiled engine found no room for the events of a run; try --engine reference")


def drawn(packed: PackedHospital, draws: Draws) -> tuple[Array, ...]:
    """Return what is drawn beside patients: cuts, closures, outages, storms, allotments, failing suppliers."""
    hospital = packed.hospital
    cuts = draws.listed_cut_records(hospital) if are_drawn(hospital) else packed.cuts
    roads = draws.closure_records(hospital), draws.outage_records(hospital)
    storms = draws.shock_records(hospital) if hospital.shocks else _NO_SPELLS
    if hospital.funds is None:
        return cuts, *roads, storms, _NO_TIMES, _NO_TIMES
    money = draws.allotments(hospital), draws.failures_of_supplier(hospital)
    return cuts, *roads, storms, *(as_records(times) for times in money)


def _to_its_end(memory: Memory, where: int) -> int:
    """Run the loop until it is at the end or has stopped; return its status. Signals are heard on the way."""
    steps, status = _STEPS, PAUSED
    while status == PAUSED:
        memory.pause_after(steps)
        began = time.perf_counter()
        status = int(run(where))
        steps = _at_a_time(steps, time.perf_counter() - began)
    return status


def _at_a_time(steps: int, took_s: float) -> int:
    """Return how many steps the loop takes next, where so many took this long: at most eight times as many."""
    return max(1, int(steps * min(8.0, _PAUSE_S / max(took_s, 1e-9))))


def _spare(packed: PackedHospital, lines: int) -> Memory:
    """Return memory that an earlier run has done with, or new one; each run in each thread has its own."""
    if lines == 0:
        try:
            return packed.spare.pop()  # type: ignore[no-any-return]
        except IndexError:
            pass
    return Memory(packed, LEAST_ROOM + 1, lines)


def read_log(lines: Array) -> tuple[LogEntry, ...]:
    """Return records of records.LOG as the entries that the reference writes."""
    if len(lines) == 0:
        return ()
    rows = zip(*(lines[name].tolist() for name in records.LOG.names or ()), strict=True)
    return tuple(LogEntry(time_s, layout.STEP_NAMES[step], *rest) for time_s, step, *rest in rows)
