"""The time within which 19 in 20 deliveries to a hospital come, closed roads and all.

Orders are placed at every third midnight of a year (or of the horizon, if that is longer), beginning a day later
in each of many years of the project's own draws, each by itself, and followed by the rules of the road. The
figure is that of the worst calendar month of placing, so that a road which closes for a season is not diluted by
the rest of the year; each month's stands beside it, on closed and on open roads. Waiting behind an earlier order
is left out: the earlier one is then the delivery that comes. The seed is fixed, so that a card does not change
with the seed of a study.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil

import numpy as np

from o2sim.draws.laws import quantile
from o2sim.draws.sample import Draws, Series
from o2sim.model.steps.road import next_delivery_s, taken_up_s, week_begins_s
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Resupply, Strategy
from o2sim.typed import Count, item

SEED = 20
APART_DAYS = 3  # orders of one year: those of the day before and after meet the same closed road and add little
YEARS = 400 * APART_DAYS
SHARE = 0.95
LOOK_ON_DAYS = 365  # beyond the last order, so that roads may still close while it is on the way
NEAR = 1e-9
Month = tuple[int, int]  # year of the run, month of the calendar


@dataclass(frozen=True)
class DeliveryTime:
    """Whole days, rounded up, within which 19 in 20 deliveries come; open_days if no road were closed.

    late_s: the same before it is rounded up. placed_in: the month (1-12) of the orders that take longest, None
    where nothing but the law of the lead time counts.
    """

    days: Count = item("19 in 20 deliveries come within so many, closed roads included")
    open_days: Count = item("the same if no road were closed")
    late_s: float = item("days before they are rounded up, in seconds")
    placed_in: Count | None = item("month of the orders that take longest; null without a calendar")


@dataclass(frozen=True)
class MonthTime:
    """Seconds within which 19 in 20 orders placed in a month (1-12) come, with closed roads and on open ones."""

    month: int
    late_s: float
    open_s: float

    @property
    def road_may_close(self) -> bool:
        """Return True if closed roads make it longer by a whole day of the card."""
        return whole_days(self.late_s) > whole_days(self.open_s)


def delivery_time(hospital: Hospital, emergency: bool = False) -> DeliveryTime | None:
    """Return the time of an ordinary delivery, or of an emergency one; None where the scenario has none."""
    road = _road(hospital, emergency)
    if road is None:
        return None
    months = delivery_months(hospital, emergency)
    if not months:
        late_s = float(quantile(road.lead_time_s, np.array([SHARE]))[0])
        return DeliveryTime(whole_days(late_s), whole_days(late_s), late_s, None)
    worst = max(months, key=lambda each: each.late_s)
    return DeliveryTime(whole_days(worst.late_s), whole_days(worst.open_s), worst.late_s, worst.month)


def delivery_months(hospital: Hospital, emergency: bool = False) -> tuple[MonthTime, ...]:
    """Return the time of each month of placing in each year; none where only the law of the lead time counts."""
    road = _road(hospital, emergency)
    if road is None or not (road.road_closures or road.supplier_outages or road.no_delivery):
        return ()
    return _months(road, hospital.start, max(hospital.horizon_s // DAY_S, YEAR_DAYS))


def _road(hospital: Hospital, emergency: bool) -> Resupply | None:
    """Return what the way of a delivery depends on, and nothing else; None where the scenario has none."""
    resupply = hospital.resupply
    rule = resupply.emergency if resupply is not None and emergency else None
    if resupply is None or (emergency and rule is None):
        return None
    return Resupply(
        None,
        0,
        0,
        resupply.lead_time_s if rule is None else rule.lead_time_s,
        road_closures=resupply.road_closures,
        own_cylinders=resupply.own_cylinders,
        # An emergency is another supplier's, on any day, but on the same road.
        supplier_outages=resupply.supplier_outages if rule is None else (),
        no_delivery=resupply.no_delivery if rule is None else (),
    )


@lru_cache(maxsize=64)
def _months(road: Resupply, start: dt.date, days: int) -> tuple[MonthTime, ...]:
    months = [(day // YEAR_DAYS, (start + dt.timedelta(days=day)).month) for day in range(days)]
    closed: dict[Month, list[int]] = defaultdict(list)
    opened: dict[Month, list[int]] = defaultdict(list)
    for waits, roads_close in ((closed, True), (opened, False)):
        for day, wait in _waits(road, start, days, roads_close):
            waits[months[day]].append(wait)
    return tuple(
        MonthTime(month[1], nineteen_in_20(each), nineteen_in_20(opened[month])) for month, each in closed.items()
    )


def whole_days(seconds: float) -> int:
    """Return the whole days that a time takes, at least one."""
    return max(1, ceil(seconds / DAY_S - NEAR))


def nineteen_in_20(values: Sequence[float]) -> float:
    """Return the least of the values that 19 in 20 of them do not exceed."""
    return sorted(values)[ceil(SHARE * len(values) - NEAR) - 1]


def _waits(road: Resupply, start: dt.date, days: int, closed: bool) -> Iterator[tuple[int, int]]:
    """Yield (day of placing, seconds to the delivery) of the orders of all years, roads closed or not."""
    hospital = Hospital(
        Strategy("", ()), start, (days + LOOK_ON_DAYS) * DAY_S, 0, 0, 0, patients=(), resupply=road
    )
    monday_s = week_begins_s(start, 0)
    for year in range(YEARS):
        draws = Draws(SEED, year)
        closures, outages = draws.closures(hospital) if closed else [], draws.outages(hospital)
        leads = Series(draws.key, road.lead_time_s, "lead time", start.toordinal(), least=0)
        way_out = closures if road.own_cylinders else []
        for day in range(year % APART_DAYS, days, APART_DAYS):
            due_s = taken_up_s(day * DAY_S, outages, way_out) + leads[day]
            yield day, next_delivery_s(due_s, closures, road.no_delivery, monday_s) - day * DAY_S
