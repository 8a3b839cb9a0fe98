"""The scenario's own numbers beside the same of the records: what a replay of recorded patients would hide."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from o2sim.draws.season import cumulative
from o2sim.fits.covered import DAY, Covered, covered, plain
from o2sim.questions.hindcast import stays
from o2sim.questions.hindcast.cuts import CUTS
from o2sim.questions.hindcast.stays import begun
from o2sim.records.books import Records
from o2sim.records.findings import FEW
from o2sim.records.rows import Stay
from o2sim.scenario.types.hospital import DAY_S, Hospital, Law, PatientClass
from o2sim.scenario.types.laws import law_mean
from o2sim.typed import Count, item

FOLLOWED_DAYS = 30  # a stay counts where it began so long before the book ends, lest the short ones are too many
FAR, BEYOND = 1.2, 3.5  # times apart, and standard errors: beyond both a number is doubted, of many (assumption)
HOUR_S, ML_PER_LITRE = 3_600, 1_000


@dataclass(frozen=True)
class Check:
    """A number of the scenario beside the same of the records."""

    key: str = item("of the scenario, with dots")
    name: str = item("in words")
    scenario: float = item("what the scenario has, its mean")
    recorded: float = item("what the records have")
    unit: str = item()
    rows: Count = item("of the records that it comes from")
    errors_apart: float = item("standard errors between them, roughly; above 0 where the records have more")
    doubted: bool = item("far from the records, and not by luck")

    @property
    def times(self) -> float:
        """Return how many times the scenario's number the recorded one is."""
        return self.recorded / self.scenario if self.scenario else math.inf


def checks(hospital: Hospital, records: Records) -> tuple[Check, ...]:
    """Return what can be checked; where fewer than 5 rows say something, nothing is."""
    book = covered(records, stays.SHEET, (begun(stay) for stay in records.once)) if records.once else None
    found = list(_lead_time(hospital, records))
    if book is not None:
        for kind in hospital.patients:
            mine = [stay for stay in records.once if stay.class_ == kind.name]
            found += [*_admissions(kind, mine, book), *_flow(kind, mine), *_duration(kind, mine, book, records)]
    return (*found, *_power(hospital, records))


def _check(key: str, name: str, own: float, seen: float, unit: str, rows: int, error: float) -> Check:
    apart = (seen - own) / error if error > 0 else math.copysign(99.0, seen - own) if seen != own else 0.0
    times = max(seen, 1e-9) / max(own, 1e-9)
    doubted = abs(apart) >= BEYOND and not 1 / FAR <= times <= FAR
    return Check(key, name, own, seen, unit, rows, float(np.clip(apart, -99, 99)), doubted)


def _admissions(kind: PatientClass, rows: Sequence[Stay], book: Covered) -> Iterator[Check]:
    """Yield patients put on oxygen a day, where they are drawn: none of those there before the book began."""
    if kind.recorded is not None:
        return
    seen = sum(book.holds(plain(when)) for when in map(begun, rows) if when is not None)
    share = kind.hypoxaemic * kind.recognised + (1 - kind.hypoxaemic) * kind.given_without_need
    season = np.diff(cumulative(np.arange(book.is_covered.size + 1.0), kind.season, book.first))
    expected = kind.admissions_per_day * share * float(season[book.is_covered].sum())
    if max(seen, expected) < FEW or 0 < seen < FEW:
        return
    spread = 1 + (kind.overdispersion - 1) * share
    yield _check(
        f"patients.{kind.name}.admissions", f"admissions of {kind.name}", expected / book.days, seen / book.days,
        "put on oxygen a day", seen, math.sqrt(max(expected, 1) * spread) / book.days,
    )  # fmt: skip


def _flow(kind: PatientClass, rows: Sequence[Stay]) -> Iterator[Check]:
    flows = [stay.flow_ml_min / ML_PER_LITRE for stay in rows if stay.flow_ml_min is not None]
    if kind.recorded is None:
        yield from _mean(
            f"patients.{kind.name}.flow",
            f"the flow of {kind.name}",
            kind.flow_ml_min,
            ML_PER_LITRE,
            flows,
            "L/min",
        )


def _duration(kind: PatientClass, rows: Sequence[Stay], book: Covered, records: Records) -> Iterator[Check]:
    """Yield how long a class is on oxygen, in days; clocks that nobody wrote count as the usual ones."""
    usual = records.place(stays.SHEET)
    clocks = (None, None) if usual is None else (usual.usual_start, usual.usual_end)
    latest = book.last - FOLLOWED_DAYS * DAY
    lengths = []
    for stay in rows:
        when = begun(stay)
        if when is not None and stay.ended is not None and book.first <= plain(when) <= latest:
            lengths.append((_at(stay.ended, clocks[1]) - _at(when, clocks[0])).total_seconds() / DAY_S)
    if kind.recorded is None:
        late_s = 0.0 if kind.weaned_late_s is None else law_mean(kind.weaned_late_s)
        yield from _mean(
            f"patients.{kind.name}.duration", f"how long {kind.name} are on oxygen", kind.duration_s, DAY_S,
            lengths, "days", late_s,
        )  # fmt: skip


def _at(when: dt.date, clock: dt.time | None) -> dt.datetime:
    return when if isinstance(when, dt.datetime) else dt.datetime.combine(when, clock or dt.time(12))


def _lead_time(hospital: Hospital, records: Records) -> Iterator[Check]:
    """Yield from order to delivery, in days, of orders that no shut road held up."""
    rule = hospital.resupply
    came = [
        float((plain(row.came) - plain(row.ordered)).days)
        for row in records.orders
        if row.came is not None and row.ordered is not None and not row.shut
    ]
    if rule is not None and not rule.no_delivery:
        yield from _mean("resupply.lead_time", "the lead time", rule.lead_time_s, DAY_S, came, "days")


def _mean(
    key: str, name: str, law: Law, size: float, seen: Iterable[float], unit: str, more: float = 0.0
) -> Iterator[Check]:
    """Yield the mean of a law beside that of what was seen; more: is added to the law's, in its own unit."""
    values = np.array(list(seen))
    if values.size >= FEW:
        error = float(values.std(ddof=1)) / math.sqrt(values.size)
        own = (law_mean(law) + more) / size
        yield _check(key, name, own, float(values.mean()), unit, int(values.size), error)


def _power(hospital: Hospital, records: Records) -> Iterator[Check]:
    """Yield the hours a day without the grid, of unplanned and planned cuts together."""
    grid, power = hospital.grid, hospital.power
    book = covered(records, CUTS, (cut.off_at for cut in records.cuts)) if records.cuts else None
    lengths = np.array([
        (cut.on_at - cut.off_at).total_seconds() / HOUR_S for cut in records.cuts if cut.on_at and cut.off_at
    ])  # fmt: skip
    planned = power is not None and bool(power.load_shedding)
    if book is None or lengths.size < FEW or grid is None or grid.up_s is None or grid.down_s is None or planned:
        return
    down, up = law_mean(grid.down_s), law_mean(grid.up_s)
    own, seen = 24 * down / (up + down), float(lengths.sum()) / book.days
    varied = 1 + float(lengths.var()) / max(float(lengths.mean()), 1e-9) ** 2
    error = own * math.sqrt(varied / lengths.size)
    yield _check("power.grid", "power cuts", own, seen, "hours a day", int(lengths.size), error)
