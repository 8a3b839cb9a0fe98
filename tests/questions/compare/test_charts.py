"""Charts hold the numbers they are given, tell series apart without colour, and come out the same each time."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import matplotlib.dates
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.image import imread
from synthetic import RESUPPLY, made_up_study, small_study

from o2sim.looks.doubt import CHANCE_ONLY
from o2sim.looks.drawing import save
from o2sim.measures.measures import summarise
from o2sim.outcome import Cause
from o2sim.questions.compare import charts
from o2sim.runs.study import worst_replication
from o2sim.scenario.types.hospital import RoadClosure

TWO = {"cylinders only": 80, "mixed": 0}


def texts(figure):
    """Return all that is written on a figure."""
    legend = [entry.get_text() for item in figure.legends for entry in item.get_texts()]
    axes = figure.axes[0]
    labels = [label.get_text() for label in axes.get_yticklabels()]
    return [
        *legend,
        axes.get_title(loc="left"),
        *labels,
        axes.get_xlabel(),
        axes.get_ylabel(),
        *(t.get_text() for t in axes.texts),
    ]


def line(figure, label):
    """Return the line with this label."""
    return next(item for item in figure.axes[0].get_lines() if item.get_label().startswith(label))


def test_stock_chart_draws_median_and_worst_replication():
    """The median and the worst replication are the study's, at the midnights of the horizon."""
    study = small_study()
    figure = charts.stock_chart(study, "mixed")
    stock = np.array([outcome.daily[:, 0] for outcome in study.outcomes["mixed"]])
    worst = worst_replication(study, "mixed")
    assert line(figure, "median").get_ydata().tolist() == np.median(stock, axis=0).tolist()
    assert line(figure, "worst").get_ydata().tolist() == stock[worst].tolist()
    assert line(figure, "worst").get_label() == f"worst replication (number {worst})"
    assert line(figure, "worst").get_xdata()[31] == matplotlib.dates.date2num(dt.date(2027, 2, 1))


def test_stock_chart_fan_is_the_middle_of_the_replications():
    """The fans hold 95 % and 80 % of the replications at each midnight."""
    study = made_up_study({"mixed": 0}, replications=101)
    wide, narrow = charts.stock_chart(study, "mixed").axes[0].collections[:2]
    heights = {round(y, 6) for y in wide.get_paths()[0].vertices[:, 1]}
    assert heights == {12.5, 107.5}
    assert {round(y, 6) for y in narrow.get_paths()[0].vertices[:, 1]} == {20.0, 100.0}


def test_stock_chart_shows_closures_and_reorder_point():
    """Dated closures are strips, the possible ones hatched; the reorder point is a line."""
    study = made_up_study({"mixed": 1}, replications=3)
    figure = charts.stock_chart(study, "mixed")
    strips = figure.axes[0].patches
    dates = [matplotlib.dates.num2date(strip.get_x()).date() for strip in strips]
    assert dates == [dt.date(2027, 4, 1), dt.date(2027, 10, 10)]
    assert [strip.get_width() for strip in strips] == [91.0, 11.0]
    assert [bool(strip.get_hatch()) for strip in strips] == [True, False]
    assert {"road closed", "road closures possible", "reorder point (36)"} <= set(texts(figure))


def test_stock_chart_clips_closures_to_the_horizon():
    """A closure without dates covers the whole run; one outside it is left out; a label is given once."""
    closures = (
        RoadClosure(None, None, 0.1),
        RoadClosure(dt.date(2028, 5, 1), dt.date(2028, 6, 1)),
        RoadClosure(dt.date(2027, 1, 5), dt.date(2027, 1, 6), 0.5),
    )
    study = made_up_study(
        {"mixed": 1}, replications=3, days=30, resupply=replace(RESUPPLY, road_closures=closures)
    )
    figure = charts.stock_chart(study, "mixed")
    assert [strip.get_width() for strip in figure.axes[0].patches] == [29.0, 2.0]
    assert texts(figure).count("road closures possible") == 1


def test_stock_chart_without_resupply_and_of_one_day():
    """A fleet that is never refilled has no reorder point; a horizon of one day still makes a chart."""
    study = made_up_study({"mixed": 1}, replications=3, days=1, resupply=None)
    figure = charts.stock_chart(study, "mixed")
    assert not any(text.startswith(("reorder", "road")) for text in texts(figure))


def test_stock_chart_needs_cylinders():
    """A strategy without cylinders has no stock to draw."""
    with pytest.raises(ValueError, match="has no stock of cylinders to draw"):
        charts.stock_chart(small_study(), "concentrators only")


def test_probability_chart_shows_frequencies_in_words():
    """Each strategy's chance stands beside its mark as a natural frequency; nothing seen has a width too."""
    summary = summarise(made_up_study(TWO))
    figure = charts.probability_chart(summary)
    assert {
        "40 in 100 years",
        "none seen in 200 years",
        f"chance within a year, %\nintervals: {CHANCE_ONLY}",
    } <= set(texts(figure))
    stock_out = figure.axes[0].containers[0]
    (_, interval) = stock_out.lines[2][0].get_segments()
    assert interval[:, 0].tolist() == pytest.approx([0.0, 100 * (1 - 0.025 ** (1 / 200))])


def test_probability_chart_tells_its_two_series_apart_without_colour():
    """Stock-outs and interruptions have markers of different shape."""
    containers = charts.probability_chart(summarise(made_up_study(TWO))).axes[0].containers
    markers = [container.lines[0].get_marker() for container in containers]
    assert len(set(markers)) == 2


