"""What is already under way: rests after an age, ages of what is met, against renewal theory.

Theory: Cox, Renewal Theory, 1962; the number present, Eick, Massey and Whitt, The physics of the M(t)/G/infinity
queue, 1993 (both from memory). The figures beside were computed apart from this package.
"""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from o2sim.draws import quantile
from o2sim.draws.under_way import age_met, outlasted, rest, survival
from o2sim.scenario.types.laws import Law, law_mean, make_law

STAY = make_law("lognormal", {"median": 60.0, "geometric_sd": 2.2})  # hours
OTHER_STAY = make_law("weibull", {"mean": 80.0, "shape": 1.5})
LIFE = Law("weibull", (2.0, 8.0))  # years
VALUES = Law("empirical", (0.0, 3.0, 5.0, 5.0, 8.0, 13.0))
CONSTANT = Law("constant", (24.0,))
AGES = np.array([2.0, 5.0, 30.0, 50.0, 100.0, 240.0])  # of six on oxygen
NEW = 2 / 24  # an hour
SMOOTH: list[tuple[Law, Any]] = [
    (Law("exponential", (40.0,)), stats.expon(scale=40.0)),
    (STAY, stats.lognorm(s=math.log(2.2), scale=60.0)),
    (Law("lognormal", (4.0, 0.01)), stats.lognorm(s=0.01, scale=math.exp(4.0))),
    (Law("lognormal", (2.0, math.log(10))), stats.lognorm(s=math.log(10), scale=math.exp(2.0))),
    (Law("gamma", (4.0, 15.0)), stats.gamma(4.0, scale=15.0)),
    (Law("gamma", (0.05, 1_200.0)), stats.gamma(0.05, scale=1_200.0)),
    (Law("gamma", (1e4, 6e-3)), stats.gamma(1e4, scale=6e-3)),
    (OTHER_STAY, stats.weibull_min(1.5, scale=OTHER_STAY.parameters[1])),
    (Law("weibull", (0.2, 1.0)), stats.weibull_min(0.2, scale=1.0)),
    (Law("weibull", (100.0, 60.0)), stats.weibull_min(100.0, scale=60.0)),
    (Law("uniform", (20.0, 100.0)), stats.uniform(20.0, 80.0)),
    (Law("triangular", (10.0, 40.0, 120.0)), stats.triang(3 / 11, loc=10.0, scale=110.0)),
    (Law("triangular", (10.0, 10.0, 120.0)), stats.triang(0.0, loc=10.0, scale=110.0)),
    (Law("triangular", (10.0, 120.0, 120.0)), stats.triang(1.0, loc=10.0, scale=110.0)),
]
LAWS = [law for law, _ in SMOOTH] + [VALUES, CONSTANT]
SMOOTH_IDS = [f"{law.kind}{law.parameters}" for law, _ in SMOOTH]
IDS = [f"{law.kind}{law.parameters}" for law in LAWS]
GRID = np.concatenate(
    [np.geomspace(1e-5, 0.05, 30), np.linspace(0.06, 0.94, 89), 1 - np.geomspace(0.05, 1e-12, 40)]
)
FAR = np.array([2.0**-54, 1e-12, *GRID, 1 - 2.0**-53])

_LEFT = (np.arange(50_000)[::-1] + 0.5) / 50_000
FINE, WEIGHTS = 1 - _LEFT**3, _LEFT**2 / np.sum(_LEFT**2)  # finer towards 1, where tails are long


def _near(expected: Any, rel: float) -> Any:
    """Return what is equal to a share of each value, however small that is."""
    return pytest.approx(expected, rel=rel, abs=0)


def _mean(values: Any) -> float:
    """Return the mean of values at the luck of FINE."""
    return float(WEIGHTS @ values)


def _area(law: Law, low: float, high: float) -> float:
    return float(
        integrate.quad(lambda x: float(survival(law, x)), low, high, epsabs=0, epsrel=1e-12, limit=500)[0]
    )


