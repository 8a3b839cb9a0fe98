"""Plain values read without the YAML library are node for node what the library reads."""

from dataclasses import astuple

import pytest

from o2sim.scenario.text.nodes import parse
from o2sim.scenario.text.problems import Problems
from o2sim.scenario.text.short import short

TAKEN = (
    "3", "3 h", "0.25 L/min", "2.5 / day", "40 %", "2026-06-14", "1e3", "07", "3 h 30 min", "{mean: 3 h}",
    "{peak: 2026-06-14, ratio: 2.1}", "{gamma: {mean: 4.1 days, sd: 2 days}}",
    "{triangular: {low: 0.5 L/min, mode: 1 L/min, high: 3 L/min}}", "{exponential: {mean: 1 h}}",
    "[3, 4]", "{gamma: {mean: {low: 1, likely: 2, high: 3}, sd: 2}}", "[2 h, {mean: 3 h}]",
    "[{chance_per_day: 0.9 %, length: {exponential: {mean: 20.3 days}}}, {chance_per_day: 2 %, length: 3 h}]",
)  # fmt: skip
LEFT = (
    "", "yes", "-3 h", "3  h", "3 h ", "'3 h'", "3: 4", "3 #4", "[3,4]", "[]", "[3, ]", "[3", "[3]]", "[yes]",
    "{}", "{mean: }", "5 -", "{mean: 3 h}}", "{mean: 3 h, mean: 4 h}", "{gamma: {mean: {mean: 1, mean: 2}}}",
    "[{mean: 3 h }]", "*a", "&a 3", "!t 3", "{mean:3}", "3,4",
)  # fmt: skip


@pytest.mark.parametrize("text", TAKEN)
def test_plain_values_are_what_yaml_makes_of_them(text):
    """The same nodes, texts, lines and paths, as text is read behind a key."""
    by_yaml = parse(f"value: {text}\n", Problems("")).entries["value"]
    found = short(text, "value")
    assert found is not None

    assert astuple(found) == astuple(by_yaml)


@pytest.mark.parametrize("text", LEFT)
def test_all_else_is_left_to_yaml(text):
    """Quotes, keys that stand twice, signs and whatever may mean something else."""
    assert short(text, "value") is None
