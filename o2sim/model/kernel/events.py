"""What is to happen and when: schedule, call off, take the next. A binary heap that knows where each event stands.

Events go by time, then rank, then item, then in the order in which they were scheduled, as in the reference.
"""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.packing import record

NONE = -1  # no event
ITEMS = 1 << 40  # more than the items within one rank
FULL = 1  # status: there was no room for another event

EVENT = record(  # one place for an event; it is used again and again
    "turn",  # how often it has been used: a handle of an earlier turn points to nothing
    "place",  # in the heap, or the next free one
    "step",
    "who more",  # what the step is about: a patient, a unit, an order
)
DUE = record("time_s by nth event")  # one place of the heap
EVENTS = record(  # the calendar of a run
    "events",  # address of `room` records of EVENT
    "heap",  # address of `room` + 1 records of DUE; the last is spare
    "room pending free",
    "used",  # places that were ever used
    "scheduled status",
)
_event, _due = jit.records(EVENT), jit.records(DUE)


def schedule(k: Record, time_s: Whole, rank: Whole, item: Whole, step: Whole, who: Whole, more: Whole) -> Whole:
    """Put an event into the calendar and return its handle."""
    calendar, slot = k.calendar, k.calendar.free
    if slot != NONE:
        calendar.free = _event(calendar.events, slot).place
    elif calendar.used < calendar.room:
        slot = calendar.used
        calendar.used += 1
    else:
        calendar.status = FULL
        return NONE
    event = _event(calendar.events, slot)
    event.step, event.who, event.more = step, who, more
    event.turn += 1
    calendar.scheduled += 1
    due = _due(calendar.heap, calendar.room)
    due.time_s, due.by, due.nth, due.event = time_s, rank * ITEMS + item + 1, calendar.scheduled, slot
    calendar.pending += 1
    _rise(calendar, calendar.pending - 1)
    return (event.turn << 32) | slot


def call_off(k: Record, handle: Whole) -> Whole:
    """Take an event out of the calendar, if it is still in it; return the handle of none."""
    if handle == NONE:
        return NONE
    calendar, slot = k.calendar, handle & 0xFFFFFFFF
    event = _event(calendar.events, slot)
    if event.turn == handle >> 32:
        _take(calendar, event.place)
        _release(calendar, slot)
    return NONE


def hand_on(k: Record, handle: Whole, who: Whole) -> None:
    """Let a pending event be about somebody else."""
    event = _event(k.calendar.events, handle & 0xFFFFFFFF)
    if event.turn == handle >> 32:
        event.who = who


def next_time_s(k: Record, otherwise_s: Whole) -> Whole:
    """Return when the next event is due."""
    return _due(k.calendar.heap, 0).time_s if k.calendar.pending > 0 else otherwise_s


def take_next(k: Record) -> Record:
    """Take the next event out and return it; what it says holds until another is scheduled."""
    slot = _due(k.calendar.heap, 0).event
    _take(k.calendar, 0)
    _release(k.calendar, slot)
    return _event(k.calendar.events, slot)


def _release(calendar: Record, slot: Whole) -> None:
    event = _event(calendar.events, slot)
    event.turn += 1  # no handle points to it now
    event.place = calendar.free
    calendar.free = slot


def _before(one: Record, other: Record) -> Whole:
    """Return True if one due event goes before another."""
    if one.time_s != other.time_s:
        return one.time_s < other.time_s
    if one.by != other.by:
        return one.by < other.by
    return one.nth < other.nth


def _move(calendar: Record, source: Whole, target: Whole) -> None:
    """Write what stands in one place of the heap into another."""
    due, there = _due(calendar.heap, source), _due(calendar.heap, target)
    there.time_s, there.by, there.nth, there.event = due.time_s, due.by, due.nth, due.event
    _event(calendar.events, there.event).place = target


def _rise(calendar: Record, place: Whole) -> None:
    """Let what stands in the spare place behind the heap sink in from a place upwards."""
    spare = _due(calendar.heap, calendar.room)
    while place > 0 and _before(spare, _due(calendar.heap, (place - 1) >> 1)):
        _move(calendar, (place - 1) >> 1, place)
        place = (place - 1) >> 1
    _move(calendar, calendar.room, place)


def _sink(calendar: Record, place: Whole) -> None:
    """Let what stands in the spare place behind the heap sink in from a place downwards.

    It was the last and mostly belongs far down: the hole sinks to the bottom, then it rises from there.
    """
    while 2 * place + 1 < calendar.pending:
        child = 2 * place + 1
        if child + 1 < calendar.pending and _before(_due(calendar.heap, child + 1), _due(calendar.heap, child)):
            child += 1
        _move(calendar, child, place)
        place = child
    _rise(calendar, place)


def _take(calendar: Record, place: Whole) -> None:
    """Take the event at a place out of the heap; the last one fills the hole."""
    calendar.pending -= 1
    last = calendar.pending
    if place == last:
        return
    _move(calendar, last, calendar.room)
    if place > 0 and _before(_due(calendar.heap, calendar.room), _due(calendar.heap, (place - 1) >> 1)):
        _rise(calendar, place)
    else:
        _sink(calendar, place)


jit.compile_file(globals())