@pytest.mark.parametrize(("law", "reference"), SMOOTH, ids=SMOOTH_IDS)
def test_survival_against_scipy_stats(law: Law, reference: Any) -> None:
    """The chance of lasting longer, from the middle of the law to a hundred-millionth, and 1 up to 0."""
    far = 1e-3 if law.kind in ("uniform", "triangular") else 1e-8  # of these SciPy takes 1 - cdf
    x = reference.isf(np.array([0.999, 0.9, 0.5, 0.1, 1e-3, far]))
    assert survival(law, x) == _near(reference.sf(x), 1e-11)
    assert survival(law, np.array([-1.0, 0.0])).tolist() == [1.0, 1.0]


def test_survival_of_values_and_of_a_constant() -> None:
    """The share of values that are longer."""
    assert survival(VALUES, np.array([0.0, 1.0, 5.0, 12.9, 13.0])).tolist() == [1.0, 5 / 6, 2 / 6, 1 / 6, 0.0]
    assert survival(CONSTANT, np.array([23.9, 24.0, 25.0])).tolist() == [1.0, 0.0, 0.0]


@pytest.mark.parametrize("law", LAWS, ids=IDS)
def test_what_begins_now_is_a_new_draw_of_the_same_luck(law: Law) -> None:
    """At age 0 the rest is the quantile bit for bit, alone or among older ones."""
    fresh = quantile(law, FAR).tolist()
    assert rest(law, np.zeros_like(FAR), FAR).tolist() == fresh
    assert rest(law, np.array([[0.0], [1.0]]), FAR)[0].tolist() == fresh


@pytest.mark.parametrize("law", LAWS, ids=IDS)
def test_what_has_just_begun_is_like_a_new_draw(law: Law) -> None:
    """The formulas for older ones lead to the quantile as the age goes to 0."""
    positive = Law("empirical", VALUES.parameters[1:]) if law is VALUES else law  # what lasted 0 is over
    luck = FAR[FAR > 0.01] if law.parameters[0] == 0.05 else FAR  # a gamma with much below even this age
    assert rest(law, 1e-290, luck) == _near(quantile(positive, luck), 1e-11)


@pytest.mark.parametrize(("law", "reference"), SMOOTH, ids=SMOOTH_IDS)
@pytest.mark.parametrize("chance", [0.9, 0.5, 1e-3, 1e-8])
def test_the_share_still_on_after_a_rest_is_its_chance(law: Law, reference: Any, chance: float) -> None:
    """S(age + rest) = (1 - u) S(age), also for the oldest of a hundred million."""
    age = reference.isf(chance)
    u = GRID[GRID < 1 - 1e-6]
    found = rest(law, age, u)
    wrong = (survival(law, age + found) - (1 - u) * survival(law, age)) / reference.pdf(age + found)
    assert np.max(np.abs(wrong) / np.maximum(found, 1e-6 * age)) < 1e-9


@pytest.mark.parametrize(
    ("law", "age"),
    [(Law("exponential", (3.0,)), 3e3), (Law("weibull", (1.0, 3.0)), 3e3), (Law("gamma", (1.0, 3.0)), 1.5e3)],
)
def test_an_exponential_has_no_memory_against_theory(law: Law, age: float) -> None:
    """After 1,000 means (500 where floats hold the chance) the rest is a new draw, whatever the law is called."""
    fresh = -3.0 * np.log1p(-GRID)
    wide = fresh > 1e-6 * age
    assert rest(law, age, GRID)[wide] == _near(fresh[wide], 1e-9)


@pytest.mark.parametrize("shape", [0.2, 0.7, 1.5, 100.0])
def test_the_rest_of_a_weibull_keeps_its_digits(shape: float) -> None:
    """For short rests of old ones, x = rest x shape / age is -ln(1 - u) (b / age)^shape, to first order."""
    age = 20.0
    law = Law("weibull", (shape, 10.0))
    u = np.array([1e-13, 1e-11, 1e-9])
    first = -np.log1p(-u) * age / shape * (10.0 / age) ** shape
    assert rest(law, age, u) == _near(first, 1e-8)


