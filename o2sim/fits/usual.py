"""The clock at which things usually end less that at which they usually begin, which differences of dates lack."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np

from o2sim.records.books import Records, kept

NOON = dt.time(12)  # where only one of the two usual clocks is written: the mean of a day
ENOUGH_CLOCKS = 5  # written beside dates, for their mean to stand for the others: assumption


def usual_shift(
    records: Records, sheet: str, begun: Iterable[dt.date | None], ended: Iterable[dt.date | None]
) -> float | None:
    """Return the usual clock at the end less that at the beginning, in days, from Place or rows that have clocks.

    begun, ended: of the rows; dates alone count as without a clock. None where neither says. A difference of dates
    is the time between + clock at the beginning - clock at the end.
    """
    start, end = (kept(records.places, sheet, name) for name in ("usual_start", "usual_end"))
    if start is not None or end is not None:
        first = start.usual_start if start is not None else None
        last = end.usual_end if end is not None else None
        return share_of_day(last or NOON) - share_of_day(first or NOON)
    clocks = [
        [share_of_day(when.time()) for when in side if isinstance(when, dt.datetime)] for side in (begun, ended)
    ]
    if min(map(len, clocks)) < ENOUGH_CLOCKS:
        return None
    return float(np.mean(clocks[1]) - np.mean(clocks[0]))


def share_of_day(at: dt.time) -> float:
    """Return how much of the day is over at a clock."""
    return (at.hour * 60 + at.minute) / 1440
