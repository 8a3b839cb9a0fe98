"""Three sheets to print: figures worked by hand, what each scenario adds, nothing let through unescaped."""

import json
import math
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner
from CoolProp.CoolProp import PropsSI
from test_sizing import WARD

from o2sim import cli
from o2sim.errors import O2simError, ScenarioError
from o2sim.looks.cautions import without_numbers
from o2sim.planning.delivery_time import DeliveryTime
from o2sim.planning.figures import planning_figures
from o2sim.questions.check.text import supply_tables
from o2sim.questions.size.parts import card
from o2sim.questions.size.reorder_card import cover_rows, delivery_words, months_words, rates
from o2sim.questions.size.result import Card, PhoneSeason
from o2sim.questions.size.sheets import (
    COUNT_SHEET,
    DUSK_PAGE,
    REORDER_CARD,
    SHEETS,
    order_for,
    sheets,
    write_sheets,
)
from o2sim.questions.size.sizing import size
from o2sim.scenario import load, loads
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.types.hospital import DAY_S

ALL_OF_IT = (
    WARD.replace("horizon: 60 days", "horizon: 30 days")
    .replace("name: Small ward", "name: '<b>Ward</b> & co'\nfigures: ours")
    .replace(
        "power: {grid:", "power: {battery: {usable: 2 kWh, charge: 500 W}, generator: {start_delay: 10 min}, grid:"
    )
    .replace("content: 6800 L,", "water_capacity: 47 L, filling_pressure: 13.7 MPa,")
    .replace("leak: 0 L/min", "leak: 0.1 L/min")
)


@pytest.fixture(scope="module")
def done():
    """Return a sizing of the ward; the fleet found moves the levels."""
    return size(original_of(ALL_OF_IT), "mixed", vary="cylinders.fleet = 40, 42", replications=59)


@pytest.fixture(scope="module")
def pages(done):
    """Return its pages."""
    return sheets(done.hospital, done.record)


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


def litres(gauge_kpa: float) -> float:
    """Return litres (15 degC, 1 atm) in a litre of shell at 15 degC, by CoolProp's equation."""
    return PropsSI("D", "P", 1e3 * gauge_kpa + 101_325, "T", 288.15, "Oxygen") / 1.3544 - 1


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
    """The levels moved with the fleet: from 30 down to none at 31 or more; orders alike stand together."""
    page = said(pages[COUNT_SHEET])
    assert "At 30 or fewer order what the table says" in page
    assert "0 to 27 9" in page
    assert "30 6 31 or more 0" in page
    assert "All cylinders together should be 40" in page
    assert "One lorry takes 9" in page
    assert "Fewer than 3 are not delivered" in page


def test_a_table_that_would_not_fit_is_a_sentence(done):
    """With 150 orders that differ there is no room for a table; weeks to fill in are as many as fit."""
    small = said(sheets(loads(WARD).hospitals["mixed"], done.record)[COUNT_SHEET])
    text = (
        WARD.replace("fleet: 24", "fleet: 220")
        .replace("point: 14", "point: 190")
        .replace("up_to: 20", "up_to: 200")
    )
    large = sheets(loads(text.replace("  vehicle_capacity: 9\n", "")).hospitals["mixed"], done.record)[COUNT_SHEET]
    assert "0 to 11 9 12 8 13 7 14 6 15 or more 0" in small
    assert "Order 200 less what is full and on order together." in said(large)
    assert large.count("<tr>") == 14


def test_the_dusk_page_against_the_content_of_the_cylinder(pages):
    """A gauge of 137 bar may be 131 in truth (error of 6 bar); what 47 L hold at 8 bar is left (CoolProp)."""
    page = said(pages[DUSK_PAGE])
    usable_l = 47 * (litres(13_100) - litres(800))
    hours = usable_l / 10.1 / 60
    clock = re.search(r"10 L/min (\d\d):(\d\d)", page)
    assert (int(clock[1]) + int(clock[2]) / 60) - (19 + hours - 24) == pytest.approx(0, abs=0.1)
    assert "0.5 L/min all night all night all night" in page
    assert "47 L stamped on the shoulder" in page
    assert "The battery takes over" in page
    assert (
        "6 bar is taken off each reading for the error of the gauge (about: class 2.5 on 25 MPa allows 6.25 bar,"
        in page
    )
    assert "Change it at 14 bar" in page
    assert "A reading between two columns counts as the lower" in page
    assert "made for gauges read at 15 °C" in page
    assert "void for any other" in page


