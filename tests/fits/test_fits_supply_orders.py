"""Lead times, deliveries in part and shut roads, as far as the books of a hospital say."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from supply_books import D, books, day, loads, orders, the_part, written

from o2sim.fits.covered import covered
from o2sim.fits.supply.orders import CHANCE, LEAD, SHARE, kept, lead_spells, order_parts
from o2sim.fits.supply.roads import KEY, closures, in_run, road_parts, season, shut_days
from o2sim.fits.thoughts import law_values
from o2sim.records.rows import Place
from o2sim.records.supply_rows import Order, RoadShut
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import moment
from o2sim.statistics.fitting.maximum import fit_law
from o2sim.statistics.fitting.waiting import mean_of_those_over


def spells_of(records):
    """Return the orders that count and their lead times."""
    book = covered(records, "Orders", [])
    found = kept(records.orders, book)
    return found, lead_spells(records, found, book)


def drawn_orders(seed, every=2, days=365):
    """Return (ordered, came) in days of orders placed one at a time, lead times lognormal, median 6 days, 1.8."""
    rng, found = np.random.default_rng(seed), []
    for begun in np.arange(0, days, every) + rng.random(-(-days // every)):
        came = begun + 6 * 1.8 ** rng.standard_normal()
        found.append((int(begun), int(came) if came < days else None))
    return found


def test_lead_times_of_a_drawn_year():
    """183 orders by dates, lognormal lead times of median 6 days: the truth is within the 90 % range, which is
    narrow."""
    rows = [(begun, came) for begun, came in drawn_orders(2) if came is not None]
    part = the_part(order_parts(books(orders=orders(rows)), 1), LEAD)
    low, high = np.quantile(law_values(part.wholes[0].draws, "median"), [0.05, 0.95])
    assert low < 6 < high
    assert high / low < 1.35
    assert "lognormal" in part.said
    assert loads(part).resupply.lead_time_s.kind == "lognormal"
    assert part.test_p > 0.05


def test_open_orders_left_out_make_lead_times_too_short():
    """28 days of orders of which only those that came are looked at: the mean is 6.17 days in closed form, not
    7.13."""
    law = Law("lognormal", (np.log(6), np.log(1.8)))
    assert mean_of_those_over(law, 28) == pytest.approx(6.1719, abs=1e-3)
    rng = np.random.default_rng(3)
    begun = np.sort(rng.random(4_000) * 28)
    came = begun + 6 * 1.8 ** rng.standard_normal(4_000)
    pairs = [(int(a), int(b)) for a, b in zip(begun, came, strict=True) if b < 28]
    records = books(orders=orders(pairs), last=day(27))
    _, rows = spells_of(records)
    assert rows.low.mean() == pytest.approx(6.1719, abs=0.25)  # what came, by dates
    assert rows.limit.max() == 28  # so that drawn books leave out as many


def test_only_the_oldest_open_order_counts():
    """Of three open orders the oldest has waited; one of which a later one came was not written: left out."""
    found, rows = spells_of(books(orders=orders([(300, 304), (310, None), (320, 326), (330, None), (340, None)])))
    assert (len(found.came), found.younger, found.unwritten) == (2, 1, 1)
    assert rows.low.tolist() == [4, 6, 365 - 330]
    assert rows.is_over.tolist() == [True, True, False]
    cautions = " ".join(
        order_parts(books(orders=orders([(300, 304), (310, None), (320, 326), (330, None)])), 1)[0].cautions
    )
    assert "1 of 4 orders have no day of coming though later ones came" in cautions
    assert "the order of 27 Nov 2026 had not come" in cautions


def test_orders_from_before_the_book_are_left_out():
    """An order placed before the book began is in it only because it was slow."""
    found, rows = spells_of(books(orders=orders([(-20, 5), (3, 9)])))
    assert (found.before, rows.low.tolist()) == (1, [6])


def test_deliveries_that_a_shut_road_held_up():
    """Three after 4, 6 and 3 days, two as the road opened, within (5, 12] and (2, 9]: mean 5.089 days, not 6.8.

    By the clock as in the closed form; by dates a little less than half a day is added to neither.
    """
    road = (RoadShut(2, day(115), day(121)),)
    _, rows = spells_of(
        books(orders=orders([(0, 4), (10, 16), (20, 23), (110, 122), (113, 122)]), roads_shut=road)
    )
    assert rows.low.tolist() == [4, 6, 3, 5, 2]
    assert rows.high.tolist() == [4, 6, 3, 12, 9]
    assert fit_law(rows, "exponential").law.parameters[0] == pytest.approx(5.08872, rel=0.04)


def test_an_order_marked_as_held_up():
    """Marked, it counts as ready since the road was shut, even if it came later; without a day since ordered."""
    held = (Order(2, day(110), came=day(125), shut=True), Order(3, day(200), came=day(215), shut=True))
    _, rows = spells_of(books(orders=(*orders([(0, 4)]), *held), roads_shut=(RoadShut(2, day(115), day(121)),)))
    assert rows.low.tolist() == [4, 5, 0]
    assert rows.high.tolist() == [4, 15, 15]


def test_deliveries_in_part():
    """3 of 11 orders came short: Jeffreys' 5, 50 and 95 % are 0.106, 0.280 and 0.518, in closed form (Beta)."""
    rows = tuple(
        Order(row, day(20 * row), 20, day(20 * row + 5), 10 + row if row < 3 else 20, 20) for row in range(11)
    )
    part = the_part(order_parts(books(orders=rows), 1), CHANCE)
    (number,) = part.numbers
    assert number.likely == pytest.approx(27.978, abs=1e-3)
    assert np.quantile(number.draws, [0.05, 0.95]) == pytest.approx([10.581, 51.841], rel=0.2)
    assert written(part, SHARE) == "{uniform: {low: 47.9 %, high: 62.1 %}}"  # 50, 55, 60 %: mean and sd of it
    found = loads(part).resupply.part_delivery
    assert (found.chance, found.share.kind) == (pytest.approx(0.27978, abs=1e-5), "uniform")


