"""What drives the answer against known indices, a gamma-Poisson hospital and textbook values of information."""

from __future__ import annotations

import importlib.util
from math import exp, pi, sin, sqrt

import numpy as np
import pytest
from running import sizes
from scipy import stats
from test_sizing_theory import shop

from o2sim.measures.names import CHANCE, COST
from o2sim.questions.drivers.nested import nested, shares
from o2sim.questions.drivers.points import Responses, of_scenario
from o2sim.questions.drivers.regret import value_of_information
from o2sim.questions.drivers.result import Estimate
from o2sim.questions.drivers.screening import screening
from o2sim.questions.drivers.variance_parts import spread
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.estimator import Estimator

pytestmark = pytest.mark.theory
salib = pytest.mark.skipif(importlib.util.find_spec("SALib") is None, reason="SALib is an extra")
HALF = Estimator(0.95, "years")


def numbers(*ranges: tuple[float, float, float]) -> list[Uncertain]:
    """Return uncertain numbers x1, x2... with these ranges."""
    return [
        Uncertain(
            f"x{n}", (str(low), str(likely), str(high)), (low, likely, high), "", (low, likely, high), False, ()
        )
        for n, (low, likely, high) in enumerate(ranges, 1)
    ]


def answers(function):
    """Return what gives one strategy's chance as a function of the numbers, the same in two replications."""

    def evaluate(values):
        column = np.array([function(*row) for row in values])
        return Responses({"only": {CHANCE: np.column_stack([column, column])}})

    return evaluate


def by_field(result):
    """Return the indices by field."""
    return {entry.field: entry for entry in result["strategies"]["only"][CHANCE]}


@salib
@pytest.mark.parametrize("base", [1024, pytest.param(8192, marks=pytest.mark.slow)])
def test_sobol_indices_against_ishigami(base):
    """Ishigami and Homma 1990, a = 7, b = 0.1: S1 .313905, S2 .442411, S3 0, ST1 .557589, ST3 .243684."""

    def ishigami(x1, x2, x3):
        return sin(x1) + 7 * sin(x2) ** 2 + 0.1 * x3**4 * sin(x1)

    first = 0.5 * (1 + 0.1 * pi**4 / 5) ** 2
    together = 0.1**2 * pi**8 * (1 / 18 - 1 / 50)
    variance = first + 7**2 / 8 + together
    assert first / variance == pytest.approx(0.313905, abs=5e-7)
    assert together / variance == pytest.approx(0.243684, abs=5e-7)
    result = screening(numbers(*[(-pi, 0.0, pi)] * 3), answers(ishigami), "sobol", law="uniform", samples=base,
                       seed=3, confidence=0.9999)  # fmt: skip
    found = by_field(result)
    for field, s1, st in (("x1", 0.313905, 0.557589), ("x2", 0.442411, 0.442411), ("x3", 0.0, 0.243684)):
        assert abs(found[field].s1 - s1) < found[field].s1_half_width < 0.25
        assert abs(found[field].st - st) < found[field].st_half_width < 0.25


@salib
def test_morris_against_a_linear_function():
    """Of 3 x1 - 2 x2 over ranges of 2 and 5 the effects are 6 and -10 everywhere: mu* 6 and 10, sigma 0."""
    result = screening(numbers((0, 1, 2), (0, 1, 5), (0, 1, 9)), answers(lambda x1, x2, _: 3 * x1 - 2 * x2),
                       "morris", law="pert", samples=6, seed=1, confidence=0.95)  # fmt: skip
    found = by_field(result)
    assert {field: each.mu_star for field, each in found.items()} == pytest.approx({"x1": 6, "x2": 10, "x3": 0})
    assert {field: each.mu for field, each in found.items()} == pytest.approx({"x1": 6, "x2": -10, "x3": 0})
    assert max(each.sigma for each in found.values()) < 1e-9
    assert [entry.field for entry in result["strategies"]["only"][CHANCE]] == ["x2", "x1", "x3"]


@salib
def test_morris_tells_an_interaction_from_a_straight_line():
    """x1 x2 has effects between 0 and 1 that depend on the other: sigma is no longer 0, mu* about a half."""
    result = screening(numbers((0, 0.5, 1), (0, 0.5, 1)), answers(lambda x1, x2: x1 * x2), "morris", law="pert",
                       samples=200, seed=1, confidence=0.95)  # fmt: skip
    for entry in by_field(result).values():
        assert entry.sigma > 0.2
        assert entry.mu_star == pytest.approx(0.5, abs=0.1)


