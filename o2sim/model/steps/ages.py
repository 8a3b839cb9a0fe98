"""Ages: the first life of a unit that is not new, units that wait for a repair at the start, clocks that go on."""

from __future__ import annotations

from o2sim.model.bank import Unit
from o2sim.model.rules import FAILURE
from o2sim.model.state import State


def next_life_s(unit: Unit) -> int:
    """Return how long a unit works that is new, repaired, or goes on with its clock; -1: it never fails."""
    if unit.failures is None:
        return -1
    if unit.rules.repaired_as == "old":
        return unit.life_left_s or unit.lives[unit.lives_over]
    return unit.lives[unit.failed] if unit.failed < len(unit.lives) else unit.failures[unit.failed]


def stop_life(state: State, unit: Unit) -> None:
    """Note where the clock of a unit stands that is taken out: what is left of its life, or that it is over."""
    if unit.failures is None or unit.rules.repaired_as == "new":
        return
    calendar = unit.rules.failure_clock == "calendar"
    unit.life_left_s = unit.fails_s - state.now if calendar else unit.timers[FAILURE].remaining_s
    unit.lives_over += unit.life_left_s == 0
