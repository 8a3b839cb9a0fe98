"""The hospital as it was: recorded patients, power cuts and days in place of drawn ones, cylinders without end.

Cylinders are in ample supply, so that a run gives what would have been used had the shelf never been bare; what
was on the shelf is laid over it in `card.py`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.fits.covered import DAY, Covered, covered, day_by_day
from o2sim.questions.hindcast import stays
from o2sim.questions.hindcast.cuts import Cuts, drawn_instead, recorded_cuts, with_cuts
from o2sim.questions.hindcast.stays import Register, UnfitRecordsError, begun, register
from o2sim.questions.hindcast.units import Units, recorded_units, with_units
from o2sim.records.books import Records
from o2sim.scenario.types.hospital import DAY_S, Concentrators, Hospital, Law, Resupply
from o2sim.scenario.types.laws import law_mean

CARD, MIDNIGHTS, MONTHS = "Stock card", "Counts at midnight", "Month totals"
RUN_IN_DAYS = 7  # after the book begins and after missing pages: who came before is in no row (assumption)
LEAD_IN_DAYS = 60  # before the first day, of drawn patients or of days drawn from the book: assumption
MOST_DAYS = 3_660
AMPLE = 3.0  # times the mean need, whatever source meets it
FEWEST_CYLINDERS, MOST_CYLINDERS = 500, 90_000


@dataclass(frozen=True)
class Replay:
    """What is simulated, and which of its days are compared.

    first, days: of the recorded time. counted: shape (days,), days whose patients and cuts are recorded, or
    drawn throughout. register, cuts, units: as recorded, None where drawn. said: what stands for what, in words.
    """

    hospital: Hospital
    first: dt.date
    days: int
    counted: npt.NDArray[np.bool_]
    register: Register | None
    cuts: Cuts | None
    units: Units | None
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
            found = with_cuts(found, self.cuts, before)
        if self.register is not None:
            patients = stays.drawn(self.register, found.patients, self.days + 1, before, seed, replication)
            found = replace(found, patients=patients, warm_up_s=before.days * DAY_S)
        return found if self.units is None else with_units(found, self.units, before, seed, replication)


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
    cuts = recorded_cuts(hospital, records, first, days)
    units = recorded_units(hospital, records, first, days)
    counted = np.ones(days, bool)
    if book is not None:
        counted &= _after_run_in(day_by_day(book, first, days))
    for each in (cuts, units):
        counted &= True if each is None else each.counted
    made = replace(
        hospital, start=first, horizon_s=(days + 1) * DAY_S, warm_up_s=LEAD_IN_DAYS * DAY_S,
        **_ample(hospital, found, days),
    )  # fmt: skip
    said = tuple(_said(hospital, book, cuts, units, records))
    cautions = (
        *(() if found is None else found.cautions),
        *(() if cuts is None else cuts.cautions),
        *(() if units is None else units.cautions),
    )
    return Replay(made, first, days, counted, found, cuts, units, said, cautions)


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


def _after_run_in(is_covered: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return the days that have the run-in behind them since the book began or went on after missing pages."""
    found, since = is_covered.copy(), 0
    for day, held in enumerate(is_covered):
        since = since + 1 if held else 0
        found[day] = since > RUN_IN_DAYS
    return found


def _ample(hospital: Hospital, found: Register | None, days: int) -> dict[str, Any]:
    """Return cylinders without end, none lost, and their resupply. How many changes nothing if it is enough.

    Where some come under-filled or unusable, all come with one delivery as the run begins, which draws which.
    """
    stock = hospital.cylinders
    if stock is None:
        return {"resupply": None}
    flows = _flow_ml_min(hospital, found, days)
    leaks = stock.leak_ml_min * max(stock.regulators, 1)
    gas = (AMPLE * flows + leaks) * (days + LEAD_IN_DAYS) * DAY_S  # 1 mL/min is 1/60 mL a second, the unit of gas
    needed = gas / max(stock.full_gas - stock.residual_gas, 1)
    fleet = int(min(max(stock.fleet, needed + FEWEST_CYLINDERS), MOST_CYLINDERS))
    drawn = stock.underfilled is not None or stock.unusable > 0
    resupply = Resupply(None, 0, fleet, Law("constant", (0.0,))) if drawn else None
    ample = replace(stock, fleet=fleet, full_at_start=0 if drawn else fleet, losses_per_day=0.0, refused=0.0)
    return {"cylinders": ample, "resupply": resupply}


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


def _drawn_units(units: Concentrators) -> str:
    """Return why units are not those of the list."""
    why = "units and job cards are not recorded, or stand on wards"
    if units.mixed:
        why = "they are of several models, and the list of units does not say of which each is"
    return f"Concentrators fail as the scenario says: {why}."


def _said(
    hospital: Hospital, book: Covered | None, cuts: Cuts | None, units: Units | None, records: Records
) -> list[str]:
    """Return what is as recorded and what is drawn, in sentences."""
    said = [
        f"Patients are those of the book ({book.said()})." if book is not None
        else "There is no list of patients: admissions are drawn by the scenario's rates, so ranges are wider."
    ]  # fmt: skip
    if hospital.concentrators is not None:
        said.append(drawn_instead(records) if cuts is None else cuts.said)
        said.append(
            _drawn_units(hospital.concentrators)
            if units is None else f"Concentrators are the {units.count} of the list, out when their job cards say."
        )  # fmt: skip
    said.append("Deliveries are those recorded; handling and what is blank are drawn from the scenario.")
    return said
