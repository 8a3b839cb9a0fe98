"""Spells up and down, such as mains power: from a logger that looks every so often, or from hours a day alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import integral, moment
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.spells import Spells, looked

Values = npt.NDArray[np.float64]
DAY_H = 24.0
_FAST_H, _SLOW_H = 0.02, 2_400.0  # the shortest and longest time over which power forgets how it was


def share_met(law: Law, every: float) -> float:
    """Return the chance that a spell is met by a look every `every`: E[min(1, L / d)] = (d - G(d)) / d."""
    return 1 - float(integral(law, every)) / every


def mean_looks(law: Law, every: float) -> float:
    """Return how many looks meet a spell on average, those missed counted as 0: E[L] / d."""
    return moment(law) / every


@dataclass(frozen=True)
class Runs:
    """Spells down and up by how many looks in a row met each; the first and the last of a log have no known
    end."""

    down: Spells
    up: Spells


def runs(is_up: npt.ArrayLike, every: float) -> Runs:
    """Return the spells of a log of looks, True for up, shape (n,), one every `every` (hours, say).

    The run at the start is left out, since nobody knows when it began; the one at the end is not over.
    Raises ValueError for a log that never changes.
    """
    states = np.asarray(is_up, bool)
    changes = np.flatnonzero(states[1:] != states[:-1]) + 1
    if not changes.size:
        raise ValueError("looks: the log never changes from up to down; its spells are longer than the log")
    edges = np.append(changes, len(states))
    lengths, kinds = np.diff(edges), states[changes]
    over = np.arange(len(lengths)) < len(lengths) - 1
    down, up = (looked(lengths[kinds == kind], every, over[kinds == kind]) for kind in (False, True))
    return Runs(down, up)


def mean_up_corrected(mean_up_seen: float, down: Law, every: float) -> float:
    """Return the mean spell up, given the mean of those between spells down that were met, in the same unit.

    A spell down that no look met joins two spells up: of p met, what was seen is (E[up] + (1 - p) E[missed]) / p.
    """
    met = share_met(down, every)
    missed = _mean_missed(down, every)
    return max(met * mean_up_seen - (1 - met) * missed, 0.0)


def _mean_missed(law: Law, every: float) -> float:
    """Return the mean length of spells that no look met: weight 1 - L / d on those shorter than d."""
    at = (np.arange(400) + 0.5) / 400 * every
    whole = float(integral(law, every))
    second = float(np.sum(integral(law, at)) * every / 400)  # the integral of G, so E[(d - L)+^2] / 2
    return every - 2 * second / whole if whole > 0 else 0.0


@dataclass(frozen=True)
class UpAndDown:
    """Mean spells up and down in hours."""

    up_h: float
    down_h: float


def from_daily_hours(hours: npt.ArrayLike) -> UpAndDown:
    """Return mean spells up and down by hours with power of each day (0-24), shape (n,), nan for days not known.

    Both exponential: the share up gives their ratio, and the variance of a day 2 A (1-A) t^2 (24/t - 1 +
    exp(-24/t)) the time t over which power forgets how it was (Takacs, Acta Mathematica Hungarica
    1957;8:169-91). Raises ValueError for fewer than 14 days, hours outside 0-24, power that never fails, and
    days that are too much alike or too different.
    """
    day = np.asarray(hours, np.float64)
    day = day[~np.isnan(day)]
    if len(day) < 14 or np.any(day < 0) or np.any(day > DAY_H) or not 0 < day.mean() < DAY_H:
        raise ValueError(f"hours: {len(day)} days; allowed: 14 or more of 0 to 24 h, neither all 0 nor all 24")
    share = float(day.mean()) / DAY_H
    spread = float(day.var(ddof=1))

    def missing(t: float) -> float:
        return _day_variance(share, t) - spread

    if missing(_FAST_H) >= 0:
        raise ValueError(
            "hours: the days are all alike, as by a timetable; give the hours of the day that are cut"
        )
    if missing(_SLOW_H) <= 0:
        raise ValueError("hours: whole days up or down; give when each cut began and ended")
    forgets = float(brentq(missing, _FAST_H, _SLOW_H))
    return UpAndDown(forgets / (1 - share), forgets / share)


def daily_hours_draws(fitted: UpAndDown, days: int, draws: int, seed: int) -> tuple[UpAndDown, ...]:
    """Return fits to drawn logs of as many days, turned to the other side of the fit; those without a fit left
    out."""
    found = []
    for nth in range(draws):
        try:
            again = from_daily_hours(drawn_daily_hours(fitted, days, seed, nth))
        except ValueError:
            continue
        found.append(UpAndDown(fitted.up_h**2 / again.up_h, fitted.down_h**2 / again.down_h))
    return tuple(found)


def drawn_daily_hours(law: UpAndDown, days: int, seed: int, log: int = 0) -> Values:
    """Return hours with power of each day, shape (days,), from exponential spells up and down (hours)."""
    spells = int(days * DAY_H / (law.up_h + law.down_h) * 1.5) + 60
    luck = -np.log(uniforms(seed, "spells of a drawn log", log, (spells, 2)))
    starts_up = uniforms(seed, "state of a drawn log", log, 1)[0] < law.up_h / (law.up_h + law.down_h)
    means = (law.up_h, law.down_h) if starts_up else (law.down_h, law.up_h)
    edges = np.concatenate([[0.0], np.cumsum((luck * means).ravel())])
    up = np.where((np.arange(2 * spells) % 2 == 0) == starts_up, 1.0, 0.0)
    total = np.concatenate([[0.0], np.cumsum(np.diff(edges) * up)])
    hours = np.diff(np.interp(np.arange(days + 1) * DAY_H, edges, total))
    return np.asarray(np.clip(hours, 0.0, DAY_H), np.float64)


def dark_by_hour(off_h: npt.ArrayLike, on_h: npt.ArrayLike, days: float) -> Values:
    """Return the share of the time that each hour of the day is without power, shape (24,).

    off_h, on_h: hours since a midnight, shape (n,) each; days: how many the book covers.
    """
    dark = np.zeros(24)
    for off, on in zip(np.asarray(off_h, np.float64).tolist(), np.asarray(on_h, np.float64).tolist(), strict=True):
        hours = np.arange(np.floor(off), np.ceil(on))
        np.add.at(dark, hours.astype(int) % 24, np.minimum(hours + 1, on) - np.maximum(hours, off))
    return dark / days


def windows(dark: Values, least: float = 0.5) -> tuple[tuple[int, int], ...]:
    """Return the hours of the day, from and to, that are dark for at least this share of days; to 24 + h past
    midnight."""
    is_dark = dark >= least
    if is_dark.all():
        return ((0, 24),)
    first = [hour for hour in range(24) if is_dark[hour] and not is_dark[hour - 1]]
    return tuple((at, at + next(k for k in range(1, 25) if not is_dark[(at + k) % 24])) for at in first)


def _day_variance(share: float, t: float) -> float:
    return 2 * share * (1 - share) * t**2 * (DAY_H / t - 1 + float(np.exp(-DAY_H / t)))
