"""What can be varied of a recorded grid and of a register, and what is said where nothing can be."""

from __future__ import annotations

import pytest

from o2sim.errors import ScenarioError
from o2sim.questions.whatif.whatif import whatif
from o2sim.scenario.changing.override import changed, loaded, original

TEXT = """start: 2027-01-01
horizon: 10 days
patients: {adults: {register: {file: r.csv, from: 2027-01-01, to: 2027-01-10}}}
concentrators: {count: 1, rated_flow: 5 L/min}
power: {grid: {file: c.csv, from: 2027-01-01, to: 2027-01-10}}
strategies:
  units: {sources: [concentrator]}
  drawn:
    sources: [concentrator]
    patients: {adults: {admissions: 1 / day, flow: 1 L/min, duration: 1 h}}
    power: {grid: {up: 10 h, down: 1 h}}
"""


@pytest.fixture
def source(tmp_path):
    """A scenario with a register and a record of cuts, and one strategy that draws both."""
    (tmp_path / "r.csv").write_text("arrival,class,flow,hours\n2027-01-02,adults,1,200\n")
    (tmp_path / "c.csv").write_text("start,hours\n2027-01-03 12:00,3\n")
    (tmp_path / "s.yaml").write_text(TEXT)
    return original(tmp_path / "s.yaml")


@pytest.mark.parametrize(
    ("path", "found", "allowed"),
    [
        ("power.grid.down.median", "the grid is a recorded list of cuts (power.grid.file), which has no down",
         "power.grid.scale = 1, 2, 4"),
        ("power.grid.up", "which has no up to vary", "power.grid.scale"),
        ("strategies.units.power.grid.up", "which has no up to vary", "power.grid.scale"),
        ("patients.adults.admissions", "the patients of adults are those of a register", "cylinders.fleet"),
        ("patients.adults.flow.mean", "which has no flow to vary", "concentrators.count"),
    ],
)  # fmt: skip
def test_what_a_record_has_no_figures_of_cannot_be_varied(source, path: str, found: str, allowed: str) -> None:
    """The error says what can."""
    with pytest.raises(ScenarioError) as error:
        changed(source, {path: "2 h"})
    (problem,) = error.value.problems
    assert problem.field == path
    assert found in problem.found
    assert allowed in problem.allowed


def test_a_strategy_that_draws_them_can_be_varied(source) -> None:
    """By its own path, and as the one strategy that is sized."""
    for values, strategy in (
        ({"strategies.drawn.power.grid.down": "2 h"}, None),
        ({"power.grid.down": "2 h", "patients.adults.admissions": "2 / day"}, "drawn"),
    ):
        hospital = loaded(source, changed(source, values, strategy)).hospitals["drawn"]
        assert hospital.grid.down_s.parameters == (7_200.0,)


def test_the_scale_of_recorded_cuts_is_varied_end_to_end(source) -> None:
    """Of a patient who needs a unit throughout, 3, 6 and 12 hours are lost."""
    found = whatif(source, "power.grid.scale = 1, 2, 4", strategies=["units"], replications=1, engine="reference")
    hours = [point["strategies"]["units"]["unserved_patient_hours"] for point in found.result["points"]]
    per_run = [each["mean"] * 10 / 365 for each in hours]
    assert per_run == pytest.approx([3, 6, 12], abs=0.02)
