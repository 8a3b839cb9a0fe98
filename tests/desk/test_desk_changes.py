"""What the desk changes beside the twelve questions: prices taken out, own figures, what may be bought."""

import re

import pytest
from desk_asked import hash_in, text_of, write
from desk_server import served
from scenario_texts import SMALL
from small_ward import WARD

from o2sim.desk.forms import whose
from o2sim.desk.own_figures import own_name, strategy_of
from o2sim.scenario import loads

PRICED = SMALL + "costs:\n  currency: USD  # ours\n  cylinders: {price: 240 USD, refill: 10 USD}  # offer\n"
MIXED = "mixed: {sources: [concentrator, cylinder]}"
OWN = WARD.replace(MIXED, f"mixed:\n    {MIXED[8:-1]}\n    cylinders: {{fleet: 18}}  # by its answer")


@pytest.fixture(scope="module")
def all_tests(tmp_path_factory):
    """Serve one desk for all tests of this file."""
    place = tmp_path_factory.mktemp("changes")
    (place / "hospitals").mkdir()
    with served(place / "hospitals", place / "state") as found:
        yield found


@pytest.fixture
def desk(all_tests):
    """Give the desk with nothing kept of the test before."""
    all_tests.post("/forget", "sure=hill.yaml")
    return all_tests


def sent(desk, path, fields, seen=None):
    """Send a form as a browser does that has just asked for its page."""
    return desk.post(path, f"text_hash={hash_in(desk.get(seen or path).body)}&{fields}")


def undo(desk):
    """Undo the newest change."""
    number = re.search(r'name="change" value="(\d+)"', desk.get("/earlier").body)[1]
    return desk.post("/undo", f"change={number}")


# --- prices ------------------------------------------------------------------------------------------------------


def test_an_emptied_price_is_taken_out_and_undo_brings_it_back(desk):
    """Its key is gone from the file, what stood there is in the comment; undone, no byte differs."""
    path = write(desk, PRICED)
    assert sent(desk, "/hospital/prices", "currency=USD&price_cylinder=&price_refill=10").place == "/answer/buy"
    assert loads(path.read_text()).hospitals["cylinders only"].costs.cylinder.price == 0
    assert re.search(r"cylinders: \{refill: 10 USD\}  # price removed at the desk, .*; before: 240 USD, offer\n",
                     path.read_text())  # fmt: skip
    assert "1 price taken out" in text_of(desk.get("/earlier").body)
    assert undo(desk).status == 200
    assert path.read_text() == PRICED


def test_all_prices_taken_out_leave_no_section(desk):
    """With the currency emptied too, the file says nothing of costs, as before any price was put in."""
    path = write(desk, PRICED)
    assert sent(desk, "/hospital/prices", "currency=&price_cylinder=&price_refill=").place == "/answer/buy"
    assert path.read_text() == SMALL
    assert "The file states no prices" in text_of(desk.get("/answer/buy").body)


def test_a_currency_stays_as_long_as_a_price_is_in_it(desk):
    """Emptied alone it is asked for at its field, and nothing is written."""
    path = write(desk, PRICED)
    answer = sent(desk, "/hospital/prices", "currency=&price_cylinder=240&price_refill=10")
    assert (answer.status, re.findall(r'<li><a href="#(\w+)">', answer.body)) == (422, ["currency"])
    assert path.read_text() == PRICED


# --- what holds for one way of supply ----------------------------------------------------------------------------


def test_a_name_of_a_field_is_that_of_a_strategy_again():
    """Whatever letters the strategy has; what is no such name is of none."""
    assert strategy_of(own_name("fleet", "Mixed, 2.0 é")) == "Mixed, 2.0 é"
    assert [strategy_of(name) for name in ("fleet", "fleet.choice", "other.6d", "fleet.6", "fleet.ff")] == [""] * 5


