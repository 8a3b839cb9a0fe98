"""Books of a hospital that never was: one history of a scenario, simulated, and written down as a nurse would.

The truth behind the books is the scenario, so that what is fitted to them can be held against it. `drawn_records`
gives Records; `written_books.workbook` makes a workbook of them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import Any

import drawn_patients
import drawn_supply
import numpy as np
import numpy.typing as npt

from o2sim.draws import Draws
from o2sim.model.reference import run_reference
from o2sim.model.state import State
from o2sim.outcome import LogEntry
from o2sim.records.books import BY_NAME, PLACE, Records
from o2sim.records.rows import CLOCK, DATES_ONLY, Place
from o2sim.scenario import load, loads
from o2sim.scenario.types.hospital import DAY_S, Hospital, Scenario
from o2sim.statistics.fitting import luck

DAY = dt.timedelta(days=1)
LEAD_DAYS = 60  # that the hospital has run before its books begin
FILE = PurePath("drawn.xlsx")
FIELDS = tuple(book.field for book in BY_NAME.values() if book.field not in (PLACE.field, "classes"))


@dataclass(frozen=True)
class Thin:
    """What is amiss with the books; nothing unless said. Shares are of the rows of the book of patients.

    clock: False where dates alone are written. no_end: stays that are over and have none. no_spo2, no_flow:
    blanks. whole_days: stays whose end was filled in later, by its day, with the clock of the beginning. repeated:
    rows that stand twice, marked. marks_l_min: flows are written to the nearest mark, 0 for as set. missing: first
    and last day (from 0) of pages that are lost. counts_missed: of the lines of the stock card; stock_gap: first
    and last day without any. books: fields of Records that are kept, all where empty.
    """

    clock: bool = True
    no_end: float = 0.0
    no_spo2: float = 0.0
    no_flow: float = 0.0
    whole_days: float = 0.0
    repeated: float = 0.0
    marks_l_min: float = 0.0
    missing: tuple[tuple[int, int], ...] = ()
    counts_missed: float = 0.0
    stock_gap: tuple[int, int] | None = None
    books: tuple[str, ...] = ()

    def lost(self, day: int) -> bool:
        """Return whether the page of a day of the book (from 0) is missing."""
        return any(first <= day <= last for first, last in self.missing)

    def counted(self, day: int, u: float) -> bool:
        """Return whether the stock is counted on a day of the book (from 0), by a uniform number."""
        in_gap = self.stock_gap is not None and self.stock_gap[0] <= day <= self.stock_gap[1]
        return day == 0 or (u >= self.counts_missed and not in_gap)


WHOLE = Thin()
USUAL = Thin(
    no_end=0.07, no_spo2=0.15, no_flow=0.05, whole_days=0.3, repeated=0.01, marks_l_min=0.5, missing=((160, 169),),
    counts_missed=0.08,
)  # fmt: skip


@dataclass(frozen=True)
class History:
    """One simulated history: the hospital from LEAD_DAYS before its books on, its state at their end, its log.

    days: of the books. first: their first day. draws: the luck of the history; seed: that of its book-keepers.
    """

    hospital: Hospital
    draws: Draws
    state: State
    days: int
    seed: int

    @property
    def log(self) -> Sequence[LogEntry]:
        """Return all that happened."""
        return self.state.log or ()

    @property
    def first(self) -> dt.date:
        """Return the first day of the books."""
        return self.hospital.start + LEAD_DAYS * DAY

    @property
    def last(self) -> dt.date:
        """Return the last day of the books, which they cover to its end."""
        return self.first + (self.days - 1) * DAY

    @property
    def begin_s(self) -> int:
        """Return the second at which the books begin."""
        return LEAD_DAYS * DAY_S

    @property
    def end_s(self) -> int:
        """Return the second at which they end, and the history with them."""
        return self.hospital.end_s

    def when(self, time_s: int) -> dt.datetime:
        """Return a second as date and clock, to the minute, as it is written."""
        midnight = dt.datetime.combine(self.hospital.start, dt.time())
        return midnight + dt.timedelta(minutes=time_s // 60)

    def day(self, time_s: int) -> dt.date:
        """Return the date of a second."""
        return self.hospital.start + dt.timedelta(days=time_s // DAY_S)

    def inside(self, time_s: int) -> bool:
        """Return whether a second lies within the books."""
        return self.begin_s <= time_s < self.end_s

    def entries(self, *steps: str) -> list[LogEntry]:
        """Return what the log says of these steps, in order."""
        return [entry for entry in self.log if entry.step in steps]

    def daily(self, index: int) -> npt.NDArray[np.int64]:
        """Return a column of the daily count: at the midnight that begins each day of the books."""
        return np.array([row[index] for row in self.state.daily[LEAD_DAYS:]], dtype=np.int64)

    def luck(self, purpose: str, shape: int | tuple[int, ...]) -> npt.NDArray[np.float64]:
        """Return uniform numbers for whoever keeps the books."""
        return luck.uniforms(self.seed, f"drawn books: {purpose}", 0, shape)

    def months(self) -> list[dt.date]:
        """Return the first day of each month that the books cover whole."""
        found = {(self.first + day * DAY).replace(day=1) for day in range(self.days)}
        return sorted(month for month in found if month >= self.first and next_month(month) <= self.last + DAY)


def next_month(month: dt.date) -> dt.date:
    """Return the first day of the month after that of a date."""
    return (month.replace(day=1) + 32 * DAY).replace(day=1)


def drawn_history(
    scenario: Scenario | str | Path, strategy: str | None = None, days: int = 365, seed: int = 1
) -> History:
    """Return one history of a scenario (its text, file or itself) under a strategy, the first unless named.

    The books begin on the scenario's start; days: how long they are kept.
    """
    if not isinstance(scenario, Scenario):
        is_text = isinstance(scenario, str) and "\n" in scenario
        scenario = loads(scenario) if is_text else load(scenario)  # type: ignore[arg-type]
    asked = scenario.hospitals[strategy or next(iter(scenario.hospitals))]
    hospital = replace(
        asked, start=asked.start - LEAD_DAYS * DAY, warm_up_s=0, horizon_s=(LEAD_DAYS + days) * DAY_S
    )
    draws = Draws(seed, 0)
    state, _ = run_reference(hospital, draws, log=True)
    return History(hospital, draws, state, days, seed)


def drawn_records(
    scenario: Scenario | str | Path,
    strategy: str | None = None,
    days: int = 365,
    seed: int = 1,
    *,
    thin: Thin = WHOLE,
) -> Records:
    """Return the books of one history, as reading the workbook of them would; thin: what is amiss with them."""
    return records_of(drawn_history(scenario, strategy, days, seed), thin)


def records_of(history: History, thin: Thin = WHOLE, hospital: str | None = None) -> Records:
    """Return the books of a history; hospital: a name for Place."""
    rows: dict[str, Any] = drawn_patients.books(history, thin) | drawn_supply.books(history, thin)
    kept = thin.books or FIELDS
    classes = tuple(each.name for each in history.hospital.patients)
    places = _places(history, thin, hospital)
    return Records(
        FILE, "0" * 16, classes, places, **{name: numbered(rows[name]) for name in rows if name in kept}
    )


def numbered(rows: Sequence[Any], first: int = 4) -> tuple[Any, ...]:
    """Return rows with the numbers that they have in a sheet."""
    return tuple(replace(row, row=number) for number, row in enumerate(rows, first))


def _places(history: History, thin: Thin, hospital: str | None) -> tuple[Place, ...]:
    """Return how the books were kept; orders have dates alone, so that their usual clocks are said."""
    whole = Place(
        0, hospital, None, history.first, history.last, clock=CLOCK if thin.clock else DATES_ONLY,
        end_day_counted=False,
    )  # fmt: skip
    clocks = {"Orders": drawn_supply.usual_clocks(history)}
    if not thin.clock:
        clocks["Patients on oxygen"] = drawn_patients.usual_clocks(history)
    usual = [
        Place(0, sheet=sheet, usual_start=both[0], usual_end=both[1]) for sheet, both in clocks.items() if both
    ]
    pages = [
        Place(
            0, sheet="Patients on oxygen", missing_from=history.first + first * DAY,
            missing_to=history.first + last * DAY,
        )
        for first, last in thin.missing
    ]  # fmt: skip
    return numbered([whole, *usual, *pages])