def test_the_reorder_card_tells_levels_promise_and_telephone(pages, done):
    """Big figures, when to phone, what 5 % means; the delivery time with closed roads and without."""
    page = said(pages[REORDER_CARD])
    found = done.record.measured.card
    ordinary = found.delivery
    assert "30 full and on order, or fewer: ORDER 36 order up to" in page
    assert "5 % still means about 1 run in 20" in page
    assert f"PHONE the supplier when {found.phone_at} or fewer full ones are left, whatever is on order." in page
    assert f"19 in 20 deliveries come within {ordinary.days} days; " in page
    assert f"within {ordinary.days} days, closed roads included" in page
    assert f"on open roads {ordinary.open_days} days" in page
    assert ordinary.days > ordinary.open_days
    assert "valid until (at most one year)" in page


def test_days_stand_at_two_named_uses(done):
    """36 full ones at both uses, rounded down; the headline is the cautious one, a third of the usual or less."""
    assert done.record.measured.card.usual == done.record.measured.cylinders_emptied_a_day
    result = with_card(done, usual=0.123)  # measured it is so little that 36 last over a year
    pages, found = sheets(done.hospital, result), result.measured.card
    page = said(pages[REORDER_CARD])
    usual, unaided = (math.floor(360 / use) / 10 for use in (found.usual, found.unaided))
    assert "days at usual use, concentrators helping days when the concentrators do not help" in page
    assert f"36 {usual:,g} {unaided:g}" in page
    assert f"(a cut, a repair), 36 full cylinders last {unaided:g} days" in page
    assert unaided < usual / 3
    assert f"36 full ones last {unaided:g} days and 30 full ones last" in said(pages[COUNT_SHEET])


def test_beside_concentrators_nobody_phones_at_the_last_two(done):
    """At the usual use two cylinders would last a mean delivery; the telephone goes by the need without units."""
    found = done.record.measured.card
    assert found.usual * 3 < 2  # the lead time is 3 days on average
    assert found.phone_at >= found.unaided * found.delivery.days > 5
    assert found.phone_at >= found.most_used


@pytest.mark.parametrize("name", ["cylinders only", "mixed"])
def test_the_sheets_and_check_say_the_same_days_of_cover(name):
    """All of the district hospital's cylinders, full, at the season's peak: check's cell, to the letter."""
    rules = load(Path(__file__).parents[3] / "scenarios" / "district_hospital.yaml").hospitals[name]
    found = card(rules, ())
    (checked,) = supply_tables({name: planning_figures(rules)})
    (cell,) = (row[1] for row in checked.rows if row[0] == "days of cover, all full, peak need")
    fleet = rules.cylinders.fleet
    assert cover_rows(replace(rules.resupply, order_up_to=fleet), rates(found))[0] == (str(fleet), cell)
    assert found.unaided == planning_figures(rules).peak.cylinders_per_day


def test_without_concentrators_the_card_says_so(done):
    """No season and no units: one use, under its own name, and no word of help."""
    hospital = loads(WARD).hospitals["cylinders only"]
    page = said(sheets(hospital, replace(done.record, measured=None))[REORDER_CARD])
    assert "There are no concentrators here: all oxygen comes from cylinders." in page
    assert "full cylinders days at the mean need 20" in page
    assert "concentrators helping" not in page
    assert "do not help" not in page