def gamma_poisson() -> tuple[float, float, float]:
    """Return P(more than 60 in 7 days) at 6 a day, over a rate of Gamma(36, mean 6), and its sd between rates."""
    at_point = float(stats.poisson.sf(60, 42))
    over_all = float(stats.nbinom.sf(60, 36, 1 / (1 + 7 * 6 / 36)))
    rate = stats.gamma(36, scale=6 / 36)
    square = rate.expect(lambda r: stats.poisson.sf(60, 7 * r) ** 2)
    return at_point, over_all, sqrt(square - over_all**2)


def test_gamma_poisson_at_the_point_and_over_the_rate():
    """The two chances of the mixture of Poisson laws, a negative binomial law (Greenwood and Yule 1920)."""
    at_point, over_all, _ = gamma_poisson()
    assert at_point == pytest.approx(0.00346358, abs=5e-9)
    assert over_all == pytest.approx(0.0349256, abs=5e-8)


@sizes
def test_a_hospital_whose_rate_is_not_known_against_gamma_poisson(size):
    """A week without resupply on 60 cylinders, each patient one: simulated through the nested run.

    The mean over draws, the spread between draws with the noise of the replications taken out, and the best guess.
    """
    at_point, over_all, between = gamma_poisson()
    unsure = "admissions: {low: 2 / day, likely: 6 / day, high: 16 / day}"
    text = shop(60, "none", "7 days").replace("admissions: 6 / day", unsure)
    source = original_of(text)
    draws, replications = 128 * size, 60
    drawn = stats.gamma(36, scale=6 / 36).ppf(shares(1, draws, 5))
    evaluate = of_scenario(source, strategies=None, replications=replications, seed=11, engine="kernel")
    result = nested(source.scenario.uncertain, evaluate, HALF, law="pert", samples=draws, seed=5,
                    limits=(0.05, None, None), drawn=drawn)["strategies"]["only"][CHANCE]  # fmt: skip
    assert result.best_guess.low < at_point < result.best_guess.high
    standard_error = (result.mean.high - result.mean.estimate) / 1.96
    assert standard_error < 0.02
    assert abs(result.mean.estimate - over_all) < 4 * standard_error
    spread_error = (result.not_known_sd.high - result.not_known_sd.low) / (2 * 1.96)
    assert abs(result.not_known_sd.estimate - between) < 4 * spread_error
    assert result.mean.estimate > result.best_guess.estimate


def test_the_variance_between_draws_is_free_of_the_noise_inside_them():
    """Over 400 tables of known parts (sd 0.3 of draws, 0.5 of luck, 2 of the rest; 20 by 10) it has no bias.

    The plain variance of the means by draw would be 0.09 + 4/10 = 0.49. The parts as in any text on the two-way
    analysis of variance (Searle, Casella and McCulloch, Variance Components, 1992, from memory).
    """
    luck = np.random.default_rng(1)
    found, plain = [], []
    for _ in range(400):
        table = (0.3 * luck.standard_normal((20, 1)) + 0.5 * luck.standard_normal((1, 10))
                 + 2 * luck.standard_normal((20, 10)))  # fmt: skip
        rows, columns, mean = table.mean(axis=1), table.mean(axis=0), table.mean()
        by_draw = 10 * np.sum((rows - mean) ** 2) / 19
        rest = np.sum((table - rows[:, None] - columns + mean) ** 2) / (19 * 9)
        found.append((by_draw - rest) / 10)
        parts = spread(table, COST)
        assert parts.between == pytest.approx(max(found[-1], 0.0))
        assert np.var(parts.values, ddof=1) == pytest.approx(parts.between)
        plain.append(np.var(rows, ddof=1))
    assert abs(np.mean(found) - 0.09) < 4 * np.std(found) / 20
    assert abs(np.mean(plain) - 0.49) < 4 * np.std(plain) / 20


def test_the_variance_of_the_mean_of_a_crossed_table():
    """Over 400 tables of known parts its mean is 0.09/20 + 0.25/10 + 4/200 (same source)."""
    luck = np.random.default_rng(2)
    tables = [0.3 * luck.standard_normal((20, 1)) + 0.5 * luck.standard_normal((1, 10))
              + 2 * luck.standard_normal((20, 10)) for _ in range(400)]  # fmt: skip
    found = [spread(table, COST).of_mean for table in tables]
    assert abs(np.mean(found) - (0.09 / 20 + 0.25 / 10 + 4 / 200)) < 4 * np.std(found) / 20


