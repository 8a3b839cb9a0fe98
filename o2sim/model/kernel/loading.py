"""Loading: how many cylinders of each size an order holds where the lorry, or anything else, is short."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import NONE, open_at, patient_at, store_at
from o2sim.model.kernel.on_cylinder import gas_left
from o2sim.model.kernel.store import usable_on_hand
from o2sim.model.rules import BOOK_DAYS


def load(k: Record, cylinders: Whole, spaces: Whole) -> None:
    """Write down how many of what is backed of each size an order holds, on a lorry for so many (NONE: no limit).

    One cylinder at a time for the size with the fewest days of cover, in ties the first in the file, until nothing
    fits.
    """
    for size in range(k.store_count):
        store_at(k, size).loaded = store_at(k, size).backed
    if _carries(k, cylinders, spaces):
        return
    for size in range(k.store_count):
        store_at(k, size).loaded = 0
        _reckon_cover(k, store_at(k, size))
    next_one = _next_one(k, cylinders, spaces)
    while next_one != NONE:
        s = store_at(k, next_one)
        s.loaded += 1
        s.cover_gas += max(0, s.full_gas - s.keep_gas)
        next_one = _next_one(k, cylinders, spaces)


def _next_one(k: Record, cylinders: Whole, spaces: Whole) -> Whole:
    """Return the size of the next cylinder to be loaded, NONE where nothing fits."""
    best = NONE
    for size in range(k.store_count):
        s = store_at(k, size)
        if s.loaded < s.backed and has_room(k, s, cylinders, spaces):
            if best == NONE or _sooner_over(s, store_at(k, best)):
                best = size
    return best


def has_room(k: Record, s: Record, cylinders: Whole, spaces: Whole) -> Whole:
    """Return True if one more cylinder of a size fits on a lorry."""
    s.loaded += 1
    room = _carries(k, cylinders, spaces)
    s.loaded -= 1
    return room


def _carries(k: Record, cylinders: Whole, spaces: Whole) -> Whole:
    """Return True if all that is loaded fits on a lorry."""
    count, taken = 0, 0
    for size in range(k.store_count):
        s = store_at(k, size)
        count += s.loaded
        taken += s.loaded * s.space
    return (cylinders == NONE or count <= cylinders) and (spaces == NONE or taken <= spaces)


def _reckon_cover(k: Record, s: Record) -> None:
    """Write down the gas of a size on hand and on order, and what was drawn of it in the days of the book."""
    s.cover_gas = _on_hand(k, s) + s.on_order * max(0, s.full_gas - s.keep_gas)
    s.cover_drawn = 0
    for day in range(BOOK_DAYS):
        s.cover_drawn += s.book[day]


def _sooner_over(s: Record, other: Record) -> Whole:
    """Return True if a size has fewer days of cover than another; one of which nothing was drawn lasts for ever.

    The fractions are compared by their continued fractions: products would not fit a word for a large fleet.
    """
    a, b, c, d = s.cover_gas, s.cover_drawn, other.cover_gas, other.cover_drawn
    if b == 0 or d == 0:
        return b != 0
    while True:
        if a // b != c // d:
            return a // b < c // d
        a, c = a % b, c % d
        if a == 0 or c == 0:
            return a == 0 and c != 0
        a, b, c, d = d, c, b, a


def _on_hand(k: Record, s: Record) -> Whole:
    """Return the gas above residual content in cylinders of a size at this second, those in use included."""
    gas, place = usable_on_hand(k, s), k.first_open
    while place != NONE:
        c = open_at(k, place)
        if c.of_size == s.number:
            gas += max(0, gas_left(k, c) - s.keep_gas)
        place = c.after
    slot = k.first_present if k.at_beds > 0 else NONE
    while slot != NONE:
        p = patient_at(k, slot)
        if p.backup_kind != NONE and p.backup_size == s.number:
            gas += max(0, p.backup_content - s.keep_gas)
        slot = p.after
    return gas


compile_file(globals())
