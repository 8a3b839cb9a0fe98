"""Today at the desk: the form of a count, what is wrong with it, and the count that it makes."""

import datetime as dt
import re
from pathlib import Path

import pytest
from desk_asked import desk, text_of, write
from small_ward import WARD
from today_asked import NEEDED, NOW, at_nine, sent

from o2sim.desk import today_read as read
from o2sim.desk.guard import MOST_FIELDS
from o2sim.desk.today_count import count_of, problems_of
from o2sim.desk.today_drafts import why_none
from o2sim.desk.today_fields import MOST_CLASSES, class_name, fields_of, parts
from o2sim.scenario import load, loads

__all__ = ["desk"]  # a fixture

ALL, ON_CYLINDERS = "today_class_616c6c", "today_on_cylinders_616c6c"  # the class “all”
ALONE = WARD.split("concentrators: {count")[0] + "strategies: {cylinders only: {sources: [cylinder]}}\n"
SCENARIOS = Path(__file__).parents[2] / "scenarios"


def wrong(text=WARD, **typed):
    """Return what is wrong with a form, by field."""
    return {name: said for name, _, said in problems_of(loads(text), {**NEEDED, **typed}, NOW)}


def made(text=WARD, **typed):
    """Return the count that a form makes."""
    return dict(count_of(loads(text), {**NEEDED, **typed}, NOW).values)


# --- the form ----------------------------------------------------------------------------------------------------


def test_the_form_has_what_the_hospital_has(desk):
    """Without concentrators it asks for none of them and of no grid, nor whether somebody is on a cylinder."""
    names = {where: set(fields_of(parts(loads(text)))) for where, text in (("all", WARD), ("alone", ALONE))}
    power = {"today_down", "today_grid", "today_strategy", ON_CYLINDERS}
    assert (names["all"] - names["alone"], names["alone"] - names["all"]) == (power, set())


def test_nothing_is_filled_in_beforehand(desk):
    """Every field of a new count is empty; the day stands in the heading."""
    at_nine(desk)
    write(desk, WARD)
    page = desk.get("/today").body
    assert re.findall(r'<input type="text"[^>]*value="([^"]+)"', page) == []
    assert "Today, Saturday 28 November" in text_of(page)


def test_a_form_has_at_most_sixty_fields():
    """With as many classes as are asked for the guard lets the form through; with more none is asked for."""
    kinds = [f"k{number}: {{admissions: 1 / day, flow: 2 L/min, duration: 40 h}}" for number in range(21)]
    many, more = (
        fields_of(parts(loads(re.sub("patients: .*", f"patients: {{{', '.join(kinds[:count])}}}", WARD))))
        for count in (MOST_CLASSES, MOST_CLASSES + 1)
    )
    assert 2 * MOST_CLASSES < len(many) < MOST_FIELDS  # the key of the form is one more
    assert [name for name in more if "class" in name] == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"today_full": ""}, {"today_full": "Write a number; 0 where there is none."}),
        ({"today_full": "-1"}, {"today_full": "Found “-1”. Write a whole number; 0 where there is none."}),
        ({"today_gauge": "much"}, {"today_gauge": "Found “much”. Write a pressure in bar, such as 60"}),
        ({"today_since_1": "soon"}, {"today_since_1": "Found “soon”. Write a date, such as 25 Nov"}),
        ({"today_since_1": "25 Nov"}, {"today_order_1": "A day of an order stands here"}),
        ({"today_time": "25:00"}, {"today_time": "Found “25:00”. Write a time"}),
        ({"today_time": "23:00"}, {"today_time": "Found 23:00, which is still to come: it is 09:30"}),
        ({"today_grid": "maybe"}, {"today_grid": "Found “maybe”. Choose one of the list."}),
        ({"today_part_used": "15"}, {"today_part_used": "Found 15; the file has 14 in all."}),
        ({"today_down": "3"}, {"today_down": "Found 3; the file has 2 in all."}),
        ({ON_CYLINDERS: "1"}, {ALL: "Others were counted"}),
        ({ALL: "2", ON_CYLINDERS: "3"}, {ON_CYLINDERS: "Found 3 on cylinders, of 2 on oxygen."}),
        ({"today_full": "10"}, {"today_full": "found 15 counted of a fleet of 14"}),
        ({"today_order_1": "6"}, {"today_order_1": "found 6 on order, but 5 empties to exchange for them"}),
        ({"today_gauge": "300"}, {"today_gauge": "Found 300 bar; a full cylinder shows 137 by the file."}),
        ({"today_order_1": "1", "today_since_1": "2026-12-03"}, {"today_since_1": "found 2026-12-03"}),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_field(typed, said):
    """What is no number, does not go together, or the loader refuses, each at the field it came from."""
    found = wrong(**typed)
    assert list(found) == list(said)
    assert [found[name].startswith(text) for name, text in said.items()] == [True]


def test_a_refusal_names_its_fields_on_top(desk):
    """The summary leads to each field, and what was typed still stands there."""
    at_nine(desk)
    write(desk, WARD)
    answer = sent(desk, today_full="seven", today_empty="")
    assert answer.status == 422
    assert re.findall(r'<li><a href="#(\w+)">', answer.body) == ["today_full", "today_empty"]
    assert 'value="seven"' in desk.get("/today").body


def test_a_field_of_today_is_checked_as_it_is_left(desk):
    """What is wrong is said, and what was typed is kept; a field that nobody asks for is refused."""
    at_nine(desk)
    write(desk, WARD)
    said = desk.post("/check", "name=today_full&typed=seven").body
    right = desk.post("/check", "name=today_empty&typed=5").body
    assert ("Found “seven”" in said, right) == (True, '{"problem":""}')
    assert desk.post("/check", "name=today_none&typed=5").status == 422
    assert 'value="5"' in desk.get("/today").body


