"""A count in one line: what it says, and what cannot be read of it."""

from __future__ import annotations

import datetime as dt

import pytest
from scenario_texts import SMALL, WHOLE

from o2sim.errors import CountError, O2simError, ScenarioError
from o2sim.scenario import load, loads
from o2sim.scenario.changing.count import Counted, text_with_now, with_now
from o2sim.scenario.changing.count_text import EXAMPLE, count_of_text
from o2sim.scenario.changing.override import changed, loaded, original

PLACE = WHOLE.replace("count: 3", "count: 6")
LINE = "counted 2027-05-03 07:30, full 2, empty 1"
AT = dt.datetime(2027, 5, 3, 7, 30)


def refused(text):
    """Return the problems of a line that must be refused, without the name of the option."""
    with pytest.raises(CountError) as error:
        count_of_text(text)
    return [str(problem).removeprefix("--count: ") for problem in error.value.problems]


def laid_wrong(base, now):
    """Return the problems of a count that does not fit a scenario."""
    with pytest.raises(CountError) as error:
        with_now(loads(base, "f.yaml"), now)
    return [str(problem) for problem in error.value.problems]


def test_the_example_says_what_a_section_would_say():
    """Counts, gauges with their units, an order with its day."""
    assert count_of_text(EXAMPLE).values == {
        "cylinders": {"full": "7", "empty": "12", "part_used": ["40 bar", "25 bar"]},
        "on_order": [{"ordered": "2027-04-29", "count": "10"}],
    }


@pytest.mark.parametrize(
    "text",
    [
        "full 7, empty 12, on order 10 since 2027-04-29, on order 4",
        "ON ORDER 10 SINCE 2027-04-29; Empty 12;  full: 7,on-order 4,",
        "7 full, 12 empties, 10 on order since 2027-04-29, 4 on order since unknown",
    ],
)
def test_order_case_and_signs_do_not_count(text):
    """Parts in any order, the number before or behind the word."""
    found = count_of_text(text).values
    assert (found["cylinders"]["full"], found["cylinders"]["empty"]) == ("7", "12")
    assert found["on_order"] == [{"ordered": "2027-04-29", "count": "10"}, {"ordered": "unknown", "count": "4"}]


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        ("counted at 2027-05-03 07:30", "counted", "2027-05-03 07:30"),
        ("concentrators 4 working", "concentrators", {"working": "4"}),
        ("4 concentrators working", "concentrators", {"working": "4"}),
        ("concentrators 2 down since 2027-04-20", "concentrators", {"down": [{"since": "2027-04-20"}] * 2}),
        ("on oxygen very small newborns 3", "on_oxygen", [{"class": "very small newborns", "count": "3"}]),
        ("3 children on oxygen", "on_oxygen", [{"class": "children", "count": "3"}]),
        ("on oxygen children 0, on oxygen adults 1", "on_oxygen", [{"class": "adults", "count": "1"}]),
        ("nobody on oxygen", "on_oxygen", []),
        ("on order nothing", "on_order", []),
        ("part-used none, full 0, empty 0", "cylinders", {"part_used": [], "full": "0", "empty": "0"}),
        ("power off since 2027-05-03 05:00", "grid", {"up": False, "since": "2027-05-03 05:00"}),
        ("grid up", "grid", {"up": True}),
        ("battery 80 %", "battery", "80 %"),
        ("fuel 35 L", "fuel", "35 L"),
        ("next order day 2027-05-05", "next_review", "2027-05-05"),
    ],
)
def test_a_part_is_read(text, key, expected):
    """Each word, and what may stand beside it."""
    assert count_of_text(text).values[key] == expected


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("", ["found nothing; allowed: parts with commas between, such as full 7"]),
        (" ,;, ", ["found nothing; allowed: parts with commas between, such as full 7"]),
        ("x" * 5_000, ["found 5,000 characters; allowed: parts"]),
        ("ful 7, empty 1", ["ful 7: found 'ful 7'; allowed: counted, full, empty", "did you mean full?"]),
        ("full seven, empty 1", ["full seven: found 'seven'; allowed: a whole number (for example full 7)"]),
        ("full -7, empty 1", ["full -7: found '-7': a negative number makes no sense here"]),
        ("full 7 empty 12", ["full 7 empty 12: found '7 empty 12'; allowed: a whole number (for example full 7)"]),
        ("full, empty 1", ["full: found nothing beside it; allowed: a whole number"]),
        ("full 7, empty 1, full 8", ["full 8: found it a second time, after 'full 7'; allowed: each once"]),
        ("full 7", ["found full, but not empty; allowed: full and empty together"]),
        ("part-used 40, full 1, empty 1", ["part-used 40: found '40'; allowed: the gauge of each, with its unit"]),
        ("on order ten", ["on order ten: found 'ten'; allowed: a whole number", "on order 10 since 2027-04-29"]),
        ("on order 10 since", ["on order 10 since: found '10 since'; allowed: a whole number, and since when"]),
        ("on oxygen adults", ["on oxygen adults: found 'adults'; allowed: a class and how many of it"]),
        ("concentrators 4 idle", ["found '4 idle'; allowed: how many work, or how many are down and since when"]),
        ("concentrators 5000 down", ["found 5000 down; allowed: at most 1000"]),
        ("grid maybe", ["grid maybe: found 'maybe'; allowed: on or off, and since when"]),
        ("battery", ["battery: found nothing beside it; allowed: a value with its unit"]),
        ("\x1b[31mfull 7", ["\\x1b[31mfull 7: found '\\x1b[31mfull 7'"]),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_named(text, parts):
    """The part, what was found, what is allowed, an example."""
    (found,) = refused(text)
    assert [part for part in parts if part not in found] == []


