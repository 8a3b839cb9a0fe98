"""YAML text to a tree with lines and paths, against YAML 1.2 and what is refused for safety."""

from __future__ import annotations

import pytest

from o2sim.errors import ScenarioError
from o2sim.scenario.text.nodes import (
    DEEPEST,
    LARGEST_FILE,
    Listing,
    Mapping,
    Scalar,
    decode,
    describe,
    parse,
    walk,
)
from o2sim.scenario.text.problems import MOST_PROBLEMS, Problems, nearest, quote


def told(text):
    """Return the problems of a text that ends the reading."""
    with pytest.raises(ScenarioError) as error:
        parse(text, Problems("f.yaml"))
    return [str(problem) for problem in error.value.problems]


def test_every_value_stays_its_text_with_line_and_path():
    """Numbers, yes and quoted texts are texts; list items count from 1; values stand on their key's line."""
    root = parse("a: 07\nb:\n  c: yes\n  d: [1.0, 'x y']\n? e\n: 'null'\n", Problems("f.yaml"))
    found = sorted((node.line, node.path, describe(node)) for node in walk(root))
    assert found == [
        (1, "", "a mapping of a, b, e"), (1, "a", "'07'"), (2, "b", "a mapping of c, d"), (3, "b.c", "'yes'"),
        (4, "b.d", "a list"), (4, "b.d[1]", "'1.0'"), (4, "b.d[2]", "'x y'"), (5, "e", "'null'"),
    ]  # fmt: skip


def test_descriptions_stay_short():
    """What was found is told in a few words, whatever its size."""
    many = {f"a long name {i}" * 3: Scalar(1, "", "") for i in range(9)}
    assert describe(Scalar(1, "", "  ")) == "nothing"
    assert describe(Scalar(1, "", "x" * 100)) == repr("x" * 57 + "...")
    assert describe(Mapping(1, "")) == "an empty mapping"
    assert len(describe(Mapping(1, "", many))) < 80
    assert describe(Listing(1, "")) == "a list"


def test_nesting_is_allowed_to_its_limit_and_no_further():
    """Twenty levels are read, one more is refused; a quarter of a megabyte of brackets costs nothing."""
    assert isinstance(parse("a: " + "[" * (DEEPEST - 1) + "]" * (DEEPEST - 1), Problems("f")), Mapping)
    for text in ("a: " + "[" * DEEPEST + "]" * DEEPEST, "[" * 200_000, "- " * 100_000, "{a: " * 50_000):
        assert told(text) == [f"f.yaml:1: nested too deeply; allowed: at most {DEEPEST} levels"]


def test_size_is_allowed_to_its_limit_and_no_further():
    """256 kB are read, one byte more is not."""
    assert parse("a: 1\n".ljust(LARGEST_FILE, "#"), Problems("f")).entries["a"].line == 1
    assert told("a: 1\n".ljust(LARGEST_FILE + 1, "#")) == [
        "f.yaml: the file is too large; allowed: at most 256 kB"
    ]
    assert "too many values" in told("a: [" + "1," * 40_000 + "]")[0]


def test_a_doubling_alias_is_refused_at_every_step():
    """The billion laughs: every anchor and alias is told, none is followed."""
    lines = ["a: &a [x, x]"] + [f"{b}: &{b} [*{a}, *{a}]" for a, b in zip("abcdefgh", "bcdefghi", strict=True)]
    problems = Problems("f.yaml")
    root = parse("\n".join(lines), problems)
    assert len(list(walk(root))) == 1 + 9 * 3
    with pytest.raises(ScenarioError) as error:
        problems.stop()
    found = [problem.found.split()[2] for problem in error.value.problems]
    assert (found.count("anchor"), found.count("alias")) == (9, 16)


def test_no_more_problems_are_listed_than_anyone_reads():
    """Of a thousand double keys the first are told, and that there are more."""
    problems = Problems("f.yaml")
    parse("a: 1\n" * 1000, problems)
    assert (len(problems), problems.full) == (MOST_PROBLEMS, True)
    with pytest.raises(ScenarioError) as error:
        problems.stop()
    assert str(error.value.problems[-1]) == "f.yaml: more problems follow, not listed (mend these first)"
    assert len(error.value.problems) == MOST_PROBLEMS + 1


def test_a_value_refused_before_is_not_told_again():
    """A place marked as refused swallows further complaints, which would be about the same thing."""
    problems = Problems("f.yaml")
    problems.add(Scalar(1, "a", "", refused=True), "found nothing")
    problems.stop()
    assert len(problems) == 0


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("flett", "did you mean fleet?"), ("Gauge Check", "did you mean gauge_check?"),
        ("gauge-check", "did you mean gauge_check?"), ("flow", "did you mean rated_flow?"), ("xyz", ""),
    ],
)  # fmt: skip
def test_the_nearest_known_name_is_offered(name, hint):
    """Typing errors, capitals, blanks, hyphens, and a part of a name."""
    assert nearest(name, ["fleet", "gauge_check", "rated_flow"]) == hint


def test_texts_are_quoted_with_what_cannot_be_seen():
    """A quote shows control characters by their number and is never long."""
    assert quote("a\x1b[31m") == "'a\\x1b[31m'"
    assert len(quote("x" * 1000)) == 62


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_utf_8_with_or_without_its_mark_is_text(mark):
    """Editors that put a byte order mark first do no harm."""
    assert decode(mark + "é: 1".encode(), Problems("f.yaml")) == "é: 1"