def test_what_was_typed_yesterday_is_no_count_of_today(desk):
    """On the next day every field is empty again."""
    at_nine(desk)
    write(desk, WARD)
    desk.post("/check", "name=today_full&typed=7")
    desk.desk.today = (NOW + dt.timedelta(days=1)).date
    assert 'value="7"' not in desk.get("/today").body
    desk.post("/check", "name=today_empty&typed=5")
    assert "today_full" not in desk.desk.history.drafts("hill.yaml")


def test_what_may_be_bought_refuses_no_count():
    """Of 14 cylinders 13 were counted; that a fleet of 12 may be bought is no matter of today."""
    assert "cylinders.fleet: [12, 14]" in WARD
    assert wrong(today_full="8") == {}


def test_a_fleet_that_is_not_known_refuses_no_count():
    """Of 10 to 20 cylinders 13 were counted: that it might be 10 is no fault of the count; the likely ones are."""
    text = WARD.replace("fleet: 14", "fleet: {low: 10, likely: 14, high: 20}").split("options:")[0]
    assert (wrong(text, today_full="8"), list(wrong(text, today_full="10"))) == ({}, ["today_full"])


SHIPPED = sorted(SCENARIOS.glob("*.yaml"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_shipped_scenario_can_be_counted_or_says_why_not(path):
    """One full and one empty cylinder, one patient of each class, one unit down: the loader takes it."""
    scenario = load(path)
    if why_none(scenario):
        return
    fields = fields_of(parts(scenario))
    ones = dict.fromkeys([name for name in fields if re.search("class|down|order_1", name)], "1")
    typed = {**NEEDED, "today_full": "1", "today_empty": "1", **ones}
    assert problems_of(scenario, typed, NOW) == []


# --- the count ---------------------------------------------------------------------------------------------------


def test_a_whole_form_makes_the_section_now():
    """Each figure stands where the loader reads it; who is on no cylinder is on a concentrator."""
    typed = {"today_part_used": "2", "today_gauge": "60", "today_order_1": "3", "today_since_1": "25 Nov",
             "today_order_2": "1", ALL: "3", ON_CYLINDERS: "1", "today_down": "1", "today_grid": "off",
             "today_time": "7.05"}  # fmt: skip
    assert made(**typed) == {
        "counted": "2026-11-28 07:05",
        "cylinders": {"full": 4, "empty": 5, "part_used": ["60 bar", "60 bar"]},
        "on_order": [{"ordered": "2026-11-25", "count": 3}, {"ordered": "unknown", "count": 1}],
        "on_oxygen": [{"class": "all", "count": 1, "source": "cylinder"},
                      {"class": "all", "count": 2, "source": "concentrator"}],
        "concentrators": {"working": 1},
        "grid": {"up": False},
    }  # fmt: skip


def test_what_is_left_empty_is_unknown():
    """Nothing is put in for it: the time is now, to the minute."""
    assert made() == {"counted": "2026-11-28 09:30", "cylinders": {"full": 4, "empty": 5}}


def test_without_a_gauge_a_cylinder_is_half_full():
    """Half of the filling pressure stands for it."""
    assert made(today_part_used="1")["cylinders"]["part_used"] == ["6850 kPa"]


@pytest.mark.parametrize(
    ("text", "typed", "found"),
    [
        (WARD, {ALL: "3"}, [{"class": "all", "count": 3}]),
        (WARD, {ALL: "0"}, []),
        (ALONE, {ALL: "3"}, [{"class": "all", "count": 3, "source": "cylinder"}]),
    ],
)
def test_who_is_on_oxygen(text, typed, found):
    """Without their source it is left to the strategy; nobody is nobody; with cylinders alone all are on these."""
    assert made(text, **typed)["on_oxygen"] == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("2026-11-25", dt.date(2026, 11, 25)),
        ("25 Nov", dt.date(2026, 11, 25)),
        ("3. december", dt.date(2025, 12, 3)),  # the last one
        ("3 Dec 2026", dt.date(2026, 12, 3)),
        ("31 Nov", None),
        ("25/11", None),
        ("28 Novo ber", None),
    ],
)
def test_a_day_is_read_as_people_write_it(typed, found):
    """With or without its year; a day that may be the one or the other is none."""
    assert read.day(typed, NOW.date()) == found


@pytest.mark.parametrize(
    ("reads", "typed", "found"),
    [
        (read.whole, "12", 12), (read.whole, "1.5", None), (read.whole, "²", None), (read.whole, "12345", None),
        (read.pressure, "60 bar", 60.0), (read.pressure, "1,5", None), (read.share, "80 %", 80.0),
        (read.share, "101", None), (read.litres, "35.5 L", 35.5), (read.clock, "7:05", dt.time(7, 5)),
        (read.clock, "7", None),
    ],
)  # fmt: skip
def test_a_figure_is_read_with_its_unit_or_without(reads, typed, found):
    """What may be meant in two ways is none."""
    assert reads(typed) == found


def test_each_class_has_a_name_that_any_page_may_have():
    """Letters of the file are no letters of a field."""
    text = WARD.replace("{all: {admissions", '{"a \\" <b>": {admissions')
    (kind,) = loads(text).hospitals["mixed"].patients
    assert re.fullmatch(r"today_class_[0-9a-f]+", class_name(kind)) is not None