def test_bounded_laws_against_closed_forms() -> None:
    """A uniform, after its least value, is one up to its end; a triangular after its mode falls by a root."""
    uniform, triangular = Law("uniform", (20.0, 100.0)), Law("triangular", (10.0, 40.0, 120.0))
    last = 2.0**-20  # before the end
    assert survival(uniform, 100 - last) == _near(last / 80, 1e-15)
    assert survival(triangular, 120 - last) == _near(last**2 / (110 * 80), 1e-15)
    assert rest(uniform, 60.0, GRID) == _near(40 * GRID, 1e-15)
    assert rest(uniform, 5.0, GRID) == _near(15 + 80 * GRID, 1e-15)
    assert rest(triangular, 60.0, GRID) == _near(60 * (1 - np.sqrt(1 - GRID)), 1e-9)
    assert rest(triangular, 5.0, GRID) == _near(quantile(triangular, GRID) - 5, 1e-12)


def test_values_and_a_constant_leave_what_is_longer() -> None:
    """Each longer value is as likely; one that has just been reached is over."""
    u = np.array([0.1, 0.49, 0.51, 0.9])
    assert rest(VALUES, 5.0, u).tolist() == [3.0, 3.0, 8.0, 8.0]
    assert rest(VALUES, 4.0, u).tolist() == [1.0, 1.0, 4.0, 9.0]
    assert rest(CONSTANT, np.array([10.0, 23.5, 24.0, 30.0]), u).tolist() == [14.0, 0.5, 0.0, 0.0]


@pytest.mark.parametrize(
    ("law", "age", "over"),
    [
        (CONSTANT, 24.0, True), (CONSTANT, 23.9, False), (VALUES, 13.0, True), (VALUES, 12.9, False),
        (Law("uniform", (20.0, 100.0)), 100.1, True), (Law("triangular", (1.0, 2.0, 6.0)), 7.0, True),
        (Law("triangular", (1.0, 2.0, 6.0)), 5.9, False), (Law("lognormal", (4.0, 0.01)), 100.0, True),
        (Law("gamma", (1e4, 6e-3)), 120.0, True), (Law("lognormal", (0.0, 1.0)), math.exp(37.5), True),
        (STAY, 5_000.0, False), (STAY, 0.0, False),
    ],
)  # fmt: skip
def test_what_cannot_have_lasted_so_long_ends_at_once(law: Law, age: float, over: bool) -> None:
    """It is seen, so that a caller can say so, and nothing is to come of it."""
    assert bool(outlasted(law, age)) == over
    assert (rest(law, age, np.array([0.3, 0.9])) == 0).tolist() == [over, over]


def test_a_narrow_weibull_and_an_exponential_beyond_belief_are_seen_too() -> None:
    """Their rest is still known, since their tail has a form of its own."""
    narrow, exponential = Law("weibull", (100.0, 60.0)), Law("exponential", (1.0,))
    assert [bool(outlasted(narrow, 120.0)), bool(outlasted(exponential, 1e3))] == [True, True]
    assert rest(narrow, 120.0, np.array([0.5]))[0] == _near(120 * math.log(2) / 2**100 / 100, 1e-9)


@given(
    law=st.sampled_from(LAWS),
    age=st.floats(0, 500),
    places=st.tuples(st.integers(1, 2**20 - 1), st.integers(1, 2**20 - 1)),
)
def test_more_luck_never_gives_less(law: Law, age: float, places: tuple[int, int]) -> None:
    """Rest and age met rise with u, at any age, and are finite and never negative."""
    u = np.array(sorted(places)) / 2**20
    for found in (rest(law, age, u), age_met(law, u)):
        assert 0 <= found[0] <= found[1] < math.inf


@pytest.mark.parametrize("law", LAWS, ids=IDS)
def test_shapes_and_orders_in_memory_do_not_matter(law: Law) -> None:
    """Of 2-D arrays, rows of columns and single numbers, each value is that of its own age and luck."""
    u = np.linspace(0.05, 0.95, 12).reshape(3, 4)
    ages = np.arange(12.0).reshape(3, 4) * 4
    one_by_one = [float(rest(law, age, luck)) for age, luck in zip(ages.ravel(), u.ravel(), strict=True)]
    assert rest(law, ages, u).ravel().tolist() == _near(one_by_one, 1e-14)
    turned = rest(law, np.asfortranarray(ages), np.asfortranarray(u))
    assert turned.tolist() == rest(law, ages, u).tolist()
    assert age_met(law, u.T).tolist() == age_met(law, u).T.tolist()
    assert rest(law, ages[:, :1], u[0]).shape == survival(law, ages).shape == age_met(law, u).shape == (3, 4)


