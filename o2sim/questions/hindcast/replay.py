"""The hospital as it was: recorded patients, power cuts and days in place of drawn ones, cylinders without end.

Cylinders are in ample supply, so that a run gives what would have been used had the shelf never been bare; what
was on the shelf is laid over it in `card.py`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import DAY, Covered, covered
from o2sim.questions.hindcast import stays
from o2sim.questions.hindcast.stays import LeadIn, Register, UnfitRecordsError, begun, register
from o2sim.records.books import Records
from o2sim.records.rows import Cut
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Grid, Hospital
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.period import REPLAY

CUTS, CARD, MIDNIGHTS, MONTHS = "Power cuts", "Stock card", "Counts at midnight", "Month totals"
RUN_IN_DAYS = 7  # after the book begins and after missing pages: who came before is in no row (assumption)
LEAD_IN_DAYS = 60  # before the first day, of drawn patients or of days drawn from the book: assumption
MOST_DAYS = 3_660
ENOUGH = 0.5  # of the days: a book of cuts that covers fewer is not replayed
AMPLE = 3.0  # times the mean need, whatever source meets it
FEWEST_CYLINDERS, MOST_CYLINDERS = 500, 90_000


@dataclass(frozen=True)
class Cuts:
    """Recorded power cuts: spells in s from midnight of the first day, and the days that the book covers."""

    spells: tuple[tuple[int, int], ...]
    counted: npt.NDArray[np.bool_]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Replay:
    """What is simulated, and which of its days are compared.

    first, days: of the recorded time. counted: shape (days,), days whose patients and cuts are recorded, or
    drawn throughout. register, cuts: as recorded, None where drawn. said: what stands for what, in words.
    """

    hospital: Hospital
    first: dt.date
    days: int
    counted: npt.NDArray[np.bool_]
    register: Register | None
    cuts: Cuts | None
    said: tuple[str, ...]
    cautions: tuple[str, ...]

    def day(self, when: dt.date) -> int:
        """Return the number of a day, from 0."""
        return (when - self.first).days

    def of(self, seed: int, replication: int) -> Hospital:
        """Return the hospital as one replication meets it: blanks are drawn, and the days before the first."""
        before = stays.lead_in(self.days, LEAD_IN_DAYS, seed, replication)
        found = self.hospital
        if self.cuts is not None:
            found = _with(found, self.cuts, before)
        if self.register is None:
            return found
        patients = stays.drawn(self.register, found.patients, self.days + 1, before, seed, replication)
        return replace(found, patients=patients, warm_up_s=before.days * DAY_S)


def replay(hospital: Hospital, records: Records) -> Replay:
    """Return what is simulated. Raises UnfitRecordsError where there is nothing to compare, or no day."""
    book = covered(records, stays.SHEET, (begun(stay) for stay in records.once)) if records.once else None
    first, last = _period(book, _compared(records))
    days = (last - first).days + 1
    if days > MOST_DAYS:
        raise UnfitRecordsError(
            f"the records cover {days:,} days, from {first} to {last}; allowed: at most {MOST_DAYS:,}; look for a "
            "year that is wrong, or leave out what is old"
        )
    found = None if book is None else register(records, hospital.patients, first)
    cuts = _cuts(hospital, records, first, days)
    counted = np.ones(days, bool)
    if book is not None:
        counted &= _after_run_in(_on(book, first, days))
    if cuts is not None:
        counted &= cuts.counted
    made = replace(
        hospital, start=first, horizon_s=(days + 1) * DAY_S, warm_up_s=LEAD_IN_DAYS * DAY_S, resupply=None,
        cylinders=_ample(hospital, found, days),
    )  # fmt: skip
    said = tuple(_said(hospital, book, cuts is not None, records))
    cautions = (
        *(() if found is None else found.cautions),
        *_left(hospital),
        *(() if cuts is None else cuts.cautions),
    )
    return Replay(made, first, days, counted, found, cuts, said, cautions)


def _compared(records: Records) -> list[Covered]:
    """Return the days of each book that is laid against the forecast."""
    rows: dict[str, Iterable[dt.date | None]] = {
        CARD: [row.date for row in records.stock if row.full is not None],
        MIDNIGHTS: [row.date for row in records.midnights],
        MONTHS: [each for row in records.months if row.month for each in ends_of(row.month)],
    }
    listed = {sheet: list(dates) for sheet, dates in rows.items()}
    found = [covered(records, sheet, dates) for sheet, dates in listed.items() if dates]
    return [each for each in found if each is not None]


def ends_of(month: dt.date) -> tuple[dt.date, dt.date]:
    """Return the first and the last day of a month."""
    after = dt.date(month.year + month.month // 12, month.month % 12 + 1, 1)
    return dt.date(month.year, month.month, 1), after - DAY


def _period(book: Covered | None, others: list[Covered]) -> tuple[dt.date, dt.date]:
    """Return the first and the last day to simulate."""
    if not others:
        raise UnfitRecordsError(
            "the records hold nothing to lay a forecast against; allowed: at least one of the sheets "
            f"{CARD} (counts of full cylinders), {MIDNIGHTS} and {MONTHS}; fill one in"
        )
    first, last = min(each.first for each in others), max(each.last for each in others)
    if book is None:
        return first, last
    if book.last < first or last < book.first:
        raise UnfitRecordsError(
            f"{stays.SHEET} covers {book.said()}, and what it is compared with {first} to {last}: no day is in "
            "both; write in Place which days each book covers, or look for a year that is wrong"
        )
    return book.first, min(book.last, max(last, book.first))


def _on(book: Covered, first: dt.date, days: int) -> npt.NDArray[np.bool_]:
    """Return which days of a run a book covers."""
    return np.array([book.holds(first + DAY * day) for day in range(days)])


def _after_run_in(is_covered: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return the days that have the run-in behind them since the book began or went on after missing pages."""
    found, since = is_covered.copy(), 0
    for day, held in enumerate(is_covered):
        since = since + 1 if held else 0
        found[day] = since > RUN_IN_DAYS
    return found


