"""Today at the desk: the form of a count, what is wrong with it, what comes of it, and the stock card."""

import datetime as dt
import json
import re
from pathlib import Path
from urllib.parse import quote_plus

import pytest
from desk_asked import desk, text_of, worked_out, write
from small_ward import WARD

from o2sim.desk import today_read as read
from o2sim.desk.guard import MOST_FIELDS
from o2sim.desk.today_answer import figures, in_100
from o2sim.desk.today_count import count_of, problems_of
from o2sim.desk.today_drafts import why_none
from o2sim.desk.today_fields import MOST_CLASSES, class_name, fields_of, parts
from o2sim.scenario import load, loads

__all__ = ["desk"]  # a fixture

NOW = dt.datetime(2026, 11, 28, 9, 30, 20)
ALL, ON_CYLINDERS = "today_class_616c6c", "today_on_cylinders_616c6c"  # the class “all”
NEEDED = {"today_full": "4", "today_empty": "5"}
ALONE = WARD.split("concentrators: {count")[0] + "strategies: {cylinders only: {sources: [cylinder]}}\n"
UNITS = WARD.split("strategies:")[0] + "strategies: {concentrators only: {sources: [concentrator]}}\n"
CARD = "hill-stock-card.jsonl"
SCENARIOS = Path(__file__).parents[2] / "scenarios"


def wrong(text=WARD, **typed):
    """Return what is wrong with a form, by field."""
    return {name: said for name, _, said in problems_of(loads(text), {**NEEDED, **typed}, NOW)}


def made(text=WARD, **typed):
    """Return the count that a form makes."""
    return dict(count_of(loads(text), {**NEEDED, **typed}, NOW).values)


def at_nine(desk):
    """Set the desk's calendar and clock."""
    desk.desk.today, desk.desk.clock = NOW.date, NOW.time


def sent(desk, **typed):
    """Send a count."""
    return desk.post("/today", "&".join(f"{name}={quote_plus(text)}" for name, text in typed.items()))


def counted(desk, **typed):
    """Work out today for a count, and return the page."""
    at_nine(desk)
    assert sent(desk, **{**NEEDED, **typed}).place == "/run"
    return worked_out(desk, "/today")


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


# --- what comes of it --------------------------------------------------------------------------------------------


def test_what_does_not_add_up_stands_above_the_advice(desk):
    """First what nobody counted and what was assumed, then the two sentences, then three figures."""
    write(desk, WARD)
    page = text_of(counted(desk, today_part_used="2"))
    said = ["9 of 14: 5 not accounted for.", "Not counted, and drawn", "2 part-used cylinders have no gauge",
            "Order at least 2 today.", "No need to phone.", "3.1 days of cover: 74.4 hours", "18 in 100",
            "1 in 100 the same, with 2 ordered today"]  # fmt: skip
    places = [page.find(each) for each in said]
    assert (places, min(places) > 0) == (sorted(places), True)


@pytest.mark.parametrize(
    ("share", "said"),
    [(0, "under 1 in 100"), (0.004, "under 1 in 100"), (0.18, "18 in 100"), (0.999, "over 99 in 100")],
)
def test_a_chance_is_never_none_nor_all(share, said):
    """No simulation shows that something cannot happen."""
    assert in_100(share) == said


def test_three_figures_where_nothing_flows_or_nothing_is_ordered():
    """Cover is not said where nothing flows; without an order there is one chance, by the end of a day."""
    made_of = {"hours": None, "bare": 0.1, "until": None, "day": "2026-12-02"}
    said = [("-", "nothing flows from cylinders now, so what is there lasts on"),
            ("10 in 100", "chance that the shelf is empty by the end of Wednesday 2 December")]  # fmt: skip
    assert figures(made_of) == said


def test_an_answer_of_another_day_is_named_and_can_be_opened(desk):
    """On the next day the form stands alone; the earlier answer says of which day it is."""
    write(desk, WARD)
    counted(desk)
    desk.desk.today = (NOW + dt.timedelta(days=1)).date
    page = text_of(desk.get("/today").body)
    assert ("Last worked out for Saturday 28 November: Order at least 2 today" in page) == (
        "No need to phone." not in page
    )
    assert "Count again before you order." in text_of(desk.get("/today/1").body)
    assert '/today/1"' in desk.get("/earlier").body


def test_the_sheet_is_that_of_the_count(desk):
    """It is complete in one file, and nothing but its own style acts in it."""
    write(desk, WARD)
    assert desk.get("/today/sheet").place == "/today"
    counted(desk)
    sheet = desk.get("/today/sheet")
    assert ("Oxygen today" in sheet.body, "style-src 'sha256-" in sheet.headers["content-security-policy"]) == (
        True,
        True,
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [(UNITS, "no shelf to count"), (load(SCENARIOS / "piped_ward.yaml").text, "on the banks of a manifold")],
)
def test_where_nothing_can_be_counted_the_page_says_so(desk, text, said):
    """It leads to the other questions, and no count is taken."""
    at_nine(desk)
    write(desk, text)
    page = desk.get("/today").body
    assert (said in text_of(page), "/answer/power" in page, "today_full" in page) == (True, True, False)
    assert sent(desk, **NEEDED).place == "/today"


