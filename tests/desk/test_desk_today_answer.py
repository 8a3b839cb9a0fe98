"""What comes of today's count at the desk: its page, its sheet, and the stock card."""

import datetime as dt
import json
import re
from pathlib import Path

import pytest
from desk_asked import desk, text_of, write
from small_ward import WARD
from today_asked import NEEDED, NOW, at_nine, counted, sent

from o2sim.desk.today_answer import figures, in_100
from o2sim.scenario import load

__all__ = ["desk"]  # a fixture

UNITS = WARD.split("strategies:")[0] + "strategies: {concentrators only: {sources: [concentrator]}}\n"
CARD = "hill-stock-card.jsonl"
PIPED = Path(__file__).parents[2] / "scenarios" / "piped_ward.yaml"


# --- what comes of it --------------------------------------------------------------------------------------------


def test_what_does_not_add_up_stands_above_the_advice(desk):
    """First what nobody counted and what was assumed, then the two sentences, then three figures."""
    write(desk, WARD)
    page = text_of(counted(desk, today_part_used="2"))
    said = ["9 of 14: 5 not accounted for.", "Not counted, and drawn", "2 part-used cylinders have no gauge",
            "0 of 12 figures are yours.", "Order at least 2 today.", "No need to phone.",
            "3.1 days of cover: 74.4 hours", "18 in 100",
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


def test_what_is_not_known_is_said_to_be_at_its_likely_value(desk):
    """A range of the file is named beside what was not counted."""
    write(desk, WARD.replace("fleet: 14", "fleet: {low: 10, likely: 14, high: 20}").split("options:")[0])
    assert "What is not known stands at its likely value here" in text_of(counted(desk))


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
    [(UNITS, "no shelf to count"), (load(PIPED).text, "on the banks of a manifold")],
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
