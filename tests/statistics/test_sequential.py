"""Tests that may be looked at after every replication, against exact laws, tables and a known truth."""

import numpy as np
import pytest
from scipy import stats

from o2sim.outcome import Cause
from o2sim.questions.size.candidate_runs import Kept
from o2sim.questions.size.search import CONFIRMED, CURVE, NOT_CONFIRMED, NOT_SHOWN, TOO_OFTEN, Scan, scan
from o2sim.statistics.sequential import (
    any_time_interval,
    hopeless,
    least_replications,
    log_wealth,
    most_failures,
    refuted,
    shown,
    shown_bound,
)

NO_CYLINDER = frozenset({Cause.NO_CYLINDER})
NONE: frozenset[Cause] = frozenset()


@pytest.mark.parametrize(("n", "order"), [(59, 59), (1000, 962), (5000, 4776)])
def test_order_statistic_against_wilks(n, order):
    """The order statistic that bounds the 95 % quantile with 95 % confidence (Wilks 1941; computed by scipy)."""
    allowed = n - order
    assert most_failures(n, 0.05, 0.95) == allowed
    assert stats.binom.cdf(allowed, n, 0.05) <= 0.05 < stats.binom.cdf(allowed + 1, n, 0.05)


def test_fifty_nine_successes_show_five_per_cent():
    """0.95^59 is just below 5 % (the rule of 59), so 58 are too few."""
    assert least_replications(0.05, 0.95) == 59
    assert most_failures(58, 0.05, 0.95) == -1


def exact_crossing(chance: float, target: float, alpha: float, looks: int) -> float:
    """Return P(shown at any look up to `looks`) exactly, by the law of the count of those not shown."""
    alive, crossed = np.array([1.0]), 0.0
    for n in range(1, looks + 1):
        alive = np.convolve(alive, [1 - chance, chance])
        for failures in range(n + 1):
            if alive[failures] > 0 and shown(failures, n, target, alpha):
                crossed += alive[failures]
                alive[failures] = 0.0
    return crossed


def test_error_at_any_look_against_the_exact_law():
    """At the target itself the chance ever to be shown stays below alpha (Ville); far below it is near 1."""
    assert 0.01 < exact_crossing(0.2, 0.2, 0.1, 120) <= 0.1
    assert exact_crossing(0.02, 0.2, 0.1, 120) > 0.95


def test_interval_holds_at_all_looks_together():
    """In 400 rows of 300 coins the chance is outside at any look at most as often as stated."""
    coins = np.random.default_rng(1).random((400, 300)) < 0.1
    missed = 0
    for row in coins:
        counts = np.cumsum(row)
        bounds = (any_time_interval(int(counts[n - 1]), n, 0.9) for n in range(1, 301, 7))
        missed += any(not low <= 0.1 <= high for low, high in bounds)
    assert stats.binom.sf(missed - 1, 400, 0.1) > 0.001
    assert any_time_interval(0, 0, 0.9) == (0.0, 1.0)


def test_interval_edges_and_limits():
    """Nought and all have an open end; more of the same narrows it; the estimate lies inside."""
    low, high = any_time_interval(0, 50, 0.95)
    assert low == 0.0
    assert any_time_interval(0, 100, 0.95)[1] < high < 0.2
    assert any_time_interval(50, 50, 0.95)[1] == 1.0
    low, high = any_time_interval(5, 50, 0.95)
    assert low < stats.binomtest(5, 50).proportion_ci(0.95).low < 0.1 < high


@pytest.mark.parametrize("call", [lambda: log_wealth(3, 2, 0.1), lambda: any_time_interval(-1, 2, 0.9)])
def test_impossible_counts_are_refused(call):
    """More failures than replications, or fewer than none, is no data."""
    with pytest.raises(ValueError, match="is impossible"):
        call()


def test_the_bound_is_the_least_target_that_is_shown():
    """Just above it the count shows it, just below it does not; it is nearer than the two-sided interval."""
    bound = shown_bound(3, 200, 0.05)
    assert shown(3, 200, bound + 1e-6, 0.05)
    assert not shown(3, 200, bound - 1e-6, 0.05)
    assert 3 / 200 < bound < any_time_interval(3, 200, 0.95)[1]


def test_verdicts_are_one_sided():
    """Few failures show it, many refute, and too many cannot be mended within the limit."""
    assert shown(0, 100, 0.05, 0.05)
    assert not shown(5, 100, 0.05, 0.05)
    assert refuted(8, 40, 0.05, 0.05)
    assert not refuted(2, 40, 0.05, 0.05)
    assert hopeless(9, 100, 0.05, 0.05)
    assert not hopeless(0, 100, 0.05, 0.05)


