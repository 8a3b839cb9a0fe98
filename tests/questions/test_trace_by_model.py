"""A trace names the model of a unit, where there are models."""

from __future__ import annotations

import pytest

from o2sim.outcome import LogEntry
from o2sim.questions.trace.timeline import Narrator
from o2sim.scenario import loads

TEXT = """
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: 40 h}}
concentrators: {UNITS}
strategies: {units: {sources: [concentrator]}}
"""
MODELS = """models: {five: {rated_flow: 5 L/min}, ten: {rated_flow: 10 L/min}},
  units: [{model: five, count: 2}, {model: ten, count: 1}]"""


@pytest.mark.parametrize(
    ("units", "said"),
    [(MODELS, "concentrator 2 (ten) fails"), ("rated_flow: 5 L/min, count: 3", "concentrator 2 fails")],
)
def test_a_unit_is_named_with_its_model(units, said):
    """The third unit is the first of ten; like units have their number alone."""
    hospital = loads(TEXT.replace("UNITS", units)).hospitals["units"]
    assert Narrator(hospital, []).sentence(LogEntry(60, "unit fails", 2, 0, 0)) == said