def test_a_number_the_store_never_holds_is_no_number_to_phone_at(done):
    """With at most 4 full ones, fewer than a delivery's time takes, the card says what to do instead."""
    hospital = loads(WARD.replace("point: 14", "point: 3").replace("up_to: 20", "up_to: 4")).hospitals["mixed"]
    assert card(hospital, ()).phone_at > 4
    page = said(sheets(hospital, replace(done.record, measured=None))[REORDER_CARD])
    lasts = math.floor(40 / card(hospital, ()).cautious) / 10
    assert "PHONE the supplier as soon as an order is late or the road closes; do not wait for a count." in page
    assert f"even a full store of 4 lasts only {lasts:g} days" in page
    assert "or fewer full ones are left" not in page


def with_card(done, **change):
    """Return the sizing with a card of which some figures are others."""
    measured = done.record.measured
    return replace(done.record, measured=replace(measured, card=replace(measured.card, **change)))


def in_two_seasons(done, dry, figures="ours", **levels):
    """Return the words of a card on which one phones at 30 from November to March and at some count else."""
    return said(page_of_two_seasons(done, dry, figures, **levels))


def page_of_two_seasons(done, dry, figures="ours", **levels):
    """Return the page of that card."""
    seasons = (PhoneSeason((1, 2, 3, 11, 12), 12, None, 30), PhoneSeason((4, 5, 6, 7, 8, 9, 10), 4, 9.5, dry))
    result = with_card(done, phone_by_season=seasons, cautious=2.5, unaided=2.5, phone_at=30)
    hospital = replace(done.hospital, resupply=replace(done.hospital.resupply, **levels))
    return sheets(hospital, replace(result, figures=figures))[REORDER_CARD]


def test_the_seasons_stand_in_the_box_of_the_call(done):
    """The page's policy allows no style of an element's own: the box is a class that the style knows."""
    page = page_of_two_seasons(done, 10)
    assert re.findall(r'<div class="call two"><p>(\w+)', page) == ["November"]
    assert (" style=" in page, ".sheet .call {" in page) == (False, True)


def test_each_season_stands_on_its_own_line(done):
    """The months in words, over the turn of the year too; what each number comes from stands below."""
    page = in_two_seasons(done, 10, reorder_point=31)
    assert (
        "November to March, when the road may close: PHONE the supplier when 30 or fewer full ones are left, "
        "whatever is on order. April to October: PHONE the supplier when 10 or fewer full ones are left, "
        "whatever is on order. November to March: 19 in 20 deliveries come within 12 days; when the concentrators "
        "do not help, 12 days take 30. April to October: 19 in 20 deliveries come within 4 days; when the "
        "concentrators do not help, 4 days take 10."
    ) in page
    assert "ORDER number" not in page


@pytest.mark.parametrize(
    ("point", "words"),
    [
        (30, "That is the ORDER number: each time you order, phone too."),
        (29, "That is above the ORDER number: each time you order, phone too, and even where no order is due."),
    ],
)
def test_a_number_at_or_above_the_order_number_says_so_in_its_season(done, point, words):
    """Whoever orders at 30 full and on order has no more than 30 full ones: the telephone is due as well."""
    page = in_two_seasons(done, 10, reorder_point=point)
    assert f"when 30 or fewer full ones are left, whatever is on order. {words} April to October: PHONE" in page
    assert page.count("ORDER number") == 1


def test_the_seasons_of_an_example_have_no_number(done):
    """Months are words and stay; counts and days are taken out of both lines and of the reasons."""
    page = in_two_seasons(done, 10, figures="example")
    lines = page[page.index("November to March") : page.index("Days of cover")]
    assert re.findall(r"\d", lines) == []
    assert "April to October: PHONE the supplier when - or fewer full ones are left" in lines


def test_one_season_may_be_beyond_a_full_store(done):
    """25 full ones last 10 days at 2.5 a day, a delivery takes 12: no number from November to March, one else."""
    page = in_two_seasons(done, 10, reorder_point=20, order_up_to=25)
    assert (
        "November to March, when the road may close: PHONE the supplier as soon as an order is late or the road "
        "closes; do not wait for a count. A delivery can take 12 days, but even a full store of 25 lasts only 10 "
        "days. April to October: PHONE the supplier when 10 or fewer full ones are left"
    ) in page