def test_no_delivery_in_part():
    """None of 11 writes no key, and says that up to 15.7 % may (Jeffreys); 2 orders say nothing at all."""
    rows = tuple(Order(row, day(row), 20, day(row + 5), 20, 20) for row in range(11))
    parts = order_parts(books(orders=rows), 1)
    assert parts[1].keys == ()
    assert "up to 15.7 % of them" in parts[1].cautions[0]
    assert "too few for a share" in order_parts(books(orders=rows[:2]), 1)[1].cautions[0]


def test_how_orders_are_placed_is_said_and_not_written():
    """Fridays every week, 18 at a time: a caution, no key of the reorder rule."""
    rows = tuple(Order(row, day(1 + 7 * row), 18, day(5 + 7 * row), 18, 17) for row in range(10))
    parts = order_parts(books(orders=rows), 1)
    said = next(caution for caution in parts[0].cautions if "reorder_point" in caution)
    assert "10 orders, half of them 7 to 7 days after the one before (median 7), 10 of them on a Friday" in said
    assert "usually of 18 cylinders; 170 empties went away for 180 full ones" in said
    assert not any("review" in key for part in parts for key in part.keys)


def wet_season_closures(seed):
    """Return closures of three years that begin on 4 % of the open days of June to August, gamma, mean 8 days."""
    rng, rows, today = np.random.default_rng(seed), [], D(2024, 1, 1)
    while today <= D(2026, 12, 31):
        if today.month in (6, 7, 8) and rng.random() < 0.04:
            last = today + dt.timedelta(days=max(round(rng.gamma(4, 2)), 1) - 1)
            rows.append(RoadShut(len(rows), today, last))
            today = last
        today += dt.timedelta(days=1)
    return tuple(rows)


