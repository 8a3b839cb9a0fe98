"""Levels: how many cylinders, outlets and units are in use at once, looked at when all is settled."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import level_at, number_at, store_at, unit_at
from o2sim.model.levels import KINDS, NOT_COUNTED
from o2sim.model.power import Supply

_ON_GENERATOR, _ON_BATTERY = int(Supply.GENERATOR), int(Supply.BATTERY)
# In the order of AtOnce.
CYLINDERS, ON_CYLINDERS, OUTLETS, RUNNING = range(4)
BY_GENERATOR, BY_BATTERY, OUT, IN_REPAIR = range(4, KINDS)


def _in_use(k: Record) -> Whole:
    """Return the cylinders of all sizes in use."""
    count = 0
    for size in range(k.store_count):
        count += store_at(k, size).in_use
    return count


def count_levels(k: Record) -> None:
    """Count what is in use from now on, where it has changed."""
    _count(k, CYLINDERS, _in_use(k))
    _count(k, ON_CYLINDERS, k.on_cylinder)
    if k.units_changed:
        k.units_changed = False
        supply, running = k.chain.supply, k.running
        _count(k, OUTLETS, k.outlets_used)
        _count(k, RUNNING, running)
        _count(k, BY_GENERATOR, running if supply == _ON_GENERATOR else NOT_COUNTED)
        _count(k, BY_BATTERY, running if supply == _ON_BATTERY else NOT_COUNTED)
        _count(k, OUT, k.out_of_order)
        _count(k, IN_REPAIR, k.in_repair)


def _count(k: Record, kind: Whole, level: Whole) -> None:
    found = level_at(k, kind)
    if found.level != level:
        _credit(k, found)
        found.level = level


def _credit(k: Record, found: Record) -> None:
    """Bring one histogram up to this second."""
    if found.level != NOT_COUNTED:
        number_at(found.seconds, found.level).value += k.now - found.since_s
    found.since_s = k.now


def credit_levels(k: Record) -> None:
    """Bring the histograms up to this second."""
    k.levels_covered_s += k.now - k.levels_since_s
    k.levels_since_s = k.now
    for kind in range(KINDS):
        _credit(k, level_at(k, kind))


def clear_levels(k: Record) -> None:
    """Forget the warm-up, after `credit_levels`; what is in use stays in use."""
    for kind in range(KINDS):
        found = level_at(k, kind)
        for place in range(found.room):
            number_at(found.seconds, place).value = 0
    for number in range(k.unit_count):
        unit_at(k, number).running_s = 0
    k.levels_covered_s = 0


def by_level(k: Record, kind: Whole) -> Whole:
    """Return the sum of level x seconds of a kind."""
    found, total = level_at(k, kind), 0
    for place in range(found.room):
        total += place * number_at(found.seconds, place).value
    return total


def levels_balance(k: Record) -> Whole:
    """Return True if no second is missing, and time by level adds up to the units' running seconds."""
    running_s, cylinders_s, units_s = 0, 0, 0
    for number in range(k.unit_count):
        running_s += unit_at(k, number).running_s
    for place in range(level_at(k, CYLINDERS).room):
        cylinders_s += number_at(level_at(k, CYLINDERS).seconds, place).value
    for place in range(level_at(k, RUNNING).room):
        units_s += number_at(level_at(k, RUNNING).seconds, place).value
    outlets = 0
    for number in range(k.unit_count):
        outlets += unit_at(k, number).patient_count
    return (
        level_at(k, OUTLETS).level == outlets
        and cylinders_s == units_s == k.levels_covered_s
        and by_level(k, RUNNING) == running_s == k.ledger.concentrator_running_s
        and by_level(k, BY_GENERATOR) + by_level(k, BY_BATTERY) == k.ledger.off_grid_running_s
        and level_at(k, CYLINDERS).level == _in_use(k)
        and level_at(k, ON_CYLINDERS).level == k.on_cylinder
    )


compile_file(globals())
