"""How long hands take: to respond, to change a cylinder, to connect; by day or by night, as the job begins."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, Word, compile_file
from o2sim.draws.laws import CONSTANT, whole_draw
from o2sim.model.kernel.claims import is_day
from o2sim.model.kernel.codes import STREAM


def response_time_s(k: Record, p: Record) -> Whole:
    """Return how long staff take to respond to the last loss of supply, if they set out now."""
    r = k.rules
    return _time_s(k, r.response_time_s, r.night_response_time_s, STREAM.RESPONSE_TIME, p, p.losses)


def change_time_s(k: Record, lead: Record) -> Whole:
    """Return how long it takes to put the cylinder last opened for a patient in place, from now on."""
    r = k.rules
    return _time_s(k, r.cylinders_change_time_s, r.night_change_time_s, STREAM.CHANGE_TIME, lead, lead.cylinders)


def connect_time_s(k: Record, p: Record) -> Whole:
    """Staff begin to connect a patient; return how long it takes them, a second at least."""
    r = k.rules
    p.connections += 1
    return max(1, _time_s(k, r.staff_connect_s, r.night_connect_s, STREAM.CONNECT_TIME, p, p.connections))


def _time_s(k: Record, by_day: Record, by_night: Record, stream: Word, p: Record, nth: Whole) -> Whole:
    """Return a time, drawn by patient and ordinal where it has a law."""
    if by_night.kind >= 0 and not is_day(k, k.now):
        return _drawn_s(k, by_night, stream, p, nth)
    return _drawn_s(k, by_day, stream, p, nth)


def _drawn_s(k: Record, law: Record, stream: Word, p: Record, nth: Whole) -> Whole:
    least = 0 if law.kind == CONSTANT else 1
    return whole_draw(law, least, k.seed, k.replication, stream, p.luck, nth)


compile_file(globals())
