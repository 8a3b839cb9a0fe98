"""The calendar of the compiled engine against Python's heapq."""

import heapq
import random

import pytest

from o2sim.compiler import jit
from o2sim.model.kernel import events
from o2sim.model.kernel.packing import record


def calendar_of(room: int):  # type: ignore[no-untyped-def]
    """A run with an empty calendar, and what it points to."""
    places, heap, run = jit.memory(events.EVENT, room), jit.memory(events.DUE, room + 1), jit.memory(RUN, 1)
    calendar = run[0].calendar
    calendar.events, calendar.heap = jit.address(places), jit.address(heap)
    calendar.room, calendar.free = room, events.NONE
    return run, (places, heap)


RUN = record(("calendar", events.EVENTS))
_run = jit.records(RUN)


@jit.cached
def put(at, time_s, rank, item, step):  # type: ignore[no-untyped-def]
    """Schedule an event."""
    return events.schedule(_run(at, 0), time_s, rank, item, step, 0, 0)


@jit.cached
def drop(at, handle):  # type: ignore[no-untyped-def]
    """Call an event off."""
    return events.call_off(_run(at, 0), handle)


@jit.cached
def take(at):  # type: ignore[no-untyped-def]
    """Take the next event."""
    return events.take_next(_run(at, 0)).step


@pytest.mark.parametrize("seed", range(3))
def test_events_come_out_in_order_against_heapq(seed: int) -> None:
    """Scheduled, called off and taken at random, events come by time, rank, item and order of scheduling."""
    luck, (run, kept) = random.Random(seed), calendar_of(200)
    at, ours, theirs, handles = jit.address(run), [], [], {}
    pending: list[tuple[int, int, int, int]] = []
    for nth in range(3_000):
        chance = luck.random()
        if chance < 0.5 and len(pending) < 200:
            key = (luck.randrange(50), luck.randrange(4), luck.randrange(3), nth)
            handles[key] = put(at, *key)
            heapq.heappush(pending, key)
        elif chance < 0.65 and pending:
            key = luck.choice(pending)
            pending.remove(key)
            heapq.heapify(pending)
            assert drop(at, handles[key]) == events.NONE
            drop(at, handles[key])  # a second time does nothing
        elif pending:
            theirs.append(heapq.heappop(pending)[-1])
            ours.append(int(take(at)))
    assert ours == theirs
    assert run[0].calendar.pending == len(pending)
    assert len(kept) == 2


def test_a_full_calendar_says_so() -> None:
    """More events than there is room for set the status, and none is put in unseen."""
    run, _kept = calendar_of(2)
    for nth in range(3):
        put(jit.address(run), nth, 0, 0, nth)
    assert (run[0].calendar.status, run[0].calendar.pending) == (events.FULL, 2)
