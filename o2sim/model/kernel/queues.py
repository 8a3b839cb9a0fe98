"""Rows of cylinders, first in, first out, though one may be taken from the middle; lines of patients."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import number_at, patient_at, waiting_at


def _within(queue: Record, place: Whole) -> Whole:
    """Return a place in a ring that may be one round too far; a division would take longer."""
    return place - queue.room if place >= queue.room else place


def content_at(queue: Record, place: Whole) -> Whole:
    """Return the content of the cylinder at a place in the row."""
    return number_at(queue.at, _within(queue, queue.head + place)).value


def put_last(queue: Record, content: Whole) -> None:
    """Put a cylinder at the end of a row."""
    number_at(queue.at, _within(queue, queue.head + queue.count_)).value = content
    queue.count_ += 1


def put_first(queue: Record, content: Whole) -> None:
    """Put a cylinder at the head of a row."""
    queue.head = _within(queue, queue.head + queue.room - 1)
    number_at(queue.at, queue.head).value = content
    queue.count_ += 1


def take_first(queue: Record) -> Whole:
    """Take the cylinder at the head of a row and return its content."""
    content = content_at(queue, 0)
    queue.head = _within(queue, queue.head + 1)
    queue.count_ -= 1
    return content


def take_at(queue: Record, place: Whole) -> Whole:
    """Take the cylinder at a place out of the row and return its content."""
    content = content_at(queue, place)
    for before in range(place, 0, -1):
        number_at(queue.at, _within(queue, queue.head + before)).value = content_at(queue, before - 1)
    queue.head = _within(queue, queue.head + 1)
    queue.count_ -= 1
    return content


def total(queue: Record) -> Whole:
    """Return the gas in a row."""
    gas = 0
    for place in range(queue.count_):
        gas += content_at(queue, place)
    return gas


def before(p: Record, other: Record) -> Whole:
    """Return True if a patient goes before another: by priority, then by arrival."""
    return p.priority < other.priority or (p.priority == other.priority and p.number < other.number)


def rank(k: Record, where: Whole, count: Whole, slot: Whole) -> Whole:
    """Put a patient by place in line among the first `count` slots at an address; return how many there are."""
    place, p = count, patient_at(k, slot)
    while place > 0 and before(p, patient_at(k, number_at(where, place - 1).value)):
        number_at(where, place).value = number_at(where, place - 1).value
        place -= 1
    number_at(where, place).value = slot
    return count + 1


def line_up(where: Whole, count: Whole, priority: Whole, number: Whole, slot: Whole) -> Whole:
    """Put a patient into a line by priority, then number; return how many are in it."""
    place = count
    while place > 0:
        before = waiting_at(where, place - 1)
        if before.priority < priority or (before.priority == priority and before.number < number):
            break
        _shift(where, place - 1, place)
        place -= 1
    there = waiting_at(where, place)
    there.priority, there.number, there.slot = priority, number, slot
    return count + 1


def leave_line(where: Whole, count: Whole, slot: Whole) -> Whole:
    """Take a patient out of a line, if in it; return how many are in it."""
    for place in range(count):
        if waiting_at(where, place).slot == slot:
            for later in range(place + 1, count):
                _shift(where, later, later - 1)
            return count - 1
    return count


def _shift(where: Whole, source: Whole, target: Whole) -> None:
    one, other = waiting_at(where, source), waiting_at(where, target)
    other.priority, other.number, other.slot = one.priority, one.number, one.slot


def bedside_item(p: Record) -> Whole:
    """Return the item number of a patient's bedside events: staff go by priority, then by arrival."""
    return (p.priority << 32) + p.number


compile_file(globals())
