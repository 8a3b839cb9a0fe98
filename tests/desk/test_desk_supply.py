"""What to buy, prices, what is owned and the sheets, as pages of the desk."""

import datetime as dt
import re

from desk_asked import desk, hash_in, text_of, worked_out, write
from scenario_texts import SMALL

from o2sim.desk.at_buy import bought, without_price
from o2sim.desk.at_sheets import out_of_date, printed_now
from o2sim.desk.desk import FORMAT
from o2sim.desk.forms import whose
from o2sim.scenario import loads
from o2sim.scenario.changing.first_scenario import scenario_from
from o2sim.scenario.keys.answers import Answer
from o2sim.scenario.keys.questions import QUESTIONS

__all__ = ["desk"]  # a fixture


def test_a_printed_sheet_that_is_out_of_date_is_named():
    """It says 56, the answer now says 70; a foot alone that differs is no change; an example shows no number."""
    name = "reorder-card.html"

    def made(number, foot="", is_example=False):
        page = f"<p>{'' if is_example else number}</p><footer>{foot}</footer>"
        return {"sheets": {name: page}, "acts_by": {} if is_example else {name: number}, "is_example": is_example}

    then, example = ({name: printed_now(made("56", is_example=each), name)} for each in (False, True))
    said = [out_of_date(made(*now), before) for now, before in (
        (("70",), then), (("56", "later"), then), (("70",), example), (("70", "", True), then))]  # fmt: skip
    assert said[0] == [(name, "“When to order” as you last opened it says 56, the answer now says 70.")]
    assert said[1] == []
    assert "was an example" in said[2][0][1]
    assert "70" not in said[3][0][1]


def test_a_sheet_that_was_opened_is_compared_with_the_answer(desk):
    """What was opened to print is kept; after another answer the page of sheets names it, with a link."""
    write(desk, SMALL)
    here = desk.desk.read()
    kept = {"sheets": {"reorder-card.html": "<style></style>at 56<footer></footer>"}, "is_example": False,
            "acts_by": {"reorder-card.html": "56"}, "format": FORMAT}  # fmt: skip
    desk.desk.history.keep_answer(here.file, "keep", here.hash, kept)
    assert "at 56" in desk.get("/sheets/reorder-card.html").body
    assert "Print it again" not in desk.get("/sheets").body
    newer = {**kept, "sheets": {"reorder-card.html": "at 70"}, "acts_by": {"reorder-card.html": "70"}}
    desk.desk.history.keep_answer(here.file, "keep", here.hash, newer)
    assert "says 56, the answer now says 70. Print it again" in text_of(desk.get("/sheets").body)


def test_figures_are_called_theirs_only_where_they_are(desk):
    """With all twelve from the desk the file may say so; with one left open nothing is written."""
    path = write(desk, SMALL)
    assert desk.post("/ours").place == "/sheets"
    assert path.read_text() == SMALL
    answers = {each.name: Answer("ours", str(int(each.usual.figure * 2) if each.whole else each.usual.figure))
               for each in QUESTIONS}  # fmt: skip
    path.write_text(scenario_from(answers, dt.date(2026, 11, 28)))
    assert desk.post("/ours").place == "/answer/keep"
    assert "figures: ours  # from the desk" in path.read_text()
    assert loads(path.read_text()).figures == "ours"


def test_prices_are_put_into_the_file_and_counted_apart(desk):
    """A file without prices gets a section of them, a line each with who said so; the twelve stay twelve."""
    path = write(desk, SMALL)
    before = desk.get("/hospital/prices").body
    sent = f"text_hash={hash_in(before)}&currency=USD&price_cylinder=1,240&price_electricity=0.18&price_refill="
    assert desk.post("/hospital/prices", sent).place == "/answer/buy"
    text = path.read_text()
    assert text.startswith(SMALL)
    assert re.findall(r"  (?:price|electricity): (.+?)  # from the desk", text) == ["0.18 USD/kWh", "1240 USD"]
    assert whose(text) == (0, len(QUESTIONS))
    assert loads(text).hospitals["cylinders only"].costs.cylinder.price == 1240


def test_a_price_needs_its_currency_and_is_kept_as_typed(desk):
    """What is wrong is said at its field; nothing is written, and what was typed stands there again."""
    path = write(desk, SMALL)
    sent = f"text_hash={hash_in(desk.get('/hospital/prices').body)}&currency=&price_refill=10.5"
    answer = desk.post("/hospital/prices", sent)
    assert (answer.status, re.findall(r'<li><a href="#(\w+)">', answer.body)) == (422, ["currency"])
    assert 'value="10.5"' in desk.get("/hospital/prices").body
    assert path.read_text() == SMALL


def test_what_is_owned_is_put_in(desk):
    """A number owned goes beside its count; more than there are is refused at its field."""
    path = write(desk, SMALL + "costs: {currency: USD, cylinders: {price: 240 USD}}\n")
    here = hash_in(desk.get("/answer/buy").body)
    wrong = desk.post("/own", f"text_hash={here}&owned_cylinders=9")
    assert (wrong.status, re.findall(r'<li><a href="#(\w+)">', wrong.body)) == (422, ["owned_cylinders"])
    assert desk.post("/own", f"text_hash={here}&owned_cylinders=3").place == "/answer/buy"
    assert re.search(r"fleet: 4\n  owned: 3  # from the desk", path.read_text())
    now = hash_in(desk.get("/answer/buy").body)
    assert desk.post("/own", f"text_hash={now}&do=all").place == "/answer/buy"
    assert "owned: 4  # from the desk" in path.read_text()
    assert "4 cylinders" in re.search(r"From the file: (.*?)\.", text_of(desk.get("/answer/buy").body))[1]


def test_lines_without_a_price_are_said_once():
    """So many in each list, or up to so many where they differ; not in the words of each step; none, nothing."""
    line = {"in_all": 4, "there": 1, "buy": 3, "each": None, "amount": None}

    def step(*items):
        return {"lines": [{**line, "item": "cylinders", "each": 240.0, "amount": 720.0},
                          *({**line, "item": item} for item in items)]}  # fmt: skip

    found = [[step("regulators"), step("regulators")], [step("regulators", "signs"), step("signs")], [step()]]
    said = [without_price({"steps": steps}) for steps in found]
    assert [each.partition(" ha")[0] for each in said] == ["1 line of each list", "Up to 2 lines of a list", ""]
    assert bought(found[0][0]) == "3 cylinders"


def test_the_purchase_list_of_a_step_is_saved(desk):
    """As a page and as a table; headed as a draft while figures are not theirs; a step that is none leads back."""
    write(desk, SMALL + "costs: {currency: USD, cylinders: {price: 240 USD}}\n")
    desk.post("/begin/buy", "strategy=cylinders+only")
    worked_out(desk, "/answer/buy")
    page, table = (desk.post("/list", f"step=0&as={kind}") for kind in ("html", "csv"))
    assert page.headers["content-disposition"] == 'attachment; filename="purchase-list-draft.html"'
    assert "Draft purchase list" in page.body
    assert "cylinders,4,1,3,240,720,USD" in table.body
    assert desk.post("/list", "step=7").place == "/answer/buy"
