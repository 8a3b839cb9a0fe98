"""What check, the document, tables and files of a comparison say of shocks, only where there are some."""

from __future__ import annotations

import pytest
from scenario_texts import SMALL

from o2sim.measures.measures import summarise
from o2sim.measures.names import IN_SHOCKS
from o2sim.measures.result_rows import replication_columns, replication_rows
from o2sim.questions.check.rules_in_words import sentences
from o2sim.questions.check.shocks_in_words import LEFT_OUT
from o2sim.questions.compare.tables import main_tables
from o2sim.questions.documents.describe import document
from o2sim.questions.fit.not_given import SHOCKS, not_given
from o2sim.runs.study import run_study
from o2sim.scenario import loads, warnings
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.source import source_of

STORMS = """\
horizon: 200 days
shocks:
  storm: {rate: 20 / year, months: [4, 1, may], severity: {gamma: {mean: 2, sd: 1}}, road: 7 days,
          patients: {multiplier: 1.5, length: 5 days, after: 36 h, classes: [child]}}
  strike: {rate: 1 / year, supplier: 90 min}
"""


@pytest.fixture(scope="module")
def study():
    """Return a few runs with storms."""
    return run_study(loads(SMALL + STORMS), replications=3, engine="reference")


def test_shocks_are_said_in_sentences():
    """How often, in which months, what each does for how long on average; then what leaves them out."""
    found = [each for each in sentences(loads(SMALL + STORMS)) if "shock" in each]
    assert found == [
        "The shock “storm” comes 20 times a year, in January, April and May only. On average the road is shut for "
        "14 days and admissions of “child” are 1.5 times as many for 10 days, from 1.5 days after the onset. One "
        "severity multiplies all lengths of one event.",
        "The shock “strike” comes once a year. On average the supplier takes up no order for 1 h 30 min.",
        LEFT_OUT,
    ]
    assert [each for each in sentences(loads(SMALL)) if "shock" in each] == []


def test_the_document_prints_the_rule_and_the_draws():
    """For a reviewer: what is drawn, by which names, and the keys."""
    text = SMALL + STORMS
    said = document(loads(text), source_of(text), replications=1, seed=1, engine="reference")
    for part in ("The shock “storm”", "Common shocks", "shock severity", "shocks.storm.patients.after"):
        assert part in said


def test_a_comparison_shows_storms_where_there_are_some(study):
    """How many, for how many hours, and who was short in them; none of these rows without shocks."""
    summary = summarise(study)
    (table,) = main_tables(summary)
    heads = [row[0] for row in table.rows]
    place = heads.index("Shocks")
    assert heads[place : place + 5] == [
        "Shocks",
        "Hours with a shock on",
        "  for lack of supply, in a shock",
        "  for lack of equipment, in a shock",
        "  in handling, in a shock",
    ]
    calm = summarise(run_study(loads(SMALL + "horizon: 9 days\n"), replications=2, engine="reference"))
    assert not [row for row in main_tables(calm)[0].rows if "hock" in row[0]]
    (found,) = calm["strategies"].values()
    assert found["shocks"] is found["shock_hours"] is found[IN_SHOCKS] is None


def test_figures_of_storms_are_those_of_the_outcomes(study):
    """A mean a year of what the runs counted; short hours in storms are not more than all."""
    (outcomes,), (found,) = study.outcomes.values(), summarise(study)["strategies"].values()
    a_year = 365 / 200 / 3
    assert found["shocks"]["mean"] == pytest.approx(a_year * sum(each.shocks for each in outcomes))
    assert found["shock_hours"]["mean"] == pytest.approx(a_year * sum(each.shock_s for each in outcomes) / 3_600)
    short = a_year * sum(each.shock_short_s[0] for each in outcomes) / 3_600
    assert found[IN_SHOCKS]["supply"]["mean"] == pytest.approx(short)
    assert 0 < short <= found["short_hours_by_root"]["supply"]["mean"]


def test_the_rows_of_replications_have_storms_where_there_are_some(study):
    """Number, hours, and short hours by root; a row has as many cells as there are heads."""
    heads = replication_columns(study)
    added = ["shocks", "shock_h", *(f"shock_short_h: {root}" for root in ("supply", "equipment", "handling"))]
    assert [each for each in heads if "shock" in each] == added
    assert {len(row) for row in replication_rows(study)} == {len(heads)}
    calm = run_study(loads(SMALL + "horizon: 9 days\n"), replications=1, engine="reference")
    assert [each for each in heads if each not in replication_columns(calm)] == added
    assert {len(row) for row in replication_rows(calm)} == {len(replication_columns(calm))}


def test_what_no_book_gives_of_storms_is_said():
    """A fit leaves them as they are and says that closures, cuts and admissions hold storms too."""
    root = nodes.parse(SMALL + STORMS, Problems("a.yaml"))
    why = dict(not_given(root, [], {}))
    assert why["shocks.storm.rate"] == why["shocks.strike.supplier"] == SHOCKS


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        ("{rate: 2 / year, months: [jul], road: 3 days}", ".months: outside the run"),
        ("{rate: 0 / year, road: 3 days}", ".rate: a rate of 0"),
        ("{rate: 2 / year, power: 3 days}", ".power: no strategy has concentrators on a grid"),
        ("{rate: 2 / year, patients: {multiplier: 1, length: 9 days}}", ".patients: a multiplier of 1"),
    ],
)
def test_what_a_shock_cannot_do_is_doubted(stated, said):
    """Legal, and said with its key and line."""
    scenario = loads(f"{SMALL}horizon: 60 days\nstart: 2027-01-01\nshocks:\n  storm: {stated}\n")
    found = [each for each in warnings(scenario) if each.field.startswith("shocks")]
    assert [f"{each.field.removeprefix('shocks.storm')}: {each.found}" for each in found] == [said]
    assert found[0].line > 0


def test_a_road_shut_by_storms_needs_a_road():
    """Without resupply nothing comes by it, and nothing is delivered late."""
    scenario = loads(SMALL.replace("resupply:\n  lead_time: 1 day\n", "") + STORMS)
    found = {each.field: each.found for each in warnings(scenario) if each.field.startswith("shocks")}
    assert found == dict.fromkeys(("shocks.storm.road", "shocks.strike.supplier"), "no strategy has resupply")
