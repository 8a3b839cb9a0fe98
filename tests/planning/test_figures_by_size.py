"""Planning figures of cylinders of several sizes: how long each lasts, cover over all."""

from __future__ import annotations

import pytest
from sized_texts import SIZED

from o2sim.planning.figures import delivered_gas, planning_figures
from o2sim.questions.check.text import duration_tables, sentences, supply_tables
from o2sim.scenario import loads

SCENARIO = loads(SIZED)
FIGURES = {name: planning_figures(hospital) for name, hospital in SCENARIO.hospitals.items()}


def test_hours_of_a_size_against_the_gas_law():
    """At 5 L/min and a leak of 0.1 to 400 kPa 47 L and 4.7 L last 21.70 h and 2.17 h by CoolProp's density.

    The relation of quantities/gas.py is within a thousandth of that; seconds are rounded down.
    """
    times = {(each.size, each.flow_ml_min): each.to_flow_lost_s for each in FIGURES["mixed"].cylinder_times}
    assert times["large", 5_000] / 3_600 == pytest.approx(21.70, rel=1e-3)
    assert times["small", 5_000] / 3_600 == pytest.approx(2.170, rel=1e-3)


def test_cover_is_of_the_gas_in_all_sizes():
    """Cylinders a day are large ones, which patients get; twelve small ones last as long as 1.2 of these."""
    large, small = SCENARIO.hospitals["mixed"].cylinders.each
    peak = FIGURES["mixed"].peak
    fleet = 10 + 12 * delivered_gas(small) / delivered_gas(large)
    assert peak.cover_days == pytest.approx(fleet / peak.cylinders_per_day)
    assert FIGURES["mixed"].first_size == "large"


def test_tables_and_sentences_name_each_size():
    """Rows of the supply, of the hours, and the gas of all."""
    heads = [row[0] for table in supply_tables(FIGURES) for row in table.rows]
    assert ("large cylinders" in heads, "small cylinders" in heads) == (True, True)
    rows = [row[0] for table in duration_tables(FIGURES) for row in table.rows]
    assert ("large, 5 L/min" in rows, "small, 5 L/min" in rows) == (True, True)
    said = " ".join(sentences(FIGURES))
    assert "From large cylinders alone" in said
    assert "full (10 large and 12 small)" in said
