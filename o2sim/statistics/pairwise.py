"""Compare every two of several arms that met the same draws, and join those that luck alone separates.

Arms are compared replication by replication. Chances by their discordant pairs: McNemar's exact two-sided test
(Psychometrika 1947;12:153-7). Means by Student's t of the differences; where every difference is the same, which
has no spread, by the sign test (as likely as n coins that all fall alike). The error that is allowed is given for
each comparison: who makes m of them shares it among them (Bonferroni), so that all m hold together.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, stdtr

from o2sim.statistics.intervals import ROUNDING

Arms = npt.NDArray[np.float64] | npt.NDArray[np.bool_]
Values = npt.NDArray[np.float64]


def apart(arms: Arms, error: float) -> npt.NDArray[np.bool_]:
    """Return which two arms are clearly different, shape (k, k), each comparison wrong with at most this chance.

    arms: shape (k, n), replication j of all under the same draws; booleans are chances. Of one replication nothing
    is clear.
    """
    chances = _of_chances(arms) if arms.dtype == np.bool_ else _of_means(np.asarray(arms, dtype=np.float64))
    return np.asarray(chances <= error)


def joined(clear: npt.NDArray[np.bool_]) -> Iterator[list[int]]:
    """Yield the places of neighbours, in their order, of which no two are clearly different.

    clear: shape (k, k). A group ends where the next one is clearly different from any in it.
    """
    group: list[int] = []
    for place in range(len(clear)):
        if group and clear[place, group].any():
            yield group
            group = []
        group.append(place)
    if group:
        yield group


def _of_chances(arms: Arms) -> Values:
    """Return by pair the chance of discordant pairs as uneven as these, if both kinds were equally likely."""
    seen = arms.astype(np.float64)
    only_one = seen @ (1 - seen).T
    fewer, all_ = np.minimum(only_one, only_one.T), only_one + only_one.T
    more = all_ - fewer
    tail = betainc(np.maximum(more, 1), fewer + 1, 0.5)  # of a binomial: as many of one kind, or more
    return np.where(more > 0, np.minimum(1, 2 * tail), 1.0)


def _of_means(arms: Values) -> Values:
    """Return by pair the two-sided chance of a mean difference as large as this one, if there were none."""
    count, n = arms.shape
    chances = np.ones((count, count))
    scale = ROUNDING * max(float(np.abs(arms).max(initial=0.0)), np.finfo(np.float64).tiny)
    for place in range(count - 1 if n > 1 else 0):
        differences = arms[place + 1 :] - arms[place]
        mean, flat = differences.mean(axis=1), np.ptp(differences, axis=1) <= scale
        spread = np.where(flat, 1.0, differences.std(axis=1, ddof=1))
        by_t = 2 * stdtr(n - 1, -np.abs(mean) / (spread / n**0.5))
        by_sign = np.where(np.abs(mean) <= scale, 1.0, 2 * 0.5**n)
        found = np.where(flat, by_sign, by_t)
        chances[place, place + 1 :] = chances[place + 1 :, place] = found
    return chances
