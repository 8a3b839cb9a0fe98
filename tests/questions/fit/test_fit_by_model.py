"""A fit over a base with models of concentrators: what its models overrule is not proposed, and it is said why."""

from __future__ import annotations

from pathlib import PurePath

import pytest
from scenario_texts import SMALL

import o2sim
from o2sim.fits.found import ROWS, Part, Whole
from o2sim.questions.fit.fitting import base_of, fitted
from o2sim.records.books import Records
from o2sim.scenario.types.laws import law_mean

RECORDS = Records(PurePath("books.xlsx"), "0123456789abcdef")
MODELS = SMALL.replace("strategies: {cylinders only: {sources: [cylinder]}}", """\
concentrators:
  repair: 30 days
  models:
    five: {rated_flow: 5 L/min, failure: {exponential: {mean: 900 days}}}
    ten: {rated_flow: 10 L/min, failure: never}
  units: [{model: five, count: 2}, {model: ten, count: 1}]
strategies: {mixed: {sources: [concentrator, cylinder]}}""")  # fmt: skip
PARTS = (
    Part("how many", "Units", ROWS, "4 units", wholes=(Whole("concentrators.count", "4"),)),
    Part("failures", "Job cards", ROWS, "12 failures", wholes=(
        Whole("concentrators.failure", "{exponential: {mean: 3000 h}}"),
        Whole("concentrators.failure_clock", "running"))),
    Part("repairs", "Job cards", ROWS, "12 repairs", wholes=(Whole("concentrators.repair", "21 days"),)),
)  # fmt: skip


@pytest.fixture(scope="module")
def found():
    """Return the fit of what a list of units and job cards give."""
    return fitted(PARTS, RECORDS, base_of(o2sim.loads(MODELS, "base.yaml")), 1)


def test_what_no_model_states_is_written(found):
    """The repair holds for all models: the books give it."""
    assert [value.key for value in found.values] == ["concentrators.repair"]
    assert law_mean(found.scenario.hospitals["mixed"].concentrators.rules_of(0).repair_s) == 21 * 86_400


def test_what_models_state_stays_the_bases(found):
    """The number is that of the rows; a failure and its clock are those of each model; each says why."""
    why = {each.key: each.why for each in found.unused}
    assert why == {
        "concentrators.count": "the base lists its units (concentrators.units): change the rows there",
        **dict.fromkeys(
            ("concentrators.failure", "concentrators.failure_clock"),
            "models of the base have their own (five, ten), and books do not say of which a unit is",
        ),
    }
