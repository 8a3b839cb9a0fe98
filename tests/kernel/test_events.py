"""The calendar of the compiled engine against Python's heapq."""

import heapq
import random

import pytest

from o2sim.compiler import jit
from o2sim.model.kernel import events


def calendar_of(room: int):  # type: ignore[no-untyped-def]
    """An empty calendar, and what it points to."""
    places, heap, calendar = (
        jit.memory(events.EVENT, room),
        jit.memory(events.DUE, room + 1),
        jit.memory(events.EVENTS, 1),
    )
    calendar[0].events, calendar[0].heap = jit.address(places), jit.address(heap)
    calendar[0].room, calendar[0].free = room, events.NONE
    return calendar, (places, heap)


_calendar = jit.records(events.EVENTS)


@jit.cached
def put(at, time_s, rank, item, step):  # type: ignore[no-untyped-def]
    """Schedule an event."""
    return events.schedule(_calendar(at, 0), time_s, rank, item, step, 0, 0)


@jit.cached
def drop(at, handle):  # type: ignore[no-untyped-def]
    """Call an event off."""
    return events.call_off(_calendar(at, 0), handle)


@jit.cached
def take(at):  # type: ignore[no-untyped-def]
    """Take the next event."""
    calendar = _calendar(at, 0)
    return events.event_at(calendar, events.take_next(calendar)).step


@pytest.mark.parametrize("seed", range(3))
def test_events_come_out_in_order_against_heapq(seed: int) -> None:
    """Scheduled, called off and taken at random, events come by time, rank, item and order of scheduling."""
    luck, (calendar, kept) = random.Random(seed), calendar_of(200)
    at, ours, theirs, handles = jit.address(calendar), [], [], {}
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
    assert calendar[0].pending == len(pending)
    assert len(kept) == 2


def test_a_full_calendar_says_so() -> None:
    """More events than there is room for set the status, and none is put in unseen."""
    calendar, _kept = calendar_of(2)
    for nth in range(3):
        put(jit.address(calendar), nth, 0, 0, nth)
    assert (calendar[0].status, calendar[0].pending) == (events.FULL, 2)