def test_a_figure_of_one_way_of_supply_is_shown_and_changed_where_it_stands(desk):
    """The page names the strategy and its figure; a new one goes under the strategy, not into the whole."""
    path = write(desk, OWN)
    name = own_name("fleet", "mixed")
    page = desk.get("/hospital/2").body
    assert "Stands under “mixed”:" in text_of(page)
    assert re.search(rf'id="{name}" name="{name}" value="18"', page)
    fields = f"fleet=14&fleet.choice=ours&{name}=20&{name}.choice=file&do=next"
    assert sent(desk, "/hospital/2", fields).place == "/hospital/3"
    found = loads(path.read_text()).hospitals
    assert [found[each].cylinders.fleet for each in ("cylinders only", "mixed")] == [14, 20]
    changes = text_of(desk.get("/earlier").body)
    assert "How many cylinders there are in all, under “mixed”: 18 cylinders → 20 cylinders" in changes
    undo(desk)
    assert path.read_text() == OWN


@pytest.mark.parametrize("typed", ["", "many"])
def test_a_figure_of_one_way_of_supply_is_checked(desk, typed):
    """Emptied, or no number, it is named in the summary with a link to its field; nothing is written."""
    path = write(desk, OWN)
    name = own_name("fleet", "mixed")
    answer = sent(desk, "/hospital/2", f"fleet=14&fleet.choice=ours&{name}={typed}&{name}.choice=ours&do=next")
    assert (answer.status, re.findall(r'<li><a href="#([\w.]+)">', answer.body)) == (422, [name])
    assert path.read_text() == OWN


def test_which_figure_of_one_way_of_supply_holds_is_asked(desk):
    """Changed by an editor meanwhile, the figure under the strategy is chosen as any other is."""
    path = write(desk, OWN)
    old, name = hash_in(desk.get("/hospital/2").body), own_name("fleet", "mixed")
    path.write_text(OWN.replace("fleet: 18", "fleet: 19"))
    answer = desk.post("/hospital/2", f"text_hash={old}&{name}=20&{name}.choice=ours&do=next")
    assert (answer.status, "in all, under “mixed”" in text_of(answer.body)) == (409, True)
    chosen = f"text_hash={hash_in(answer.body)}&page=2&{name}=20&{name}.choice=ours&do=save&{name}.holds=here"
    desk.post("/which", chosen)
    assert "fleet: 20" in path.read_text()


def test_what_one_way_of_supply_says_in_another_form_is_left(desk):
    """A range, or power cuts of its own, are named with their line and have no field."""
    write(desk, WARD.replace("mixed: {sources", "mixed: {power: {grid: always}, sources"))
    page = text_of(desk.get("/hospital/4").body)
    assert re.search(r"Under “mixed” it stands in another form, in line \d+: .*grid is 'always'", page)


def test_what_is_assumed_leads_to_the_figure_of_the_strategy(desk):
    """The link beside it goes to its own field."""
    write(desk, OWN)
    assert f'/hospital/2#{own_name("fleet", "mixed")}">' in desk.get("/assumed").body


def test_a_figure_of_a_file_is_said_to_be_ours_without_another_one(desk):
    """It stands as nobody's own; chosen as ours, its comment says so, it is counted, and no other figure moves."""
    path = write(desk, WARD)
    assert re.search(r'value="file" checked', desk.get("/hospital/2").body)
    assert sent(desk, "/hospital/2", "fleet=14&fleet.choice=file&do=next").place == "/hospital/3"
    assert path.read_text() == WARD
    sent(desk, "/hospital/2", "fleet=14&fleet.choice=ours&do=next")
    assert (whose(path.read_text())[0], loads(path.read_text()).hash) == (1, loads(WARD).hash)
    assert "14 cylinders, the hospital’s own" in text_of(desk.get("/earlier").body)


# --- what may be bought ------------------------------------------------------------------------------------------


NO_OPTIONS = WARD.split("options:")[0]
TWELVE = ",".join(map(str, range(11, 23)))
NAMED = (
    NO_OPTIONS
    + """options:
  of: mixed
  vary:
    concentrators.count: [1, 2]  # offers
    battery: {"no": {power: {battery: none}}, "yes": {power: {battery: {usable: 3 kWh, charge: 600 W}}}}
"""
)