@pytest.mark.parametrize(
    ("months", "words"),
    [
        ((7,), "July"),
        ((4, 5, 6), "April to June"),
        ((1, 2, 3, 7, 8, 9, 10, 11, 12), "July to March"),
        ((1, 4, 5, 10, 12), "April to May, October and December to January"),
        (tuple(range(1, 13)), "January to December"),
    ],
)
def test_months_in_words(months, words):
    """Runs of months, those over the turn of the year together."""
    assert months_words(months) == words


def test_what_the_years_used_outruns_the_need(done):
    """Where the simulated runs used more than the need, the telephone and the headline go by that."""
    days = done.record.measured.card.phone_days
    (season,) = done.record.measured.card.phone_by_season  # the ward's road may close in all months
    hard = (replace(season, most_used=3.0 * days, phone_at=3 * days),)
    result = with_card(done, phone_by_season=hard, cautious=1.0, unaided=1.0)
    page = said(sheets(done.hospital, result)[REORDER_CARD])
    hardest = f"in 19 of 20 simulated runs of 30 days the hardest {days} days took {3 * days} at most"
    assert f"19 in 20 deliveries come within {days} days; {hardest}." in page
    assert f"last 36 days; used as fast as in the hardest {days} days of 19 of 20 simulated runs" in page
    assert "of 30 days, only 12." in page


@pytest.mark.parametrize(
    ("time", "words"),
    [
        (DeliveryTime(12, 3, 12.0 * DAY_S, 2),
         "12 days, closed roads included (of orders placed in February, the worst month); on open roads 3 days."),
        (DeliveryTime(5, 5, 5.0 * DAY_S, 1),
         "5 days, with closed roads and without (of orders placed in January, the worst month)."),
        (DeliveryTime(1, 1, 0.5 * DAY_S, None), "1 day (no closed roads are in the scenario)."),
    ],
)  # fmt: skip
def test_the_delivery_time_names_the_road(time, words):
    """With closed roads and on open ones; the same figure once, and no closed road where there is none."""
    found = Card(True, False, 1.0, 2.0, 2.0, time, None, time.days, None, 6, ())
    assert delivery_words(found) == f"19 in 20 deliveries come within {words}"


@pytest.mark.parametrize(
    ("change", "heads"),
    [
        ({"usual": 4.0, "cautious": 4.0}, ["at usual use, concentrators helping"]),
        ({"concentrators_help": False, "seasonal": True},
         ["at usual use", "at the mean need of the season's peak"]),
        ({"concentrators_help": False}, ["at the mean need"]),
        ({"usual": None}, ["when the concentrators do not help (a cut, a repair)"]),
        ({"usual": None, "unaided": None, "cautious": 0.0}, []),
    ],
)  # fmt: skip
def test_each_use_has_its_own_name(change, heads):
    """Two uses where they differ, the cautious one last; one where there is but one, or none."""
    time = DeliveryTime(3, 3, 3.0 * DAY_S, None)
    plain = Card(True, False, 1.0, 2.0, 2.0, time, None, 3, None, 6, ())
    assert [words for words, _ in rates(replace(plain, **change))] == heads


def test_a_use_that_hardly_is_one_promises_no_number_of_years(done):
    """36 full ones at one in a thousand days are not said to last 36,000 days; the cautious figure stays."""
    found = sheets(done.hospital, with_card(done, usual=0.001, unaided=2.0, cautious=2.0, most_used=None))
    assert "36 over a year 18 " in said(found[REORDER_CARD])
    assert "36 full ones last over a year and 30 full ones last over a year." in said(found[COUNT_SHEET])


