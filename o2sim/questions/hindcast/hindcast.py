"""Does it match last year? What a scenario forecasts, given what was recorded, beside what was counted."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from o2sim.errors import O2simError
from o2sim.fits.covered import DAY, Covered
from o2sim.questions.hindcast import laid
from o2sim.questions.hindcast.card import read_card
from o2sim.questions.hindcast.inputs import checks
from o2sim.questions.hindcast.replay import Replay, replay
from o2sim.questions.hindcast.result import Hindcasted
from o2sim.questions.hindcast.runs import Daily, Progress, run
from o2sim.questions.hindcast.series import scored
from o2sim.questions.hindcast.settings import FEWEST, MOST, HindcastSettings
from o2sim.questions.hindcast.stays import UnfitRecordsError
from o2sim.questions.hindcast.verdict import FLOWS, STAYS, UNITS, WHO, verdict
from o2sim.records.books import Records
from o2sim.records.reading import read_records
from o2sim.runs.asked import chosen_strategy, scenario_of
from o2sim.runs.identity import Origin, Ran
from o2sim.runs.study import ready_engine
from o2sim.scenario.types.hospital import Hospital, Scenario
from o2sim.settings import takes
from o2sim.shown import Shown, chart_of, frame_of
from o2sim.typed import as_json
from o2sim.version import __version__

if TYPE_CHECKING:
    import pandas as pd

    from o2sim.shown import Chart

MANY_BLANK = 0.2  # of the stays: what is drawn for more than these is the scenario's own
METHOD = (
    "Each forecast starts from a count of the stock card and knows the patients, cuts and deliveries that came "
    "after it: a test of the scenario, not of forecasting.",
    "Use is simulated with cylinders without end and cut off at what was on hand; what is part used or on "
    "patients at a count is not known.",
    "Where the shelf is often bare its ranges are too narrow, since whom the next cylinder goes to is simplified: "
    "they are judged by the counts in whose forecast it is hardly bare.",
    "A count is taken as made when its day begins. Naive forecasts know the counts before and what came, not the "
    "patients.",
)


@dataclass(frozen=True)
class Hindcast(Shown):
    """How a scenario, given what was recorded, forecasts the rest of it."""

    scenario: Scenario = field(repr=False)
    record: Hindcasted = field(repr=False)

    @property
    def trusted(self) -> bool:
        """Return whether nothing speaks against it."""
        return self.record.trust == "may be trusted"

    @property
    def verdict(self) -> str:
        """Return two sentences: whether and for what it may be trusted, and which number to doubt."""
        return " ".join(self.record.verdict)

    @property
    def result(self) -> dict[str, object]:
        """Return the object that `o2sim hindcast --json` prints."""
        found: dict[str, object] = as_json(self.record)
        return found

    def to_frame(self, of: str = "stock") -> pd.DataFrame:
        """Return the stock card as a data frame, a row from each count to the next, or `of="series"`, `"numbers"`.

        Columns of the stock card: from, to, full_before, came, full, used, their forecasts with the middle 50 and
        90 %, bare_days_forecast, rank, left_out. Cylinders, but for days and rank.
        """
        return frame_of(self, of=of)

    def chart(self, of: str = "stock") -> Chart:
        """Return a drawing: of="stock" the card with its forecasts, "ranks" how even the ranks are."""
        return chart_of(self, of=of)


@takes(HindcastSettings)
def hindcast(
    scenario: str | Path | Scenario,
    records: str | Path | Records,
    *,
    settings: HindcastSettings,
    progress: Progress | None = None,
) -> Hindcast:
    """Return how a scenario, given what was recorded, forecasts what else was: use, bare shelves, patients.

    scenario: itself or its file; records: a workbook, a folder of CSV files, or what read_records gave. progress
    is called with the number of replications done. Raises ScenarioError, RecordsError, and O2simError where there
    is nothing to compare or no such strategy.
    """
    if not FEWEST <= settings.replications <= MOST:
        raise O2simError(f"replications: found {settings.replications}; allowed: {FEWEST} to {MOST:,}")
    source = scenario_of(scenario)
    books = records if isinstance(records, Records) else _read(records)
    name, why = chosen_strategy(source, settings.strategy)
    _require_one_size(source.hospitals[name])
    replayed = replay(source.hospitals[name], books)
    engine = ready_engine(source, settings.engine)
    daily = run(replayed, source, settings.seed, settings.replications, engine, progress)
    ran = Ran(__version__, engine, settings.seed, daily.replications)
    return Hindcast(source, _laid(source, name, why, books, replayed, daily, ran))


def _require_one_size(hospital: Hospital) -> None:
    """Refuse cylinders of several sizes, which a stock card counts together."""
    if hospital.cylinders is not None and hospital.cylinders.sizes:
        raise O2simError(
            "hindcast: found cylinders of several sizes; the records count all together, so that no use of a size "
            "can be compared; allowed: a scenario whose cylinders are of one type"
        )


def _read(records: object) -> Records:
    if not isinstance(records, str | Path):
        raise O2simError(f"records: found {type(records).__name__}; allowed: a path, or what read_records gave")
    return read_records(records)


def _laid(
    source: Scenario, name: str, why: str, books: Records, replayed: Replay, daily: Daily, ran: Ran
) -> Hindcasted:
    card = read_card(books, replayed)
    found = laid.walked(card, daily)
    series = [*laid.of_card(found), *laid.of_midnights(books, replayed, daily)]
    if not card.between and source.hospitals[name].cylinders is not None:
        series += laid.of_months(books, replayed, daily)
    if not series:
        raise UnfitRecordsError(
            f"no count of the records could be compared: {_why_none(replayed)}; write in Place which days each "
            "book covers, and fill in Stock card, Counts at midnight or Month totals"
        )
    results = tuple(scored(each, ran.seed) for each in series)
    numbers = checks(source.hospitals[name], books)
    trust, said = verdict(results, numbers, drawn=_drawn(replayed), period=_period(replayed))
    totals = (*laid.bare_days(books, replayed, found), *laid.waiting(books, replayed, daily, found))
    return Hindcasted(
        Origin(source.name, source.hash), ran, books.file.name, books.hash, name, why, str(replayed.first),
        str(replayed.first + (replayed.days - 1) * DAY), int(replayed.counted.sum()), trust, said, results, totals,
        numbers, laid.intervals(found, replayed, ran.seed), replayed.said,
        (*replayed.cautions, *card.cautions, *METHOD),
    )  # fmt: skip


def _why_none(replayed: Replay) -> str:
    return f"{int(replayed.counted.sum()):,} of {replayed.days:,} days have all their books"


def _drawn(replayed: Replay) -> list[str]:
    """Return what is the scenario's own for more than a few."""
    book, units = replayed.register, [UNITS] if replayed.units is None or replayed.cuts is None else []
    if book is None:
        return [WHO, FLOWS, *units]
    blank = {FLOWS: np.isnan(book.flow_ml_min), STAYS: np.isnan(book.ended_s)}
    return [what for what, missing in blank.items() if missing.size and missing.mean() > MANY_BLANK] + units


def _period(replayed: Replay) -> str:
    last = replayed.first + (replayed.days - 1) * DAY
    return Covered(replayed.first, last, replayed.counted, is_stated=True).said()