def test_all_that_is_wrong_is_said_at_once():
    """Each part on its own line; a value that is no text is no count."""
    assert len(refused("full x, empty y, childern 3")) == 3
    with pytest.raises(O2simError, match=r"--count: found int; allowed: a text such as"):
        count_of_text(7)


def test_when_it_was_counted_may_come_from_elsewhere():
    """The text has the last word."""
    assert count_of_text("full 1, empty 2", AT).values["counted"] == AT
    assert count_of_text(LINE, dt.datetime(2020, 1, 1)).values["counted"] == "2027-05-03 07:30"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("full 2, empty 1", "--count: counted: this key is missing; allowed: a date and a time such as"),
        ("on order 1, counted 2027-05-03 07:30", "--count: full, empty, part-used: this key is missing"),
        ("full 2, empty 1, counted 2027-05-03", "--count: counted 2027-05-03: found '2027-05-03': a date"),
        (f"{LINE}, part-used 900 bar", "--count: part-used 900 bar: found '900 bar'"),
        (f"{LINE}, on order 1 since 2027-05-04", "--count: on order 1 since 2027-05-04: found 2027-05-04"),
        (f"{LINE}, on oxygen childs 1", "--count: on oxygen childs 1: found 'childs'; allowed: classes of the"),
        (f"{LINE}, battery 5 %", "--count: battery 5 %: found a charge, but no strategy has power.battery"),
        (LINE.replace("full 2", "full 9"), "--count: full, empty, part-used: found 10 counted of a fleet of 4"),
    ],
)  # fmt: skip
def test_what_does_not_fit_the_scenario_is_said_at_its_part(text, expected):
    """The option and the part, not a line of the file, which is right."""
    (found,) = laid_wrong(SMALL, count_of_text(text))
    assert found.startswith(expected)


def test_a_count_laid_over_a_file_is_as_if_it_stood_there():
    """The same hospitals, hash and text as the file with the section; what it names beside it is found still."""
    there = with_now(loads(SMALL), count_of_text(LINE))
    written = loads(SMALL + "now: {counted: 2027-05-03 07:30, cylinders: {full: 2, empty: 1}}\n")
    assert there.hospitals == written.hospitals
    assert (there.hash, there.text) == (written.hash, written.text)


