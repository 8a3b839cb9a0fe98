"""Draws the patients of a run from packed streams, in order of arrival. Compiled."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Key, Real, Record, Whole, Word
from o2sim.draws.laws import CONSTANT, quantile_at, rounded, whole_draw
from o2sim.draws.philox import WORDS, Words, block, stable_hash, uniform, unit
from o2sim.draws.season import SEASON_DAYS
from o2sim.draws.streams import ADMISSIONS, FLOAT, INT, STREAM
from o2sim.scenario.types.hospital import DAY_S
from o2sim.scenario.types.records import DAY_ORDINALS

ROW = np.dtype(  # one patient; need_s is 0 for one given oxygen without need
    [
        ("arrival_s", "i8"),
        ("flow_ml_min", "i8"),
        ("duration_s", "i8"),
        ("need_s", "i8"),
        ("class_index", "i8"),
        ("ordinal", "i8"),
        ("present", "?"),  # by the start of the run: the times are what is left of them
    ],
    align=True,
)
CURSOR = np.dtype(  # of a stream's rows those to be put in order, then those nobody recognised
    [("at", "i8"), ("end", "i8"), ("last", "i8")]
)

_NO_WORDS = (np.uint64(0),) * WORDS
_TURN = 2 * math.pi / SEASON_DAYS
_NEWTON_STEPS = 2  # from a straight line within the day: leaves less than a microsecond
_ARRIVAL, _FLOW, _DURATION, _RECOGNISED, _LATE, _SURGE, _DAY, _RECORDED_DAY = (
    np.uint64(stable_hash(name))
    for name in (
        "patient arrival",
        "patient flow",
        "patient duration",
        "recognised",
        "weaned late",
        "surge length",
        "day of admissions",
        "recorded day",
    )
)
_stream, _row, _float, _int = (jit.records(dtype) for dtype in (STREAM, ROW, FLOAT, INT))
_admissions, _cursor = jit.records(ADMISSIONS), jit.records(CURSOR)


@jit.compiled
def _day_factor(stream: Record, day_zero: Whole, day: Whole, seed: Word, replication: Word) -> Real:
    """Return what multiplies the admissions of a day, keyed by class and date."""
    if stream.day_shape == 0:
        return 1.0
    shape = _float(stream.day_shape, day).value
    u = uniform(seed, replication, _DAY, stream.class_word, day_zero + day)
    return jit.gammaincinv(shape, u) / shape


@jit.compiled
def _time_in_day(stream: Record, day: Whole, total: Real, start: Real) -> Real:
    """Return when (days) within a day the seasonal integral reaches a total; start: the sine of the peak."""
    begin, end = _float(stream.day_integral, day).value, _float(stream.day_integral, day + 1).value
    time = day + (total - begin) / (end - begin)
    if stream.amplitude > 0:
        for _ in range(_NEWTON_STEPS):
            angle = _TURN * (time - stream.peak_day)
            reached = time + stream.amplitude / _TURN * (math.sin(angle) + start)
            time -= (reached - total) / (1 + stream.amplitude * math.cos(angle))
            time = min(max(time, float(day)), float(day + 1))
    return time


@jit.compiled
def _words(law: Record, key: Key, stream: Word, item: Word, ordinal: Whole) -> Words:
    """Return the words of the block that an ordinal is in; what a constant is drawn from does not matter."""
    if law.kind == CONSTANT:
        return _NO_WORDS
    return block(key[0], key[1], stream, item, ordinal // WORDS)


@jit.compiled
def _add_row(
    rows: Whole, room: Whole, at: Whole, stream: Record, nth: Whole, arrival_s: Whole, flow: Word, duration: Word
) -> Whole:
    """Write the nth patient of a stream, if there is room, and return the place after."""
    if at < room:
        row = _row(rows, at)
        row.arrival_s, row.class_index, row.ordinal = arrival_s, stream.class_index, stream.ordinals_from + nth
        row.flow_ml_min = rounded(quantile_at(stream.flow_ml_min, unit(flow)), 1)
        row.duration_s = rounded(quantile_at(stream.duration_s, unit(duration)), 1)
        row.need_s, row.present = row.duration_s if stream.needs else 0, False
    return at + 1


@jit.compiled
def _drawn(admissions: Record, stream: Record, rows: Whole, room: Whole, at: Whole, key: Key) -> Whole:
    """Write the patients of a Poisson stream: the times of a unit process through the inverse of its integral.

    What is drawn for one patient after the other comes from the same block of words, four times.
    """
    seed, replication = key
    start_s, end_s, start = 0, admissions.end_s, math.sin(_TURN * stream.peak_day)
    if stream.surge > 0:
        length = whole_draw(stream.surge_length_s, 1, seed, replication, _SURGE, stream.class_word, stream.surge)
        start_s, end_s = max(0, stream.surge_start_s), min(end_s, stream.surge_start_s + length)
    total, day, nth, ordinal = 0.0, stream.first_day, 0, 0
    day_from, factor = 0.0, _day_factor(stream, admissions.day_zero, day, seed, replication)
    first, last = _float(stream.day_integral, day).value, _float(stream.day_integral, day + 1).value
    while True:
        if ordinal % WORDS == 0:
            arrivals = block(seed, replication, _ARRIVAL, stream.item_word, ordinal // WORDS)
        total -= math.log1p(-unit(arrivals[ordinal % WORDS])) / stream.rate
        ordinal += 1
        while total >= day_from + factor * (last - first):
            day_from += factor * (last - first)
            day += 1
            if day >= admissions.days:
                return at
            factor = _day_factor(stream, admissions.day_zero, day, seed, replication)
            first, last = last, _float(stream.day_integral, day + 1).value
        time = _time_in_day(stream, day, first + (total - day_from) / factor, start)
        arrival_s = np.int64(math.floor(time * DAY_S)) - admissions.lead_in_s
        if arrival_s >= end_s:
            return at
        if arrival_s >= start_s:
            place = nth % WORDS
            if place == 0:
                flows = _words(stream.flow_ml_min, key, _FLOW, stream.item_word, nth)
                durations = _words(stream.duration_s, key, _DURATION, stream.item_word, nth)
            at = _add_row(rows, room, at, stream, nth, arrival_s, flows[place], durations[place])
            nth += 1


@jit.compiled
def _replayed(stream: Record, rows: Whole, room: Whole, at: Whole) -> Whole:
    """Write the patients that a run meets of a register; a patient from before is present at second 0."""
    for nth in range(stream.recorded_rows):
        if at < room:
            row, arrival_s = _row(rows, at), _int(stream.recorded_arrival_s, nth).value
            row.class_index, row.ordinal = stream.class_index, _int(stream.recorded_ordinal, nth).value
            row.flow_ml_min = _int(stream.recorded_flow, nth).value
            row.arrival_s, row.present = max(0, arrival_s), arrival_s < 0
            row.need_s = row.duration_s = _int(stream.recorded_need_s, nth).value + min(0, arrival_s)
        at += 1
    return at


@jit.compiled
def _drawn_day(
    admissions: Record, stream: Record, rows: Whole, room: Whole, at: Whole, day: Whole, drawn: Whole
) -> Whole:
    """Write the patients of a recorded day for a day of the run, those that fall into the run."""
    first = _int(stream.recorded_day_rows, drawn).value
    offset_s = (day - drawn) * DAY_S - admissions.lead_in_s
    for nth in range(_int(stream.recorded_day_rows, drawn + 1).value - first):
        arrival_s = offset_s + _int(stream.recorded_arrival_s, first + nth).value
        if not 0 <= arrival_s < admissions.end_s:
            continue
        if at < room:
            row = _row(rows, at)
            row.arrival_s, row.class_index, row.present = arrival_s, stream.class_index, False
            row.ordinal = (admissions.day_zero + day) * DAY_ORDINALS + nth
            row.flow_ml_min = _int(stream.recorded_flow, first + nth).value
            row.need_s = row.duration_s = _int(stream.recorded_need_s, first + nth).value
        at += 1
    return at


@jit.compiled
def _registered(admissions: Record, stream: Record, rows: Whole, room: Whole, at: Whole, key: Key) -> Whole:
    """Write the patients of a register: as it was, or whole days of it drawn, the same for all classes."""
    if not stream.resample:
        return _replayed(stream, rows, room, at)
    seed, replication = key
    for day in range(admissions.days):
        u = uniform(seed, replication, _RECORDED_DAY, np.uint64(0), admissions.day_zero + day)
        drawn = np.int64(math.floor(u * stream.recorded_days))
        at = _drawn_day(admissions, stream, rows, room, at, day, drawn)
    return at


@jit.compiled
def _wean_late(stream: Record, rows: Whole, first: Whole, end: Whole, key: Key) -> None:
    """Let those of a stream have oxygen for longer than they need it."""
    for at in range(first, end):
        row = _row(rows, at)
        row.duration_s += whole_draw(stream.weaned_late_s, 0, key[0], key[1], _LATE, stream.item_word, at - first)


@jit.compiled
def _unrecognised_last(stream: Record, rows: Whole, first: Whole, end: Whole, spare: Whole, key: Key) -> Whole:
    """Move those nobody recognises behind the others of a stream, both in order; return where they begin."""
    seed, replication = key
    found, missed = first, 0
    for at in range(first, end):
        place = (at - first) % WORDS
        if place == 0:
            words = block(seed, replication, _RECOGNISED, stream.item_word, (at - first) // WORDS)
        if unit(words[place]) < stream.recognised:
            _copy(_row(rows, at), _row(rows, found))
            found += 1
        else:
            _copy(_row(rows, at), _row(spare, missed))
            missed += 1
    for place in range(missed):
        _copy(_row(spare, place), _row(rows, found + place))
    return found


@jit.compiled
def _copy(source: Record, target: Record) -> None:
    target.arrival_s, target.flow_ml_min, target.duration_s = (
        source.arrival_s,
        source.flow_ml_min,
        source.duration_s,
    )
    target.need_s, target.class_index, target.ordinal = source.need_s, source.class_index, source.ordinal
    target.present = source.present


@jit.compiled
def _before(a: Record, b: Record) -> Any:
    """Return True if patient a goes before patient b."""
    if a.arrival_s != b.arrival_s:
        return a.arrival_s < b.arrival_s
    if a.class_index != b.class_index:
        return a.class_index < b.class_index
    if a.ordinal != b.ordinal:
        return a.ordinal < b.ordinal
    return a.need_s > 0 and b.need_s == 0


@jit.compiled
def _merge(rows: Whole, cursors: Whole, count: Whole, out: Whole) -> Whole:
    """Put the rows of all streams, each in order, in order of arrival; return how many there are."""
    at = 0
    while True:
        best = -1
        for stream in range(count):
            cursor = _cursor(cursors, stream)
            if cursor.at < cursor.end and (
                best < 0 or _before(_row(rows, cursor.at), _row(rows, _cursor(cursors, best).at))
            ):
                best = stream
        if best < 0:
            return at
        cursor = _cursor(cursors, best)
        _copy(_row(rows, cursor.at), _row(out, at))
        cursor.at += 1
        at += 1


@jit.cached
def sample_patients(
    admissions_at: Whole, seed: Word, replication: Word, rows: Whole, room: Whole, cursors: Whole, out: Whole
) -> Any:
    """Write the patients of a run to `out` and return how many, and how many rows were needed in all.

    rows and out are addresses of `room` records of ROW, cursors of one record of CURSOR a stream. Where more than
    `room` are needed, nothing holds but that number.
    """
    admissions = _admissions(admissions_at, 0)
    key = (np.uint64(seed), np.uint64(replication))
    at = 0
    for place in range(admissions.stream_count):
        stream, first = _stream(admissions.streams, place), at
        if stream.recorded:
            at = _registered(admissions, stream, rows, room, at, key)
        else:
            at = _drawn(admissions, stream, rows, room, at, key)
        cursor = _cursor(cursors, place)
        cursor.at, cursor.end, cursor.last = first, at, at
        if at > room:
            continue
        if stream.weaned_late_s.kind >= 0:
            _wean_late(stream, rows, first, at, key)
        if stream.recognised < 1:
            cursor.end = _unrecognised_last(stream, rows, first, at, out, key)
    if at > room:
        return 0, at
    return _merge(rows, cursors, admissions.stream_count, out), at