def choices(path):
    """Return what a file says may be bought: of which way of supply, the choices of each row."""
    options = loads(path.read_text()).options
    rows = {key: list(dict.fromkeys(each[place] for each in options.choices.values()))
            for place, key in enumerate(options.keys)}  # fmt: skip
    return options.of, rows


def test_what_may_be_bought_is_put_into_a_file_that_says_nothing_of_it(desk):
    """The numbers as typed, each once, in order; the page of what to buy says them; undone, no byte differs."""
    path = write(desk, NO_OPTIONS)
    fields = "of=mixed&may_cylinders=18,+14+22,+14&may_concentrators="
    assert sent(desk, "/answer/options", fields).place == "/answer/buy"
    assert choices(path) == ("mixed", {"cylinders.fleet": ["14", "18", "22"]})
    assert re.search(r"^options: \{of: mixed, vary: .*\}  # from the desk, ", path.read_text(), re.MULTILINE)
    said = "Tried are 3 ways to buy for “mixed”, as the file says: Cylinders in all 14, 18, 22."
    assert said in text_of(desk.get("/answer/buy").body)
    undo(desk)
    assert path.read_text() == NO_OPTIONS


def test_one_number_is_changed_and_what_has_no_field_stays(desk):
    """A row of names is shown with its line, and stays letter by letter; without its mark it is taken out."""
    path = write(desk, NAMED)
    page = text_of(desk.get("/answer/options").body)
    assert "battery: no, yes (line" in page
    assert sent(desk, "/answer/options", "of=mixed&may_concentrators=1,3&keep=battery").place == "/answer/buy"
    assert choices(path) == ("mixed", {"concentrators.count": ["1", "3"], "battery": ["no", "yes"]})
    assert next(line for line in NAMED.splitlines() if "battery" in line) in path.read_text()
    sent(desk, "/answer/options", "of=mixed&may_concentrators=1,3")
    assert choices(path) == ("mixed", {"concentrators.count": ["1", "3"]})


def test_with_all_emptied_the_file_says_nothing_of_it_any_more(desk):
    """The section goes; the desk tries steps of its own."""
    path = write(desk, NAMED)
    assert sent(desk, "/answer/options", "of=mixed&may_cylinders=&may_concentrators=").place == "/answer/buy"
    assert path.read_text() == NO_OPTIONS
    assert "Tried are, for “mixed”" in text_of(desk.get("/answer/buy").body)


@pytest.mark.parametrize(
    ("fields", "places"),
    [
        ("of=mixed&may_cylinders=a+few&may_concentrators=1,2", ["may_cylinders"]),
        (f"of=mixed&may_cylinders={TWELVE}&may_concentrators={TWELVE}&may_regulators=7,8", []),  # 288 together
        ("of=nobody&may_cylinders=14,16", []),
        ("of=mixed&may_cylinders=11,12,13,14,15,16,17,18,19,20,21,22,23", ["may_cylinders"]),
    ],
)
def test_what_cannot_be_bought_is_said_at_its_field(desk, fields, places):
    """Named in the summary; what was typed stands there again, and nothing is written."""
    path = write(desk, NO_OPTIONS)
    answer = sent(desk, "/answer/options", fields)
    assert (answer.status, re.findall(r'<li><a href="#(\w+)">', answer.body)) == (422, places)
    assert path.read_text() == NO_OPTIONS


def test_what_may_be_bought_is_not_written_over_an_editor(desk):
    """The file was changed meanwhile: what was typed is shown again, to be saved once more."""
    path = write(desk, NO_OPTIONS)
    answer = desk.post("/answer/options", "text_hash=0&of=mixed&may_cylinders=14,18")
    assert (answer.status, 'value="14,18"' in answer.body) == (422, True)
    assert path.read_text() == NO_OPTIONS
