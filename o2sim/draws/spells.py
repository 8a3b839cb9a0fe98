"""Draws the closures and outages of one replication, merged and in order. Compiled."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.compiler.jit import Whole, Word
from o2sim.draws.laws import LAW, law_record, whole_draw
from o2sim.draws.met import left_s
from o2sim.draws.philox import MASK, stable_hash, uniform, uniforms
from o2sim.draws.season import first_date
from o2sim.scenario.types.hospital import DAY_S, Hospital, RoadClosure
from o2sim.scenario.types.laws import law_high
from o2sim.scenario.types.spells import Spell, merged

LISTED = np.dtype(  # one entry of the list; times in s from the start of the warm-up
    [
        ("stream", "u8"),
        ("length_stream", "u8"),
        ("item_word", "u8"),
        ("first_day", "i8"),  # ordinal of the date
        ("days", "i8"),
        ("start_s", "i8"),  # of the first day
        ("chance", "f8"),  # that a spell begins on a day; -1: the days are one spell
        ("length_s", LAW),
    ],
    align=True,
)
SPELL = np.dtype([("start_s", "i8"), ("end_s", "i8")])
_listed, _spell = jit.records(LISTED), jit.records(SPELL)
_NONE = jit.memory(SPELL, 1)[:0]
_RARE = 0.001  # the share of closures that last longer than is looked back for
_MOST_BEFORE = 180  # days
ROAD = "road closure"  # the stream
_KEPT = 64
_packed: list[tuple[tuple[RoadClosure, ...], tuple[Any, ...], npt.NDArray[Any]]] = []  # the last used last


def spell_records(found: Sequence[tuple[int, int]]) -> npt.NDArray[Any]:
    """Return spells as records of SPELL; at least room for one, which keeps the address good."""
    array: npt.NDArray[Any] = jit.memory(SPELL, len(found))
    for place, spell in enumerate(found):
        array[place] = spell
    return array[: len(found)]


def pack_spells(hospital: Hospital, stream: str, listed: tuple[RoadClosure, ...]) -> npt.NDArray[Any]:
    """Return the list as records of LISTED; each draws by its dates and the day, so none shifts another's luck."""
    context = (stream, hospital.start, hospital.warm_up_s, hospital.end_s, roads_met(hospital))
    for entry in reversed(_packed):
        if entry[0] == listed and entry[1] == context:
            found: npt.NDArray[Any] = entry[2]
            return found
    rows = []
    for place, closure in enumerate(listed):
        dates = f"{closure.start} to {closure.end}"
        alike = sum((each.start, each.end) == (closure.start, closure.end) for each in listed[:place])
        rows += _row(hospital, stream, f"{dates}, {alike}" if alike else dates, closure)
    packed: npt.NDArray[Any] = jit.memory(LISTED, len(rows))[: len(rows)]
    for record, row in zip(packed, rows, strict=True):
        for name, value in row.items():
            record[name] = value
    _packed.append((listed, context, packed))
    del _packed[:-_KEPT]
    return packed


def _row(hospital: Hospital, stream: str, item: str, closure: RoadClosure) -> list[dict[str, Any]]:
    first, last = _window(hospital, closure, stream)
    if last < first:
        return []
    drawn = closure.chance_per_day is not None and closure.length_s is not None
    return [
        {
            "stream": stable_hash(stream),
            "length_stream": stable_hash(f"{stream} length"),
            "item_word": stable_hash(item),
            "first_day": first.toordinal(),
            "days": (last - first).days + 1,
            "start_s": hospital.warm_up_s + (first - hospital.start).days * DAY_S,
            "chance": closure.chance_per_day if drawn else -1.0,
            "length_s": law_record(closure.length_s if drawn else None)[0],
        }
    ]