def test_a_count_replaces_that_of_the_file(tmp_path):
    """Whole, even one that is wrong; of the file all else is kept letter by letter."""
    path = tmp_path / "f.yaml"
    path.write_text("# mine\nnow: {counted: yesterday}   # of last week\n" + SMALL)
    found = with_now(path, count_of_text(LINE))
    assert found.hospitals["cylinders only"].now.counted == AT
    assert found.text.startswith("# mine\nnow: {counted: 2027-05-03 07:30, cylinders: {full: 2, empty: 1}}")
    path.write_text(found.text)
    assert load(path) == found


def test_a_scenario_with_a_count_can_be_changed_further():
    """One more on order, by the same way as any other field."""
    there = original(with_now(loads(SMALL), count_of_text(LINE)))
    more = loaded(there, changed(there, {"now.cylinders.full": "1"}))
    assert more.hospitals["cylinders only"].now.cylinders.full == 1


def test_values_of_python_are_taken():
    """Dates, numbers and truth as they are; what cannot stand in a file is refused with its key."""
    now = {"counted": AT, "cylinders": {"full": 2, "empty": 1}, "grid": {"up": True}, "on_order": ()}
    assert with_now(loads(SMALL), now).hospitals["cylinders only"].now.cylinders.full == 2
    assert text_with_now(SMALL, now).endswith("grid: {up: true}, on_order: []}\n")
    endless: list[object] = []
    endless.append(endless)
    for wrong, said in (
        ({"counted": None}, "now.counted: found NoneType"),
        ({1: 2}, "the key 1"),
        ({"a": endless}, "deep"),
    ):
        with pytest.raises(O2simError, match=said):
            with_now(loads(SMALL), wrong)


def test_faults_of_the_file_keep_their_lines(tmp_path):
    """What is wrong elsewhere is said of the file, and the error is not one of the count alone."""
    path = tmp_path / "f.yaml"
    path.write_text(SMALL.replace("fleet: 4", "fleet: -4"))
    with pytest.raises(ScenarioError) as error:
        with_now(path, Counted({"counted": "now"}, "--count", {"now.counted": "counted now"}))
    assert not isinstance(error.value, CountError)
    places = [(each.file, each.line, each.field) for each in error.value.problems]
    assert (str(path), 9, "cylinders.fleet") in places
    assert ("--count", 0, "counted now") in places


@pytest.mark.parametrize("source", [7, None, b"f.yaml"])
def test_what_is_no_scenario_is_refused(source):
    """A path, or a scenario."""
    with pytest.raises(O2simError, match="allowed: a scenario, or the path of its file"):
        with_now(source, {})


def test_classes_may_follow_those_on_oxygen():
    """Further classes need no word of their own; each may say on what its patients are, or that they wait."""
    text = (
        "full 1, on oxygen newborns 2, 3 children on concentrators, adults on masks 1 on cylinder, adults 2 waits"
    )
    assert count_of_text(f"{text}, empty 2").values["on_oxygen"] == [
        {"class": "newborns", "count": "2"},
        {"class": "children", "count": "3", "source": "concentrator"},
        {"class": "adults on masks", "count": "1", "source": "cylinder"},
        {"class": "adults", "count": "2", "source": "none"},
    ]


def test_a_class_elsewhere_is_not_taken_for_one_on_oxygen():
    """Only directly behind those on oxygen."""
    with pytest.raises(CountError, match="children 3"):
        count_of_text("on oxygen newborns 2, full 1, children 3, empty 2")


def test_a_second_class_may_have_its_own_words_in_front():
    """Whoever writes `on oxygen` again before the next class means the same."""
    again = count_of_text("on oxygen children 2 on cylinders, on oxygen adults 4 waiting, full 1, empty 2")
    once = count_of_text("on oxygen children 2 on cylinders, adults 4 waiting, full 1, empty 2")
    assert again.values == once.values


def test_too_many_parts_are_counted():
    """Many short parts are named by their number, as their characters are not too many."""
    assert refused("full 1, empty 900, " + "on order 1, " * 250)[0].startswith("found 252 parts")
