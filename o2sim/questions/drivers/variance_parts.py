"""Split the variance of a table of draws by replications: what is unknown, and what is chance.

Every draw meets the same replications, so the table of one strategy is crossed: draw j by replication k. Its mean
square by draws less that of the rest (two-way analysis of variance without repetition, Hoeffding's decomposition),
over the number of replications, is the variance between draws free of the noise of the inner replications, without
bias where draws are independent. The estimates by draw are drawn together about their mean until they have that
variance, and the range that holds 90 % of them is shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.measures.names import CHANCE, COST
from o2sim.questions.drivers.points import Table
from o2sim.questions.drivers.values import Values
from o2sim.questions.whatif.break_even import RESAMPLES, SEED

RANGE = 0.9  # of the draws lies within the range that is shown


@dataclass(frozen=True)
class Spread:
    """Mean over draws and replications, its variance, the variance between draws, within one, and its values."""

    mean: float
    of_mean: float
    between: float
    within: float
    values: Values


def spread(table: Table, measure: str = CHANCE) -> Spread:
    """Return the parts of a crossed table, shape (draws, replications), at least 2 by 2."""
    draws, replications = table.shape
    rows, columns, mean = table.mean(axis=1), table.mean(axis=0), float(table.mean())
    by_draw = replications * float(np.sum((rows - mean) ** 2)) / (draws - 1)
    by_luck = draws * float(np.sum((columns - mean) ** 2)) / (replications - 1)
    rest = float(np.sum((table - rows[:, None] - columns + mean) ** 2)) / ((draws - 1) * (replications - 1))
    between = max((by_draw - rest) / replications, 0.0)
    drawn_together = (between * replications / by_draw) ** 0.5 if by_draw > 0 else 0.0
    values = mean + drawn_together * (rows - mean)
    if measure != COST:
        values = np.clip(values, 0.0, 1.0 if measure == CHANCE else np.inf)
    of_mean = max(by_draw + by_luck - rest, 0.0) / (draws * replications)
    within = float(table.var(axis=1, ddof=1).mean())
    return Spread(mean, of_mean, between, within, values)


def ends(values: Values) -> tuple[float, float]:
    """Return the range that holds RANGE of the draws."""
    return quantiles(values, RANGE)


def quantiles(values: Values | Sequence[float], inside: float) -> tuple[float, float]:
    """Return the range that holds this share of values, as much left out on either side."""
    tail = (1 - inside) / 2
    low, high = np.quantile(values, [tail, 1 - tail])
    return float(low), float(high)


def resamples(count: int) -> list[npt.NDArray[np.int64]]:
    """Return the rows of each bootstrap sample of so many draws, the same ones every time."""
    luck = np.random.default_rng(SEED)
    return [luck.integers(0, count, count) for _ in range(RESAMPLES)]