def test_unserved_chart_bars_are_the_means():
    """The bars are the mean unserved patient-hours a year, with the interval in words beside them.

    By hand: 9 h +- 1.972 x 20 x sqrt(0.4 x 0.6 / 199), Student's t with 199 degrees of freedom.
    """
    summary = summarise(made_up_study(TWO))
    figure = charts.unserved_chart(summary)
    widths = [bar.get_width() for bar in figure.axes[0].patches]
    assert widths == [item["unserved_patient_hours"]["mean"] for item in summary["strategies"].values()]
    assert "9 (7.63 to 10.4)" in texts(figure)
    assert f"unserved patient-hours a year (mean and 95 % interval)\nintervals: {CHANCE_ONLY}" in texts(figure)


def test_unserved_chart_of_a_perfect_supply():
    """Where nothing went unserved the chart says none was seen."""
    summary = summarise(served_study())
    assert "none seen" in texts(charts.unserved_chart(summary))


def test_unserved_chart_of_one_run_has_no_interval():
    """A mean without bounds is told so beside its bar."""
    summary = summarise(made_up_study({"mixed": 1}, replications=1))
    assert "21 (no interval)" in texts(charts.unserved_chart(summary))


def test_causes_chart_stacks_to_the_total():
    """The parts of a bar add up to the unserved hours, supply causes first, each with its own hatch."""
    summary = summarise(small_study())
    figure = charts.causes_chart(summary)
    bars = figure.axes[0].containers
    totals = [sum(part[place].get_width() for part in bars) for place in range(3)]
    means = [item["unserved_patient_hours"]["mean"] for item in summary["strategies"].values()]
    assert totals == pytest.approx(means)
    legend = [entry.get_text() for entry in figure.legends[0].get_texts()]
    kinds = [text.endswith("(supply)") for text in legend]
    assert kinds == sorted(kinds, reverse=True)
    assert len(legend) == len(bars) >= 3


def test_causes_chart_of_a_perfect_supply():
    """Where nobody went without there is no legend and the title says so."""
    figure = charts.causes_chart(summarise(served_study()))
    assert figure.legends == []
    assert "Why someone goes without: nobody did" in texts(figure)


def served_study():
    """Return a study in which nobody goes without."""
    study = made_up_study({"mixed": 0}, replications=3)
    served = [replace(item, unserved_s=(0,) * len(Cause)) for item in study.outcomes["mixed"]]
    return replace(study, outcomes={"mixed": served})


def test_causes_look_different_without_colour():
    """No two causes share a hatch."""
    hatches = [hatch for _, hatch in charts.CAUSE_LOOKS.values()]
    assert set(charts.CAUSE_LOOKS) == set(Cause)
    assert len(set(hatches)) == len(hatches)


def test_colours_against_okabe_and_ito():
    """The palette is Okabe and Ito's, Color Universal Design, 2008 (RGB values from memory)."""
    published = {
        charts.ORANGE: (230, 159, 0),
        charts.SKY: (86, 180, 233),
        charts.GREEN: (0, 158, 115),
        charts.YELLOW: (240, 228, 66),
        charts.BLUE: (0, 114, 178),
        charts.RED: (213, 94, 0),
        charts.PURPLE: (204, 121, 167),
    }
    assert {tuple(round(255 * part) for part in to_rgb(colour)) for colour in published} == set(published.values())
    assert all(tuple(round(255 * part) for part in to_rgb(c)) == rgb for c, rgb in published.items())


def test_nothing_is_cut_off_or_written_over():
    """No text of a chart leaves the figure, and no two value labels cover each other."""
    study = made_up_study({"a strategy with rather a long name": 80, "mixed": 0, "cylinders only": 3}, 50)
    for figure in (charts.probability_chart(summarise(study)), charts.unserved_chart(summarise(study))):
        figure.draw_without_rendering()
        boxes = [text.get_window_extent() for text in figure.axes[0].texts]
        page = figure.bbox
        assert all(page.x0 <= box.x0 and box.x1 <= page.x1 for box in boxes)
        pairs = [(a, b) for k, a in enumerate(boxes) for b in boxes[k + 1 :]]
        assert not any(a.overlaps(b) for a, b in pairs)


def test_a_horizon_that_is_not_a_year_is_named():
    """The chance is within the horizon, whatever its length."""
    summary = summarise(made_up_study({"mixed": 1}, replications=3, days=28))
    assert f"chance within 28 days, %\nintervals: {CHANCE_ONLY}" in texts(charts.probability_chart(summary))


def test_names_are_drawn_as_they_are(tmp_path):
    """Dollar signs in a name are no formula, and letters that the font lacks are no error."""
    study = made_up_study({"$5 a day_{x} $": 1, "酸素": 1}, replications=3, days=30)
    for name in study.outcomes:
        save(charts.stock_chart(study, name), tmp_path / "stock.png")
    summary = summarise(study)
    for chart in (charts.probability_chart, charts.unserved_chart, charts.causes_chart):
        save(chart(summary), tmp_path / "chart.svg")
    assert "Full cylinders: $5 a day_{x} $" in texts(charts.stock_chart(study, "$5 a day_{x} $"))


def test_svg_is_the_same_bytes_each_time(tmp_path):
    """Two drawings of one chart are the same file, without date or random ids."""
    for name in ("one.svg", "two.svg"):
        save(charts.stock_chart(small_study(), "mixed"), tmp_path / name)
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()
    assert b"<dc:date>" not in (tmp_path / "one.svg").read_bytes()


def test_png_is_a_picture_of_the_stated_size(tmp_path):
    """A PNG has eight inches at 150 dots an inch across."""
    save(charts.unserved_chart(summarise(made_up_study(TWO))), tmp_path / "chart.png")
    assert imread(tmp_path / "chart.png").shape[1] == 1_200
