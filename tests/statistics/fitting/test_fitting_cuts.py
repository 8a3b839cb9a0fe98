"""Cuts by a logger or by hours a day, lead times over shut roads, and repairs not over."""

import numpy as np
import pytest
from scipy import stats

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import moment
from o2sim.statistics.fitting.maximum import fit_law
from o2sim.statistics.fitting.on_off import (
    UpAndDown,
    daily_hours_draws,
    dark_by_hour,
    drawn_daily_hours,
    from_daily_hours,
    mean_looks,
    mean_up_corrected,
    runs,
    share_met,
    windows,
)
from o2sim.statistics.fitting.spells import exact, joined, still_on
from o2sim.statistics.fitting.survivors import kaplan_meier
from o2sim.statistics.fitting.waiting import lead_times, mean_of_those_over, on_open_roads

CUT = Law("lognormal", (np.log(2), np.log(2.5)))  # hours


def test_cuts_that_a_logger_meets():
    """Looks every hour meet 0.432 of exponential cuts of half an hour, in closed form, and 0.919 of lognormal
    ones."""
    half = Law("exponential", (0.5,))
    assert share_met(half, 1) == pytest.approx(0.5 * (1 - np.exp(-2)), abs=1e-9)
    assert share_met(half, 1) == pytest.approx(0.432332, abs=1e-6)
    assert share_met(CUT, 1) == pytest.approx(0.918921, abs=1e-6)
    assert mean_looks(CUT, 1) == pytest.approx(3.043297, abs=1e-6)
    assert mean_looks(CUT, 1) / share_met(CUT, 1) == pytest.approx(3.3118, abs=1e-4)  # of those met, an hour each


def test_a_logged_year_gives_both_laws_back():
    """Power up 30 h (exponential) and down 2 h (lognormal), looked at each hour for 40 years, gives both laws
    back."""
    rng = np.random.default_rng(8)
    lengths = np.column_stack(
        [rng.exponential(30, 11_000), stats.lognorm(np.log(2.5), scale=2).rvs(11_000, random_state=rng)]
    )
    edges = np.cumsum(lengths.ravel())
    looks = np.searchsorted(edges, np.arange(1, 40 * 365 * 24)) % 2 == 0
    log = runs(looks, 1.0)
    down = fit_law(log.down, "lognormal").law
    up_seen = fit_law(log.up, "exponential").law
    assert [np.exp(down.parameters[0]), np.exp(down.parameters[1])] == pytest.approx([2, 2.5], rel=0.04)
    assert mean_up_corrected(moment(up_seen), down, 1.0) == pytest.approx(30, rel=0.03)
    assert moment(up_seen) > 31.5  # uncorrected


def test_runs_of_a_short_log():
    """The run at the start is left out, the one at the end is not over; a log that never changes is refused."""
    log = runs([1, 1, 0, 0, 0, 1, 0, 0], 0.5)
    assert log.down.low.tolist() == [1.5, 1.0]
    assert log.down.is_over.tolist() == [True, False]
    assert log.up.low.tolist() == [0.5]
    with pytest.raises(ValueError, match="never changes"):
        runs([1, 1], 1)


def test_hours_with_power_of_each_day():
    """Four years of hours a day give spells of 20 and 3 h back within a tenth; draws of half a year hold the
    truth."""
    truth = UpAndDown(20, 3)
    found = from_daily_hours(drawn_daily_hours(truth, 4 * 365, 3))
    assert (found.up_h, found.down_h) == pytest.approx((20, 3), rel=0.1)
    short = from_daily_hours(drawn_daily_hours(truth, 180, 4))
    low, high = np.quantile([one.down_h for one in daily_hours_draws(short, 180, 100, 1)], [0.02, 0.98])
    assert low < 3 < high


def test_variance_of_a_day_by_drawing():
    """Drawn days have the mean and the variance that Takacs gives for exponential spells."""
    hours = drawn_daily_hours(UpAndDown(20, 3), 20_000, 5)
    share, t = 20 / 23, 60 / 23
    expected = 2 * share * (1 - share) * t**2 * (24 / t - 1 + np.exp(-24 / t))
    assert hours.mean() == pytest.approx(24 * share, rel=0.01)
    assert hours.var() == pytest.approx(expected, rel=0.05)


@pytest.mark.parametrize(
    ("hours", "message"),
    [
        ([20] * 5, "14 or more"),
        ([24] * 20, "neither all 0"),
        ([20] * 20, "timetable"),
        ([24, 0] * 10 + [24] * 9, "whole days"),
    ],
)
def test_hours_that_give_no_law(hours, message):
    """Too few days, no cuts, days all alike and days all or nothing are refused with what to give instead."""
    with pytest.raises(ValueError, match=message):
        from_daily_hours(np.repeat(hours, 30) if message == "whole days" else hours)


