"""Sizing the units of one model: which are tried, what must be stated, and for which causes they are a cure."""

from __future__ import annotations

import pytest

from o2sim.errors import O2simError
from o2sim.outcome import Cause
from o2sim.questions.size.candidates import field_of
from o2sim.questions.size.limits_text import CURES
from o2sim.scenario.changing.override import original_of

TEXT = """
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: 40 h}}
cylinders: {content: 6800 L, fleet: 14, regulators: 8}
resupply: {lead_time: 4 days}
concentrators:
  models: {five: {rated_flow: 5 L/min, outlets: 2}, ten: {rated_flow: 10 L/min, outlets: 5}}
  units: [{model: five, count: 3, owned: true}, {model: five, count: 2}]
strategies: {mixed: {sources: [concentrator, cylinder]}}
"""
TEN, FIVE = "concentrators.units.ten.count", "concentrators.units.five.count"


def tried(*vary):
    """Return the units of each candidate: how many of which model, `+` for those that are owned."""
    found = field_of(original_of(TEXT), "mixed", vary).candidates
    rows = [each.hospital("mixed").concentrators.groups for each in found]
    return [[f"{row.count} {row.model}{'+' * row.owned}" for row in each] for each in rows]


def test_each_number_of_a_model_is_a_candidate():
    """None, one and two of ten beside those that are there; without a range half to twice what is bought."""
    assert tried(f"{TEN} = 0..2") == [
        ["3 five+", "2 five"], ["3 five+", "2 five", "1 ten"], ["3 five+", "2 five", "2 ten"]]  # fmt: skip
    assert tried(FIVE) == [["3 five+", f"{count} five"] for count in (1, 2, 3, 4)]


def test_two_models_are_sized_together():
    """All combinations of both."""
    assert tried(f"{TEN} = 0..1", f"{FIVE} = 1, 2") == [
        ["3 five+", "1 five"], ["3 five+", "2 five"],
        ["3 five+", "1 five", "1 ten"], ["3 five+", "2 five", "1 ten"]]  # fmt: skip


def test_a_model_without_units_needs_a_range():
    """The file says nothing of how many there are; an unknown model is refused with those that are known."""
    with pytest.raises(O2simError, match="says nothing of it, so the range must be stated"):
        tried(TEN)
    with pytest.raises(O2simError, match="the model 'tne' is unknown; allowed: one of models: five, ten"):
        tried("concentrators.units.tne.count = 0..2")


@pytest.mark.parametrize("cause", [Cause.FLOW_TOO_HIGH, Cause.CONCENTRATORS_FULL, Cause.CONCENTRATOR_DOWN])
def test_units_of_a_model_are_a_cure_where_units_are(cause):
    """More units of 10 L/min cure flows above 5 L/min too."""
    assert any(TEN.startswith(beginning) for beginning in CURES[cause][0])
