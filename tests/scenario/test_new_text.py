"""Values typed into the text of a scenario: only they differ, and the comment says whose; files are safe."""

import datetime as dt
import os
from pathlib import Path

import pytest

from o2sim.errors import OutputError, ScenarioError
from o2sim.scenario.changing.new_text import change, splice, take_out
from o2sim.scenario.changing.override import find
from o2sim.scenario.changing.safe_file import NO_FILE, ChangedMeanwhileError, exact_text, text_hash, write_safely
from o2sim.scenario.changing.splice import flow
from o2sim.scenario.text import nodes
from o2sim.scenario.text.desk_comment import desk_note, is_from_desk, removed_note
from o2sim.scenario.text.problems import Problems

TODAY = dt.date(2026, 11, 28)
NOTE = "from the desk, 28 Nov 2026"
SHIPPED = sorted(Path("scenarios").glob("*.yaml"))
FIELDS = {"concentrators.count": "9", "patients.children.admissions": "77 / month", "warm_up": "29 days"}


def differing(one, other):
    """Return the lines, ends included, that differ between two texts with the same number of them."""
    pairs = zip(one.splitlines(keepends=True), other.splitlines(keepends=True), strict=True)
    return [pair for pair in pairs if pair[0] != pair[1]]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_one_field_of_a_shipped_scenario_is_one_line(path):
    """It differs in that line alone, says so, loads, and the old value put back gives the old text."""
    text = exact_text(path)
    root = nodes.parse(text, Problems(""))
    key, old = next((key, old) for key in FIELDS if (old := find(root, key.split("."))) is not None)
    new = change(text, {key: FIELDS[key]}, TODAY, folder=path.parent)
    ((_, line),) = differing(text, new.text)
    assert FIELDS[key] in line
    assert NOTE in line
    bare = splice(text, key, FIELDS[key])
    assert len(differing(text, bare)) == 1
    assert splice(bare, key, flow(old)) == text


@pytest.mark.parametrize(
    ("before", "key", "value", "after"),
    [
        ("name: a\ncylinders:\n  fleet: 76  # assumed\n", "cylinders.fleet", "80",
         f"name: a\ncylinders:\n  fleet: 80  # {NOTE}; before: 76, assumed\n"),
        ("cylinders:\n  fleet: 76\n", "cylinders.fleet", "80", f"cylinders:\n  fleet: 80  # {NOTE}; before: 76\n"),
        ("cylinders:\n  fleet: 76   # a # b\n", "cylinders.fleet", "76",
         f"cylinders:\n  fleet: 76   # {NOTE}; before: 76, a # b\n"),
        ("cylinders:\r\n  fleet: 76  # x\r\nname: a\r\n", "cylinders.fleet", "80",
         f"cylinders:\r\n  fleet: 80  # {NOTE}; before: 76, x\r\nname: a\r\n"),
        ("\ufeffname: a\ncylinders: {fleet: 76}", "cylinders.fleet", "80",
         f"\ufeffname: a\ncylinders: {{fleet: 80}}  # fleet {NOTE}; before: 76"),
        ("cylinders: {fleet: 76, leak: 0.1 L/min}   # counted\n", "cylinders.leak", "0.2 L/min",
         f"cylinders: {{fleet: 76, leak: 0.2 L/min}}   # leak {NOTE}; before: 0.1 L/min, counted\n"),
        ("cylinders:\n  fleet: 76 # x\n# end\nname: a\n", "cylinders.regulators", "9",
         f"cylinders:\n  fleet: 76 # x\n  regulators: 9  # {NOTE}\n# end\nname: a\n"),
        ("cylinders: {fleet: 76}   # counted\n", "cylinders.regulators", "9",
         f"cylinders: {{fleet: 76, regulators: 9}}   # regulators {NOTE}; before: not stated, counted\n"),
        ("name: a\n", "cylinders.fleet", "9", f"name: a\ncylinders: {{fleet: 9}}  # fleet {NOTE}\n"),
        ("resupply:\n  lead_time: {gamma: {mean: 3 days, sd: 1 day}}  # assumed\n", "resupply.lead_time.mean",
         "{low: 2 days, likely: 4 days, high: 9 days}",
         "resupply:\n  lead_time: {gamma: {mean: {low: 2 days, likely: 4 days, high: 9 days}, sd: 1 day}}  "
         f"# mean {NOTE}; before: 3 days, assumed\n"),
        ("cylinders:\n  fleet:   # guess\n    low: 9\n    likely: 12   # counted\n    high: 20\n  leak: 1 L/min\n",
         "cylinders.fleet", "14",
         f"cylinders:\n  fleet: 14   # {NOTE}; before: 9 to 20, not known, guess; counted\n"
         "  leak: 1 L/min\n"),
        ("about: |\n  two\n  lines\nname: a\n", "about", "one line",
         f"about: one line  # {NOTE}; before: two lines\nname: a\n"),
        ("about: 'it''s: so'   # x\n", "about", "\"a: b # c\"",
         f"about: \"a: b # c\"   # {NOTE}; before: \"it's: so\", x\n"),
        (f"cylinders:\n  fleet: 80  # {NOTE}; before: 76, assumed\n", "cylinders.fleet", "90",
         f"cylinders:\n  fleet: 90  # {NOTE}; before: 76, assumed\n"),
        ("cylinders:\n  fleet: {low: 9, likely: 12, high: 20}  # not known; likely: invented; low: a; high: b\n",
         "cylinders.fleet", "14", f"cylinders:\n  fleet: 14  # {NOTE}; before: 9 to 20, not known\n"),
        (f"cylinders:\n  fleet: 80  # {NOTE}\n", "cylinders.fleet", "90", f"cylinders:\n  fleet: 90  # {NOTE}\n"),
    ],
)  # fmt: skip
def test_a_value_is_set_with_an_honest_comment(before, key, value, after):
    """Who wrote it, when, what stood there and why; all else letter by letter, ends of lines and mark included."""
    assert splice(before, key, value, note=NOTE) == after


