"""When money comes and lapses: by the calendar, or at an interval; a delay of it is drawn."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.draws.laws import quantile, whole
from o2sim.draws.philox import uniforms
from o2sim.draws.streams import INT
from o2sim.scenario.types.funds import MONTH, Allotment
from o2sim.scenario.types.hospital import DAY_S, Hospital


def allotments(key: tuple[int, int], hospital: Hospital) -> list[int]:
    """Return the seconds at which allotments come within a run, in order; key: (seed, replication)."""
    rule = hospital.funds.allotment if hospital.funds is not None else None
    if rule is None:
        return []
    found = [(due_s + _delay_s(key, rule, number)) for due_s, number in _due(hospital, rule)]
    return sorted(each for each in found if each < hospital.end_s)


def lapses(hospital: Hospital) -> list[int]:
    """Return the midnights within a run, not its first second, that end the month after which money lapses."""
    month = hospital.funds.lapses if hospital.funds is not None else None
    if month is None:
        return []
    ends = (_second(hospital, year + month // 12, month % 12 + 1, 1) for year in _years(hospital))
    return [end_s for end_s in ends if 0 < end_s < hospital.end_s]


def as_records(seconds: list[int]) -> npt.NDArray[Any]:
    """Return seconds as records for compiled code; at least room for one, which keeps the address good."""
    array: npt.NDArray[Any] = np.zeros(max(1, len(seconds)), dtype=INT).view(np.recarray)
    array["value"][: len(seconds)] = seconds
    return array[: len(seconds)]


def _due(hospital: Hospital, rule: Allotment) -> Iterator[tuple[int, int]]:
    """Yield (second, its number) of each allotment that falls due within a run.

    The number is that of the month since the year 0, the year, or how many came before it in the run.
    """
    if isinstance(rule.every_s, int):
        for number in range(-(-hospital.end_s // rule.every_s)):
            yield number * rule.every_s, number
        return
    by_month = rule.every_s == MONTH
    for year in _years(hospital):
        for month in range(1, 13) if by_month else (rule.month or 1,):
            due_s = _second(hospital, year, month, rule.day)
            if 0 <= due_s < hospital.end_s:
                yield due_s, year * 12 + month - 1 if by_month else year


def _delay_s(key: tuple[int, int], rule: Allotment, number: int) -> int:
    if rule.delay_s is None:
        return 0
    return int(whole(quantile(rule.delay_s, uniforms(*key, "allotment delay", 0, number, 1)), 0)[0])


def _years(hospital: Hospital) -> range:
    """Return the years that a run may touch."""
    first = hospital.start - dt.timedelta(days=max(0, hospital.warm_up_s) // DAY_S + 1)
    last = hospital.start + dt.timedelta(seconds=hospital.horizon_s)
    return range(first.year, last.year + 1)


def _second(hospital: Hospital, year: int, month: int, day: int) -> int:
    """Return the second of a run at which a day begins; in a shorter month its last day."""
    date = dt.date(year, month, min(day, calendar.monthrange(year, month)[1]))
    return hospital.warm_up_s + (date - hospital.start).days * DAY_S
