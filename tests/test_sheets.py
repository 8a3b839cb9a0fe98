"""Three sheets to print: figures worked by hand, what each scenario adds, nothing let through unescaped."""

import re
from html.parser import HTMLParser

import pytest
from test_sizing import WARD

from o2sim.analysis.sizing import size
from o2sim.errors import O2simError
from o2sim.report.sheets import COUNT_SHEET, DUSK_PAGE, REORDER_CARD, SHEETS, order_for, sheets, write_sheets
from o2sim.scenario import loads
from o2sim.scenario.override import original_of

ALL_OF_IT = (
    WARD.replace("horizon: 60 days", "horizon: 30 days")
    .replace("name: Small ward", "name: '<b>Ward</b> & co'")
    .replace(
        "power: {grid:", "power: {battery: {usable: 2 kWh, charge: 500 W}, generator: {start_delay: 10 min}, grid:"
    )
    .replace("content: 6800 L,", "water_capacity: 47 L, filling_pressure: 13.7 MPa, leak: 0.1 L/min,")
)


@pytest.fixture(scope="module")
def done():
    """Return a sizing of the ward; the fleet found moves the levels."""
    return size(original_of(ALL_OF_IT), "mixed", vary="cylinders.fleet = 40, 42", replications=59)


@pytest.fixture(scope="module")
def pages(done):
    """Return its pages."""
    return sheets(done.hospital, done.result)


class Texts(HTMLParser):
    """Collects what a page says, and the tags it uses."""

    def __init__(self, page):
        super().__init__()
        self.said, self.tags = [], []
        self.feed(page)

    def handle_data(self, data):
        """Keep a text."""
        self.said.append(data)

    def handle_starttag(self, tag, attrs):
        """Keep a tag."""
        self.tags.append((tag, dict(attrs)))


def said(page: str) -> str:
    """Return the words of a page in one line."""
    return " ".join(" ".join(Texts(page).said).split())


@pytest.mark.parametrize(
    ("position", "order"),
    [(0, 9), (10, 9), (11, 9), (14, 6), (17, 3), (18, 0), (19, 0), (30, 0)],
)
def test_orders_worked_by_hand(position, order):
    """At or below 18 what is missing to 20, at most 9 on the lorry, and none for fewer than 3."""
    resupply = loads(WARD.replace("reorder_point: 14", "reorder_point: 18")).hospitals["mixed"].resupply
    assert order_for(resupply, position) == order


def test_the_count_sheet_has_an_order_for_each_count(pages):
    """The levels moved with the fleet: from 30 down to nought at 31 or more; orders alike stand together."""
    page = said(pages[COUNT_SHEET])
    assert "At 30 or fewer order what the table says" in page
    assert "0 to 27 9" in page
    assert "30 6 31 or more 0" in page
    assert "All cylinders together should be 40" in page
    assert "One lorry takes 9" in page
    assert "Fewer than 3 are not delivered" in page


def test_a_table_that_would_not_fit_is_a_sentence(done):
    """With 150 orders that differ there is no room for a table; weeks to fill in are as many as fit."""
    small = said(sheets(loads(WARD).hospitals["mixed"], done.result)[COUNT_SHEET])
    text = (
        WARD.replace("fleet: 24", "fleet: 220")
        .replace("point: 14", "point: 190")
        .replace("up_to: 20", "up_to: 200")
    )
    large = sheets(loads(text.replace("  vehicle_capacity: 9\n", "")).hospitals["mixed"], done.result)[COUNT_SHEET]
    assert "0 to 11 9 12 8 13 7 14 6 15 or more 0" in small
    assert "Order 200 less what is full and on order together." in said(large)
    assert large.count("<tr>") == 14


def test_the_dusk_page_against_the_content_of_the_cylinder(pages):
    """47 L at 137 bar hold 47 x 146.24 L at 15 degC (CoolProp); those at 8 bar, 47 x 8.95 L, are left."""
    page = said(pages[DUSK_PAGE])
    usable_l = 47 * (146.24 - 8.95)
    hours = usable_l / 10.1 / 60
    clock = re.search(r"10 L/min (\d\d):(\d\d)", page)
    assert (int(clock[1]) + int(clock[2]) / 60) - (19 + hours - 24) == pytest.approx(0, abs=0.1)
    assert "0.5 L/min all night all night all night" in page
    assert "47 L stamped on the shoulder" in page
    assert "The battery takes over" in page
    assert "The generator needs about 10 min to start" in page
    assert "void for any other" in page