def _window(hospital: Hospital, closure: RoadClosure, stream: str) -> tuple[dt.date, dt.date]:
    """Return the first and last date of a closure's window that the run can meet.

    Before a run from a count so many days as hardly a closure lasts: one may hold when it begins. Where the road
    was open then, none does.
    """
    begin, _ = first_date(hospital.start, hospital.warm_up_s)
    now = hospital.now if closure.length_s is not None else None
    if now is not None and stream == ROAD and now.road == "open":
        begin += dt.timedelta(days=1)  # one of that day would have begun at its midnight
    elif now is not None and closure.length_s is not None:
        begin -= dt.timedelta(days=1 + min(_MOST_BEFORE, int(law_high(closure.length_s, _RARE) // DAY_S)))
    finish = hospital.start + dt.timedelta(days=-(-(hospital.end_s - hospital.warm_up_s) // DAY_S))
    return max(closure.start or begin, begin), min(closure.end or finish, finish)


def spells(
    key: tuple[int, int],
    hospital: Hospital,
    stream: str,
    listed: tuple[RoadClosure, ...],
    of_storms: tuple[Spell, ...] = (),
) -> npt.NDArray[Any]:
    """Return records of SPELL, [start_s, end_s), apart and in order, with those of storms; shape (number,)."""
    packed = pack_spells(hospital, stream, listed)
    found = _NONE
    if len(packed) > 0:
        out = jit.table(SPELL, int(packed["days"].sum()))
        seed, replication = (word & MASK for word in key)
        count = draw_spells(jit.address(packed), len(packed), seed, replication, jit.address(out))
        found = out[:count]
    if of_storms:
        found = spell_records(merged([*map(tuple, found.tolist()), *of_storms]))
    if stream == ROAD and hospital.now is not None and hospital.now.road == "shut":
        return _shut_now(key, hospital, listed, found)
    return found


def roads_met(hospital: Hospital) -> object:
    """Return what a count says that decides which closures a run may meet."""
    return None if hospital.now is None else ("counted", hospital.now.road)


def _shut_now(
    key: tuple[int, int], hospital: Hospital, listed: tuple[RoadClosure, ...], found: npt.NDArray[Any]
) -> npt.NDArray[Any]:
    """Return spells with one that holds as the run begins; if none was drawn, one met at a random moment."""
    laws = [each.length_s for each in listed if each.length_s is not None and each.covers(hospital.start)]
    spells_now = [(int(each["start_s"]), int(each["end_s"])) for each in found]
    if not laws or any(start <= 0 < end for start, end in spells_now):
        return found
    u_age, u = uniforms(*key, "road met", 0, 0, 2)
    until_s = left_s(laws[0], None, float(u_age), np.array([u]))
    later = [(max(start, until_s), end) for start, end in spells_now if end > until_s]
    begun_before = [each for each in spells_now if each[1] < 0]
    if later and later[0][0] == until_s:
        until_s = later.pop(0)[1]
    return spell_records([*begun_before, (0, until_s), *later])


@jit.cached
def draw_spells(listed: Whole, count: Whole, seed: Word, replication: Word, out: Whole) -> Whole:
    """Write the spells of a replication to `out`, which has room for one a listed day; return their number."""
    key = (np.uint64(seed), np.uint64(replication))
    found = 0
    for place in range(count):
        each = _listed(listed, place)
        if each.chance < 0:
            found = _insert(out, found, each.start_s, each.start_s + each.days * DAY_S)
            continue
        for day in range(each.days):
            date = each.first_day + day
            if uniform(*key, each.stream, each.item_word, date) < each.chance:
                length = whole_draw(each.length_s, 1, *key, each.length_stream, each.item_word, date)
                start_s = each.start_s + day * DAY_S
                found = _insert(out, found, start_s, start_s + length)
    return _merge(out, found)


@jit.compiled
def _insert(out: Whole, found: Whole, start_s: Whole, end_s: Whole) -> Whole:
    """Put a spell in its place by start and end; return how many there are."""
    place = found
    while place > 0 and (
        _spell(out, place - 1).start_s > start_s
        or (_spell(out, place - 1).start_s == start_s and _spell(out, place - 1).end_s > end_s)
    ):
        before, after = _spell(out, place - 1), _spell(out, place)
        after.start_s, after.end_s = before.start_s, before.end_s
        place -= 1
    spell = _spell(out, place)
    spell.start_s, spell.end_s = start_s, end_s
    return found + 1


@jit.compiled
def _merge(out: Whole, found: Whole) -> Whole:
    """Join spells that touch or overlap; return how many are left."""
    kept = 0
    for place in range(found):
        spell = _spell(out, place)
        if kept > 0 and spell.start_s <= _spell(out, kept - 1).end_s:
            last = _spell(out, kept - 1)
            last.end_s = max(last.end_s, spell.end_s)
        else:
            target = _spell(out, kept)
            target.start_s, target.end_s = spell.start_s, spell.end_s
            kept += 1
    return kept
