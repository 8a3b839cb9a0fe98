"""Lives of units that are worked out ahead: the first of one that is not new, and all of a clock that goes on.

A repaired unit whose clock goes on where it stood fails as it would have at that age (minimal repair): its lives
follow from age to age, whatever else takes it out between them.
"""

from __future__ import annotations

import numpy as np

from o2sim.draws.laws import whole
from o2sim.draws.met import Key, ages_of
from o2sim.draws.philox import Item, uniforms
from o2sim.draws.under_way import rest
from o2sim.scenario.types.hospital import Hospital, Law, UnitGroup

Lives = tuple[tuple[int, ...], ...]
_AT_ONCE = 16  # lives whose luck is drawn together


def lives_of(key: Key, hospital: Hospital) -> Lives:
    """Return the lives (s) of each unit by ordinal, as far as they are worked out ahead; nothing if none are."""
    units = hospital.concentrators
    if units is None or not any(ahead(group) for group in units.groups):
        return ()
    found: list[tuple[int, ...]] = []
    for number, item in enumerate(units.items):
        group = units.group_of(number)
        law = group.rules.failure_s
        if law is None or not ahead(group):
            found.append(())
        elif group.rules.repaired_as == "old":
            found.append(_all(key, item, law, age_at_start_s(key, hospital, number), hospital.end_s))
        else:
            works = number < group.first + group.working
            found.append((_first(key, item, law, group.age_s),) if works else ())
    return tuple(found)


def ahead(group: UnitGroup) -> bool:
    """Return True where lives of a group are worked out ahead."""
    return group.rules.failure_s is not None and (group.age_s > 0 or group.rules.repaired_as == "old")


def known_age_s(hospital: Hospital, number: int) -> int | None:
    """Return how old a unit is by the clock of its failures: by its meter, or as stated; None for unknown."""
    units, now = hospital.concentrators, hospital.now
    assert units is not None
    group, met = units.group_of(number), now.units if now is not None else None
    if met is not None and group.rules.failure_clock == "running" and number < min(met.working, len(met.meters_s)):
        return met.meters_s[number]
    return group.age_s or None


def age_at_start_s(key: Key, hospital: Hospital, number: int) -> int:
    """Return the age at which a unit begins; met at a count, and nobody knows it: that of one met at random."""
    units, now = hospital.concentrators, hospital.now
    assert units is not None
    group, known = units.group_of(number), known_age_s(hospital, number)
    law = group.rules.failure_s
    if known is not None or now is None or law is None or is_added(hospital, number):
        return known or 0
    return int(ages_of(law, [None], uniforms(*key, "age of a unit", units.items[number], 0, 1))[0])


def is_added(hospital: Hospital, number: int) -> bool:
    """Return True for a unit that a strategy adds to those that were counted."""
    met = hospital.now.units if hospital.now is not None else None
    return met is not None and number >= met.working + len(met.down_age_s)


def _first(key: Key, item: Item, law: Law, age_s: int) -> int:
    """Return how long a unit still works that has worked so long."""
    u = uniforms(*key, "concentrator failure", item, 0, 1)
    return int(whole(rest(law, np.array([float(age_s)]), u), 1)[0])


def _all(key: Key, item: Item, law: Law, age_s: int, until_s: int) -> tuple[int, ...]:
    """Return life after life of a clock that goes on from an age, until they are longer than the run together."""
    found: list[int] = []
    begun_s, u = age_s, np.zeros(0)
    while not found or age_s - begun_s <= until_s:
        nth = len(found)
        if nth % _AT_ONCE == 0:
            u = uniforms(*key, "concentrator failure", item, nth, _AT_ONCE)
        found.append(int(whole(rest(law, np.array([float(age_s)]), u[nth % _AT_ONCE : nth % _AT_ONCE + 1]), 1)[0]))
        age_s += found[-1]
    return tuple(found)