def test_without_a_file_the_page_leads_to_one(desk):
    """From an empty folder no count can be laid beside anything."""
    page = desk.get("/today").body
    assert ("Choose its file, or begin one." in text_of(page), 'name="today_full"' in page) == (True, False)


# --- the stock card ----------------------------------------------------------------------------------------------


def card(desk):
    """Return the lines of the stock card."""
    return (desk.desk.folder.path / CARD).read_text().splitlines()


def written(desk, **typed):
    """Work out a count, write it into the stock card, and return where that leads."""
    page = counted(desk, **typed)
    number = re.search(r'name="answer" value="(\d+)"', page)[1]
    return desk.post("/today/card", f"answer={number}")


def test_a_count_of_the_same_day_takes_the_place_of_the_first(desk):
    """The card has one count a day; it is no scenario of the folder; numbers by class stand in it."""
    write(desk, WARD)
    assert written(desk).place == "/today#card"
    written(desk, today_time="08:00")
    assert [json.loads(line)["counted"] for line in card(desk)] == ["2026-11-28T08:00"]
    assert "stands in the stock card, hill-stock-card.jsonl" in text_of(desk.get("/today").body)
    assert desk.desk.folder.names() == ["hill.yaml"]


def test_lines_of_others_stay_in_the_card(desk):
    """Counts of other days and lines that cannot be read are kept as they are, and shown or counted."""
    write(desk, WARD)
    other = json.dumps({"o2sim_today": 1, "scenario": "Small ward", "counted": "2026-11-27T07:00", "counts": {}})
    (desk.desk.folder.path / CARD).write_text(f"{other}\na coffee stain\n")
    written(desk)
    page = text_of(desk.get("/today").body)
    assert card(desk)[:2] == [other, "a coffee stain"]
    assert ("2026-11-27 07:00" in page, f"1 line of {CARD} cannot be read" in page) == (True, True)


def test_a_file_that_is_no_card_is_left_alone(desk):
    """What lies under the name of the card and is something else is not written over."""
    write(desk, WARD)
    (desk.desk.folder.path / CARD).write_text("my notes\n")
    answer = written(desk)
    assert (answer.status, "no stock card of o2sim" in text_of(answer.body)) == (409, True)
    assert card(desk) == ["my notes"]


def test_writing_into_the_card_is_undone(desk):
    """Undo takes the count out again, and a card that was begun by it; it is found among earlier answers too."""
    write(desk, WARD)
    written(desk)
    change = re.search(r'name="change" value="(\d+)"', desk.get("/today").body)[1]
    assert f'name="change" value="{change}"' in desk.get("/earlier").body
    assert "Undone: The count of 2026-11-28 09:30" in text_of(desk.post("/undo", f"change={change}").body)
    assert not (desk.desk.folder.path / CARD).exists()
    assert "Write this count into the stock card" in text_of(desk.get("/today").body)


def test_a_card_that_was_changed_since_is_not_undone(desk):
    """What somebody wrote meanwhile is not lost."""
    write(desk, WARD)
    written(desk)
    change = re.search(r'name="change" value="(\d+)"', desk.get("/today").body)[1]
    with (desk.desk.folder.path / CARD).open("a") as file:
        file.write("a note\n")
    assert desk.post("/undo", f"change={change}").status == 409
    assert card(desk)[1:] == ["a note"]


def test_only_the_newest_count_is_written(desk):
    """A page of before leads back to what holds now."""
    write(desk, WARD)
    counted(desk)
    counted(desk, today_time="08:00")
    assert desk.post("/today/card", "answer=1").place == "/today"
    assert not (desk.desk.folder.path / CARD).exists()


def test_who_forgets_a_hospital_keeps_its_card(desk):
    """Answers, what was typed and changes of the card are forgotten; the card is theirs, as the scenario is."""
    write(desk, WARD)
    written(desk)
    desk.post("/forget", "sure=hill.yaml")
    history = desk.desk.history
    assert (history.answers(), history.changes(CARD), history.drafts("hill.yaml"), len(card(desk))) == (
        [],
        [],
        {},
        1,
    )


def test_each_class_has_a_name_that_any_page_may_have():
    """Letters of the file are no letters of a field."""
    text = WARD.replace("{all: {admissions", '{"a \\" <b>": {admissions')
    (kind,) = loads(text).hospitals["mixed"].patients
    assert re.fullmatch(r"today_class_[0-9a-f]+", class_name(kind)) is not None
