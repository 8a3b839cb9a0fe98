"""Pictures of patients join what has under 5 of them; flows stay marks or become a triangle; texts and ranges."""

import numpy as np
import pytest
from fit_coverage import marks_of
from patient_books import Truth, drawn, records, shown

from o2sim.fits.patients.flows import leaning, marks, part_of_flows, triangle
from o2sim.fits.patients.parts import patient_parts
from o2sim.fits.patients.pictures import stays_panel, triangle_up_to
from o2sim.fits.patients.texts import counted, listed, percent
from o2sim.records.rows import Stay
from o2sim.scenario.types.laws import Law, law_mean
from o2sim.statistics.fitting.spells import exact, in_steps


def stays(flows):
    """Return rows with first flows in L/min."""
    return [Stay(14, class_="children", flow_ml_min=round(1000 * flow)) for flow in flows]


def test_steps_stand_for_five():
    """Each step of the curve of stays falls by 5 or more ends, also where every end has a time of its own."""
    times = np.linspace(5, 300, 83)
    (panel,) = stays_panel(
        "children", Law("exponential", (120.0,)), (Law("exponential", (110.0,)),) * 3, exact(times)
    )
    falls = -np.diff(panel.curves[0].y) * 83
    assert np.all(falls > 4.999)
    assert panel.curves[0].y[-1] == pytest.approx(0, abs=1e-9)


def test_steps_by_dates_are_as_the_book_shows_them():
    """By dates the steps are the shares of differences above each day: 2/3, 1/3, 0 of 10 each at 0, 1, 2 days."""
    rows = in_steps([0] * 10 + [1] * 10 + [2] * 10, 24)
    (panel,) = stays_panel("children", Law("exponential", (24.0,)), (Law("exponential", (24.0,)),), rows)
    steps, line = panel.curves
    assert steps.x.tolist() == [0, 0, 1, 2]
    assert steps.y == pytest.approx([1, 2 / 3, 1 / 3, 0])
    assert line.y[0] == pytest.approx(1 - np.exp(-1), rel=1e-6)  # a difference of 1 or more: U(0) - U(1), in days


def test_few_stays_have_no_picture():
    """Four stays are not shown, nor their flows or months."""
    of = records(shown(drawn(Truth(rate=4 / 365), 3, before_days=0), 365)[:4])
    assert [panel for part in patient_parts(of, 1) for panel in part.panels] == []


def test_bars_of_months_stand_for_five():
    """A class of 30 patients: months are joined until each bar has 5 or more, and there are fewer than 12."""
    of = records(shown(drawn(Truth(rate=30 / 365), 4), 365))
    part = patient_parts(of, 1)[0]
    bars, line = part.panels[0].curves
    runs = np.split(bars.y, np.flatnonzero(np.diff(bars.y)) + 1)
    days = 365 / 12
    assert all(run[0] * len(run) * days > 4.5 for run in runs)
    assert len(runs) < 12
    assert (part.panels[0].x_label, part.panels[0].y_label) == ("Month of the year", "Patients a day")
    assert np.all(line.band[0] <= line.band[1])


def test_rare_flows_are_joined():
    """Two patients at 8 L/min and three at 6 are joined with the nearest mark that has 5, at the mean of all."""
    got = marks(np.array([1.0] * 20 + [2.0] * 10 + [6.0] * 3 + [8.0] * 2))
    assert got.flows.tolist() == pytest.approx([1, 2, 6.8])
    assert got.counts.tolist() == [20, 10, 5]
    assert got.joined == 1
    assert marks(np.ones(4)) is None


@pytest.mark.parametrize(("low", "high", "mean"), [(0.5, 2, 1.1), (0.5, 5, 1.2), (1, 5, 4.6), (1, 2, 1.001)])
def test_triangle_has_the_mean(low, high, mean):
    """The triangle keeps the mean of the marks, within the marks, also where no mode gives it."""
    law = triangle(low, high, mean)
    assert law_mean(law) == pytest.approx(mean, rel=0.004)
    assert low <= law.parameters[0] <= law.parameters[1] <= law.parameters[2] <= high
    assert law.parameters[0] < law.parameters[2]