def test_shut_roads_of_three_years():
    """Closures in June to August come back: length in its range, season, and the chance by Beta(s + 1/2, n - s +
    1/2)."""
    rows = wet_season_closures(23)
    part = the_part(road_parts(books(first=D(2024, 1, 1), roads_shut=rows), 1), KEY)
    text = written(part, KEY)
    first, last = (D.fromisoformat(day) for day in re.findall(r"\d{4}-\d\d-\d\d", text))
    assert D(2026, 5, 15) < first < D(2026, 7, 1)
    assert D(2026, 8, 15) < last < D(2026, 9, 16)
    lengths = law_values([draw[draw.index("length: ") + 8 : -2] for draw in part.wholes[0].draws], "mean")
    low, high = np.quantile(lengths, [0.05, 0.95])
    assert low < 8 < high
    risk = int(part.said.split(" days at risk")[0].split()[-1])
    chances = [float(draw.split("chance_per_day: ")[1].split(" %")[0]) for draw in part.wholes[0].draws]
    assert np.median(chances) == pytest.approx(
        100 * stats.beta(len(rows) + 0.5, risk - len(rows) + 0.5).median(), rel=0.1
    )


def test_a_season_is_moved_into_the_run():
    """A run of two years meets the season of each of them, with ranges and law as they were."""
    law = "chance_per_day: {low: 1 %, likely: 2 %, high: 3 %}, length: {gamma: {mean: 8 days, sd: 4 days}}"
    moved = in_run(f"[{{from: 2026-05-26, to: 2026-09-13, {law}}}]", D(2027, 1, 1), D(2028, 12, 31))
    assert moved == f"[{{from: 2027-05-26, to: 2027-09-13, {law}}}, {{from: 2028-05-26, to: 2028-09-13, {law}}}]"


def test_a_season_over_the_turn_of_the_year_is_moved_whole():
    """December to February meets a year at both its ends; a text without dates stays; a 29th becomes a 28th."""
    text = "[{from: 2026-12-01, to: 2027-02-10, chance_per_day: 2 %, length: 5 days}]"
    assert in_run(text, D(2028, 1, 1), D(2028, 12, 31)) == (
        "[{from: 2027-12-01, to: 2028-02-10, chance_per_day: 2 %, length: 5 days},"
        " {from: 2028-12-01, to: 2029-02-10, chance_per_day: 2 %, length: 5 days}]"
    )
    plain = "[{chance_per_day: 2 %, length: {gamma: {mean: 5 days, sd: 2 days}}}]"
    assert in_run(plain, D(2028, 1, 1), D(2028, 12, 31)) == plain
    leap = "[{from: 2028-02-29, to: 2028-03-10, chance_per_day: 2 %, length: 5 days}]"
    assert in_run(leap, D(2027, 1, 1), D(2027, 12, 31)).startswith("[{from: 2027-02-28, to: 2027-03-")


def test_closures_all_through_the_year_have_no_season():
    """Four closures three months apart get a chance of every day, by Jeffreys over the open days."""
    rows = tuple(RoadShut(k, day(91 * k), day(91 * k + 6 + k)) for k in range(4))
    part = the_part(road_parts(books(roads_shut=rows), 1), KEY)
    assert "from:" not in written(part, KEY)
    assert "4 closures, Jan to Dec 2026, 335 days at risk" in part.said
    assert loads(part).resupply.road_closures[0].chance_per_day == pytest.approx(4 / 335, rel=0.1)


def test_a_road_that_is_still_shut():
    """It has been shut to the end of the book; rows that meet are one; to the nearest day they are known."""
    rows = (RoadShut(2, day(10), day(12)), RoadShut(3, day(13), day(14)), RoadShut(4, day(360), None))
    records = books(roads_shut=rows)
    book = covered(records, "Road shut", [])
    assert shut_days(records, book.first, book.last) == ([10, 360], [15, 366])
    spells = closures(records, book)
    assert spells.low.tolist() == [4.5, 5]
    assert spells.is_over.tolist() == [True, False]
    assert season([10.0, 360.0], book) is None