def test_the_dusk_page_says_what_leaks(done):
    """The figure of the scenario; without a leak that none is counted, in place of a leak of 0 L/min."""
    told = [
        said(
            sheets(
                replace(done.hospital, cylinders=replace(done.hospital.cylinders, leak_ml_min=leak)), done.record
            )[DUSK_PAGE]
        )
        for leak in (0, 50)
    ]
    assert ["No leak is in the times;" in told[0], "A leak of 0.05 L/min is in the times;" in told[1]] == [
        True
    ] * 2


def test_a_use_above_the_need_is_named_as_such(done):
    """Where the simulated runs used more than the need of all patients, the telephone goes by the usual use."""
    found = done.record.measured.card
    result = with_card(done, usual=9.0, cautious=9.0, unaided=1.0, most_used=None)
    page = said(sheets(done.hospital, result)[REORDER_CARD])
    assert f"; at usual use, {found.phone_days} days take {found.phone_at}." in page
    assert "Plan by this: at usual use, concentrators helping, 36 full cylinders last 4 days" in page


@pytest.mark.parametrize(
    ("rule", "late"),
    [("below: 2, lead_time: 2 days", True), ("below: 60, lead_time: 2 days", False),
     ("days_of_cover: 1 day, lead_time: 2 days", True), ("cover: 30 days, lead_time: 2 days", False)],
)  # fmt: skip
def test_an_emergency_rule_that_calls_too_late_is_said_to(done, rule, late):
    """The rule of the scenario stands; one sentence says where its own delivery may come too late."""
    text = WARD.replace("  minimum_order: 3", f"  minimum_order: 3\n  emergency: {{{rule}}}")
    hospital = loads(text).hospitals["mixed"]
    page = said(sheets(hospital, replace(done.record, measured=None))[REORDER_CARD])
    assert "PHONE for an emergency delivery when" in page
    assert ("That is too late: it takes" in page) == late


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
    assert words in said(sheets(hospital, done.record)[name])


def test_without_use_there_is_no_cover(done):
    """Nothing needed and nothing measured is said instead of a division by zero."""
    text = WARD.replace("admissions: 1 / day", "admissions: 1 / day, hypoxaemic: 0 %")
    pages = sheets(loads(text).hospitals["mixed"], replace(done.record, measured=None, causes=("no power",)))
    page = said(pages[REORDER_CARD])
    assert "Use was too small to work out days of cover" in page
    assert "somebody goes without because of “no power” in at most" in page
    assert "full ones last" not in said(pages[COUNT_SHEET])


def test_a_strategy_without_units_has_no_power_cut(done):
    """The dusk page of cylinders only tells nothing of concentrators."""
    page = said(sheets(loads(WARD).hospitals["cylinders only"], done.record)[DUSK_PAGE])
    assert "In a power cut" not in page


@pytest.mark.parametrize(
    ("answer", "strategy", "message"),
    [(False, "mixed", "no value meets the target"), (True, "concentrators only", "this strategy has none")],
)
def test_without_a_stock_there_are_no_sheets(done, answer, strategy, message):
    """No answer, or nothing to order, is refused."""
    with pytest.raises(O2simError, match=message):
        sheets(loads(WARD).hospitals[strategy], done.record if answer else replace(done.record, answer=None))


def test_pages_are_written_into_a_folder(done, tmp_path):
    """The folder is made; the same sizing gives the same bytes."""
    paths = write_sheets(done, tmp_path / "wall")
    assert [path.name for path in paths] == list(SHEETS)
    assert paths[0].read_text(encoding="utf-8") == sheets(done.hospital, done.record)[COUNT_SHEET]


def dusk(done, **changes):
    """Return the words of the dusk page of the ward with some texts of it replaced."""
    text = WARD
    for before, after in changes.values():
        assert before in text
        text = text.replace(before, after)
    return said(sheets(loads(text).hospitals["mixed"], done.record)[DUSK_PAGE])


