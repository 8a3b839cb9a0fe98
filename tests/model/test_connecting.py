"""Staff connect those who wait: arrivals, those a delivery serves, planned moves; and start the generator."""

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    by_cause,
    constant,
    cylinders,
    hospital,
    kind,
    resupply,
    run,
    steps,
    units,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, Generator, Grid, Power, Staff, Window

FIVE = 5 * MINUTE
ONE = Staff(1, 1, FIVE)
BIG = {"full_gas": 6_000 * LITRE}  # no change within these runs
GRID = Grid(constant(1), constant(1))  # the times come from fixed draws
SIX = [(60 * place, 6 * HOUR) for place in range(6)]


def _times(outcome, step):
    return [said[:5] for said in steps(outcome, step)]


def test_six_patients_after_a_power_cut_are_not_reconnected_in_five_minutes_by_one_nurse():
    """Power lost at 01:00: the k-th of six flows again at k x 5 min, the last after half an hour."""
    rules = hospital(
        UNIT_FIRST,
        grid=GRID,
        response_time_s=FIVE,
        staff=Staff(1, 1),
        concentrators=units(2),
        cylinders=cylinders(fleet=6, **BIG),
    )
    outcome = run(rules, FixedDraws(SIX, up=(HOUR,)))
    assert _times(outcome, "on cylinder") == ["01:05", "01:10", "01:15", "01:20", "01:25", "01:30"]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 30 * MINUTE, Cause.WAITING_FOR_STAFF: 75 * MINUTE}


def test_six_who_waited_for_a_delivery_are_connected_one_after_the_other():
    """Six full ones come at 02:00: the k-th flows at k x 5 min; until then no cylinder, then staff."""
    rules = hospital(
        CYLINDER,
        cylinders=cylinders(fleet=6, full_at_start=0, **BIG),
        resupply=resupply(DAY, 5, 6, 2 * HOUR),
        staff=ONE,
    )
    outcome = run(rules, FixedDraws([(HOUR, 6 * HOUR)] * 6))
    assert _times(outcome, "on cylinder") == ["02:05", "02:10", "02:15", "02:20", "02:25", "02:30"]
    assert by_cause(outcome.unserved_s) == {
        Cause.NO_CYLINDER: 6 * HOUR,
        Cause.CHANGEOVER: 30 * MINUTE,
        Cause.WAITING_FOR_STAFF: 75 * MINUTE,
    }


def test_arrivals_wait_for_the_nurse_by_priority():
    """The second to come is of priority 1: connected at 01:10, before a patient who came at 01:00 as well."""
    kinds = (kind(priority=2), kind("newborns", priority=1))
    rules = hospital(UNIT, concentrators=units(1), staff=ONE, patients=kinds)
    outcome = run(rules, FixedDraws([(HOUR, HOUR), (HOUR, HOUR), (HOUR + 60, HOUR, 1_000, 1)]))
    assert steps(outcome, "on concentrator") == [
        "01:05:00 on concentrator: 0 0",
        "01:10:00 on concentrator: 2 0",
        "01:15:00 on concentrator: 1 0",
    ]


def test_a_source_goes_to_whoever_is_first_in_line_as_the_nurse_comes():
    """One outlet is free; priority 1 comes while the nurse is elsewhere: the other has no unit any more."""
    kinds = (kind(priority=2), kind("newborns", priority=1))
    rules = hospital(UNIT, concentrators=units(1, outlets=2), staff=ONE, patients=kinds)
    outcome = run(rules, FixedDraws([(HOUR, HOUR), (HOUR, HOUR), (HOUR + 60, HOUR, 1_000, 1)]))
    assert by_cause(outcome.unserved_s) == {
        Cause.WAITING_FOR_STAFF: 5 * MINUTE,  # the second for a minute, the third for four
        Cause.CHANGEOVER: 10 * MINUTE,
        Cause.CONCENTRATORS_FULL: 59 * MINUTE,
    }


