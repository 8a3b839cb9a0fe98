"""Many laws at once and many durations of one law: the same figures as one by one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gammainccinv, gammaincinv

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import KINDS, quantile, side_by_side
from o2sim.statistics.fitting.many import MANY, many_quantiles
from o2sim.statistics.fitting.spells import between, exact, in_steps, joined, log_chances, still_on

LUCK = np.random.default_rng(7)
ROWS = joined(
    exact([3.0, 7.5]), still_on([4.0, 9.0]), between([1.0, 2.0], [5.0, 8.0], entry=[0.0, 1.5]),
    in_steps([0, 1, 4, 3], 24.0, over=[True, True, True, False], entry=[0, 0, 2, 0], shift=-0.2),
)  # fmt: skip
PAIRS = ((1.4, 0.8), (0.9, 2.0), (2.5, 1.1))


@pytest.mark.parametrize("kind", KINDS)
def test_laws_side_by_side_give_each_row_the_chance_that_one_law_gives(kind):
    """Rows of all sorts under three laws at once, to the last digit."""
    laws = [Law(kind, pair[1:] if kind == "exponential" else pair) for pair in PAIRS]
    assert log_chances(side_by_side(laws), ROWS).tolist() == [log_chances(law, ROWS).tolist() for law in laws]


@pytest.mark.parametrize("shape", [0.06, 0.3, 1.0, 2.7, 30.0, 10_000.0])
def test_many_durations_against_scipy(shape):
    """By the table within 1e-11 of SciPy's inverse of the incomplete gamma function, far out too."""
    far = 10.0 ** -LUCK.uniform(1, 15.6, MANY)
    u = np.concatenate([LUCK.random(MANY), 1 - far, far])
    wanted = 3 * np.where(u < 0.5, gammaincinv(shape, u), gammainccinv(shape, 1 - u))
    assert many_quantiles(Law("gamma", (shape, 3.0)), u) == pytest.approx(wanted, rel=1e-11)


def test_few_durations_and_other_laws_are_not_drawn_by_a_table():
    """Nor those of a gamma law so uneven that its shortest are no numbers."""
    u = LUCK.random(MANY)
    for law, some in (
        (Law("gamma", (2.0, 3.0)), u[1:]), (Law("gamma", (0.01, 3.0)), u), (Law("weibull", (2.0, 3.0)), u),
    ):  # fmt: skip
        assert many_quantiles(law, some).tolist() == quantile(law, some).tolist()