def _ample(hospital: Hospital, found: Register | None, days: int) -> Cylinders | None:
    """Return cylinders without end: all full, none lost. Their number changes nothing so long as it is enough."""
    stock = hospital.cylinders
    if stock is None:
        return None
    flows = _flow_ml_min(hospital, found, days)
    leaks = stock.leak_ml_min * max(stock.regulators, 1)
    gas = (AMPLE * flows + leaks) * (days + LEAD_IN_DAYS) * DAY_S  # 1 mL/min is 1/60 mL a second, the unit of gas
    needed = gas / max(stock.full_gas - stock.residual_gas, 1)
    fleet = int(min(max(stock.fleet, needed + FEWEST_CYLINDERS), MOST_CYLINDERS))
    return replace(stock, fleet=fleet, full_at_start=fleet, losses_per_day=0.0)


def _flow_ml_min(hospital: Hospital, found: Register | None, days: int) -> float:
    """Return roughly what all patients together get: the scenario's own mean, or that of the book if higher."""
    own = sum(
        each.admissions_per_day * each.hypoxaemic * law_mean(each.flow_ml_min) * law_mean(each.duration_s) / DAY_S
        for each in hospital.patients
    )
    if found is None:
        return own
    flow = float(np.nanmean(found.flow_ml_min)) if np.any(~np.isnan(found.flow_ml_min)) else 10_000.0
    stay = np.where(np.isfinite(found.ended_s), found.ended_s - found.begun_s, 30 * DAY_S)
    return own + float(np.maximum(stay, 0).sum() + DAY_S * stay.size) * flow / (days * DAY_S)


def _cuts(hospital: Hospital, records: Records, first: dt.date, days: int) -> Cuts | None:
    """Return the recorded cuts; None where there are none, power does not matter, or they cover too little."""
    book = covered(records, CUTS, (cut.off_at for cut in records.cuts)) if records.cuts else None
    if book is None or hospital.concentrators is None:
        return None
    counted = _on(book, first, days)
    if counted.mean() < ENOUGH:
        return None
    spells, cautions = _spells(records.cuts, first, days)
    return Cuts(spells, counted, cautions)


def _spells(rows: Iterable[Cut], first: dt.date, days: int) -> tuple[tuple[tuple[int, int], ...], tuple[str, ...]]:
    """Return spells apart and in order; one without an end lasts as long as the middle one of the others."""
    midnight = dt.datetime.combine(first, dt.time())
    cuts = sorted(((row.off_at, row.on_at) for row in rows if row.off_at is not None), key=lambda cut: cut[0])
    lengths = [(on - off).total_seconds() for off, on in cuts if on is not None]
    usual_s = float(np.median(lengths)) if lengths else 3_600.0
    open_ends = sum(on is None for _, on in cuts)
    found: list[tuple[int, int]] = []
    for off, on in cuts:
        begin = int((off - midnight).total_seconds())
        end = begin + int(usual_s) if on is None else int((on - midnight).total_seconds())
        begin, end = max(begin, 0), min(end, (days + 1) * DAY_S)
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        elif begin < end:
            found.append((begin, end))
    cuts_are = "1 power cut has" if open_ends == 1 else f"{open_ends} power cuts have"
    said = f"{cuts_are} no end: taken as {usual_s / 3_600:.1f} h, the middle of the others."
    return tuple(found), ((said,) if open_ends else ())


def _with(hospital: Hospital, cuts: Cuts, before: LeadIn) -> Hospital:
    """Return the hospital with recorded cuts, those of the lead-in before them; planned ones are among them."""
    from_s, length_s = before.from_day * DAY_S, before.days * DAY_S
    moved = [(max(a - from_s, 0) - length_s, min(b - from_s, length_s) - length_s) for a, b in cuts.spells]
    led_in = tuple((begin, end) for begin, end in moved if begin < end)
    days = cuts.counted.size + 1 + before.days
    grid = Grid(use=REPLAY, cuts=(*led_in, *cuts.spells), first_day=-before.days, days=days)
    power = None if hospital.power is None else replace(hospital.power, load_shedding=())
    return replace(hospital, grid=grid, power=power)


def _said(hospital: Hospital, book: Covered | None, cuts: bool, records: Records) -> list[str]:
    """Return what is as recorded and what is drawn, in sentences."""
    said = [
        f"Patients are those of the book ({book.said()})." if book is not None
        else "There is no list of patients: admissions are drawn by the scenario's rates, so ranges are wider."
    ]  # fmt: skip
    if hospital.concentrators is not None:
        said.append("Power cuts are those recorded." if cuts else _cuts_drawn(records))
    said.append("Deliveries are those recorded; failures, handling and what is blank are drawn from the scenario.")
    return said


def _cuts_drawn(records: Records) -> str:
    why = "cover under half of the time" if records.cuts else "are not recorded"
    return f"Power cuts {why}: they are drawn from the scenario."


def _left(hospital: Hospital) -> list[str]:
    """Return what of the scenario the hindcast cannot have."""
    stock, said = hospital.cylinders, []
    if stock is not None and (stock.underfilled is not None or stock.unusable):
        said.append(
            "The scenario has cylinders that come under-filled or unusable; here all are full, so use is low."
        )
    return said
