"""Concentrators are out when their job cards say, looks at the voltage give cuts, deliveries come under-filled."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small_books import FIRST, TEXT, books, clock, day, hospital, weekly

from o2sim.draws import Draws
from o2sim.model.reference import run_reference
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS
from o2sim.questions.hindcast.cuts import recorded_cuts
from o2sim.questions.hindcast.replay import replay
from o2sim.questions.hindcast.runs import _alone
from o2sim.records.rows import Place, Voltage
from o2sim.records.supply_rows import JobCard, Unit
from o2sim.scenario import loads

DAY_S, HOUR_S = 86_400, 3_600
OUT = (JobCard(4, 1, clock(3, 6), back=clock(5, 10)), JobCard(5, 2, clock(20, 8), written_off=True))
UNITS = (Unit(4, 1, in_use_now=True), Unit(5, 2, in_use_now=False))


def _met(*cards: JobCard, units=UNITS, seed: int = 1, nth: int = 0):
    """Return when units fail and are back, in hours from the first midnight, as one replication has them."""
    found = replay(hospital(), books(stock=weekly(5, 5), units=units, job_cards=cards)).of(seed, nth)
    state, _ = run_reference(found, Draws(seed, nth), log=True)
    steps = [each for each in state.log or () if each.step in ("unit fails", "repair done")]
    hours = [((each.time_s - found.warm_up_s) / HOUR_S, each.step, each.item + 1) for each in steps]
    return [each for each in hours if each[0] > 0.01]  # those of the lead-in are back as it ends


@pytest.mark.parametrize("nth", [0, 7])
def test_units_are_out_when_their_cards_say(nth):
    """Whatever the luck: unit 1 from day 3, 06:00 to day 5, 10:00; unit 2 for good from day 20."""
    assert _met(*OUT, nth=nth) == [
        (3 * 24 + 6, "unit fails", 1),
        (5 * 24 + 10, "repair done", 1),
        (20 * 24 + 8, "unit fails", 2),
    ]


def test_a_day_without_a_clock_is_drawn_within_the_day():
    """Went down on day 3, back on day 5: any time of these."""
    found = [_met(JobCard(4, 1, day(3), back=day(5)), nth=nth) for nth in range(6)]
    assert all(3 * 24 <= each[0][0] < 4 * 24 and 5 * 24 <= each[1][0] < 6 * 24 for each in found)
    assert len({each[0][0] for each in found}) == 6


def test_a_unit_is_out_before_it_is_put_in_use():
    """On day 10, at some time of it."""
    ((hour, step, unit),) = _met(*OUT[:0], JobCard(4, 1, clock(-9, 0), back=clock(-8, 0)),
                                 units=(UNITS[0], Unit(5, 2, in_use_from=day(10), in_use_now=True)))  # fmt: skip
    assert (10 * 24 <= hour < 11 * 24, step, unit) == (True, "repair done", 2)


def test_both_engines_have_the_same_units_out():
    """Day for day, all that is counted."""
    scenario = loads(TEXT)
    records = books(stock=weekly(5, 5), units=UNITS, job_cards=OUT)
    alone = _alone(scenario, replay(hospital(), records).of(1, 2))
    found = [simulate(alone, "both", Draws(1, 2), engine).daily for engine in ("reference", "kernel")]
    assert np.array_equal(*found)


def test_what_units_lack_is_said():
    """A card without an end before another, and one not in use without a card."""
    cards = (JobCard(4, 1, clock(3, 6)), JobCard(5, 1, clock(9, 6), back=clock(11, 6)))
    found = replay(hospital(), books(stock=weekly(5, 5), units=UNITS, job_cards=cards))
    assert found.said[2] == "Concentrators are the 2 of the list, out when their job cards say."
    assert found.cautions == (
        "Units not in use now without a job card of when they went, taken as in use: 1.",
        "Earlier job cards without the day when the unit was back, taken as the middle one: 1.",
    )
    assert _met(*cards)[1] == (5 * 24 + 6, "repair done", 1)


def test_cards_of_an_unknown_period_cover_all_the_time_and_it_is_said():
    """Place speaks of the patients alone."""
    place = (Place(4, sheet="Patients on oxygen", kept_from=day(0), kept_to=day(27)),)
    found = replay(hospital(), books(stock=weekly(5, 5), units=UNITS, job_cards=OUT, places=place))
    assert found.cautions == ("Place does not say which days job cards cover: taken as the whole time.",)


def test_without_cards_units_fail_as_the_scenario_says():
    """And it is said; so where they stand on wards."""
    place = (Place(4, sheet="Patients on oxygen", kept_from=day(0), kept_to=day(27)),)
    found = replay(hospital(), books(stock=weekly(5, 5), units=UNITS, places=place))
    assert (found.units, found.said[2].startswith("Concentrators fail as the scenario says")) == (None, True)


def _looks(hours: range, every: int = 1, off=()) -> tuple[Voltage, ...]:
    return tuple(Voltage(4 + n, clock(n // 24, n % 24), 0.0 if n in off else 230.0) for n in hours[::every])


def test_looks_at_the_voltage_give_cuts():
    """Off at the looks of 06, 07 and 08 of day 2: from half-way before the first to half-way after the last."""
    found = recorded_cuts(hospital(), books(voltages=_looks(range(28 * 24), off=(54, 55, 56))), FIRST, 28)
    assert found.spells == ((int(53.5 * HOUR_S), int(56.5 * HOUR_S)),)
    assert (found.counted.all(), found.said) == (
        True,
        "Power cuts are those that a look at the voltage every 60 min met.",
    )


def test_days_that_nobody_looked_do_not_count():
    """The log stops on day 10 and goes on with day 13; the last look speaks for half a pace."""
    log = (*_looks(range(240), off=(239,)), *_looks(range(13 * 24, 28 * 24)))
    found = recorded_cuts(hospital(), books(voltages=log), FIRST, 28)
    assert np.flatnonzero(~found.counted).tolist() == [10, 11, 12]
    assert found.spells == ((int(238.5 * HOUR_S), int(239.5 * HOUR_S)),)


def test_looks_too_far_apart_date_no_cut():
    """Every four hours; cuts are drawn, and it is said."""
    records = books(stock=weekly(5, 5), voltages=_looks(range(28 * 24), every=4))
    found = replay(hospital(), records)
    assert (found.cuts, "looks too far apart" in " ".join(found.said)) == (None, True)


def test_cylinders_come_under_filled():
    """Half as much in each: twice as many are opened, all of them full as the recorded time begins."""
    text = TEXT.replace("fleet: 12", "fleet: 12, underfilled: {share: 100 %, content: 50 %}")
    full, opened = DAILY_COLUMNS.index("full"), []
    for each in (TEXT, text):
        scenario = loads(each)
        found = replay(scenario.hospitals["cylinders"], books(stock=weekly(5, 5))).of(1, 0)
        daily = simulate(_alone(scenario, found), "cylinders", Draws(1, 0), "reference").daily[:, full]
        assert daily[0] > found.cylinders.fleet - 60
        opened.append(int(daily[0] - daily[28]))
    assert opened[1] / opened[0] == pytest.approx(2, rel=0.25)


def test_cylinders_alone_have_no_units():
    """Job cards do not matter."""
    found = replay(hospital("cylinders"), books(stock=weekly(5, 5), units=UNITS, job_cards=OUT))
    assert found.units is None


def test_units_on_wards_are_not_replayed():
    """Which stands where is in no book."""
    wards = loads(
        TEXT.replace("concentrators: {count: 1,", "concentrators: {").replace(
            "    admissions:", "    ward: a\n    admissions:"
        )
        + "wards: {a: {concentrators: 1, regulators: 4}}\n"
    ).hospitals["both"]
    found = replay(wards, replace(books(stock=weekly(5, 5), units=UNITS, job_cards=OUT)))
    assert found.units is None
