"""What `o2sim check` and `o2sim describe` say of a run that begins from a count."""

from __future__ import annotations

from scenario_texts import SMALL

from o2sim.questions.check.rules_in_words import sentences
from o2sim.questions.documents.describe import document
from o2sim.scenario import loads
from o2sim.scenario.text.source import source_of

COUNTED = "now: {counted: 2027-05-03 07:30, cylinders: {full: 2, empty: 1}}\n"


def test_a_count_is_said_in_a_sentence():
    """When, and how much of the fleet was counted; nothing without a count."""
    said = (
        "The run begins from what was counted on 2027-05-03 at 07:30, 2 full cylinders among it (3 of 4 counted); "
        "what nobody counted is drawn."
    )
    assert [each for each in sentences(loads(SMALL + COUNTED)) if "counted" in each] == [said]
    assert [each for each in sentences(loads(SMALL)) if "counted on" in each] == []


def test_the_document_says_that_no_warm_up_is_run():
    """Initial conditions and run length are those of the count."""
    text = f"warm_up: 28 days\n{SMALL}{COUNTED}"
    said = document(loads(text), source_of(text), replications=1, seed=1, engine="reference")
    assert "The run begins from what was counted on 2027-05-03 at 07:30" in said
    assert "Warm-up, run before the horizon and not counted: none." in said
    assert "The horizon is 365 days from 2027-05-03, 07:30." in said
    assert "cylinders only: 2 full, 3 of 4 cylinders counted" in said