def test_no_shut_road_says_something_only_where_the_book_was_kept():
    """An empty sheet says that no road was shut only where Place names it; without Place rows give no chance."""
    assert road_parts(books(), 1) == ()
    named = books().places[0].__class__(1, sheet="Road shut", kept_from=day(0), kept_to=day(364))
    records = books(first=None, last=None).__class__(books().file, books().hash, places=(named,))
    assert "no shut road in 365 days" in road_parts(records, 1)[0].cautions[0]
    (part,) = road_parts(books(first=None, last=None, roads_shut=(RoadShut(2, day(10), day(12)),)), 1)
    assert part.keys == ()


def test_one_closure_writes_no_law():
    """One closure says how rare they are, and no more."""
    (part,) = road_parts(books(roads_shut=(RoadShut(2, day(10), day(16)),)), 1)
    assert part.keys == ()
    assert part.cautions[0].startswith("1 closure in 365 days; closures: 1 of 1 over, 7 days in all: too few")


def test_what_is_doubtful_of_orders_is_said():
    """Younger open ones, those from before the book, held up ones, no Place: each in a sentence."""
    rows = (Order(1, day(-9), came=day(3)), *orders([(5, 9)]), Order(9, day(20), came=day(40), shut=True),
            *orders([(300, None), (310, None)]))  # fmt: skip
    text = " ".join(order_parts(books(orders=rows), 1)[0].cautions)
    assert "1 more open orders say nothing" in text
    assert "1 orders placed before the book began" in text
    assert "1 of 5 orders were held up" in text
    (bare,) = order_parts(books(first=None, last=None, orders=orders([(5, 9)])), 1)
    assert bare.keys == ()
    assert "lead times: 1 of 1 over, 4 days in all: too few" in bare.cautions[0]
    assert "Place does not say" in bare.cautions[1]


def clocked_orders(seed, count=1_000):
    """Return (ordered, came) in days of orders at 00:00, exponential lead times of mean 5 days."""
    rng = np.random.default_rng(seed)
    return [(begun, begun + 5 * rng.exponential()) for begun in range(count)]


def test_usual_clocks_of_orders_take_the_half_day_away_that_dates_leave_out():
    """Orders at 00:00 that come at any clock: with both clocks in Place the mean of 5 days is there within 4
    standard errors (0.63), without them half a day is missing, and a caution says so."""
    rows = [(begun, int(came)) for begun, came in clocked_orders(4)]
    clocks = Place(9, sheet="Orders", usual_start=dt.time(0), usual_end=dt.time(12))
    bare = books(orders=orders(rows), last=day(1_100))
    stated = replace(bare, places=(*bare.places, clocks))
    means = [moment(fit_law(spells_of(each)[1], "exponential").law) for each in (stated, bare)]
    assert means[0] == pytest.approx(5, abs=4 * 5 / 1_000**0.5)
    assert 0.4 < means[0] - means[1] < 0.5
    short = [replace(each, orders=each.orders[:20]) for each in (stated, bare)]
    said = [" ".join(order_parts(each, 1)[0].cautions) for each in short]
    assert ["half a day either way" in each for each in said] == [False, True]


def test_orders_with_clocks_of_their_own_are_known_to_the_minute():
    """An order of Monday 08:00 that comes on Friday 20:00 took 4.5 days."""
    monday = dt.datetime(2026, 6, 1, 8)
    records = books(orders=[Order(4, monday, 10, monday + dt.timedelta(days=4.5), 10)])
    _, rows = spells_of(records)
    assert (rows.low.tolist(), rows.high.tolist(), rows.step.tolist()) == ([4.5], [4.5], [0])