def unit_normal_loss(z: float) -> float:
    """Return E[max(N - z, 0)] of a standard normal N (Raiffa and Schlaifer 1961, from memory)."""
    return float(stats.norm.pdf(z) - z * stats.norm.sf(z))


@pytest.mark.parametrize("size", [1, pytest.param(16, marks=pytest.mark.slow)])
def test_perfect_information_against_the_unit_normal_loss(size):
    """Act or not, the gain of acting 10 + N(0, 20): knowing it is worth 20 L(0.5), one part of it 12 L(10/12).

    The gain is x1 + x2 with sd 12 and 16 about 10; linear loss, two actions (Raiffa and Schlaifer 1961, from
    memory).
    """
    draws = 1024 * size
    even = stats.norm.ppf(shares(2, draws, 3)) * [12, 16]
    gain = 10 + even.sum(axis=1)
    losses = {"act": np.repeat(-gain[:, None], 2, axis=1), "wait": np.zeros((draws, 2))}
    found = value_of_information(losses, even, ["x1", "x2"], 0.9999)
    perfect = found["perfect_information"]
    assert found["best_now"] == "act"
    assert perfect.at_least == perfect.at_most
    assert perfect.low < 20 * unit_normal_loss(0.5) < perfect.high
    assert perfect.high - perfect.low < 5
    assert found["regret"]["act"] == Estimate(perfect.estimate, perfect.low, perfect.high)
    assert found["regret"]["wait"].estimate == pytest.approx(perfect.estimate + gain.mean())
    assert found["best_in"]["act"] == pytest.approx(stats.norm.cdf(0.5), abs=0.03)
    one = {each.field: each for each in found["one_number"]}
    for field, sd in (("x1", 12), ("x2", 16)):
        assert one[field].estimate == pytest.approx(sd * unit_normal_loss(10 / sd), abs=0.45 / sqrt(size))


def test_perfect_information_is_bracketed_where_replications_are_noisy():
    """With the gain seen through noise the plain value is too high, choosing by halves too low."""
    luck = np.random.default_rng(4)
    gain = 10 + 20 * stats.norm.ppf(shares(1, 2048, 1)[:, 0])
    noisy = -gain[:, None] + 40 * luck.standard_normal((2048, 16))
    found = value_of_information({"act": noisy, "wait": np.zeros((2048, 16))}, gain[:, None], ["x"], 0.95)
    perfect, truth = found["perfect_information"], 20 * unit_normal_loss(0.5)
    assert perfect.at_least < truth < perfect.at_most
    assert abs(perfect.estimate - truth) < (perfect.at_most - perfect.at_least) / 2


def test_one_number_that_tells_nothing_is_worth_no_more_than_luck():
    """x2 plays no part in the gain of x1: it seems worth what its shuffled values do."""
    even = stats.norm.ppf(shares(2, 512, 2))
    losses = {"act": np.repeat(-(2 * even[:, :1]), 2, axis=1), "wait": np.zeros((512, 2))}
    one = {each.field: each for each in value_of_information(losses, even, ["x1", "x2"], 0.95)["one_number"]}
    assert one["x1"].estimate == pytest.approx(2 * unit_normal_loss(0), abs=0.1)
    assert one["x2"].estimate < 3 * one["x2"].by_luck < one["x1"].estimate / 5


def test_nested_run_of_a_known_function_gives_its_quantiles():
    """Without noise the range is that of the function's law: exp(-x), x uniform on 0..4, 5 % and 95 % quantiles.

    Of 1,024 even draws each end is met to the distance of two neighbours, 4/1024 in x.
    """
    apart = 4 / 1024
    (item,) = numbers((0.0, 1.0, 4.0))
    found = nested([item], answers(lambda x: exp(-x)), HALF, law="uniform", samples=1024, seed=2,
                   limits=(0.05, None, None))["strategies"]["only"][CHANCE]  # fmt: skip
    assert found.range_low.estimate == pytest.approx(exp(-3.8), abs=apart * exp(-3.8))
    assert found.range_high.estimate == pytest.approx(exp(-0.2), abs=apart * exp(-0.2))
    assert found.mean.estimate == pytest.approx((1 - exp(-4)) / 4, abs=1e-3)
    assert found.meets_target_in == pytest.approx((4 + np.log(0.05)) / 4, abs=2e-3)
    assert found.chance_sd == 0
