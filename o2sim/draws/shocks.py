"""Common shocks: when each begins, and the spells that it brings to road, power, supplier and wards.

An onset is known by its second, counted from 1 January of the year 1, so that lengths stand under the same item
whenever a run begins. Onsets are drawn year by year, those of years before a run too.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np

from o2sim.draws.laws import Floats, Ints, quantile
from o2sim.draws.met import Key, left_s
from o2sim.draws.philox import uniforms
from o2sim.draws.season import first_date
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Law, Shock
from o2sim.scenario.types.laws import law_high, law_mean, scaled
from o2sim.scenario.types.spells import Spell, merged

Effect = Literal["road", "power", "supplier", "patients"]
_COMMON_YEAR = 2027  # in which the months of a shock have the days that its rate is spread over
_RARE = 0.001  # the share of effects, and of severities, that are longer than is looked back for
_MOST_BEFORE = 10 * YEAR_DAYS  # days
_BLOCK = 16


@dataclass(frozen=True)
class Storm:
    """One onset of a shock with its spells [start, end), None where it has no such effect.

    Times are in s from the start of the run; an onset, and a spell, may lie before it.
    """

    shock: Shock
    onset_s: int
    second: int  # the onset in s since 1 January of the year 1
    road: Spell | None = None
    power: Spell | None = None
    supplier: Spell | None = None
    patients: Spell | None = None

    @property
    def on(self) -> Spell:
        """Return the spell from the onset to the end of the longest effect."""
        spells = (self.road, self.power, self.supplier, self.patients)
        return self.onset_s, max([self.onset_s, *(spell[1] for spell in spells if spell is not None)])


def zero_second(hospital: Hospital) -> int:
    """Return the second of the calendar at which a run begins."""
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    return day_zero.toordinal() * DAY_S + lead_in_s


def storms(key: Key, hospital: Hospital) -> tuple[Storm, ...]:
    """Return the storms of a run, in order of onset, those from before that still hold as it begins included."""
    zero, found = zero_second(hospital), []
    for shock in hospital.shocks:
        onsets = [each for year in _years(hospital, shock) for each in onsets_of_year(key, shock, year).tolist()]
        every = _with_lengths(key, shock, np.array(onsets, dtype=np.int64), zero)
        reaching = [each for each in every if max(each.onset_s + 1, each.on[1]) > 0]
        found += [each for each in reaching if each.onset_s < hospital.end_s and not _ruled_out(hospital, each)]
    found += _shut_now(key, hospital, found, zero)
    return tuple(sorted(found, key=lambda each: (each.onset_s, each.shock.name)))


def onsets_of_year(key: Key, shock: Shock, year: int) -> Ints:
    """Return the onsets of a calendar year in s since 1 January of the year 1: Poisson, in order, each once."""
    months = shock.months or tuple(range(1, 13))
    if shock.rate_per_day <= 0:
        return np.zeros(0, dtype=np.int64)
    begins = np.array([_first_of(year, month) for month in months]) * DAY_S
    lengths = np.array([_days(year, month) for month in months]) * DAY_S
    passed = np.concatenate([[0], np.cumsum(lengths)])  # seconds of the months before each
    mean_s = DAY_S * sum(_days(_COMMON_YEAR, month) for month in months) / (shock.rate_per_day * YEAR_DAYS)
    times = _poisson(key, f"{shock.name}, {year}", mean_s, int(passed[-1]))
    place = np.searchsorted(passed, times, side="right") - 1
    return np.unique(begins[place] + times - passed[place])


def _poisson(key: Key, item: str, mean_s: float, length_s: int) -> Ints:
    """Return the whole seconds of a Poisson process, below a length."""
    steps, total = np.zeros(0), 0.0
    while total < length_s:
        u = uniforms(*key, "shock", item, len(steps), max(_BLOCK, len(steps)))
        steps = np.concatenate([steps, -mean_s * np.log1p(-u)])
        total = float(np.cumsum(steps)[-1])
    times = np.floor(np.cumsum(steps)).astype(np.int64)
    return times[times < length_s]


def _first_of(year: int, month: int) -> int:
    return dt.date(year, month, 1).toordinal()


def _days(year: int, month: int) -> int:
    return _first_of(year + month // 12, month % 12 + 1) - _first_of(year, month)


def _years(hospital: Hospital, shock: Shock) -> range:
    """Return the calendar years that a run meets, and those before whose storms may still hold as it begins."""
    begin, _ = first_date(hospital.start, hospital.warm_up_s)
    first = dt.date.fromordinal(max(1, begin.toordinal() - min(_MOST_BEFORE, longest_s(shock) // DAY_S + 1)))
    last = hospital.start + dt.timedelta(seconds=hospital.end_s - hospital.warm_up_s)
    return range(first.year, last.year + 1)


def longest_s(shock: Shock) -> int:
    """Return how long a storm may reach: one in a thousand effects, or severities, is longer."""
    more = shock.patients
    laws = [law for law in (shock.road_s, shock.power_s, shock.supplier_s) if law is not None]
    highs = [law_high(law, _RARE) for law in (*laws, *([more.length_s] if more is not None else []))]
    severity = law_high(shock.severity, _RARE) if shock.severity is not None else 1.0
    return int(severity * max(highs, default=0.0)) + (more.after_s if more is not None else 0)


def _with_lengths(key: Key, shock: Shock, onsets: Ints, zero: int) -> list[Storm]:
    """Return the storms of some onsets, each with its severity and lengths."""
    more = shock.patients
    severity = np.ones(len(onsets))
    if shock.severity is not None:
        severity = quantile(shock.severity, _luck(key, "shock severity", shock, onsets))
    lengths = {
        "road": _lengths(key, "shock road", shock, shock.road_s, onsets, severity),
        "power": _lengths(key, "shock power", shock, shock.power_s, onsets, severity),
        "supplier": _lengths(key, "shock supplier", shock, shock.supplier_s, onsets, severity),
        "patients": _lengths(
            key, "shock patients", shock, None if more is None else more.length_s, onsets, severity
        ),
    }
    found = []
    for place, second in enumerate(onsets.tolist()):
        onset_s = second - zero
        spells = {}
        for effect, length_s in lengths.items():
            if length_s is not None:
                start_s = onset_s + (more.after_s if effect == "patients" and more is not None else 0)
                spells[effect] = start_s, start_s + length_s[place]
        found.append(Storm(shock, onset_s, second, **spells))
    return found


def _lengths(
    key: Key, stream: str, shock: Shock, law: Law | None, onsets: Ints, severity: Floats
) -> list[int] | None:
    """Return how long one effect of each onset lasts, a second at least; None without it."""
    if law is None:
        return None
    values = quantile(law, _luck(key, stream, shock, onsets)) * severity
    return np.maximum(1, np.rint(values)).astype(np.int64).tolist()  # type: ignore[no-any-return]


def _luck(key: Key, stream: str, shock: Shock, onsets: Ints) -> Floats:
    """Return a uniform number for each onset, by the name of the shock and the onset's second."""
    return np.array([uniforms(*key, stream, shock.name, second, 1)[0] for second in onsets.tolist()], dtype=float)


