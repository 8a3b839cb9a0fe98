"""How uneven days are: variance over mean of a day's number beyond season and years, with draws.

Those put on oxygen are a share s of all admissions, kept at random: 1 + s (D - 1) of them is D of all. A register
tells little of it where a day has far less than one patient; All admissions of as many months, being more, tell
more. Both are joined by what each would be worth if days were even, so that chance does not choose.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv

from o2sim.draws.season import SEASON_DAYS
from o2sim.fits.found import DRAWS
from o2sim.fits.patients.comings import Counted
from o2sim.statistics.fitting.counts import constant, fit_rates, harmonic, levels, thinned
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.season import Seasonal

Values = npt.NDArray[np.float64]
ENOUGH_INTERVALS = 6  # below which unevenness is not looked for: assumption
_NARROW = 1e-6
_GRID = 200  # of values tried for each draw
_REACH = (0.05, 1e3)  # of them, of what was found
_WIDEST = 1.0  # sd over mean of an estimate, beyond which the rows say nothing


@dataclass(frozen=True)
class Spread:
    """Variance over mean that counts show, the degrees of freedom it is over, and their mean."""

    found: float
    freedom: int
    mean: float

    def variance(self, dispersion: Values) -> Values:
        """Return the variance of what is found where variance over mean is so much, shape (n,).

        Pearson's statistic over its degrees of freedom, from the fourth cumulant of a negative binomial number,
        mean D (6 D^2 - 6 D + 1); 2 + 1 / mean where D is 1 (McCullagh and Nelder 1989, from memory).
        """
        d = np.maximum(dispersion, 1.0)
        return np.asarray((2 * d**2 + d * (6 * d**2 - 6 * d + 1) / self.mean) / self.freedom, np.float64)


def dispersion(
    of: Counted, found: Seasonal | None, all_: Counted | None, seed: int, item: str
) -> tuple[float, Values]:
    """Return variance over mean of a day's number, and draws of it, shape (DRAWS,); none is below 1.

    Each draw is that at which what was found is as far from what one expects as luck has it (Gamma with the
    variance of the estimate there): the more uneven days are, the less sure is how much.
    """
    own = _spread(of, harmonic(of.middle) if found is not None and found.is_kept else None)
    more = None if all_ is None else _spread(all_, harmonic(all_.middle))
    share = 1.0
    if all_ is not None:
        share = min(of.total / of.days.sum() / (all_.total / all_.days.sum()), 1.0)
    if own is None and more is None:
        return 1.0, np.ones(DRAWS)
    weights = _weights(own, more, share)
    best = sum(w * each for w, each in zip(weights, _on_scale(own, more, share), strict=True))
    luck = uniforms(seed, "how uneven days are", item, DRAWS)
    return max(best, 1.0), _inverted(best, own, more, weights, share, luck)


def _weights(own: Spread | None, more: Spread | None, share: float) -> tuple[float, float]:
    """Return the weights of both: of one alone where the other is not there."""
    if own is None or more is None:
        return (0.0, 1.0) if own is None else (1.0, 0.0)
    one = np.ones(1)
    mine, theirs = float(own.variance(one)[0]), float(share**2 * more.variance(one)[0])
    return theirs / (mine + theirs), mine / (mine + theirs)


def _on_scale(own: Spread | None, more: Spread | None, share: float) -> tuple[float, float]:
    """Return what both say of those counted, 1 for one that is not there."""
    return (1.0 if own is None else own.found), (1.0 if more is None else thinned(more.found, share))


def _inverted(
    best: float, own: Spread | None, more: Spread | None, weights: tuple[float, float], share: float, luck: Values
) -> Values:
    """Return the least variance over mean at which each luck gives at least what was found, shape (DRAWS,)."""
    tried = max(best, _NARROW) * np.geomspace(*_REACH, _GRID)
    variance = np.zeros(_GRID)
    if own is not None:
        variance += weights[0] ** 2 * own.variance(tried)
    if more is not None:
        variance += (weights[1] * share) ** 2 * more.variance(1 + (tried - 1) / share)
    cv = np.sqrt(variance) / np.maximum(tried, 1.0)
    kept = (tried <= best) | (cv <= _WIDEST)
    tried, shape = tried[kept], 1 / np.maximum(cv[kept], _NARROW) ** 2
    shown = np.maximum.accumulate(tried * gammaincinv(shape, luck[:, None]) / shape, axis=1)
    return np.maximum([np.interp(best, row, tried) for row in shown], 1.0)


def _spread(of: Counted, season: Values | None) -> Spread | None:
    """Return what the counts show beyond a season and years; None with too few of them."""
    if len(of.counts) < ENOUGH_INTERVALS:
        return None
    columns = [constant(len(of.counts)), season, years_apart(of)]
    design = np.hstack([each for each in columns if each is not None])
    if len(of.counts) <= design.shape[1]:
        return None
    spread = fit_rates(of.counts, design, of.days).dispersion
    return Spread(spread, len(of.counts) - design.shape[1], float(of.counts.mean()))


def blocks_of(of: Counted) -> npt.NDArray[np.int64]:
    """Return which year from the first covered day on each interval lies in."""
    return np.asarray(np.floor((of.middle - of.middle[0]) / SEASON_DAYS + _NARROW), np.int64)


def years_apart(of: Counted) -> Values | None:
    """Return what sets years apart, so that it passes for no season and no unevenness of days."""
    blocks = blocks_of(of)
    kinds = np.unique(blocks)
    came = all(of.counts[blocks == kind].sum() > 0 for kind in kinds)
    return levels(blocks) if len(kinds) > 1 and came else None
