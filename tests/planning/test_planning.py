"""The planner's figures against closed forms: patients and flow at once, cylinder times, cover, the grid."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from math import atan, cos, exp, log, pi, sqrt

import numpy as np
import pytest
from scipy import stats
from synthetic import CYLINDERS, START, hospital

from o2sim.draws import quantile
from o2sim.planning.figures import planning_figures
from o2sim.planning.need import LOOK_BACK, on_oxygen
from o2sim.planning.total_flow import (
    NORMAL_FROM,
    compound_poisson,
    flow_exceeded,
    normal_flow,
    patients_exceeded,
    total_flow,
)
from o2sim.scenario.types.hospital import DAY_S, Concentrators, FlowStep, Grid, Law, PatientClass, Season
from o2sim.scenario.types.laws import mean_up_to, scaled
from o2sim.scenario.types.stages import stages

LITRE = 60_000


def constant(value: float) -> Law:
    """Return the law that is always this value."""
    return Law("constant", (value,))


def one_class(
    per_day: float = 1.0,
    stay: Law | None = None,
    flow: Law | None = None,
    season: Season | None = None,
    name: str = "adults",
) -> PatientClass:
    """Return a class of which everybody needs oxygen; one patient on average at 5 L/min by default."""
    return PatientClass(name, per_day, 1.0, flow or constant(5_000), stay or constant(DAY_S), season=season)


def patients_by_day(item, first):
    """Return the mean number of one class in need at noon of each day from `first`, shape (366,)."""
    return sum(on_oxygen(stage, first).needed_by_day for stage in stages(item))


FOUR_DAYS = {
    "exponential": Law("exponential", (4.0 * DAY_S,)),
    "constant": constant(4 * DAY_S),
    "lognormal": Law("lognormal", (log(4 * DAY_S) - 0.5, 1.0)),
}


@pytest.mark.parametrize("law", FOUR_DAYS.values(), ids=FOUR_DAYS)
def test_patients_at_once_against_m_g_infinity(law):
    """Three a day for four days are Poisson with mean 12 whatever the law of stays, and 21 at 99 %.

    Source: M/G/infinity, Eick, Massey and Whitt 1993 (from memory); the quantile is scipy's.
    """
    figures = planning_figures(hospital(patients=(one_class(3.0, law),)))
    assert figures.mean.patients == pytest.approx(12.0, rel=1e-9)
    assert figures.mean.patients_99 == 21 == stats.poisson.ppf(0.99, 12)
    assert figures.peak_day is None


def test_seasonal_mean_against_eick_massey_whitt():
    """With a cosine season and exponential stays the mean lags and is damped as theory says, to 1 in 10,000.

    Source: Eick, Massey and Whitt, Management Science 1993;39:241-52 (from memory).
    """
    peak, mean_days, turn = dt.date(2027, 4, 2), 4.0, 2 * pi / 365.25
    item = one_class(3.0, Law("exponential", (mean_days * DAY_S,)), season=Season(peak, 3.0))
    noon = np.arange(366) + 0.5 - (peak - START).days
    lag, damping = atan(turn * mean_days), sqrt(1 + (turn * mean_days) ** 2)
    expected = [12 * (1 + 0.5 * cos(turn * t - lag) / damping) for t in noon]
    assert patients_by_day(item, START) == pytest.approx(expected, rel=1e-4)


def test_peak_day_is_a_lag_after_the_peak_of_admissions():
    """Patients on oxygen peak 3.99 days after admissions do, with exponential stays of 4 days."""
    season = Season(dt.date(2027, 5, 15), 2.0)
    item = one_class(3.0, Law("exponential", (4.0 * DAY_S,)), season=season)
    assert planning_figures(hospital(patients=(item,))).peak_day == dt.date(2027, 5, 18)


def test_monthly_season_follows_its_steps():
    """With stays of an hour the mean on a day is that month's factor times the yearly mean."""
    factors = tuple([2.0] * 6 + [0.0] * 6)
    item = one_class(24.0, constant(3_600), season=Season(monthly=factors))
    by_day = patients_by_day(item, START)
    assert by_day[40] == pytest.approx(2.0)
    assert by_day[240] == pytest.approx(0.0, abs=1e-12)


