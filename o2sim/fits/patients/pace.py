"""How often patients of a class come: the yearly mean rate, its season, how uneven days and years are.

A rate is counts over covered days, each day weighed by its season, so that a book of the rainy months alone does
not pass for a year. Row r of all arrays of draws is one draw of everything.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv

from o2sim.draws.season import SEASON_DAYS
from o2sim.fits.found import DRAWS
from o2sim.fits.patients.comings import Counted
from o2sim.fits.patients.texts import percent
from o2sim.fits.patients.uneven import blocks_of, dispersion, years_apart
from o2sim.statistics.fitting.counts import rate_points, shared_cv
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.pooling import pooled_rates
from o2sim.statistics.fitting.season import LEVEL, Seasonal, season, season_draws, weekday_test

Values = npt.NDArray[np.float64]
FEW_ROWS = 20  # patients, below which a class borrows from the others
_ENOUGH_FOR_SEASON = 30  # patients
_ENOUGH_OF_YEAR = 11 / 12  # of the twelfths of a year
_NARROW = 1e-6
_WEEK = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")


@dataclass(frozen=True)
class Pace:
    """How often a class comes, 1 / day, with draws of shape (DRAWS,) of everything.

    dispersion: variance over mean of a day's number, 1 at least. season: None where the book cannot tell. ratios,
    peaks: of the season's draws, days from the origin of `counted`. year_cv: sd over mean of whole years. shared:
    factors of mean 1 that uneven days and years put on all admissions alike, in `rates` already.
    """

    counted: Counted
    rate: float
    rates: Values
    shared: Values
    dispersion: float
    dispersions: Values
    season: Seasonal | None
    ratios: Values
    peaks: Values
    year_cv: float
    pooled: bool
    cautions: tuple[str, ...]

    def weighed_days(self, of: Counted) -> tuple[float, Values]:
        """Return the days of a book weighed by the season: the likely ones, and one for each draw, (DRAWS,)."""
        moved = of.middle + (of.origin - self.counted.origin).days
        likely = float(of.days.sum())
        if self.season is None:
            return likely, np.full(DRAWS, likely)
        if self.season.is_kept:
            likely = float(of.days @ factor(moved, self.season.ratio, self.season.peak_day))
        waves = [factor(moved, ratio, peak) for ratio, peak in zip(self.ratios, self.peaks, strict=True)]
        return likely, np.array([of.days @ wave for wave in waves])


def factor(days: Values, ratio: float, peak: float) -> Values:
    """Return the factor of the season on days, as the scenario has it: mean 1 over a year, highest over lowest."""
    return 1 + (ratio - 1) / (ratio + 1) * np.cos(2 * np.pi * (days - peak) / SEASON_DAYS)


def paces(
    of: Mapping[str, Counted], seed: int, book: str, all_: Mapping[str, Counted] | None = None
) -> dict[str, Pace]:
    """Return the pace of each class; classes with few patients borrow from the others of the book.

    all_: all admissions of a class, of which those counted are a share: they say more of how uneven days are.
    """
    all_ = all_ or {}
    pool = None
    if len(of) > 1 and any(each.total < FEW_ROWS for each in of.values()):
        pooled = pooled_rates([each.total for each in of.values()], [each.days.sum() for each in of.values()])
        pool = (pooled.shape, pooled.rate)
    return {
        name: _pace(each, seed, f"{book}, {name}", pool if each.total < FEW_ROWS else None, all_.get(name))
        for name, each in of.items()
    }


def _pace(
    of: Counted, seed: int, item: str, pool: tuple[float, float] | None, all_: Counted | None = None
) -> Pace:
    found, why_not = _season(of)
    ratios, peaks = season_draws(found, DRAWS, seed, item) if found else (np.ones(DRAWS), np.zeros(DRAWS))
    spread, spreads = dispersion(of, found, all_, seed, item)
    cv, unlike = _years(of, spread)
    bare = Pace(of, 0.0, ratios, ratios, spread, spreads, found, ratios, peaks, cv, pool is not None, ())
    likely_days, days = bare.weighed_days(of)
    shape, time = pool or (0.0, 0.0)
    luck = uniforms(seed, "how often they come", item, (3, DRAWS))
    shared = _around_one((spreads - 1) / of.total, luck[1]) * _around_one(np.full(DRAWS, unlike**2), luck[2])
    rates = rate_points(of.total + shape - 0.5 * (pool is not None), 1.0, luck[0]) / (days + time) * shared
    rate = (of.total + shape) / (likely_days + time)
    cautions = (*why_not, *_of_season(found), *_weekdays(of), *_of_years(cv), *_of_loan(pool, of))
    return Pace(of, rate, rates, shared, spread, spreads, found, ratios, peaks, cv, pool is not None, cautions)


def _around_one(variances: Values, luck: Values) -> Values:
    """Return draws of gamma laws with mean 1 and these variances, shape (DRAWS,); 1 where one is 0."""
    least = np.maximum(variances, _NARROW)
    return np.where(variances > _NARROW, gammaincinv(1 / least, luck) * least, 1.0)


def _season(of: Counted) -> tuple[Seasonal | None, tuple[str, ...]]:
    """Return the season, or why the book cannot tell of one."""
    twelfths = np.unique(np.floor((of.middle % SEASON_DAYS) * 12 / SEASON_DAYS))
    if len(twelfths) < 12 * _ENOUGH_OF_YEAR - _NARROW:
        days = f"{of.days.sum() / of.stretch:.0f} days" if of.is_daily else f"{len(of.counts)} months"
        return None, (
            f"{days} in {len(twelfths)} of the 12 months tell of no season: the rate is that of those months",
        )
    if of.total < _ENOUGH_FOR_SEASON or np.count_nonzero(of.counts) < 3:
        return None, (f"under {_ENOUGH_FOR_SEASON} patients say nothing of a season",)
    return season(of.counts, of.middle, years_apart(of), of.days), ()


def _years(of: Counted, spread: float) -> tuple[float, float]:
    """Return sd over mean of whole years, and of how a coming one may lie from the mean of those there are."""
    blocks = blocks_of(of)
    each = 1 if of.is_daily else SEASON_DAYS / 12
    whole = [kind for kind in np.unique(blocks) if np.sum(blocks == kind) * each > 0.9 * SEASON_DAYS]
    if len(whole) < 2:
        return 0.0, 0.0
    totals = [of.counts[blocks == kind].sum() * SEASON_DAYS / of.days[blocks == kind].sum() for kind in whole]
    cv = shared_cv(totals, spread)
    return cv, cv * np.sqrt(1 + 1 / len(whole))


def _of_season(found: Seasonal | None) -> tuple[str, ...]:
    if found is None or found.is_kept:
        return ()
    return (
        f"no season is to be seen (p = {found.test.chance:.2g}); one of a ratio up to {found.high:.2g} may be"
        " there unseen, and is in the range",
    )


def _weekdays(of: Counted) -> tuple[str, ...]:
    """Return the weekday that stands out most, where weekdays differ: no key of a scenario takes it."""
    if not of.is_daily or of.total < _ENOUGH_FOR_SEASON or len(of.counts) < 28:
        return ()
    weekday = (of.origin.weekday() + np.floor(of.middle).astype(int)) % 7
    test = weekday_test(of.counts, weekday, of.days)
    if not test.chance < LEVEL:
        return ()
    rates = np.array([of.counts[weekday == day].mean() for day in range(7)]) / of.counts.mean()
    day = int(np.argmax(np.abs(np.log(np.maximum(rates, 0.01)))))
    return (
        f"weekdays differ (p = {test.chance:.2g}): on {_WEEK[day]} {percent(rates[day])} of the mean; a scenario"
        " has no key for that",
    )


def _of_years(cv: float) -> tuple[str, ...]:
    if not cv > 0:
        return ()
    return (f"years differ by {percent(cv)} beyond chance, which is in the range of the rate",)


def _of_loan(pool: tuple[float, float] | None, of: Counted) -> tuple[str, ...]:
    if pool is None:
        return ()
    few_rows = "under 5" if of.total < 5 else str(of.total)
    return (f"only {few_rows} patients: the rate borrows from the other classes",)
