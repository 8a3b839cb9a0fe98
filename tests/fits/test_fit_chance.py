"""Records simulated, fitted, compared: the fitted chance of a shortfall holds the truth's."""

from __future__ import annotations

import numpy as np
import pytest
from fit_chance import TRUTH, TRUTH_REPLICATIONS, chance, chances_by_draw
from scipy.stats import binom

from o2sim import loads

HOSPITALS = 20


@pytest.mark.slow
def test_the_fitted_chance_of_a_shortfall_holds_that_of_the_truth():
    """The truth's chance lies within 5 to 95 % of the draws' in 90 % of hospitals, as far as 20 can say."""
    true = float(chance(loads(TRUTH), TRUTH_REPLICATIONS).mean())
    held = []
    for seed in range(1, HOSPITALS + 1):
        by_draw = chances_by_draw(seed)
        low, middle, high = np.quantile(by_draw, [0.05, 0.5, 0.95])
        print(f"hospital {seed}: {low:.3f} to {high:.3f}, median {middle:.3f}; truth {true:.3f}")
        held.append(bool(low <= true <= high))
    assert 0.1 < true < 0.9  # else the chance could not be missed
    assert sum(held) >= binom.ppf(0.01, HOSPITALS, 0.9)