def test_stays_longer_than_the_days_followed_count_in_full():
    """A stay beyond the days followed one by one meets the yearly mean rate."""
    item = one_class(0.01, constant((LOOK_BACK + 900) * DAY_S))
    assert patients_by_day(item, START) == pytest.approx(0.01 * (LOOK_BACK + 900))


def test_total_flow_against_panjer():
    """12 patients at 1, 2, 5 or 10 L/min: mean 42, sd 15.2184, P(> 60) 0.117547, 99 % 82 L/min.

    Source: compound Poisson by Panjer's recursion, ASTIN Bulletin 1981;12:22-6 (from memory).
    """
    severity = np.zeros(11)
    severity[[1, 2, 5, 10]] = 0.2, 0.4, 0.3, 0.1
    total = compound_poisson(12.0, severity, 400)
    flow = np.arange(400)
    assert total @ flow == pytest.approx(42.0, rel=1e-12)
    assert sqrt(total @ flow**2 - 42.0**2) == pytest.approx(15.2184, abs=5e-5)
    assert total[61:].sum() == pytest.approx(0.117547, abs=5e-7)


def test_flow_at_once_by_class_against_panjer():
    """The same four flows as four classes of a hospital give the same mean and 99 % flow."""
    shares = {1_000: 2.4, 2_000: 4.8, 5_000: 3.6, 10_000: 1.2}
    classes = tuple(one_class(n, flow=constant(flow), name=str(flow)) for flow, n in shares.items())
    need = planning_figures(hospital(patients=classes)).mean
    assert need.flow_ml_min == pytest.approx(42_000)
    assert need.flow_99_ml_min == 82_000
    assert need.litres_per_day == pytest.approx(42 * 1_440)


def test_continuous_flow_law_keeps_mean_and_variance():
    """A triangular flow on the grid keeps the compound Poisson's mean n E[F] and variance n E[F^2]."""
    low, mode, high = 2_000.0, 4_000.0, 10_000.0
    chances, step = total_flow([6.0], [Law("triangular", (low, mode, high))])
    flow = step * np.arange(chances.size)
    law = stats.triang((mode - low) / (high - low), loc=low, scale=high - low)
    assert chances @ flow == pytest.approx(6 * law.mean(), rel=1e-5)
    assert chances @ flow**2 - (chances @ flow) ** 2 == pytest.approx(6 * law.moment(2), rel=1e-4)


def test_large_mean_against_poisson():
    """A mean of 2,000, where exp(-mean) is nought in floating point, still gives scipy's Poisson."""
    total = compound_poisson(2_000.0, np.array([0.0, 1.0]), 2_400)
    assert total == pytest.approx(stats.poisson.pmf(np.arange(2_400), 2_000.0), abs=1e-12)


def test_poisson_quantile_against_scipy():
    """The least n that is exceeded at most 1 % of the time is scipy's."""
    means = [0.0, 0.005, 0.02, *np.linspace(0.03, 60, 800), 150.0, 2_000.0, 300_000.0, 876_000.0]
    assert [patients_exceeded(mean) for mean in means] == stats.poisson.ppf(0.99, means).tolist()


FLOW_LAWS = {"constant": constant(5_000), "triangular": Law("triangular", (2_000.0, 4_000.0, 10_000.0))}


@pytest.mark.parametrize("law", FLOW_LAWS.values(), ids=FLOW_LAWS)
def test_normal_flow_against_the_exact_law_at_the_threshold(law):
    """Where the normal approximation takes over it is within 0.5 % of the compound Poisson on the grid."""
    exact = flow_exceeded([NORMAL_FROM], [law])
    assert exact != normal_flow([NORMAL_FROM], [law])
    assert normal_flow([NORMAL_FROM], [law]) == pytest.approx(exact, rel=0.005)