def test_triangle_up_to_by_scipy():
    """Chances of a triangular law are those of scipy.stats.triang."""
    from scipy import stats

    x = np.linspace(0, 6, 25)
    expected = stats.triang(c=(2 - 1) / 4, loc=1, scale=4).cdf(x)
    assert triangle_up_to(Law("triangular", (1.0, 2.0, 5.0)), x) == pytest.approx(expected)


def test_flows_of_one_mark():
    """All at 1 L/min is written as such, without a range, and said to be one flow."""
    part = part_of_flows("children", stays([1.0] * 12), "2026", 1)
    assert (part.wholes[0].text, part.wholes[0].draws) == ("1 L/min", ())
    assert "taken as one" in part.cautions[-1]
    assert part_of_flows("children", stays([1.0] * 4), "2026", 1) is None


MARKS = ([0.5] * 30 + [5.0] * 6, [0.5] * 6 + [5.0] * 60, [1.0] * 10 + [1.5] * 9 + [2.0] * 10)


@pytest.mark.parametrize("flows", MARKS)
def test_marks_that_repeat_stand_as_often_as_they_were_set(flows):
    """Two marks far apart stay two: the law has their values and shares, each draw the marks with its mean."""
    (whole,) = part_of_flows("children", stays(flows), "2026", 1).wholes
    assert marks_of(whole.text).parameters == tuple(flows)
    means = [law_mean(marks_of(text)) for text in whole.draws]
    assert {value for text in whole.draws for value in marks_of(text).parameters} == set(flows)
    assert np.median(means) == pytest.approx(np.mean(flows), rel=0.05)


def test_leaning_shares_have_their_means():
    """Shares of three marks for means from near the least to near the largest; the counted for their own."""
    flows, counts = np.array([0.5, 1.0, 5.0]), np.array([10.0, 30.0, 5.0])
    means = np.array([0.51, flows @ counts / counts.sum(), 4.9])
    shares = leaning(flows, counts, means)
    assert shares @ flows == pytest.approx(means)
    assert shares[1] == pytest.approx(counts / counts.sum())


@pytest.mark.parametrize("flows", [np.linspace(0.5, 2, 40), [0.5] * 30 + list(np.linspace(4, 5, 12))])
def test_range_of_flows_moves_what_the_mean_moves(flows):
    """One parameter has a range: the mode, or the end that moves where no mode gives the mean."""
    part = part_of_flows("children", stays(flows), "2026", 1)
    text = part.wholes[0].text
    assert text.count("likely") == 1
    means = [
        np.mean([float(each.split(" ")[0]) for each in draw.split(": ")[2:]]) for draw in part.wholes[0].draws
    ]
    assert np.median(means) == pytest.approx(np.mean(flows), rel=0.05)


def test_range_of_a_mean_flow_against_students_t():
    """Of even marks the draws of the mean have the points of Student's t: 1.5 + 1.70 x 0.42 / sqrt(29) on top."""
    flows = [1.0] * 10 + [1.5] * 9 + [2.0] * 10
    draws = part_of_flows("children", stays(flows), "2026", 1).wholes[0].draws
    means = [law_mean(marks_of(draw)) for draw in draws]
    half = 1.701 * np.std(flows, ddof=1) / np.sqrt(29)
    assert np.quantile(means, [0.05, 0.95]) == pytest.approx((1.5 - half, 1.5 + half), abs=0.035)


def test_words():
    """Counts under 5 are merged, shares are short, names are joined."""
    assert counted(17, 231, "stays") == "17 of 231 stays"
    assert counted(3, 231, "stays") == "under 5 of 231 stays"
    assert counted(2, 3, "stays") == "under 5 stays"
    assert (percent(0.412), percent(0.004), percent(0)) == ("41 %", "0.4 %", "0 %")
    assert (listed(["a"]), listed(["a", "b", "c"])) == ("a", "a, b and c")