@pytest.mark.parametrize("law", LAWS, ids=IDS)
def test_age_met_against_the_integral_of_the_survival(law: Law) -> None:
    """SciPy's quadrature of the survival up to the age met gives back u; from there on, 1 - u (Cox, 1962)."""
    mean = law_mean(law)
    corners = [x for x in law.parameters if law.kind in ("uniform", "triangular", "empirical", "constant")]
    for u in (1e-12, 1e-4, 0.03, 0.3, 0.5, 0.75, 0.99):
        age = float(age_met(law, u))
        ends = sorted({0.0, age, age / 2, age / 100, *(x for x in corners if x < age)})
        area = math.fsum(_area(law, *pair) for pair in pairwise(ends))
        assert area / mean == _near(u, 1e-9)


@pytest.mark.parametrize(
    "law", [law for law, _ in SMOOTH if law.kind in ("lognormal", "gamma", "weibull", "exponential")]
)
def test_old_ages_met_against_the_integral_of_the_tail(law: Law) -> None:
    """The integral of the survival beyond is 1 - u, down to a billionth."""
    for left in (1e-3, 1e-6, 1e-9):
        u = 1 - left
        age = float(age_met(law, u))
        steps = age * (1 + np.concatenate([[0.0], np.geomspace(1e-4, 1e4, 25)]))
        area = math.fsum(_area(law, *pair) for pair in pairwise(steps))
        assert area / law_mean(law) == _near(1 - u, 1e-7)


def test_age_met_against_closed_forms() -> None:
    """Of an exponential the same law, of a constant a uniform, of values pieces of uniforms."""
    assert (
        age_met(Law("exponential", (40.0,)), FAR).tolist() == quantile(Law("exponential", (40.0,)), FAR).tolist()
    )
    assert age_met(CONSTANT, GRID).tolist() == (24 * GRID).tolist()
    assert age_met(Law("empirical", (1.0, 3.0)), np.array([0.25, 0.5, 0.75])).tolist() == [0.5, 1.0, 2.0]
    assert age_met(Law("uniform", (0.0, 10.0)), GRID) == _near(10 * (1 - np.sqrt(1 - GRID)), 1e-9)


@pytest.mark.parametrize("law", LAWS, ids=IDS)
def test_the_mean_age_met_against_half_the_mean_square_by_the_mean(law: Law) -> None:
    """The paradox of inspection: E[L²] / 2 E[L] (Cox, 1962)."""
    mean_square = _mean(quantile(law, FINE) ** 2)
    assert _mean(age_met(law, FINE)) == _near(mean_square / law_mean(law) / 2, 2e-4)


@pytest.mark.parametrize(
    ("law", "means", "still_on"),
    [
        (STAY, [81.874, 66.929, 70.542, 90.473], [0.61142, 0.46565, 0.46423, 0.54409]),
        (OTHER_STAY, [80.0, 65.967, 52.023, 39.032], [0.67124, 0.55355, 0.43024, 0.30267]),
    ],
    ids=["lognormal", "weibull"],
)
def test_hours_to_come_by_age_against_renewal_theory(law: Law, means: list[float], still_on: list[float]) -> None:
    """Mean to come at 0, 24, 72 and 168 hours, U(a) / S(a), and the chance of 48 hours more."""
    ages = np.array([0.0, 24.0, 72.0, 168.0])
    assert [_mean(rest(law, age, FINE)) for age in ages] == pytest.approx(means, abs=6e-4)
    assert survival(law, ages + 48) / survival(law, ages) == pytest.approx(still_on, abs=5.1e-6)
    assert [_mean(rest(law, age, FINE) > 48) for age in ages] == pytest.approx(still_on, abs=3e-5)