def test_flow_of_very_many_patients_against_poisson():
    """876,000 patients at 5 L/min: the 99 % flow is five times scipy's Poisson quantile, to 1 in 100,000."""
    expected = 5_000 * stats.poisson.ppf(0.99, 876_000)
    assert flow_exceeded([876_000.0], [constant(5_000)]) == pytest.approx(expected, rel=1e-5)
    assert flow_exceeded([876_000.0], [constant(0)]) == 0.0
    assert flow_exceeded([0.0], [constant(5_000)]) == 0.0


def test_cylinder_durations_against_handbook_arithmetic():
    """A 6,800 L cylinder at 5 L/min lasts 22.7 h, and 21.5 h leaving 5 %.

    The size is in anaesthesia textbooks (from memory); the rest is arithmetic.
    """
    cylinders = replace(CYLINDERS, residual_gas=340 * LITRE, lost_gas=0, leak_ml_min=0)
    times = planning_figures(hospital(patients=(one_class(),), cylinders=cylinders)).cylinder_times
    at_five = next(item for item in times if item.flow_ml_min == 5_000)
    assert at_five.to_flow_lost_s == 6_800 * 60 // 5
    assert at_five.to_residual_s == 6_460 * 60 // 5
    assert at_five.whose == "adults"
    assert [item.flow_ml_min for item in times] == [500, 1_000, 2_000, 5_000, 10_000]


def test_days_of_cover_against_run_out():
    """Ten cylinders of 6,800 L last one patient at 5 L/min 9.44444 days: S V / flow."""
    cylinders = replace(CYLINDERS, fleet=10, residual_gas=0, lost_gas=0, leak_ml_min=0)
    need = planning_figures(hospital(patients=(one_class(),), cylinders=cylinders)).mean
    assert need.cover_days == pytest.approx(9.44444, abs=5e-6)
    assert need.cylinders_per_day == pytest.approx(7_200 / 6_800)


def test_leak_is_drawn_as_well():
    """A leak of 1 L/min on a flow of 5 takes six litres a minute from the cylinder, but the need stays 7,200 L."""
    cylinders = replace(CYLINDERS, residual_gas=0, lost_gas=0, leak_ml_min=1_000)
    need = planning_figures(hospital(patients=(one_class(),), cylinders=cylinders)).mean
    assert need.cylinders_per_day == pytest.approx(6 * 1_440 / 6_800)
    assert need.litres_per_day == pytest.approx(7_200)


def test_grid_share_against_barlow_and_proschan():
    """Up 200 h and down 10 h in turn is up 0.952381 of the time in the long run (alternating renewal)."""
    grid = Grid(Law("exponential", (720_000.0,)), Law("exponential", (36_000.0,)))
    assert planning_figures(hospital(grid=grid)).grid_share == pytest.approx(0.952381, abs=5e-7)
    assert planning_figures(hospital(grid=None)).grid_share == 1.0
    assert planning_figures(hospital(grid=Grid(never_on=True))).grid_share == 0.0


def test_concentrators_that_never_fail_are_all_in_order():
    """Without a law of failure the share in order is 1, and the rated flows add up."""
    figures = planning_figures(hospital(concentrators=Concentrators(3, 8_000, 2, 400.0)))
    assert figures.concentrator_share == 1.0
    assert figures.concentrator_flow_ml_min == 24_000


def test_without_cylinders_and_without_patients():
    """A hospital without cylinders has no cylinder figures; one that nobody needs has no days of cover."""
    none = planning_figures(hospital(cylinders=None, resupply=None))
    assert (none.mean.cylinders_per_day, none.cylinder_litres, none.cylinder_times) == (None, None, ())
    idle = planning_figures(hospital(patients=(one_class(0.0),)))
    assert (idle.mean.patients_99, idle.mean.flow_99_ml_min, idle.mean.cover_days) == (0, 0.0, None)


def test_residual_at_the_filling_pressure_leaves_nothing_usable():
    """A cylinder changed at its filling pressure gives no litres, so cylinders a day cannot be said."""
    cylinders = replace(CYLINDERS, residual_gas=CYLINDERS.full_gas)
    need = planning_figures(hospital(cylinders=cylinders))
    assert (need.usable_litres, need.mean.cylinders_per_day) == (0.0, None)