def test_a_later_day_names_itself_and_what_stood_before_the_desk():
    """The comment does not grow from change to change."""
    text = splice("cylinders:\n  fleet: 76  # assumed\n", "cylinders.fleet", "80", note=NOTE)
    later = splice(text, "cylinders.fleet", "90", note=desk_note(dt.date(2027, 1, 2)))
    assert later == "cylinders:\n  fleet: 90  # from the desk, 2 Jan 2027; before: 76, assumed\n"


def test_several_values_of_a_line_stay_short():
    """Each says for itself who wrote it and what stood there before; no comment stands within another."""
    text = splice("costs: {currency: USD, cylinders: {refill: 30 USD}}\n", "costs.cylinders.refill", "9 USD",
                  note=NOTE)  # fmt: skip
    text = splice(text, "costs.cylinders.price", "240 USD", note=NOTE)
    text = splice(text, "costs.cylinders.refill", "10 USD", note=NOTE)
    comment = f"price {NOTE}; refill {NOTE}; before: 30 USD"
    assert text == f"costs: {{currency: USD, cylinders: {{refill: 10 USD, price: 240 USD}}}}  # {comment}\n"
    assert [is_from_desk(comment, key) for key in ("price", "refill", "currency")] == [True, True, False]


def test_a_comment_says_whether_a_value_is_from_the_desk():
    """Of several values on a line, which."""
    found = [is_from_desk(NOTE), is_from_desk(f"mean {NOTE}; before: 3 days", "mean"), is_from_desk("assumed"),
             is_from_desk(f"mean {NOTE}", "sd")]  # fmt: skip
    assert found == [True, True, False, False]


@pytest.mark.parametrize(
    ("text", "key", "line", "said"),
    [
        ("cylinders:\n  fleet: &a 76\n", "cylinders.fleet", 2, "the anchor &a"),
        ("name: a\nabout: *a\n", "name", 2, "*a"),
        ("name: &a 5\ncylinders:\n  fleet: *a\n", "cylinders.fleet", 3, "the alias *a"),
        ("cylinders:\n  <<: {fleet: 3}\n", "cylinders.fleet", 2, "the merge key <<"),
        ("cylinders:\n  fleet: !!int 3\n", "cylinders.fleet", 2, "the tag"),
        ("resupply:\n  lead_time: 4 days\n", "resupply.lead_time.mean", 2, "'4 days' at resupply.lead_time"),
        ("resupply:\n  road_closures:\n    - {from: 2027-01-01, to: 2027-01-02}\n", "resupply.road_closures[1].to",
         1, "a mapping of road_closures at resupply"),
        ("cylinders: {fleet: 3, leak: '1\n  L/min'}\n", "cylinders.fleet", 1, "cannot be replaced"),
        ("cylinders:\n  fleet: 3\n", "cylinder.fleet", 0, "the key 'cylinder' is unknown"),
        ("cylinders:\n  fleet: 3\n", "cylinders.fleet", 0, "no value"),
    ],
)  # fmt: skip
def test_what_stands_in_another_form_is_refused_with_its_line(text, key, line, said):
    """Nothing is overwritten that could not be read back."""
    with pytest.raises(ScenarioError) as caught:
        splice(text, key, "" if said == "no value" else "9", note=NOTE)
    found = {(problem.line, said in str(problem)) for problem in caught.value.problems}
    assert (line, True) in found


def test_a_change_that_does_not_load_gives_all_its_problems():
    """Each at its key, those of values that cannot be set and those of values that no hospital has."""
    text = exact_text(Path("scenarios/district_hospital.yaml"))
    with pytest.raises(ScenarioError) as caught:
        change(text, {"cylinders.fleet": "-3", "concentrators.count": "many"}, TODAY, file="mine.yaml")
    fields = {(problem.file, problem.field) for problem in caught.value.problems}
    assert {("mine.yaml", "cylinders.fleet"), ("mine.yaml", "concentrators.count")} <= fields


