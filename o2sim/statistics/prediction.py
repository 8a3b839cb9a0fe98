"""What more replications of the same kind would count, from those that were run.

With Jeffreys' prior the failures among m further replications, after `failures` out of n, follow the
beta-binomial law with parameters failures + 1/2 and n - failures + 1/2. Source: Jeffreys, Theory of Probability,
1961; the law as in Johnson, Kemp and Kotz, Univariate Discrete Distributions, 2005 (both from memory).
"""

from __future__ import annotations

import numpy as np
from scipy.special import betainc, betaln, gammaln

HALF = 0.5


def chance_of_at_most(most: int, more: int, failures: int, n: int) -> float:
    """Return P(at most `most` failures among `more` further replications) after failures out of n.

    Raises ValueError unless 0 <= failures <= n and more >= 0.
    """
    if not 0 <= failures <= n or more < 0:
        raise ValueError(f"{failures} failures out of {n}, then {more} more, is impossible")
    if most < 0:
        return 0.0
    k = np.arange(min(most, more) + 1, dtype=np.float64)
    a, b = failures + HALF, n - failures + HALF
    ways = gammaln(more + 1) - gammaln(k + 1) - gammaln(more - k + 1)
    return float(min(1.0, np.exp(ways + betaln(k + a, more - k + b) - betaln(a, b)).sum()))


def chance_below(target: float, failures: int, n: int) -> float:
    """Return how likely it is, after failures out of n, that the chance itself lies below a target."""
    return float(betainc(failures + HALF, n - failures + HALF, target))
