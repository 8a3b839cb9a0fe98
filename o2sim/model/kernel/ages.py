"""Ages: the first life of a unit that is not new, units that wait for a repair at the start, clocks that go on."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.laws import whole_draw
from o2sim.model.kernel.codes import STREAM
from o2sim.model.kernel.layout import lives_at, number_at, rules_of
from o2sim.model.kernel.packing import code
from o2sim.model.rules import FAILURE
from o2sim.scenario.types.hospital import Concentrators

CALENDAR = code(Concentrators, "failure_clock", "calendar")
_OLD = code(Concentrators, "repaired_as", "old")


def unit_draw(k: Record, law: Record, stream: Whole, u: Record, ordinal: Whole, least: Whole) -> Whole:
    """Return one draw for a unit."""
    return whole_draw(law, least, k.seed, k.replication, stream, u.word, ordinal)


def next_life_s(k: Record, u: Record) -> Whole:
    """Return how long a unit works that is new, repaired, or goes on with its clock; -1: it never fails."""
    c = rules_of(k, u)
    if c.failure_s.kind < 0:
        return -1
    if k.has_lives:
        lives = lives_at(k, u.number)
        if c.repaired_as == _OLD:
            return u.life_left_s if u.life_left_s > 0 else number_at(lives.at, u.lives_over).value
        if u.failed < lives.count_:
            return number_at(lives.at, u.failed).value
    return unit_draw(k, c.failure_s, STREAM.CONCENTRATOR_FAILURE, u, u.failed, 1)


def stop_life(k: Record, u: Record) -> None:
    """Note where the clock of a unit stands that is taken out: what is left of its life, or that it is over."""
    c = rules_of(k, u)
    if c.failure_s.kind < 0 or c.repaired_as != _OLD:
        return
    u.life_left_s = u.fails_s - k.now if c.failure_clock == CALENDAR else u.timer_remaining_s[FAILURE]
    u.lives_over += u.life_left_s == 0


compile_file(globals())
