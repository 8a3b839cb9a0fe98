"""The table of measures: what a summary has of a strategy, its units and its heads all come from it."""

from dataclasses import fields
from typing import get_args

import pytest
from synthetic import small_study

from o2sim.measures.measure import How
from o2sim.measures.measures import summarise
from o2sim.measures.table import MEASURES, NAMED, head_of, unit_in_head
from o2sim.outcome import Outcome

EVERY = [*MEASURES, *(each for whole in MEASURES for each in whole.inside)]


@pytest.fixture(scope="module")
def summary():
    """Return the summary of cylinders only, concentrators only and both, without manifold or wards."""
    return summarise(small_study())


def test_a_summary_has_the_measures_of_the_table_in_its_order(summary):
    """Each strategy has every measure once, those that it lacks too."""
    names = [each.name for each in MEASURES]
    assert len(names) == len(set(names))
    assert [list(each) for each in summary["strategies"].values()] == [names] * len(summary["strategies"])


@pytest.mark.parametrize(
    ("strategy", "there"),
    [
        ("cylinders only", {"cylinders", "prices"}),
        ("concentrators only", {"concentrators", "prices"}),
        ("mixed", {"cylinders", "concentrators", "prices"}),
    ],
)
def test_a_measure_is_null_where_the_hospital_lacks_what_it_needs(summary, strategy, there):
    """Cylinders have no figures without cylinders, and so on; all else has."""
    found = {name for name, value in summary["strategies"][strategy].items() if value is None}
    assert found == {each.name for each in MEASURES if each.needs and each.needs not in there}


def test_every_field_of_the_table_is_one_of_an_outcome():
    """A measure cannot name what no replication counts, or be summarised in a way that nothing does."""
    known = {"", "stock_outs", *(each.name for each in fields(Outcome))}
    assert [each.of for each in EVERY if isinstance(each.of, str) and each.of not in known] == []
    assert {each.how for each in EVERY} == set(get_args(How))


def test_units_stand_beside_every_measure(summary):
    """Those of a summary are those of the table, by class too, money in the currency of the prices."""
    currency = summary["currency"]
    assert summary["units"] == {
        name: NAMED[name].unit_in(currency)
        for name in (
            *(each.name for each in MEASURES if each.unit),
            *(n for n in NAMED if n.startswith("by_class.")),
        )
    }
    assert summary["units"]["cost_per_patient"] == f"{currency} per patient treated"


def test_heads_say_what_is_of_a_year():
    """A head for a table of mixed columns has "a year" where the unit has it; columns of a frame their unit."""
    assert head_of("longest_gap_hours") == NAMED["longest_gap_hours"].head_a_year == "Longest gap in a run, h"
    assert NAMED["unserved_patient_hours"].head_a_year == "Unserved patient-hours a year"
    columns = {name: unit_in_head(name, "USD") for name in ("annual_cost", "unserved_patient_hours", "fill_rate")}
    assert columns == {"annual_cost": " (USD/year)", "unserved_patient_hours": " (h/year)", "fill_rate": ""}