def test_in_a_power_cut_the_sickest_are_connected_before_anything_is_measured(done):
    """Connect, measure, note, call: in this order; who is the sickest the nurse in charge says."""
    page = dusk(done)
    parts = (
        "Connect the sickest first, as the nurse in charge says",
        "Then measure SpO2",
        "Note bed, flow",
        "Power back",
    )
    places = [page.index(part) for part in parts]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("units", "words"),
    [
        ("", "time of 5 min (longer if its manual says so) is over and the analyser shows at least 82 %"),
        ("start_up: 7 min, ", "time of 7 min (longer if its manual says so) is over and the analyser shows"),
        ("start_up: 0 min, ", "start-up time (see its manual) is over and the analyser shows at least 82 %"),
        ("oxygen_monitor: true, ", "is over and it shows at least 82 % oxygen. Only then close the cylinder."),
        ("oxygen_monitor: true, drift: 900 h, alarm_level: 86 %, ", "and it shows at least 86 % oxygen."),
        ("oxygen_monitor: true, drift: 900 h, alarm_level: 70 %, ", "and it shows at least 82 % oxygen."),
    ],
    ids=["nothing stated", "start-up", "no start-up", "monitor", "a stricter alarm", "a laxer alarm"],
)  # fmt: skip
def test_cylinders_stay_on_until_the_units_give_oxygen_again(done, units, words):
    """82 %: the alarm of ISO 80601-2-69 (from memory, not of 2026); not less, and more where it is set to more."""
    assert words in dusk(done, units=("outlets: 2, power", f"outlets: 2, {units}power"))


BATTERY = "power: {battery: {usable: 2 kWh, charge: 500 W}, generator: "


@pytest.mark.parametrize(
    ("generator", "words"),
    [
        ("{}", "The generator may run at any hour. From the cut it takes about 5 min to give power, by day and by "
         "night. It starts in 100 % of the cuts, the scenario says: no generator is so sure. Do not wait for it"),
        ("{start_delay: 10 min, start_chance: 85 %}", "about 10 min to give power, by day and by night. It starts "
         "in 85 % of the cuts. Do not wait for it with a patient."),
        ("{start_delay: 10 min, night_delay: 45 min, night: {from: 21:00, to: 05:30}}",
         "it takes about 10 min to give power, about 45 min from 21:00 to 05:30."),
        ("{hours: [{from: 08:00, to: 12:00}, {from: 14:00, to: 17:00}]}", "The generator may run only from 08:00 "
         "to 12:00 and from 14:00 to 17:00. It may not run at night (19:00 to 07:00)."),
        ("{hours: [{from: 06:00, to: 09:00}]}", "only from 06:00 to 09:00. From the cut"),
        ("{hours: [{from: 17:00, to: 19:30}]}", "only from 17:00 to 19:30. From the cut"),
        ("{hours: [{from: 22:00, to: 02:00}]}", "only from 22:00 to 02:00. From the cut"),
        ("{start_when: battery low, start_below: 40 %}",
         "It is started when the battery is down to 40 %: then it takes about 5 min"),
        ("{power: 1 kW, base_load: 600 W}", "It carries 1 of the 2 units."),
        ("{started_by: staff, start_delay: 15 min}", "somebody of the staff starts it, before all else at the "
         "bedside: about 15 min of work. Staff there: 4 from 07:00 to 19:00, 1 from 19:00 to 07:00."),
    ],
)  # fmt: skip
def test_the_generator_is_told_as_the_scenario_has_it(done, generator, words):
    """Hours, delays, hands, chance and what it carries, each from its key."""
    with_staff = ("costs:", "staff: {day: 4, night: 1}\ncosts:")
    assert words in dusk(done, power=("power: {grid:", f"{BATTERY}{generator}, grid:"), staff=with_staff)


