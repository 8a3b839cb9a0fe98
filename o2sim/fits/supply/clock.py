"""A book as stretches of hours covered without a gap, from a midnight on, and how finely its clocks go."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from o2sim.fits.covered import Covered

UNITS_MIN = (60, 30, 15, 10, 5)  # to which clocks are rounded in practice
ROUNDED = 0.9  # of the clocks of a book, from which on all are taken as rounded
ENOUGH = 10  # clocks, below which nothing is said of their rounding


def hours_since(first: dt.date, when: dt.datetime) -> float:
    """Return the hours from the midnight that begins a day to a time."""
    return (when - dt.datetime.combine(first, dt.time())) / dt.timedelta(hours=1)


def days_since(first: dt.date, when: dt.date) -> int:
    """Return the days from one day to another."""
    return ((when.date() if isinstance(when, dt.datetime) else when) - first).days


def stretches(book: Covered) -> tuple[tuple[float, float], ...]:
    """Return the covered runs of days as hours since the midnight that begins the first day, [from, to)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], book.is_covered.astype(int), [0]])))
    return tuple((float(begin * 24), float(end * 24)) for begin, end in zip(edges[::2], edges[1::2], strict=True))


def rounded_to_h(clocks: Sequence[dt.datetime]) -> float:
    """Return the unit to which nearly all clocks are rounded, in hours; 0 where they are not, or are few."""
    minutes = np.array([clock.minute + clock.second / 60 for clock in clocks])
    if len(minutes) < ENOUGH:
        return 0.0
    return next((unit / 60 for unit in UNITS_MIN if np.mean(minutes % unit == 0) >= ROUNDED), 0.0)
