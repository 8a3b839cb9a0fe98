"""The scenario's own numbers beside the same of the records: what a replay of recorded patients would hide."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, stdtr

from o2sim.draws.season import cumulative
from o2sim.fits.covered import DAY, Covered, covered, plain
from o2sim.fits.supply.lives import lives
from o2sim.questions.hindcast import stays
from o2sim.questions.hindcast.cuts import CUTS
from o2sim.questions.hindcast.stays import begun, usual_clocks
from o2sim.questions.hindcast.units import CARDS
from o2sim.records.books import Records
from o2sim.records.findings import FEW
from o2sim.records.rows import Stay
from o2sim.scenario.types.hospital import DAY_S, Concentrators, Hospital, Law, PatientClass
from o2sim.scenario.types.laws import law_mean
from o2sim.typed import Count, Share, item

FOLLOWED_DAYS = 30  # a stay counts where it began so long before the book ends, lest the short ones are too many
FAR = 1.2  # times apart, at least, of a number that is doubted (assumption)
BY_LUCK = 0.01  # chance that any number of a true scenario is: shared among those checked (Bonferroni)
HOUR_S, ML_PER_LITRE = 3_600, 1_000
ORDERS = "Orders"


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
    by_luck: Share = item("chance of being so far apart, were the scenario right, by normal or t-distribution")
    doubted: bool = item("far from the records, and not by luck, of so many numbers")

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
    found += [*_units(hospital, records), *_power(hospital, records)]
    return tuple(replace(each, doubted=each.doubted and each.by_luck < BY_LUCK / len(found)) for each in found)


def _check(
    key: str, name: str, own: float, seen: float, unit: str, rows: int, error: float, freedom: int | None = None
) -> Check:
    """Return a number beside that of the records; freedom: of the error, None where it is the scenario's own."""
    apart = (seen - own) / error if error > 0 else math.copysign(99.0, seen - own) if seen != own else 0.0
    by_luck = 2 * float(ndtr(-abs(apart)) if freedom is None else stdtr(freedom, -abs(apart)))
    times = max(seen, 1e-9) / max(own, 1e-9)
    is_far = not 1 / FAR <= times <= FAR
    return Check(key, name, own, seen, unit, rows, float(np.clip(apart, -99, 99)), by_luck, is_far)


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
    clocks = usual_clocks(records)
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


def _at(when: dt.date, clock_s: int | None) -> dt.datetime:
    """Return a time; of a day alone at the usual clock, else at noon."""
    if isinstance(when, dt.datetime):
        return when
    return dt.datetime.combine(when, dt.time()) + dt.timedelta(seconds=DAY_S / 2 if clock_s is None else clock_s)


def _lead_time(hospital: Hospital, records: Records) -> Iterator[Check]:
    """Yield from order to delivery, in days, of orders that no shut road held up, by the usual clocks."""
    rule = hospital.resupply
    clocks = usual_clocks(records, ORDERS)
    came = [
        (_at(row.came, clocks[1]) - _at(row.ordered, clocks[0])).total_seconds() / DAY_S
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
        yield _check(key, name, own, float(values.mean()), unit, int(values.size), error, int(values.size) - 1)


def _units(hospital: Hospital, records: Records) -> Iterator[Check]:
    """Yield how many units there are, how often they fail and how long they are out, which a replay hides."""
    rules = hospital.concentrators
    book = covered(records, CARDS, (card.down for card in records.job_cards))
    if rules is None or not records.units:
        return
    gone = {card.unit for card in records.job_cards if card.written_off}
    away = {card.unit for card in records.job_cards if card.back is None} - gone
    there = [
        each
        for each in records.units
        if each.in_use_now or each.unit in away or (each.in_use_now is None and each.unit not in gone)
    ]
    if len(there) != rules.count:
        name = "the number of concentrators"
        yield _check("concentrators.count", name, rules.count, len(there), "units", len(records.units), 0.0)
    if book is None or rules.failure_s is None or not _alike(rules):
        return
    seen = lives(records, book)
    by_age_alone = rules.failure_s.kind == "exponential" and not rules.cut_damage and rules.drift_s is None
    if seen.clock == rules.failure_clock and by_age_alone and seen.hours > 0:
        expected = seen.hours * HOUR_S / law_mean(rules.failure_s)
        if max(expected, seen.failures) >= FEW:
            per = 1_000 / seen.hours
            yield _check(
                "concentrators.failure", "how often concentrators fail", expected * per, seen.failures * per,
                f"in 1,000 {seen.clock} h", seen.failures, math.sqrt(max(expected, 1)) * per,
            )  # fmt: skip
    if rules.repair_s is not None and rules.crew is None:
        yield from _mean(
            "concentrators.repair", "how long a repair takes", rules.repair_s, DAY_S,
            _days_out(records, book, law_mean(rules.repair_s)), "days",
        )  # fmt: skip


def _alike(units: Concentrators) -> bool:
    """Return True where all units fail and are repaired by one law: books do not tell models apart."""
    laws = {(each.rules.failure_s, each.rules.failure_clock, each.rules.repair_s) for each in units.groups}
    return len(laws) == 1


def _days_out(records: Records, book: Covered, mean_s: float) -> list[float]:
    """Return the days out of units that come back, where the book goes on long enough to see it."""
    latest = book.last - max(FOLLOWED_DAYS * DAY, dt.timedelta(seconds=3 * mean_s))
    end = dt.datetime.combine(book.last + DAY, dt.time())
    return [
        (((end if card.back is None else _at(card.back, None)) - _at(card.down, None)).total_seconds()) / DAY_S
        for card in records.job_cards
        if card.down is not None and not card.written_off and plain(card.down) <= latest
    ]


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
