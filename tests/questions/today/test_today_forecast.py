"""What replications show, by day: on outcomes written down."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from today_ward import HOUR, MONDAY, count, hospital

from o2sim.outcome import DAILY_COLUMNS
from o2sim.questions.today import forecast, runs, tonight
from o2sim.questions.today.result import Fan
from o2sim.questions.today.runs import NEVER, Seen
from o2sim.questions.today.text import night_words
from o2sim.scenario.types.now import CountedCylinders, GridNow

FULL = DAILY_COLUMNS.index("full")


def seen(**changes) -> Seen:
    """Return four replications of three midnights."""
    daily = np.zeros((4, 3, len(DAILY_COLUMNS)), np.int32)
    daily[:, :, FULL] = [[5, 3, 9], [4, 2, 9], [3, 1, 8], [2, 0, 0]]
    standard = {
        "bare_s": [NEVER, NEVER, 60_000, 50_000],
        "interruption_s": [NEVER, 100_000, 59_400, NEVER],
        "stock_out_s": [NEVER, 100_000, NEVER, NEVER],
        "delivery_s": [90_000, 90_000, 110_000, NEVER],
        "opened": [1, 2, 3, 9],
    }
    return Seen(**{name: np.array(each) for name, each in {**standard, **changes}.items()}, daily=daily)


def test_rows_by_hand():
    """By the midnights at 16.5 h and 40.5 h: what had happened in how many of four; whole cylinders."""
    first, second, third = forecast.by_day(hospital(), seen(), dt.date(2027, 5, 3))
    assert [each.day for each in (first, second, third)] == ["2027-05-03", "2027-05-04", "2027-05-05"]
    assert [each.bare.estimate for each in (first, second)] == [0.25, 0.5]
    assert [each.without.estimate for each in (first, second)] == [0.25, 0.5]
    assert [each.without_supply.estimate for each in (first, second)] == [0, 0.25]
    assert [each.delivered for each in (first, second)] == [0, 0.75]
    assert (second.full, third.full) == (Fan(0, 0, 1, 2, 3), Fan(0, 0, 8, 9, 9))
    assert first.bare.low < 0.25 < first.bare.high


def test_from_a_later_day_on():
    """Where today is a day after the count the first row is left out."""
    rows = forecast.by_day(hospital(), seen(), dt.date(2027, 5, 4))
    assert [each.day for each in rows] == ["2027-05-04", "2027-05-05"]


def test_a_count_at_midnight_is_no_midnight_after_it():
    """The first of the daily counts is then that of the count itself."""
    one = hospital(count(counted=MONDAY.replace(hour=0, minute=0)))
    first, last = forecast.by_day(one, seen(), dt.date(2027, 5, 3))
    assert (first.day, first.full.p50, last.full.p50) == ("2027-05-03", 1, 8)


def test_when_the_next_delivery_comes():
    """Half have it by the end of Tuesday; one in four within no day looked at."""
    found = forecast.next_delivery(hospital(), seen(), 3)
    assert (found.likely, found.late, found.within) == ("2027-05-04", None, 0.75)
    never = forecast.next_delivery(hospital(), seen(delivery_s=[NEVER] * 4), 3)
    assert (never.likely, never.within) == (None, 0)


def test_short_before_the_delivery():
    """Only who goes without before it comes counts, and who waits for one that never comes."""
    found = seen(stock_out_s=[80_000, 100_000, NEVER, 5]).short_before_delivery()
    assert found.tolist() == [True, False, False, True]


def test_enough_for_19_in_20():
    """Of 100 numbers from 1 to 100 the 95th; of one number itself."""
    assert tonight.enough(np.arange(1, 101)) == 95
    assert tonight.enough(np.array([3])) == 3


def test_a_share_has_its_exact_interval_against_clopper_and_pearson():
    """None of 20: up to 16.84 % (1 - 0.025^(1/20))."""
    found = runs.chance(np.zeros(20, bool))
    assert (found.estimate, found.low, found.high) == (0, 0, pytest.approx(1 - 0.025**0.05))


GRID = """power: {grid: {up: {exponential: {mean: 5 days}}, down: {constant: 3 h}}}
concentrators: {count: 2, rated_flow: 5 L/min, outlets: 2}
strategies: {mixed: {sources: [concentrator, cylinder]}}"""


def test_the_class_of_children_with_most_who_come():
    """By the size of the class, else by its name; the first class where there are no children."""
    one = hospital()
    assert tonight.child_class(one.patients) == 1
    assert tonight.child_class(one.patients[2:]) == 0
    more, kind = tonight.with_more(one)
    added = more.now.on_oxygen[len(one.now.on_oxygen) :]
    assert (kind, len(added), {(each.class_index, each.age_s) for each in added}) == ("children", 3, {(1, 0)})
    assert tonight.with_more(hospital(count(on_oxygen=None))) is None


def test_a_cut_begins_as_the_night_does():
    """Counted at 07:30 it is up for 11.5 h more, without another cut; at 20:00 it goes at once."""
    from today_ward import TEXT

    text = TEXT.replace("strategies: {cylinders: {sources: [cylinder]}}", GRID.replace("{constant: 3 h}", "3 h"))
    day = tonight.with_cut(hospital(text=text))
    (length,) = day.grid.up_s.parameters
    assert (day.now.grid.up, length - day.now.grid.age_s) == (True, 11.5 * HOUR)
    night = tonight.with_cut(hospital(count(counted=MONDAY.replace(hour=20)), text))
    assert night.grid.up_s.parameters[0] - night.now.grid.age_s == tonight.AT_ONCE_S
    assert tonight.why_no_cut(hospital(text=text)) == ""
    assert tonight.why_no_cut(hospital(count(grid=GridNow(False)), text)) == tonight.NO_CUT["off"]
    assert tonight.why_no_cut(hospital()) == tonight.NO_CUT["units"]


def test_a_cut_is_run_from_the_evening_on():
    """By the engine: without power for three hours from 19:00, and never before it."""
    from dataclasses import replace

    from today_ward import TEXT, quiet, ward

    from o2sim.draws import Draws
    from o2sim.model.run import simulate

    text = TEXT.replace("strategies: {cylinders: {sources: [cylinder]}}", GRID.replace("{constant: 3 h}", "3 h"))
    one = quiet(tonight.with_cut(hospital(text=text)))
    alone = replace(ward(text=text), hospitals={"mixed": replace(one, horizon_s=24 * HOUR)})
    found = simulate(alone, "mixed", Draws(1, 0), "reference", log=True)
    cuts = [each.time_s for each in found.log if "power" in each.step or "grid" in each.step]
    assert (found.power_out_s, cuts[0] - 11.5 * HOUR) == (3 * HOUR, 0)


def test_no_more_is_brought_than_is_there():
    """Three full and one part-used; what may come, or is opened twice, is nothing that can be brought."""
    one = hospital(count(cylinders=CountedCylinders(3, 12, (10**7,))))
    assert tonight.to_bring(one) == 4
    said = [night_words(tonight.Night("2027-05-04T07:00", 4, bring, if_cut)) for bring, if_cut in ((3, 5), (6, 9))]
    assert said == [
        "Until Tue 4 May 07:00 bring 3 full or part-used cylinders to the wards: enough in 19 of 20. In case the "
        "power fails this evening bring all 4: 5 may be opened.",
        "Until Tue 4 May 07:00 the wards may open 6 full or part-used cylinders (enough in 19 of 20), but 4 are "
        "there.",
    ]
