"""Totals and counts: Little's law, counts at midnight, the stock card, and what totals cannot tell apart."""

import numpy as np
import pytest
from scipy import stats

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.calibrate import accepted, what_is_fixed
from o2sim.statistics.fitting.card import implied_loss, used
from o2sim.statistics.fitting.crowd import (
    counts_draws,
    drawn_counts,
    little,
    mean_flow,
    stays_from_counts,
    time_sd,
)
from o2sim.statistics.fitting.laws import moment

STAY_H = Law("lognormal", (np.log(60), np.log(2.2)))
STAY_DAYS = Law("lognormal", (np.log(2.5), np.log(2.2)))


def test_stays_from_month_totals():
    """Patient-days over those who began; both end days counted give one too many; the edges by who was there."""
    assert little([60, 90], [20, 30]) == 3
    assert little([80, 120], [20, 30], both_ends=True) == 3
    assert little([60], [18], there_first=5, there_last=1) == 3
    assert mean_flow(18_000, 200) == 1.5
    with pytest.raises(ValueError, match="give no stay"):
        little([10], [0])


def test_littles_law_on_a_drawn_ward():
    """Patient-days at midnight over admissions give the mean stay of a drawn ward of four years within 3 %."""
    counts = drawn_counts(STAY_DAYS, 4.0, 4 * 365, 2)
    assert little(counts, np.full(4 * 365, 4.0)) == pytest.approx(moment(STAY_DAYS), rel=0.03)


def test_spread_of_patient_hours_in_a_week():
    """5 on oxygen on average: sd 272.3 h by the closed form of exponential stays of 72 h, not 29 as if each hour
    were new."""
    turns = 168 / 72
    closed = (2 * 5 * 72**2 * (turns - 1 + np.exp(-turns))) ** 0.5
    assert time_sd(5, Law("exponential", (72.0,)), 168) == pytest.approx(closed, rel=1e-9)
    assert time_sd(5, STAY_H, 168) == pytest.approx(270.826, abs=0.01)
    weeks = drawn_counts(STAY_DAYS, 5 / moment(STAY_DAYS), 7 * 2_000, 3).reshape(-1, 7).sum(axis=1) * 24
    assert weeks.std() == pytest.approx(270.8, rel=0.06)  # midnights stand for days


def test_stays_from_counts_at_midnight():
    """Three years of counts give mean stay and arrivals back within a fifth; drawn books say how far off it may
    be."""
    law = Law("exponential", (3.0,))
    fit = stays_from_counts(drawn_counts(law, 2.0, 3 * 365, 4))
    assert (moment(fit.law), fit.rate_per_day) == pytest.approx((3, 2), rel=0.2)
    assert fit.dispersion == pytest.approx(1, abs=0.25)
    assert fit.seen == pytest.approx(fit.fitted, abs=0.15)
    low, high = np.quantile([moment(one) for one in counts_draws(fit, 3 * 365, 60, 1)], [0.05, 0.95])
    assert low < 3 < high


def test_counts_with_nights_missing():
    """Nights without a count are left out in pairs; too few nights are refused."""
    counts = drawn_counts(Law("exponential", (3.0,)), 3.0, 2_000, 5)
    counts[::7] = np.nan
    assert moment(stays_from_counts(counts).law) == pytest.approx(3, rel=0.2)
    with pytest.raises(ValueError, match="20 nights; at least 28"):
        stays_from_counts(np.arange(20.0))


def test_what_a_stock_card_says():
    """14 full and 22 received less 9 full are 27 emptied of 6,400 L; the book has 109,740 L: 36.5 % not
    accounted for."""
    card = used([0, 30], [14, 9], [0, 22], [0, 0], [0, 21])
    assert (card.emptied.tolist(), card.unaccounted.tolist()) == ([27], [6])
    loss = implied_loss(card, 6_400, 1_180, 1.55)
    assert (loss.gone_l, loss.given_l, loss.share) == pytest.approx((172_800, 109_740, 0.36493), abs=1e-5)
    assert loss.low == loss.share == loss.high


def test_what_a_stock_card_cannot_say():
    """Gas in 2 part-used then 3 at the end: from 3 less to 2 more cylinders; a gap is joined, not taken as no
    use."""
    card = used([0, 4, 19, 30], [14, np.nan, 20, 9], [0, 10, 12, np.nan], [2, np.nan, 1, 3])
    assert card.days.tolist() == [19, 11]
    assert card.emptied.tolist() == [16, 11]
    assert (card.low.tolist(), card.high.tolist()) == ([15, 8], [18, 12])
    loss = implied_loss(card, 100, 1, 1)
    assert (loss.low, loss.high) == pytest.approx((1 - 60 / 2_400, 1 - 60 / 2_900))
    with pytest.raises(ValueError, match="row 2 has 9 full"):
        used([0, 1], [4, 9], [0, 2], [0, 0])


def test_what_totals_can_tell_apart():
    """Cylinders alone fix one combination of four parameters; with midnight counts two, with admissions on
    oxygen three."""
    names = ("admissions", "share", "stay", "flow")
    totals = [dict.fromkeys(names, 1.0), dict.fromkeys(names[:3], 1.0), dict.fromkeys(names[:2], 1.0)]
    found = [what_is_fixed(totals[: k + 1], names) for k in range(3)]
    assert [one.rank for one in found] == [1, 2, 3]
    assert [one.parameters for one in found] == [(), ("flow",), ("stay", "flow")]
    assert what_is_fixed([], names).rank == 0


def test_calibration_by_simulation():
    """7 in 12 months under Gamma(4, 8 months): the posterior Gamma(11, 20) and the chance of 7, both in closed
    form."""
    rng = np.random.default_rng(11)
    prior = rng.gamma(4, 1 / 8, 400_000)
    found = accepted(prior, lambda rate: rng.poisson(rate * 12), 7)
    assert (found.draws.mean(), found.draws.std()) == pytest.approx((0.55, 0.165831), abs=3e-3)
    assert found.share == pytest.approx(stats.nbinom(4, 8 / 20).pmf(7), abs=3e-3)
    with pytest.raises(ValueError, match="none of 10 draws"):
        accepted(np.ones(10), lambda rate: rate, 99)
