"""All that one book of durations gives: fits, their weights, 200 laws that stay possible, ranges, and the test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.adequacy import REDRAWN, Adequacy, adequacy
from o2sim.statistics.fitting.laws import KINDS, median, moment
from o2sim.statistics.fitting.maximum import Fit, aic_weights, fit_laws
from o2sim.statistics.fitting.resample import joint_draws, refits, spread
from o2sim.statistics.fitting.spells import Spells

Values = npt.NDArray[np.float64]
DRAWS = 200
_ENDED_FOR_TEST = 5  # durations that have ended, below which no test says anything


@dataclass(frozen=True)
class Fitted:
    """What a book of durations gives, in the unit of its rows.

    fits: the best first; weights: of each; draws: laws that stay possible;
    own: the same of the best kind alone, for ranges of its parameters. mean, median: 5, 50, 95 % points over
    the draws. log_median_error: sd of the logarithm of the median, for pooling. test: None with under 5 ended.
    """

    fits: tuple[Fit, ...]
    weights: tuple[float, ...]
    draws: tuple[Law, ...]
    own: tuple[Law, ...]
    mean: tuple[float, ...]
    median: tuple[float, ...]
    log_median_error: float
    test: Adequacy | None


def fitted(spells: Spells, seed: int, draws: int = DRAWS, kinds: Sequence[str] = KINDS) -> Fitted:
    """Return all that the rows give; the same for the same rows and seed. Raises ValueError as fit_laws does.

    kinds: laws that are considered, exponential among them.
    """
    fits = fit_laws(spells, kinds)
    again = refits(fits[0], spells, REDRAWN, seed)
    laws = joint_draws(fits, spells, draws, seed, again)
    medians = np.array([median(law) for law in laws])
    enough = int(spells.is_over.sum()) >= _ENDED_FOR_TEST and len(again.laws) >= REDRAWN // 2
    return Fitted(
        fits,
        tuple(aic_weights(fits).tolist()),
        laws,
        joint_draws(fits[:1], spells, draws, seed, again),
        spread([moment(law) for law in laws]),
        spread(medians),
        float(np.log(medians).std(ddof=1)),
        adequacy(fits[0].law, spells, again, seed) if enough else None,
    )
