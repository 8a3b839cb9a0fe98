"""Days and hours of cover from the state at midnight, worked by hand."""

import numpy as np
import pytest

from o2sim.measures.cover import cover_columns, cover_summary
from o2sim.outcome import DAILY_COLUMNS
from o2sim.runs.midnights import cover, nights_of
from o2sim.statistics.estimator import Estimator


def daily(*rows):
    """Return the daily table of an Outcome from (usable, used in 7 days, mean need, flow) of each midnight."""
    table = np.zeros((len(rows), len(DAILY_COLUMNS)), dtype=np.int32)
    names = ("usable_litres", "used_7_days_litres", "mean_need_litres", "cylinder_flow_ml_min")
    table[:, [DAILY_COLUMNS.index(name) for name in names]] = np.array(rows).reshape(-1, 4)
    return table


def figures(*tables):
    """Return the figures of cover of some replications, shape (n, COVER)."""
    return np.array([nights_of(each).cover for each in tables])


def test_cover_is_over_the_greater_of_use_and_need():
    """12,000 L: at 14,000 L a week 6 days; at a need of 4,000 L 3 days; 5 L/min take 300 L/h: 40 h."""
    days, hours = cover(daily((12_000, 14_000, 1_000, 5_000), (12_000, 14_000, 4_000, 0), (9, 0, 0, 0)))
    assert days.tolist() == pytest.approx([6, 3, np.nan], nan_ok=True)
    assert hours.tolist() == pytest.approx([40, np.nan, np.nan], nan_ok=True)


def test_cover_of_a_replication():
    """Covers of 6, 2, 0.5 and none to tell: lowest 0.5, mean 8.5/3; a quarter of days under 1, half under 3."""
    rows = [(6_000, 0, 1_000, 0), (2_000, 7_000, 0, 1_000), (500, 0, 1_000, 0), (500, 0, 0, 0)]
    columns = cover_columns(figures(daily(*rows), daily(rows[3]), daily()))
    assert columns["days_of_cover"]["lowest"].tolist() == [0.5]
    assert columns["days_of_cover"]["mean"].tolist() == pytest.approx([8.5 / 3])
    assert columns["hours_of_cover"]["mean"].tolist() == pytest.approx([2_000 / 60])
    shares = {part: values.tolist() for part, values in columns["share_of_days_of_cover"].items()}
    assert shares == {"under 1 day": [0.25, 0], "under 3 days": [0.5, 0], "under 7 days": [0.75, 0]}


def test_a_stock_that_runs_to_nothing_is_no_event_unseen():
    """Lowest cover 0 in both years: the mean is 0, the note says that they are alike."""
    columns = cover_columns(figures(*[daily((0, 7, 1, 1))] * 2))["days_of_cover"]
    found = cover_summary(Estimator(0.95, "2 years"), columns, "days_of_cover")
    assert (found["lowest"].mean, found["lowest"].note) == (0, "the same in all 2 years")
    assert cover_summary(Estimator(0.95, "2 years"), None, "hours_of_cover") is None