def test_flow_steps_against_two_infinite_server_queues():
    """Three a day for 4 days, exponential; 2 L/min for 2 days, then a quarter: two Poisson numbers apart.

    Means 12 (1 - exp(-0.5)) and 12 exp(-0.5); the 99 % point is that of their weighted sum, summed out here.
    """
    steps = (FlowStep(2 * DAY_S, 0.25),)
    item = replace(one_class(3.0, FOUR_DAYS["exponential"], constant(2_000)), flow_steps=steps)
    figures = planning_figures(hospital(patients=(item,)))
    late = 12 * exp(-0.5)
    mean = 2_000 * (12 - late) + 500 * late
    assert figures.mean.patients == pytest.approx(12.0, rel=1e-9)
    assert figures.mean.flow_ml_min == pytest.approx(mean, rel=1e-6)
    assert figures.classes[0].flow_ml_min == pytest.approx(mean / 12, rel=1e-6)
    n = np.arange(80)
    chance = np.outer(stats.poisson(12 - late).pmf(n), stats.poisson(late).pmf(n)).ravel()
    flow = np.add.outer(2_000 * n, 500 * n).ravel()
    order = np.argsort(flow, kind="stable")
    exact = flow[order][np.searchsorted(np.cumsum(chance[order]), 0.99)]
    assert figures.mean.flow_99_ml_min == exact


def test_flow_steps_in_a_season_follow_the_age_of_stays():
    """Constant stays of 4 days, stepped after 1: the numbers in both stages lag the season by 0.5 and 2.5 days."""
    season = Season(dt.date(2027, 4, 2), 3.0)
    item = replace(one_class(3.0, constant(4 * DAY_S), season=season), flow_steps=(FlowStep(DAY_S, 0.5),))
    first, second = (on_oxygen(stage, START).needed_by_day for stage in stages(item))
    turn = 2 * pi / 365.25
    t = np.arange(366) + 0.5 - (season.peak - START).days

    def mean(days, lag):
        return 3 * days * (1 + 0.5 * np.cos(turn * (t - lag)) * np.sin(turn * days / 2) / (turn * days / 2))

    assert first == pytest.approx(mean(1, 0.5), rel=1e-6)
    assert second == pytest.approx(mean(3, 2.5), rel=1e-6)
    assert patients_by_day(item, START) == pytest.approx(first + second)


@pytest.mark.parametrize("law", FOUR_DAYS.values(), ids=FOUR_DAYS)
def test_mean_up_to_a_limit_against_closed_forms(law):
    """E[min(D, a)] by the integral of the tail against the partial expectations; scaled laws scale it."""
    limit = 3.0 * DAY_S
    if law.kind == "constant":
        expected = limit
    elif law.kind == "exponential":
        expected = 4 * DAY_S * (1 - exp(-0.75))
    else:
        z = log(limit) - law.parameters[0]
        expected = 4 * DAY_S * stats.norm.cdf(z - 1) + limit * stats.norm.sf(z)
    assert mean_up_to(law, limit) == pytest.approx(expected, rel=1e-5)
    assert mean_up_to(scaled(law, 0.5), limit / 2) == pytest.approx(expected / 2, rel=1e-5)


@pytest.mark.parametrize("kind", ["gamma", "weibull", "uniform", "triangular", "empirical"])
def test_a_scaled_law_gives_shares_of_every_draw(kind):
    """Every quantile of the scaled law is that share of the law's own."""
    law = {
        "gamma": Law("gamma", (2.0, 300.0)),
        "weibull": Law("weibull", (1.5, 900.0)),
        "uniform": Law("uniform", (100.0, 900.0)),
        "triangular": Law("triangular", (100.0, 300.0, 900.0)),
        "empirical": Law("empirical", (100.0, 300.0, 900.0)),
    }[kind]
    u = np.array([0.01, 0.3, 0.7, 0.99])
    assert quantile(scaled(law, 0.3), u) == pytest.approx(0.3 * quantile(law, u))