def test_one_who_has_no_source_waits_for_supply_and_not_for_staff():
    """Two for one outlet: the second has no unit from the start."""
    rules = hospital(UNIT, concentrators=units(1, outlets=1), staff=ONE)
    outcome = run(rules, FixedDraws([(HOUR, HOUR), (HOUR, HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: FIVE, Cause.CONCENTRATORS_FULL: HOUR}


def test_a_unit_that_fails_under_the_hands_of_the_nurse_connects_nobody():
    """Power is lost at 01:03 for good: at 01:05 there is nothing to connect, and no power is the cause."""
    rules = hospital(UNIT, grid=GRID, concentrators=units(1), staff=ONE)
    outcome = run(rules, FixedDraws([(HOUR, HOUR)], up=(HOUR + 3 * MINUTE,)))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: FIVE, Cause.NO_POWER: 55 * MINUTE}


def test_who_goes_back_to_a_unit_is_served_by_the_cylinder_until_the_nurse_has_done_it():
    """Power returns at 02:00: two are moved at 02:05 and 02:10 and are never without after their first gap."""
    rules = hospital(
        UNIT_FIRST, grid=GRID, concentrators=units(1), cylinders=cylinders(**BIG), staff=ONE, response_time_s=0
    )
    outcome = run(rules, FixedDraws([(0, 6 * HOUR)] * 2, up=(HOUR,), down=(HOUR,)))
    assert _times(outcome, "on concentrator") == ["00:05", "00:10", "02:05", "02:10"]
    assert _times(outcome, "cylinder racked") == ["02:05", "02:10"]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 10 * MINUTE, Cause.WAITING_FOR_STAFF: FIVE}


def test_a_lower_priority_gives_way_as_the_nurse_comes_and_not_before():
    """The nurse is at another until 01:05: the lower one is served until then, the higher from 01:10."""
    kinds = (kind(priority=2), kind("newborns", priority=1))
    rules = hospital(
        UNIT, concentrators=units(1, outlets=2), staff=ONE, patients=kinds, allocation=Allocation(preempt=True)
    )
    stays = [(0, 3 * HOUR), (HOUR, 3 * HOUR), (HOUR + 60, HOUR, 1_000, 1)]
    assert steps(run(rules, FixedDraws(stays)), "displaced", "on concentrator", "patient leaves") == [
        "00:05:00 on concentrator: 0 0",
        "01:05:00 on concentrator: 1 0",
        "01:05:00 displaced: 1 2",
        "01:10:00 on concentrator: 2 0",
        "02:01:00 patient leaves: 2 540",
        "02:06:00 on concentrator: 1 0",
        "03:00:00 patient leaves: 0 300",
        "04:00:00 patient leaves: 1 3960",
    ]


def test_a_nurse_for_everybody_and_no_time_are_as_good_as_no_rule():
    """With connect_time at no time the staff section changes nothing but losses and changes."""
    plain = hospital(UNIT_FIRST, concentrators=units(1, outlets=2), cylinders=cylinders(fleet=9), grid=GRID)
    draws = {"patients": [(60 * place, 5 * HOUR) for place in range(5)], "up": (HOUR,), "down": (HOUR,)}
    timed = hospital(
        UNIT_FIRST,
        concentrators=units(1, outlets=2),
        cylinders=cylinders(fleet=9),
        grid=GRID,
        staff=Staff(9, 9, 0),
    )
    assert run(timed, FixedDraws(**draws)).unserved_s == run(plain, FixedDraws(**draws)).unserved_s


@pytest.mark.parametrize(("down", "runs"), [(DAY, ["01:07"]), (3 * MINUTE, [])])
def test_the_generator_is_the_first_job_of_the_nurse(down, runs):
    """A job of 7 min: no patient is seen to before 01:07; with the grid back at 01:03 it is dropped."""
    power = Power(generator=Generator(7 * MINUTE, 0, Window(0, 1), started_by_staff=True))
    rules = hospital(
        UNIT_FIRST,
        grid=GRID,
        power=power,
        response_time_s=FIVE,
        staff=Staff(1, 1),
        concentrators=units(1),
        cylinders=cylinders(**BIG),
    )
    outcome = run(rules, FixedDraws([(0, 4 * HOUR)] * 2, up=(HOUR,), down=(down,)))
    assert _times(outcome, "generator runs") == runs
    assert outcome.cylinders_opened == 0
    assert by_cause(outcome.unserved_s) == {Cause.WAITING_FOR_STAFF: 2 * min(down, 7 * MINUTE)}


def test_a_job_under_way_is_finished_before_the_generator():
    """The nurse connects an arrival from 00:58 to 01:03, then starts the generator until 01:10."""
    power = Power(generator=Generator(7 * MINUTE, 0, Window(0, 1), started_by_staff=True))
    rules = hospital(UNIT, grid=GRID, power=power, staff=ONE, concentrators=units(1))
    outcome = run(rules, FixedDraws([(HOUR - 2 * MINUTE, HOUR)], up=(HOUR,)))
    assert _times(outcome, "generator runs") == ["01:10"]