@pytest.mark.parametrize(
    ("hours", "old", "new", "sd", "over_eight"),
    [
        (24, 4.4848, 1.9292, 1.7408, 0.11418),
        (48, 3.1422, 3.4144, 2.2111, 0.18451),
        (168, 0.6519, 6.1005, 2.5832, 0.23826),
    ],
)
def test_the_number_on_oxygen_against_the_infinite_server_queue(
    hours: int, old: float, new: float, sd: float, over_eight: float
) -> None:
    """Six present and two new a day: a Poisson-binomial number and a Poisson one (Eick, Massey, Whitt 1993)."""
    chances = survival(STAY, AGES + hours) / survival(STAY, AGES)
    arrived = NEW * _area(STAY, 0, hours)
    law = np.ones(1)
    for chance in chances:
        law = np.convolve(law, [1 - chance, chance])
    spread = math.sqrt(float(np.sum(chances * (1 - chances))) + arrived)
    beyond = math.fsum(p * stats.poisson.sf(8 - n, arrived) for n, p in enumerate(law))
    assert [chances.sum(), arrived, spread] == pytest.approx([old, new, sd], abs=5.1e-5)
    assert beyond == pytest.approx(over_eight, abs=5.1e-6)
    assert sum(_mean(rest(STAY, age, FINE) > hours) for age in AGES) == pytest.approx(old, abs=1e-4)


def test_drawn_numbers_on_oxygen_against_the_poisson_binomial() -> None:
    """Drawn rests of the six, 20,000 times: mean number after two days and its variance, |z| < 4."""
    count = 20_000
    u = np.random.Generator(np.random.Philox(7)).random((count, len(AGES)))
    drawn = (rest(STAY, AGES, u) > 48).sum(axis=1)
    chances = survival(STAY, AGES + 48) / survival(STAY, AGES)
    variance = float(np.sum(chances * (1 - chances)))
    assert abs(drawn.mean() - 3.1422) < 4 * math.sqrt(variance / count)
    assert abs(drawn.var() / variance - 1) < 4 * math.sqrt(2 / count)


def test_patient_hours_of_a_week_against_theory() -> None:
    """Those of the six, of the new ones, and in the steady state by Little's law."""
    present = sum(_mean(np.minimum(rest(STAY, age, FINE), 168)) for age in AGES)
    new = NEW * integrate.quad(lambda x: (168 - x) * float(survival(STAY, x)), 0, 168)[0]
    assert [present, new, NEW * law_mean(STAY) * 168] == _near([399.705, 707.75, 1146.23], 6e-6)


def test_the_steady_number_is_reached_from_empty_as_ages_met_are_passed() -> None:
    """After t a share of 6.8228 is there, that of those met who are no older than t (Eick, Massey, Whitt 1993)."""
    shares = np.array([0.647982, 0.894139, 0.978003, 0.997526])
    days = np.array([3, 7, 14, 28])
    assert NEW * law_mean(STAY) == pytest.approx(6.8228, abs=5.1e-5)
    assert [_area(STAY, 0, 24 * day) / law_mean(STAY) for day in days] == pytest.approx(shares, abs=6e-7)
    assert (age_met(STAY, shares - 6e-7) < 24 * days).tolist() == [True] * 4
    assert (age_met(STAY, shares + 6e-7) > 24 * days).tolist() == [True] * 4


def test_one_met_at_an_unknown_age_against_renewal_theory() -> None:
    """Still on after 48 hours: U(48) / E[L]; mean to come: E[L²] / 2 E[L], that of the age itself."""
    ages = age_met(STAY, FINE)
    assert _mean(survival(STAY, ages + 48) / survival(STAY, ages)) == pytest.approx(0.49957, abs=6e-6)
    assert _mean(ages) == pytest.approx(76.225, abs=6e-3)
    u = np.random.Generator(np.random.Philox(11)).random((2, 100_000))
    drawn = rest(STAY, age_met(STAY, u[0]), u[1])
    assert abs(drawn.mean() - 76.225) < 4 * drawn.std() / math.sqrt(drawn.size)
    assert abs((drawn > 48).mean() - 0.49957) < 4 * math.sqrt(0.25 / drawn.size)


def test_the_life_of_a_unit_against_renewal_theory() -> None:
    """A unit that wears out (shape 2, scale 8 years), new and 5 years old: fails within a year; mean to come."""
    ages = np.array([0.0, 5.0])
    assert 1 - survival(LIFE, ages + 1) / survival(LIFE, ages) == pytest.approx([0.015504, 0.157916], abs=6e-7)
    assert [_mean(rest(LIFE, age, FINE)) for age in ages] == pytest.approx([7.089815, 3.947708], abs=1e-6)