def test_hours_of_the_day_that_are_cut():
    """Cuts from 18:30 to 21:00 on each of four days, and one past midnight: dark by hour, and the window."""
    off = np.array([18.5, 42.5, 66.5, 90.5, 95.0])
    on = np.array([21.0, 45.0, 69.0, 93.0, 97.0])
    dark = dark_by_hour(off, on, 4)
    assert dark[[17, 18, 19, 20, 21, 23, 0]].tolist() == [0, 0.5, 1, 1, 0, 0.25, 0.25]
    assert windows(dark) == ((18, 21),)
    assert windows(np.where(np.isin(np.arange(24), [23, 0, 1]), 1, 0)) == ((23, 26),)


@pytest.mark.parametrize(("days", "mean"), [(28, 6.1719), (91, 6.8812), (365, 7.0727)])
def test_lead_times_with_open_orders_left_out(days, mean):
    """Orders at an even pace, lognormal lead times of median 6 days: those delivered are too short, as drawn
    too."""
    law = Law("lognormal", (np.log(6), np.log(1.8)))
    rng = np.random.default_rng(days)
    leads = stats.lognorm(np.log(1.8), scale=6).rvs(200_000, random_state=rng)
    came = leads[rng.random(200_000) * days + leads <= days]
    assert mean_of_those_over(law, days) == pytest.approx(mean, abs=1e-3)
    assert mean_of_those_over(law, days) == pytest.approx(came.mean(), rel=0.01)
    assert moment(law) == pytest.approx(7.1314, abs=1e-4)


def test_deliveries_that_a_shut_road_held_up():
    """Three after 4, 6 and 3 days, two as the road opened, within (5, 12] and (2, 9]: mean 5.089 days, not 6.8.

    The score of the interval likelihood is 0 there: sum over rows, by hand.
    """
    rows = lead_times([0, 0, 0, 10, 13], [4, 6, 3, 22, 22], shut_from=[15], shut_to=[22])
    assert rows.low.tolist() == [4, 6, 3, 5, 2]
    assert rows.high.tolist() == [4, 6, 3, 12, 9]
    clocks = joined(exact([4, 6, 3]), *(_between(row, rows) for row in (3, 4)))
    mean = fit_law(clocks, "exponential").law.parameters[0]
    assert mean == pytest.approx(5.08872, abs=1e-4)
    score = -3 / mean + 13 / mean**2
    for a, b in ((5, 12), (2, 9)):
        ea, eb = np.exp(-a / mean), np.exp(-b / mean)
        score += (a * ea - b * eb) / (ea - eb) / mean**2
    assert score == pytest.approx(0, abs=1e-5)


def _between(row, rows):
    """Return one row of others."""
    from o2sim.statistics.fitting.spells import chosen

    return chosen(rows, np.array([row]))


def test_open_orders_and_closed_roads():
    """An open order has waited to the end of the book, or to the day the road was shut; wrong dates are
    refused."""
    rows = lead_times([80, 85], [np.nan, 88], shut_from=[86], shut_to=[99], last=90)
    assert rows.low.tolist() == [6, 3]
    assert rows.is_over.tolist() == [False, True]
    assert lead_times([80], [np.nan], last=90).low.tolist() == [11]
    with pytest.raises(ValueError, match="before it was ordered"):
        lead_times([5], [4])


def test_lead_times_come_back_from_behind_closures():
    """4,000 orders of which a fifth met a shut road: the law of open roads comes back, where the dates alone do
    not."""
    law = Law("gamma", (4.0, 1.5))
    rng = np.random.default_rng(9)
    shut = np.arange(20, 8_000, 40.0)
    ordered = np.floor(rng.random(4_000) * 7_900)
    begun = ordered + rng.random(4_000)
    came = [on_open_roads(law, day, shut, shut + 8, u) for day, u in zip(begun, rng.random(4_000), strict=True)]
    right = fit_law(lead_times(ordered, np.floor(came), shut, shut + 8), "gamma").law
    blind = fit_law(lead_times(ordered, np.floor(came)), "gamma").law
    assert moment(right) == pytest.approx(6, rel=0.03)
    assert moment(blind) > 6.5


def test_repairs_not_over():
    """14, 30, 45 and 60 days done, 90 and 20 still in the workshop: mean 259 / 4 days, and 5/12 last beyond 45."""
    rows = joined(exact([14, 30, 45, 60]), still_on([90, 20]))
    assert fit_law(rows, "exponential").law.parameters == pytest.approx((64.75,), abs=1e-6)
    curve = kaplan_meier([14, 30, 45, 60, 90, 20], [True] * 4 + [False] * 2)
    assert curve.at(45, 1) == pytest.approx(5 / 6 * 3 / 4 * 2 / 3)