def _ruled_out(hospital: Hospital, storm: Storm) -> bool:
    """Return True for a storm that a count shows not to have come: a road open, or a grid up, that it would hold.

    Storms that would hold it and those that would not are independent of each other, so the others stay.
    """
    now = hospital.now
    if now is None:
        return False
    was_up = now.grid is not None and now.grid.up is True
    return (now.road == "open" and _holds(storm.road)) or (was_up and _holds(storm.power))


def _holds(spell: Spell | None) -> bool:
    """Return True for a spell that is under way as the run begins."""
    return spell is not None and spell[0] <= 0 < spell[1]


def _shut_now(key: Key, hospital: Hospital, found: list[Storm], zero: int) -> list[Storm]:
    """Return a storm met at a random moment where the road is shut at a count, none drawn holds it, and no
    closure of the list may.
    """
    now, rules = hospital.now, hospital.resupply
    if now is None or now.road != "shut" or any(_holds(each.road) for each in found):
        return []
    if rules is not None and any(each.covers(hospital.start) for each in rules.road_closures):
        return []
    for shock in hospital.shocks:
        if shock.road_s is not None:
            u_age, u = uniforms(*key, "shock met", shock.name, 0, 2)
            law = scaled(shock.road_s, law_mean(shock.severity)) if shock.severity is not None else shock.road_s
            return [Storm(shock, -1, zero - 1, road=(-1, left_s(law, None, float(u_age), np.array([u]))))]
    return []


def spells_of(found: tuple[Storm, ...], effect: Effect) -> tuple[Spell, ...]:
    """Return the spells of one effect that are not over as the run begins, in s from then, in order and apart."""
    spells: list[Spell | None] = [getattr(each, effect) for each in found]
    return merged(spell for spell in spells if spell is not None and spell[1] > 0)


def spells_on(found: tuple[Storm, ...]) -> tuple[Spell, ...]:
    """Return the spells in which a storm is on, in order and apart; one without any length is left out."""
    return merged(each.on for each in found if max(0, each.on[0]) < each.on[1])


def storms_within(found: tuple[Storm, ...], from_s: int, end_s: int) -> tuple[int, int]:
    """Return how many storms begin from one second to before another, and the seconds with at least one on."""
    begun = sum(from_s <= each.onset_s < end_s for each in found)
    inside = (min(end, end_s) - max(start, from_s) for start, end in spells_on(found))
    return begun, sum(seconds for seconds in inside if seconds > 0)
