"""Patients as recorded, ready for a run: what the book leaves blank is drawn, anew for each replication.

No stay is kept or shown: they live as whole numbers in a run's memory only.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.draws.laws import quantile
from o2sim.errors import O2simError
from o2sim.fits.covered import plain
from o2sim.records.books import Records
from o2sim.records.doubts import ENOUGH, OFTEN_WHOLE
from o2sim.records.findings import few
from o2sim.records.rows import Stay, When
from o2sim.scenario.types.hospital import DAY_S, PatientClass, Recorded
from o2sim.scenario.types.period import REPLAY
from o2sim.statistics.fitting.luck import uniforms

SHEET = "Patients on oxygen"


class UnfitRecordsError(O2simError):
    """Records that do not fit a scenario, or that hold nothing to lay a forecast against."""


Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Register:
    """The stays of a book; each array has one entry a stay, nan where nothing is written.

    begun_s, ended_s: from midnight of the first day of the run, of the day alone where has_clock is False; ended_s
    is infinite for one still on. class_index: -1 where no class is written. usual_s: the usual clock of starting
    and of ending, None where none is written: then any time of the day.
    """

    begun_s: Floats
    begun_has_clock: npt.NDArray[np.bool_]
    ended_s: Floats
    ended_has_clock: npt.NDArray[np.bool_]
    flow_ml_min: Floats
    class_index: npt.NDArray[np.int64]
    usual_s: tuple[int | None, int | None]
    cautions: tuple[str, ...]


def register(records: Records, classes: tuple[PatientClass, ...], first: dt.date) -> Register:
    """Return the stays of the book of patients. Raises UnfitRecordsError for classes that the scenario lacks."""
    names = [each.name for each in classes]
    rows = [stay for stay in records.once if begun(stay) is not None]
    unknown = sorted({stay.class_ for stay in rows if stay.class_ is not None} - set(names))
    if unknown:
        raise UnfitRecordsError(
            f"{SHEET}: found patients of the class{'es' if len(unknown) > 1 else ''} {', '.join(unknown)}; "
            f"allowed: those of the scenario, {', '.join(names)}; name its classes as the records do"
        )
    begins = [since(begun(stay), first) for stay in rows]
    ends = [_end(stay, first) for stay in rows]
    copied = _copied_clocks(begins, ends)
    ends = [(end[0] // DAY_S * DAY_S, False) if at in copied else end for at, end in enumerate(ends)]
    lost = len(records.once) - len(rows)
    return Register(
        np.array([each[0] for each in begins]),
        np.array([each[1] for each in begins], bool),
        np.array([each[0] for each in ends]),
        np.array([each[1] for each in ends], bool),
        np.array([np.nan if stay.flow_ml_min is None else stay.flow_ml_min for stay in rows]),
        np.array([-1 if stay.class_ is None else names.index(stay.class_) for stay in rows], np.int64),
        usual_clocks(records),
        (*_cautions(rows, lost), *([COPIED.format(few(len(copied)))] if copied else ())),
    )


COPIED = "{} stays end to the minute whole days after they began, so filled in later: their days alone are used."


def _copied_clocks(begins: list[tuple[float, bool]], ends: list[tuple[float, bool]]) -> set[int]:
    """Return which stays end whole days after they began, where so many do that their clocks were copied."""
    both = [at for at, pair in enumerate(zip(begins, ends, strict=True)) if pair[0][1] and pair[1][1]]
    known = [at for at in both if np.isfinite(ends[at][0])]
    whole = {at for at in known if ends[at][0] > begins[at][0] and (ends[at][0] - begins[at][0]) % DAY_S == 0}
    return whole if len(known) >= ENOUGH and len(whole) >= OFTEN_WHOLE * len(known) else set()


def begun(stay: Stay) -> When | None:
    """Return when oxygen was begun: as written, else when the patient came."""
    return stay.begun if stay.begun is not None else stay.arrived


def since(when: When | None, first: dt.date) -> tuple[float, bool]:
    """Return the seconds from the first midnight, and whether a clock is written; of a day alone its midnight."""
    if when is None:
        return np.nan, False
    days = (plain(when) - first).days * DAY_S
    if not isinstance(when, dt.datetime):
        return float(days), False
    return float(days + when.hour * 3_600 + when.minute * 60 + when.second), True


def _end(stay: Stay, first: dt.date) -> tuple[float, bool]:
    return (np.inf, True) if stay.ended is None and stay.still_on else since(stay.ended, first)


def usual_clocks(records: Records, sheet: str = SHEET) -> tuple[int | None, int | None]:
    """Return the usual clocks of beginning and end of a book, in s of the day; None where none is written."""
    found: list[int | None] = []
    rows = sorted(records.places, key=lambda row: row.sheet is None)  # the book's own before those of all
    for what in ("usual_start", "usual_end"):
        said = [getattr(row, what) for row in rows if row.sheet in (None, sheet) and getattr(row, what)]
        found.append(said[0].hour * 3_600 + said[0].minute * 60 if said else None)
    return found[0], found[1]


def _cautions(rows: list[Stay], lost: int) -> list[str]:
    """Return what is blank in the book, in sentences."""
    of = len(rows)
    blank = {
        "no end and no x": sum(stay.ended is None and not stay.still_on for stay in rows),
        "no flow": sum(stay.flow_ml_min is None for stay in rows),
        "no class": sum(stay.class_ is None for stay in rows),
    }
    said = [f"{few(n)} of {of:,} stays have {what}: drawn from the scenario." for what, n in blank.items() if n]
    if lost:
        said.append(f"{few(lost)} stays have no day of beginning: left out, so use is forecast too low.")
    return said


@dataclass(frozen=True)
class LeadIn:
    """What a run lives through before the recorded time: so many days of it, from a day drawn at random.

    So what is part used, and which units are out, as the record begins is not known, as it was not to anybody.
    """

    from_day: int
    days: int


def lead_in(days: int, most: int, seed: int, nth: int) -> LeadIn:
    """Return the lead-in of a replication: at most so many of the recorded days."""
    length = min(days, most)
    luck = float(uniforms(seed, "hindcast lead-in", nth, 1)[0])
    return LeadIn(int(luck * (days - length + 1)), length)


def drawn(
    book: Register, classes: tuple[PatientClass, ...], days: int, before: LeadIn, seed: int, nth: int
) -> tuple[PatientClass, ...]:
    """Return the classes with the recorded patients in place of drawn ones; `nth` replication's luck for blanks.

    days: of the run. Who was given oxygen was recognised, and the time on oxygen holds late weaning.
    """
    luck = uniforms(seed, "hindcast blanks", nth, (5, book.begun_s.size))
    index = _classes_of(book, classes, luck[0])
    flow = book.flow_ml_min
    begin = clocked(book.begun_s, book.begun_has_clock, book.usual_s[0], luck[1])
    end = clocked(book.ended_s, book.ended_has_clock, book.usual_s[1], luck[2])
    need = _lasting(begin, end, (book.begun_has_clock, book.ended_has_clock))
    made = []
    for place, kind in enumerate(classes):
        mine = index == place
        flow = np.where(mine & np.isnan(flow), quantile(kind.flow_ml_min, luck[3]), flow)
        need = np.where(mine & np.isnan(need), quantile(kind.duration_s, luck[4]), need)
        stays = begin[mine], flow[mine], np.minimum(need[mine], _LONGEST_S)
        made.append(_recorded(kind, _led_in(stays, before), days, before.days))
    return tuple(made)


_LONGEST_S = 3_650.0 * DAY_S
Stays = tuple[Floats, Floats, Floats]  # begun (s from the first day), flow (mL/min), need (s)


def _led_in(stays: Stays, before: LeadIn) -> Stays:
    """Return stays with those of the lead-in, moved before the first day, where they end at the latest."""
    begin, flow, need = stays
    moved = begin - (before.from_day + before.days) * DAY_S
    mine = (moved >= -before.days * DAY_S) & (moved < 0)
    again = moved[mine], flow[mine], np.minimum(need[mine], -moved[mine])
    begin, flow, need = (np.concatenate(pair) for pair in zip(again, stays, strict=True))
    return begin, flow, need


def clocked(day_s: Floats, has_clock: npt.NDArray[np.bool_], usual_s: int | None, luck: Floats) -> Floats:
    """Return times with a clock: any time of the day, or around the usual one, as far as the day allows."""
    middle_s = DAY_S / 2 if usual_s is None else float(usual_s)
    clock = middle_s + (2 * luck - 1) * min(middle_s, DAY_S - middle_s)
    return np.where(has_clock, day_s, day_s + clock)


def _lasting(begin: Floats, end: Floats, clocks: tuple[npt.NDArray[np.bool_], ...]) -> Floats:
    """Return the seconds on oxygen; of a stay within one day, whose clocks cross, those between them."""
    crossed = (end <= begin) & ~(clocks[0] & clocks[1])
    return np.where(crossed, np.maximum(begin - end, 1.0), end - begin)


def _classes_of(book: Register, classes: tuple[PatientClass, ...], luck: Floats) -> npt.NDArray[np.int64]:
    """Return the class of each stay; where none is written by the shares of those that are, else of the rates."""
    known = book.class_index[book.class_index >= 0]
    shares = np.bincount(known, minlength=len(classes)).astype(float)
    if not shares.sum():
        shares = np.array([each.admissions_per_day * each.hypoxaemic for each in classes])
    if not shares.sum():
        shares = np.ones(len(classes))
    any_of = np.searchsorted(np.cumsum(shares / shares.sum()), luck).clip(max=len(classes) - 1)
    return np.where(book.class_index >= 0, book.class_index, any_of)


def _recorded(kind: PatientClass, stays: Stays, days: int, led_in: int) -> PatientClass:
    """Return a class with a register of stays, kept from so many days before the first day of the run."""
    begin, flow, need = stays[0] + led_in * DAY_S, stays[1], stays[2]
    order = np.argsort(begin, kind="stable")
    order = order[(begin + need > 0)[order]]  # who left before the run is in none
    found = Recorded(
        use=REPLAY,
        first_day=-led_in,
        days=days + led_in,
        arrival_s=_whole(begin[order]),
        flow_ml_min=_whole(np.maximum(flow[order], 1)),
        need_s=_whole(np.maximum(need[order], 1)),
    )
    return replace(kind, recorded=found, recognised=1.0, weaned_late_s=None)


def _whole(values: Floats) -> tuple[int, ...]:
    return tuple(np.rint(values).astype(np.int64).tolist())