def test_the_reorder_card_tells_levels_promise_and_telephone(pages, done):
    """Big figures, when to phone, days of cover by the measured use, what 5 % means."""
    page = said(pages[REORDER_CARD])
    a_day = done.result["measured"]["cylinders_emptied_a_day"]
    assert "30 full and on order, or fewer: ORDER 36 order up to" in page
    assert f"36 {int(360 / a_day) / 10:g}" in page
    assert "5 % still means about 1 run in 20" in page
    assert re.search(r"PHONE the supplier when \d+ or fewer full ones are left", page)
    assert "valid until (at most one year)" in page


def test_every_page_stands_alone_and_escapes_what_a_scenario_says(pages):
    """No script, no link, no image; the name's brackets are text; provenance and language are there."""
    assert tuple(pages) == SHEETS
    for page in pages.values():
        found = Texts(page)
        tags = {tag for tag, _ in found.tags}
        assert not tags & {"script", "link", "img", "iframe", "b"} - {"b"}
        assert "<b>Ward" not in page
        assert "<b>Ward</b> & co" in said(page)
        assert not any({"src", "href", "onload"} & attrs.keys() for _, attrs in found.tags)
        assert ("html", {"lang": "en"}) in found.tags
        assert "seed 1" in page
        assert "prescribes nothing" in page


@pytest.mark.parametrize(
    ("before", "after", "name", "words"),
    [
        ("  review: 7 days", "  review: continuous", COUNT_SHEET, "Each time a full cylinder is taken"),
        ("  review: 7 days", "  review: 14 days", COUNT_SHEET, "Every 14 days"),
        ("costs:", "day_hours: {from: 06:00, to: 18:30}\ncosts:", DUSK_PAGE, "from 18:30 to 06:00"),
        ("  minimum_order: 3", "  minimum_order: 3\n  emergency: {below: 3, lead_time: 6 h}", REORDER_CARD,
         "when fewer than 3 full and part-used ones are left"),
        ("  minimum_order: 3", "  minimum_order: 3\n  emergency: {cover: 12 h, lead_time: 6 h}", REORDER_CARD,
         "lasts less than 12 h"),
        ("  minimum_order: 3", "  minimum_order: 3\n  emergency: {days_of_cover: 2 days, lead_time: 6 h}",
         REORDER_CARD,
         "lasts less than 2 days"),
        ("  vehicle_capacity: 9\n", "", REORDER_CARD, "as far as there are empties."),
        ("content: 6800 L", "content: 5 L", DUSK_PAGE, "5 L of gas at"),
    ],
)  # fmt: skip
def test_what_a_scenario_adds(done, before, after, name, words):
    """Reviews, hours, emergency rules and sizes as stated."""
    assert before in WARD
    hospital = loads(WARD.replace(before, after)).hospitals["mixed"]
    assert words in said(sheets(hospital, done.result)[name])


def test_without_use_there_is_no_cover(done):
    """Nothing used, or nothing measured, is said instead of a division by nought."""
    result = {**done.result, "measured": None, "causes": ["no power"]}
    page = said(sheets(done.hospital, result)[REORDER_CARD])
    assert "Use was too small to tell days of cover" in page
    assert "for want of supply" in page


def test_a_strategy_without_units_has_no_power_cut(done):
    """The dusk page of cylinders only tells nothing of concentrators."""
    page = said(sheets(loads(WARD).hospitals["cylinders only"], done.result)[DUSK_PAGE])
    assert "In a power cut" not in page


@pytest.mark.parametrize(
    ("answer", "strategy", "message"),
    [(None, "mixed", "no value meets the target"), ({}, "concentrators only", "this strategy has none")],
)
def test_without_a_stock_there_are_no_sheets(done, answer, strategy, message):
    """No answer, or nothing to order, is refused."""
    with pytest.raises(O2simError, match=message):
        sheets(loads(WARD).hospitals[strategy], {**done.result, "answer": answer})


def test_pages_are_written_into_a_folder(done, tmp_path):
    """The folder is made; the same sizing gives the same bytes."""
    paths = write_sheets(tmp_path / "wall", done.hospital, done.result)
    assert [path.name for path in paths] == list(SHEETS)
    assert paths[0].read_text(encoding="utf-8") == sheets(done.hospital, done.result)[COUNT_SHEET]