def test_a_file_is_replaced_whole_and_keeps_its_rights(tmp_path):
    """Letter by letter, with nothing left beside it."""
    path = tmp_path / "a.yaml"
    write_safely(path, "\ufeffname: a\r\n", NO_FILE)
    path.chmod(0o600)
    write_safely(path, "name: b\n", text_hash(exact_text(path)))
    assert path.read_bytes() == b"name: b\n"
    assert os.stat(path).st_mode & 0o777 == 0o600
    assert os.listdir(tmp_path) == ["a.yaml"]


@pytest.mark.parametrize(
    ("there", "expected", "said"),
    [
        ("name: b\n", text_hash("name: a\n"), "was changed meanwhile"),
        ("name: b\n", NO_FILE, "is there already"),
        (None, text_hash("name: a\n"), "is no longer there"),
    ],
)
def test_a_file_that_changed_meanwhile_is_left_as_it_is(there, expected, said, tmp_path):
    """Whoever changed, made or removed it wins, and no draft stays behind."""
    path = tmp_path / "a.yaml"
    if there is not None:
        path.write_text(there)
    with pytest.raises(ChangedMeanwhileError, match=said):
        write_safely(path, "name: c\n", expected)
    assert [each.read_text() for each in tmp_path.iterdir()] == ([] if there is None else [there])


def test_a_file_that_cannot_be_written_or_read_says_so(tmp_path):
    """A folder that is not there, a name that cannot be one."""
    with pytest.raises(OutputError, match="cannot be written"):
        write_safely(tmp_path / "none" / "a.yaml", "name: a\n", NO_FILE)
    with pytest.raises(OutputError, match="cannot be read"):
        exact_text(tmp_path / "none.yaml")
    (tmp_path / "a.yaml").write_bytes(b"name: \xff\n")
    with pytest.raises(ScenarioError, match="not UTF-8"):
        exact_text(tmp_path / "a.yaml")


REMOVED = "removed at the desk, 28 Nov 2026"


@pytest.mark.parametrize(
    ("before", "key", "after"),
    [
        ("costs:\n  currency: USD  # ours\n  electricity: 0.2 USD/kWh  # bill\n# end\n", "costs.electricity",
         "costs:\n  currency: USD  # ours\n# end\n"),
        ("costs:\r\n  cylinders:\r\n    price: 9 USD  # x\r\n    refill: 1 USD\r\n", "costs.cylinders.price",
         "costs:\r\n  cylinders:\r\n    refill: 1 USD\r\n"),
        ("costs:\n  currency: USD\n  cylinders:\n    price: 9 USD  # x", "costs.cylinders.price",
         "costs:\n  currency: USD"),
        ("\ufeffcosts: {cylinders: {price: 9 USD, refill: 1 USD}}  # offer\n", "costs.cylinders.price",
         f"\ufeffcosts: {{cylinders: {{refill: 1 USD}}}}  # price {REMOVED}; before: 9 USD, offer\n"),
        ("costs: {currency: USD, cylinders: {price: 9 USD}}\n", "costs.cylinders.price",
         f"costs: {{currency: USD}}  # cylinders {REMOVED}; before: {{price: 9 USD}}\n"),
        (f"costs: {{currency: USD, electricity: 1 USD/kWh}}  # electricity {NOTE}\n", "costs.electricity",
         f"costs: {{currency: USD}}  # electricity {REMOVED}\n"),
        ("name: a\ncosts:\n  currency: USD\npower: {}\n", "costs.currency", "name: a\npower: {}\n"),
        ("name: a\n", "costs.currency", "name: a\n"),
    ],
)  # fmt: skip
def test_a_value_is_taken_out_and_nothing_else(before, key, after):
    """Its line goes with its comment; within braces it alone, and the comment says so; no empty section stays."""
    assert take_out(before, key, note=removed_note(TODAY)) == after


def test_a_comment_of_another_is_not_taken_out():
    """Where a comment stands between a value and its neighbour, nothing is taken out."""
    text = "costs: {currency: USD,  # ours\n  electricity: 1 USD/kWh}\n"
    with pytest.raises(ScenarioError, match="cannot be taken out where it stands"):
        take_out(text, "costs.electricity", note=removed_note(TODAY))


@pytest.mark.no_cover
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_value_added_to_a_shipped_scenario_and_taken_out_leaves_no_trace(path):
    """A price of its own line is put in and taken out again: no byte differs."""
    text = exact_text(path)
    key = "costs.electricity"
    if find(nodes.parse(text, Problems("")), key.split(".")) is not None:
        text = take_out(text, key, note=removed_note(TODAY))
    put_in = splice(text, key, "0.3 USD/kWh", note=NOTE)
    assert put_in != text
    assert take_out(put_in, key, note=removed_note(TODAY)) == text


def test_a_key_that_holds_dots_is_set_and_taken_out():
    """What an option varies is called by a dotted key, which is one key of the file."""
    key = ("options", "vary", "cylinders.fleet")
    text = "options:\n  of: mixed\n  vary:\n    concentrators.count: [1, 2]\n"
    new = splice(text, key, "[20, 40]", note=NOTE)
    assert new == f"{text}    cylinders.fleet: [20, 40]  # {NOTE}\n"
    assert take_out(new, key, note=removed_note(TODAY)) == text