def test_no_cell_of_a_table_is_empty(done):
    """Of a cylinder that is as good as empty too; only ruled lines, filled in by hand, are blank."""
    small = WARD.replace("content: 6800 L", "content: 5 L").replace("point: 14", "point: 16")
    found = sheets(loads(small).hospitals["mixed"], done.record)
    for page in found.values():
        printed = re.sub(r'(?s)<table class="fill">.*?</table>', "", page)
        assert re.findall(r"<t[dh][^>]*>\s*</t[dh]>", printed) == []
    assert "0 to 11 9 13 7 15 5 17 or more 0 12 8 14 6 16 4 - -" in said(found[COUNT_SHEET])
    assert "15 L/min change now change now change now change now this size cannot serve" in said(found[DUSK_PAGE])


# --- whose figures ---

EXAMPLE = "EXAMPLE - DO NOT HANG UP"


def as_example(done):
    """Return the sheets of the sizing as they are when its scenario does not say whose its figures are."""
    return sheets(done.hospital, replace(done.record, figures="example"))


def test_sheets_of_an_example_say_so_all_across(done, pages):
    """A banner, and bands of words so many that cutting an edge off leaves some; none on own sheets."""
    for page in as_example(done).values():
        assert said(page).count(EXAMPLE) == 7
        assert "Set figures: ours in the scenario once every figure is your hospital's own." in said(page)
        assert "position: fixed" in page
        assert "print-color-adjust: exact" in page
    assert EXAMPLE not in "".join(pages.values())


def test_sheets_of_an_example_have_no_number_to_order_or_phone_by(done):
    """Up to the promise of the card no figure is left but in the name; a name with an apostrophe is not harmed."""
    of = replace(done.record.of, scenario="St Ann's ward 7")
    result = replace(done.record, figures="example", of=of)
    found = sheets(done.hospital, result)
    count, card = (said(found[name].split("</style>")[1]) for name in (COUNT_SHEET, REORDER_CARD))
    for text in (count.split("“mixed”. o2sim")[0], card.split("What the simulation shows")[0]):
        assert re.findall(r"\d+", text.replace("St Ann's ward 7", "").replace("o2sim", "")) == []
    assert "- full and on order, or fewer: ORDER" in card
    assert "PHONE the supplier when - or fewer full ones are left" in card
    assert "- to - -" in count
    assert "cylinders.fleet" not in card


def test_numbers_are_taken_out_of_texts_alone():
    """Not out of tags, escaped letters or CO2."""
    block = '<p class="h2">St Ann&#x27;s: 1,250 L of CO2 at 12.5 bar, 19:00</p>'
    assert without_numbers(block) == '<p class="h2">St Ann&#x27;s: - L of CO2 at - bar, -</p>'


def test_whose_figures_changes_no_result():
    """The hash and the hospitals are the same; the scenario and the sizing say which it is."""
    plain, ours = loads(WARD), loads(f"figures: ours\n{WARD}")
    assert (plain.figures, ours.figures) == ("example", "ours")
    assert (plain.hash, plain.hospitals) == (ours.hash, ours.hospitals)
    results = [
        size(original_of(text), "mixed", vary="cylinders.fleet = 40, 42", replications=59).result
        for text in (WARD, f"figures: ours\n{WARD}")
    ]
    assert [result.pop("figures") for result in results] == ["example", "ours"]
    assert results[0] == results[1]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (
            "",
            "Figures: marked as an example (figures: example, the default), so each sheet to print says EX",
        ),
        ("figures: ours\n", "Figures: marked as your hospital's own (figures: ours), so sheets can be hung up."),
    ],
)
def test_check_says_whose_the_figures_are(tmp_path, line, words):
    """In words, and with --json under `figures`."""
    file = tmp_path / "ward.yaml"
    file.write_text(line + WARD, encoding="utf-8")
    assert words in " ".join(CliRunner().invoke(cli.main, ["check", str(file)]).stdout.split())
    told = json.loads(CliRunner().invoke(cli.main, ["check", str(file), "--json"]).stdout)
    assert told["figures"] == ("ours" if line else "example")


def test_a_wrong_word_for_whose_figures_is_refused():
    """What was found and what is allowed."""
    with pytest.raises(ScenarioError, match=r"figures: found 'own'; allowed: example or ours"):
        loads(f"figures: own\n{WARD}")
