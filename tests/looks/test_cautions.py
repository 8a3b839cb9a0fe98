"""The cautions: each thing that can hurt someone has its own sentence, where those who might do it read."""

from pathlib import Path

import pytest

from o2sim.looks.cautions import (
    AS_SPECIFIED,
    BUBBLE,
    LONG,
    PRETERM,
    RETAINERS,
    SHORT,
    SPLITTER,
    STRETCH,
    long_text,
)

README = " ".join((Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8").split())


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (PRETERM, ["eyes of preterm babies"]),
        (RETAINERS, ["adults who retain carbon dioxide"]),
        (BUBBLE, ["bubble humidifier is not for high-flow therapy", "clean water every day", "boiled and cooled"]),
        (AS_SPECIFIED, ["no adaptors", "no other devices or loads", "longer tubing than its maker states"]),
        (SPLITTER, ["concentration at the total flow", "flows back"]),
        (STRETCH, ["Never lower a flow to make the gas last without a pulse oximeter", "local guideline"]),
    ],
)
def test_each_harm_has_its_sentence_in_the_long_cautions_and_the_readme(said, words):
    """The sentence is a point of its own on page and in files, and README has the same words."""
    assert said in [point for points in LONG.values() for point in points]
    assert f"  - {said}\n" in long_text()
    assert [word for word in words if word not in said or word not in README] == []


def test_eyes_and_carbon_dioxide_are_told_apart():
    """No sentence mentions both; both stand on the terminal, with the flow that is not to be lowered."""
    points = [*SHORT, *(point for points in LONG.values() for point in points)]
    sentences = [sentence for point in points for sentence in point.split(". ")]
    assert [said for said in sentences if "preterm" in said and "dioxide" in said] == []
    assert [said for said in SHORT if "eyes of preterm babies" in said] != []
    assert {RETAINERS, STRETCH} <= set(SHORT)
