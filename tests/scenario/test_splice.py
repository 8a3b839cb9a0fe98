"""Values set in the text of a scenario: where they stand, or behind what stands there; all else stays as it is."""

import pytest

from o2sim.scenario.changing.splice import Block, blocks, flow, spliced
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import Problems

LONG = "  mixed: {sources: [concentrator, cylinder], patients: {adults: {admissions: 12 / day}}, cylinders: {}}"


def node(text):
    """Return a value as it might stand behind a key."""
    return nodes.parse(f"value: {text}\n", Problems("")).entries["value"]


@pytest.mark.parametrize(
    ("before", "key", "value", "after"),
    [
        ("a: 1   # one\nb: 2\n", "a", "3", "a: 3   # one\nb: 2\n"),
        ("a: {b: 1, c: 2}   # one\n", "a.c", "3", "a: {b: 1, c: 3}   # one\n"),
        ("a: {b: 1}   # one\n", "a.c", "3", "a: {b: 1, c: 3}   # one\n"),
        ("a: {b: 1, }\n", "a.c", "3", "a: {b: 1, c: 3, }\n"),
        ("a: {}\n", "a.c.d", "3", "a: {c: {d: 3}}\n"),
        ("a: {\n  b: 1,   # one\n  c: 2   # two\n}\n", "a.d", "3",
         "a: {\n  b: 1,   # one\n  c: 2, d: 3   # two\n}\n"),
        ("a:\n    b: 1   # one\n# end\nc: 2\n", "a.d", "3", "a:\n    b: 1   # one\n    d: 3\n# end\nc: 2\n"),
        ("a:\n  b:\n    c: 1\nd: 2\n", "a.e", "3", "a:\n  b:\n    c: 1\n  e: 3\nd: 2\n"),
        ("a:\n  b:\n    - c: 1\n    - d: 2 # two\n", "a.e", "3",
         "a:\n  b:\n    - c: 1\n    - d: 2 # two\n  e: 3\n"),
        ("a:\n  b: 1", "a.c", "3", "a:\n  b: 1\n  c: 3"),
        ("a:\r\n  b: 1\r\nc: 2\r\n", "a.d", "3", "a:\r\n  b: 1\r\n  d: 3\r\nc: 2\r\n"),
        ("\ufeffa: 1\n", "a", "3", "\ufeffa: 3\n"),
        ("a: |\n  many\n  lines\nb: 2\n", "c", "3", "a: |\n  many\n  lines\nb: 2\nc: 3\n"),
        ("a:\n  b: |\n    many\n\nc: 2\n", "a.d", "3", "a:\n  b: |\n    many\n  d: 3\n\nc: 2\n"),
        ("a: {low: 1, likely: 2, high: 3}   # not sure\n", "a", "4", "a: 4   # not sure\n"),
        ("a:   # one\n  low: 1\n  likely: 2   # two\n  high: 3\nb: 5\n", "a", "4", "a: 4   # one; two\nb: 5\n"),
        ("a: none   # one\n", "a.b.c", "4", "a: {b: {c: 4}}   # one\n"),
        ("a:\n", "a", "4", "a: 4\n"),
        ("a: '1'\n", "a", "1", "a: '1'\n"),
        ("a: {gamma: {mean: 3 days, sd: 1 day}}\n", "a", "{gamma: {mean: 4 days, sd: 1 day}}",
         "a: {gamma: {mean: 4 days, sd: 1 day}}\n"),
        ("a: {gamma: {mean: 3 days}}\n", "a", "2 days", "a: 2 days\n"),
        ("a: [1, {b: 2}]   # one\n", "a", "[1, {b: 3}]", "a: [1, {b: 3}]   # one\n"),
        ("a: [1, 2]\n", "a", "[1, 2, 3]", "a: [1, 2, 3]\n"),
        ("a:\n- 1\n- 2 # two\n", "a", "[1]", "a: [1]   # two\n"),
        ("a: {'it''s: so': {b: 1}}\n", "a.it's: so.b", "2", "a: {'it''s: so': {b: 2}}\n"),
        ("a: {b: 1}\n", "a.it's: so", "2", "a: {b: 1, \"it's: so\": 2}\n"),
        (f"strategies:\n{LONG}   # c\n", "strategies.mixed.resupply.reorder_point", "20",
         f"strategies:\n{LONG[:-1]},\n          resupply: {{reorder_point: 20}}}}   # c\n"),
    ],
)  # fmt: skip
def test_a_value_is_set_and_nothing_else(before, key, value, after):
    """Letter by letter; comments, ends of lines and the mark at the beginning stay."""
    found = tuple(key.split("."))
    assert spliced(before, {found: node(value)}) == after


def test_values_of_one_section_that_is_missing_are_added_together():
    """As one mapping, in the order they are given; what is there already is set where it stands."""
    values = {
        ("s", "b", "c"): node("1"),
        ("s", "d", "e"): node("2"),
        ("s", "b", "f"): node("3"),
        ("a",): node("9"),
    }
    assert spliced("a: 0\ns: {x: 1}\n", values) == "a: 9\ns: {x: 1, b: {c: 1, f: 3}, d: {e: 2}}\n"


def test_what_differs_is_told_line_by_line():
    """Lines put in place of others, and lines added."""
    assert blocks("a\nb\nc\n", "a\nB\nc\nd\n") == [Block(2, 2, ("B",)), Block(4, 3, ("d",))]
    assert blocks("a\n", "a\n") == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("07:00", "07:00"),
        ("5 %", "5 %"),
        ("'a, b'", '"a, b"'),
        ("'a # b'", '"a # b"'),
        ("'a: b'", '"a: b"'),
        ("''", '""'),
        ("[1, {a: 2 h}]", "[1, {a: 2 h}]"),
    ],
)
def test_a_value_in_one_line_is_read_as_it_was(text, said):
    """Quoted only where it has to be."""
    assert flow(node(text)) == said
    assert flow(node(flow(node(text)))) == said
