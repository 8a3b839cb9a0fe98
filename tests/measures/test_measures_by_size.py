"""Measures by size of cylinder: they add to those of all, stand in the tables; null where all are alike."""

from __future__ import annotations

import pytest
from scenario_texts import SMALL
from sized_texts import SIZED

from o2sim.measures.measures import summarise
from o2sim.measures.result_rows import outcome_columns, summary_rows
from o2sim.questions.compare.charts import stock_chart
from o2sim.questions.compare.next_steps import on_screen
from o2sim.questions.compare.tables import size_tables
from o2sim.runs.study import run_study
from o2sim.scenario import loads

NAMES = ("cylinders only", "mixed")


@pytest.fixture(scope="module")
def study():
    """Return three replications of two strategies."""
    return run_study(loads(SIZED), replications=3, seed=1, engine="reference")


@pytest.fixture(scope="module")
def summary(study):
    """Return its summary."""
    return summarise(study)


def test_what_is_by_size_adds_to_what_is_of_all(study, summary):
    """Cylinders delivered, lost and opened under each strategy."""
    for name in NAMES:
        sizes = summary["strategies"][name]["by_size"].values()
        outcomes = study.outcomes[name]
        per_year = 365 / 60 / 3
        for measure, field in (("delivered", "cylinders_delivered"), ("lost", "cylinders_lost")):
            total = sum(getattr(each, field) for each in outcomes) * per_year
            assert sum(each[measure]["mean"] for each in sizes) == pytest.approx(total)


def test_units_of_measures_by_size_are_said(summary):
    """As those by class, where there are sizes."""
    assert summary["units"]["by_size.litres_drawn"] == "litres per 365 days"


def test_one_size_has_no_measures_by_size():
    """Null, no rows, no units."""
    found = summarise(run_study(loads(SMALL), replications=1, seed=1, engine="reference"))
    (strategy,) = found["strategies"].values()
    assert strategy["by_size"] is None
    assert size_tables(found) == []
    assert [name for name in found["units"] if name.startswith("by_size")] == []


def test_a_table_has_a_row_for_each_measure_of_each_size(summary):
    """Nothing was lost, so that no row says so."""
    (table,) = size_tables(summary)
    heads = [row[0] for row in table.rows]
    assert heads[0] == "large: opened"
    assert "small: fewest full ones" in heads
    assert not any("lost" in head for head in heads)


def test_rows_of_a_summary_name_size_and_measure(summary):
    """In the long table of the results; the row of a replication leaves them out."""
    parts = [part for _, measure, part, *_ in summary_rows(summary) if measure == "by_size"]
    assert "small: delivered" in parts
    assert not any("by_size" in name for name in outcome_columns([]))


def test_the_chart_says_that_it_is_of_all_sizes(study):
    """Axis and the line of the reorder points, 6 and 8."""
    figure = stock_chart(study, "mixed")
    labels = [text.get_text() for text in figure.legends[0].get_texts()]
    assert "reorder points of all sizes (14)" in labels
    assert figure.axes[0].get_ylabel() == "full cylinders of all sizes on hand, midnight"


def test_the_next_step_sizes_the_size_for_patients(study, summary):
    """The command names it."""
    hospital = study.scenario.hospitals["mixed"]
    said = " ".join(on_screen(summary, "mixed", hospital, "two.yaml"))
    assert "How many large cylinders are enough: o2sim size two.yaml --strategy mixed --of large" in said