def coins(chances, seed, limit, target=0.2, alpha=0.1, around=(), stop_at=None):
    """Return a scan over candidates that are coins with known chances, thrown with common luck."""
    luck = np.random.default_rng(seed).random(2 * limit)

    def trial(candidate: int, replication: int) -> Kept:
        if stop_at is not None and (candidate, replication) == stop_at:
            raise KeyboardInterrupt
        return Kept(NO_CYLINDER if luck[replication] < chances[candidate] else frozenset())

    state = Scan(NO_CYLINDER, target, alpha, limit, trial)
    return scan(state, range(len(chances)), around)


def test_guarantee_of_the_scan_against_a_known_truth():
    """Over 300 searches a candidate above the target is confirmed no more often than stated."""
    chances = [0.5, 0.23, 0.205, 0.2, 0.08, 0.02]
    answers = [coins(chances, seed, 120).answer for seed in range(300)]
    wrong = sum(answer is not None and chances[answer] >= 0.2 for answer in answers)
    assert stats.binom.sf(wrong - 1, 300, 0.1) > 0.001
    assert sum(answer in (4, 5) for answer in answers) > 240


def test_guarantee_among_many_candidates_that_just_fail():
    """Of 20 a little above the target, each with luck of its own, one is taken no more often than stated."""
    wrong = 0
    for seed in range(150):
        luck = np.random.default_rng(seed).random((20, 160))
        lucky = scan(
            Scan(
                NO_CYLINDER,
                0.2,
                0.1,
                80,
                lambda c, r, luck=luck: Kept(NO_CYLINDER if luck[c, r] < 0.205 else NONE),
            ),
            range(20),
        )
        wrong += lucky.answer is not None
    assert stats.binom.sf(wrong - 1, 150, 0.1) > 0.001


def test_confirmation_is_on_fresh_replications_at_a_shrinking_error():
    """What flattered in the scan falls through afresh; the second attempt may err with a quarter of alpha."""
    seen = []

    def trial(candidate: int, replication: int) -> Kept:
        seen.append((candidate, replication))
        return Kept(NO_CYLINDER if candidate == 0 and replication >= 100 else NONE)

    state = scan(Scan(NO_CYLINDER, 0.2, 0.1, 100, trial), range(2))
    assert state.status == {0: NOT_CONFIRMED, 1: CONFIRMED}
    assert state.answer_alpha == 0.1 / 4
    assert len(seen) == len(set(seen))
    assert {replication < 100 for candidate, replication in seen if candidate == 1} == {True, False}


def test_a_chance_that_rises_again_is_scanned_and_not_halved():
    """The least good candidate is found though the middle ones are worse than it."""
    state = coins([0.9, 0.03, 0.8, 0.9, 0.01], seed=3, limit=150)
    assert state.answer == 1
    assert state.status == {0: TOO_OFTEN, 1: CONFIRMED}
    assert len(state.fresh[1]) <= 150


def test_the_answer_and_six_on_each_side_share_one_batch():
    """As many replications each, the same ones; a few of the rest are run for the curve, without a verdict."""
    chances = [0.9] * 9 + [0.5, 0.4, 0.03] + [0.02] * 9
    state = coins(chances, seed=3, limit=500, around=(0, 20))
    assert state.answer == 11
    assert [len(state.trials[place]) for place in range(5, 18)] == [400] * 13
    assert [state.status[place] for place in (10, 11, 12, 20)] == [TOO_OFTEN, CONFIRMED, CURVE, CURVE]
    assert (len(state.trials[20]), 19 in state.trials, len(state.trials[3]) < 50) == (100, False, True)
    failures = [state.failures(place) for place in range(5, 18)]
    assert failures == sorted(failures, reverse=True)  # common luck, chances that fall


def test_without_an_answer_the_best_and_those_beside_it_share_one_batch():
    """Within the limit, where that is lower than what is usual."""
    state = coins([0.9, 0.8, 0.5, 0.4, 0.6], seed=3, limit=90, around=(0, 4))
    assert state.answer is None
    assert {len(trials) for trials in state.trials.values()} == {90}


def test_what_cannot_be_shown_within_the_limit_is_left():
    """Near the target a candidate is given up once no row of successes could save it."""
    state = coins([0.19, 0.19], seed=5, limit=60)
    assert state.answer is None
    assert set(state.status.values()) <= {NOT_SHOWN, TOO_OFTEN}


def test_ctrl_c_keeps_what_is_done():
    """The trials before it stay; with none it passes through."""
    state = coins([0.9, 0.03], seed=3, limit=100, stop_at=(1, 5))
    assert state.stopped
    assert len(state.trials[1]) == 5
    with pytest.raises(KeyboardInterrupt):
        coins([0.9], seed=3, limit=100, stop_at=(0, 0))
