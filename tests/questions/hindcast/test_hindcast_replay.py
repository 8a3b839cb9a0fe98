"""What is put in of the records: patients, power cuts, days; and what is drawn in place of blanks."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from small_books import CUT, FIRST, TEXT, books, clock, day, hospital, weekly

from o2sim.errors import O2simError
from o2sim.questions.hindcast.replay import (
    LEAD_IN_DAYS,
    RUN_IN_DAYS,
    ends_of,
    replay,
)
from o2sim.questions.hindcast.stays import LeadIn, UnfitRecordsError, drawn, lead_in, register
from o2sim.records.rows import Cut, Midnight, Place, Stay
from o2sim.runs.asked import chosen_strategy
from o2sim.scenario import loads

HOUR_S, DAY_S = 3_600, 86_400
NO_LEAD_IN = LeadIn(0, 0)


def _of(*stays: Stay, **more):
    """Return the recorded children of a book of these stays, without a lead-in."""
    records = books(stays=stays, **more)
    classes = hospital().patients
    found = drawn(register(records, classes, FIRST), classes, 28, NO_LEAD_IN, 1, 0)
    return found[0].recorded


def test_a_stay_with_clocks_is_as_it_was():
    """From 12:00 on the third day for 24 hours at 2 L/min."""
    found = _of(Stay(4, begun=clock(2, 12), ended=clock(3, 12), class_="children", flow_ml_min=2_000))
    assert (found.arrival_s, found.need_s, found.flow_ml_min) == ((2 * DAY_S + 12 * HOUR_S,), (DAY_S,), (2_000,))


def test_usual_clocks_are_the_middle_of_what_is_drawn():
    """Begun around 15:00, 9 hours to either side, ended around 10:00: over many stays 19 hours short of 2 days."""
    rows = [Stay(4 + n, begun=day(2), ended=day(4), class_="children", flow_ml_min=2_000) for n in range(2_000)]
    place = Place(4, kept_from=day(0), kept_to=day(27), usual_start=dt.time(15), usual_end=dt.time(10))
    found = _of(*rows, places=(place,))
    begun = np.array(found.arrival_s) / HOUR_S - 48
    assert (begun.min() >= 6, begun.max() <= 24, begun.mean()) == (True, True, pytest.approx(15, abs=0.3))
    assert np.mean(found.need_s) / HOUR_S == pytest.approx(48 - 5, abs=0.5)


def test_a_stay_within_a_day_lasts_from_the_earlier_clock_to_the_later():
    """Whichever of the two is drawn first, the stay is longer than no time."""
    found = _of(*[Stay(4, begun=day(2), ended=day(2), class_="children", flow_ml_min=1_000)] * 50)
    assert all(0 < each < DAY_S for each in found.need_s)


def test_blanks_are_drawn_from_the_scenario_and_said():
    """A flow of 2 L/min and 24 hours, which the scenario has for all children."""
    rows = (Stay(4, begun=clock(2, 12), class_="children"),)
    found = _of(*rows)
    assert (found.flow_ml_min, found.need_s) == ((2_000,), (DAY_S,))
    assert register(books(stays=rows), hospital().patients, FIRST).cautions == (
        "under 5 of 1 stays have no end and no x: drawn from the scenario.",
        "under 5 of 1 stays have no flow: drawn from the scenario.",
    )


def test_blanks_are_drawn_anew_for_each_replication():
    """Clocks that are not known differ; the same replication gives the same."""
    classes = hospital().patients
    book = register(books(stays=(Stay(4, begun=day(2), ended=day(5), class_="children"),)), classes, FIRST)
    first, again, second = (drawn(book, classes, 28, NO_LEAD_IN, 1, nth)[0].recorded for nth in (0, 0, 1))
    assert (first == again, first == second) == (True, False)


def test_one_still_on_stays_to_the_end():
    """A stay marked with x outlasts the run."""
    found = _of(Stay(4, begun=clock(2, 12), still_on=True, class_="children"))
    assert found.need_s[0] > 28 * DAY_S


def test_ends_filled_in_later_are_days_alone():
    """Twenty stays, three of them of whole days: the clocks of these were copied; of one alone it may be luck."""

    def ended(whole: int) -> tuple[list[bool], tuple[str, ...]]:
        rows = [
            Stay(
                4 + n,
                begun=clock(n, 6),
                ended=clock(n + 2, 6 if n < whole else 9),
                class_="children",
                flow_ml_min=1,
            )
            for n in range(20)
        ]
        found = register(books(stays=tuple(rows)), hospital().patients, FIRST)
        return found.ended_has_clock.tolist(), found.cautions

    assert ended(3)[0] == [False] * 3 + [True] * 17
    assert "filled in later: their days alone are used" in ended(3)[1][0]
    assert ended(1) == ([True] * 20, ())


def test_who_was_there_before_the_book_is_present():
    """Begun two days before, ended on the second day: in the run from its start."""
    found = _of(Stay(4, begun=clock(-2, 12), ended=clock(1, 12), class_="children", flow_ml_min=2_000))
    assert (found.arrival_s, found.present) == ((-36 * HOUR_S,), 1)


def test_a_class_that_is_not_written_is_drawn_by_the_shares_of_the_others():
    """Three in four rows with a class are of adults."""
    text = TEXT.replace(
        "cylinders: {content", "  adults: {admissions: 1 / day, flow: 5 L/min, duration: 9 h}\ncylinders: {content"
    )
    classes = loads(text).hospitals["both"].patients
    rows = [
        Stay(4, begun=day(1), ended=day(2), class_=("children", "adults", "adults", "adults")[n % 4])
        for n in range(40)
    ]
    rows += [Stay(4, begun=day(1), ended=day(2)) for _ in range(4_000)]
    found = drawn(register(books(stays=tuple(rows)), classes, FIRST), classes, 28, NO_LEAD_IN, 1, 0)
    assert len(found[1].recorded.arrival_s) / 4_040 == pytest.approx(0.75, abs=0.03)


def test_classes_of_others_are_refused_with_those_of_the_scenario():
    """A class that the scenario does not have would be left out silently."""
    with pytest.raises(O2simError, match=r"class adults; allowed: those of the scenario, children"):
        register(books(stays=(Stay(4, begun=day(1), class_="adults"),)), hospital().patients, FIRST)


def test_a_stay_without_a_day_is_left_out_and_said():
    """Neither came on nor oxygen begun."""
    rows = (
        Stay(4, begun=clock(1, 1), ended=clock(2, 1), class_="children", flow_ml_min=1_000),
        Stay(5, class_="children"),
    )
    said = register(books(stays=rows), hospital().patients, FIRST).cautions
    assert said == ("under 5 stays have no day of beginning: left out, so use is forecast too low.",)


def test_the_lead_in_is_some_of_the_recorded_days_before_the_first():
    """Days 10 to 12 lived through before: the stay of day 11 for what is left of it, not that of day 20."""
    rows = (
        Stay(4, begun=clock(11, 0), ended=clock(20, 0), class_="children", flow_ml_min=2_000),
        Stay(5, begun=clock(20, 0), ended=clock(21, 0), class_="children", flow_ml_min=3_000),
    )
    classes = hospital().patients
    found = drawn(register(books(stays=rows), classes, FIRST), classes, 28, LeadIn(10, 3), 1, 0)[0].recorded
    assert (found.first_day, found.days) == (-3, 31)
    assert found.arrival_s == tuple(each * DAY_S for each in (1, 3 + 11, 3 + 20))
    assert found.need_s[0] == 2 * DAY_S


def test_the_lead_in_lies_within_the_recorded_time():
    """Of 100 days 60, from the first to the forty-first; of 28 all."""
    found = [lead_in(100, LEAD_IN_DAYS, 1, nth) for nth in range(200)]
    assert {each.days for each in found} == {60}
    assert (min(each.from_day for each in found), max(each.from_day for each in found)) == (0, 40)
    assert lead_in(28, LEAD_IN_DAYS, 1, 0) == LeadIn(0, 28)


def test_days_count_after_the_run_in():
    """A week after the book begins, and after missing pages."""
    gap = Place(5, sheet="Patients on oxygen", missing_from=day(10), missing_to=day(11))
    records = books(stock=weekly(5, 5, 5, 5))
    found = replay(hospital(), replace(records, places=(*records.places, gap)))
    assert np.flatnonzero(found.counted).tolist() == [7, 8, 9, *range(12 + RUN_IN_DAYS, 28)]


def test_recorded_cuts_stand_in_place_of_drawn_and_planned_ones():
    """From 6 to 10 on the fourth day, and at the same place of the lead-in."""
    found = replay(hospital(), books(stock=weekly(5, 5), cuts=(CUT,))).of(1, 0)
    assert found.grid.cuts[-1] == (3 * DAY_S + 6 * HOUR_S, 3 * DAY_S + 10 * HOUR_S)
    assert found.grid.cuts[0] == (found.grid.cuts[-1][0] - 28 * DAY_S, found.grid.cuts[-1][1] - 28 * DAY_S)
    assert found.grid.up_s is None


def test_a_cut_without_an_end_lasts_as_long_as_the_middle_one():
    """Of 4 h, 4 h and 8 h: 4 h; cuts that touch are one."""
    rows = (
        CUT,
        Cut(5, clock(3, 10), clock(3, 14)),
        Cut(6, clock(5, 0), clock(5, 8)),
        Cut(7, clock(9, 0)),
    )
    found = replay(hospital(), books(stock=weekly(5, 5), cuts=rows))
    assert [(end - begin) // HOUR_S for begin, end in found.cuts.spells] == [8, 8, 4]
    assert found.cautions == ("1 power cut has no end: taken as 4.0 h, the middle of the others.",)


def test_cuts_of_under_half_of_the_time_are_drawn_instead():
    """A book of a week in four."""
    place = Place(5, sheet="Power cuts", kept_from=day(0), kept_to=day(6))
    records = books(stock=weekly(5, 5), cuts=(CUT,))
    found = replay(hospital(), replace(records, places=(*records.places, place)))
    assert (found.cuts, "cover under half of the time" in " ".join(found.said)) == (None, True)


def test_cylinders_alone_need_no_power():
    """Cuts are left out, and nothing is said of them."""
    found = replay(hospital("cylinders"), books(stock=weekly(5, 5), cuts=(CUT,)))
    assert (found.cuts, any("ower" in each for each in found.said)) == (None, False)


def test_without_a_list_patients_are_drawn_and_it_is_said():
    """All days count, and a lead-in of drawn patients comes before."""
    found = replay(hospital(), books(stays=(), stock=weekly(5, 5)))
    assert (found.register, found.counted.all(), found.of(1, 0).warm_up_s) == (None, True, LEAD_IN_DAYS * DAY_S)
    assert found.said[0].startswith("There is no list of patients: admissions are drawn")


def test_nothing_to_compare_is_refused():
    """Patients alone are no count."""
    with pytest.raises(UnfitRecordsError, match="Stock card"):
        replay(hospital(), books())


def test_books_of_different_years_are_refused():
    """No day is in both."""
    other = (Midnight(4, date=dt.date(2031, 1, 1), on_oxygen=1),)
    place = (Place(4, sheet="Patients on oxygen", kept_from=day(0), kept_to=day(27)),)
    with pytest.raises(UnfitRecordsError, match="no day is in both"):
        replay(hospital(), books(midnights=other, places=place))


def test_records_of_a_century_are_refused():
    """A year that is wrong would be simulated day by day."""
    place = (Place(4, kept_from=dt.date(1926, 1, 1), kept_to=day(27)),)
    with pytest.raises(O2simError, match="a year that is wrong"):
        replay(hospital(), books(stock=weekly(5, 5), places=place))


def test_a_month_has_its_own_days():
    """February of a leap year, and December."""
    assert ends_of(dt.date(2028, 2, 17)) == (dt.date(2028, 2, 1), dt.date(2028, 2, 29))
    assert ends_of(dt.date(2027, 12, 1)) == (dt.date(2027, 12, 1), dt.date(2027, 12, 31))


def test_the_strategy_is_the_first_with_both_sources_unless_named():
    """Else one with cylinders; a name that is not there is refused."""
    scenario = loads(TEXT)
    assert chosen_strategy(scenario, None) == ("both", "the only one with both sources")
    assert chosen_strategy(scenario, "cylinders") == ("cylinders", "asked for")
    alone = loads(TEXT.replace("  both: {sources: [concentrator, cylinder]}\n", ""))
    assert chosen_strategy(alone, None) == ("cylinders", "the only one with cylinders")
    with pytest.raises(O2simError, match="known: concentrators, cylinders, both"):
        chosen_strategy(scenario, "bote")
