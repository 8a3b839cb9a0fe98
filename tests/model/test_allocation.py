"""Who gets what: giving way to a higher priority, the reserve, and which unit comes first."""

import pytest
from build import (
    CYLINDER,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    by_cause,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    units,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation

LOW_AND_HIGH = (kind("adults", priority=2), kind("newborns", priority=1))
PREEMPT = Allocation(preempt=True)


def test_the_lowest_priority_gives_up_its_outlet():
    """One outlet; an adult from 00:00, a newborn from 00:30 to 01:30: the adult is unserved for that hour."""
    rules = hospital(UNIT, concentrators=units(outlets=1), patients=LOW_AND_HIGH, allocation=PREEMPT)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR), (30 * MINUTE, HOUR, 1_000, 1)]))
    assert steps(outcome, "displaced") == ["00:30:00 displaced: 0 1"]
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATORS_FULL: HOUR}


def test_without_the_option_the_first_to_come_stays():
    """The same, not pre-empted: the newborn waits its whole hour."""
    rules = hospital(UNIT, concentrators=units(outlets=1), patients=LOW_AND_HIGH)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR), (30 * MINUTE, HOUR, 1_000, 1)]))
    assert steps(outcome, "displaced") == []
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATORS_FULL: HOUR}


def test_equal_priorities_do_not_displace_each_other():
    """Two of one priority on one outlet: the later one waits."""
    rules = hospital(UNIT, concentrators=units(outlets=1), allocation=PREEMPT)
    assert steps(run(rules, FixedDraws([(0, HOUR), (600, HOUR)])), "displaced") == []


def test_the_displaced_goes_on_to_the_next_source():
    """With a cylinder in store the adult is on it at once: no gap."""
    rules = hospital(UNIT_FIRST, concentrators=units(outlets=1), patients=LOW_AND_HIGH, allocation=PREEMPT)
    outcome = run(rules, FixedDraws([(0, 40 * MINUTE), (600, HOUR, 1_000, 1)]))
    assert sum(outcome.unserved_s) == 0  # the newborn takes the cylinder, and the unit when it is free


def test_the_last_cylinder_is_taken_over_with_what_is_left_in_it():
    """One cylinder of 60 L; the newborn takes it after 20 min, with 40 L in it."""
    rules = hospital(CYLINDER, cylinders=cylinders(fleet=1), patients=LOW_AND_HIGH, allocation=PREEMPT)
    outcome = run(rules, FixedDraws([(0, 50 * MINUTE), (20 * MINUTE, 10 * MINUTE, 1_000, 1)]))
    assert steps(outcome, "cylinder opened")[1] == f"00:20:00 cylinder opened: 1 0 {40 * LITRE}"
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 10 * MINUTE}


@pytest.mark.parametrize(("priority", "unserved"), [(1, 0), (2, HOUR)])
def test_the_reserve_is_for_the_high_priority(priority, unserved):
    """Two cylinders, one taken, one kept for priority 1: the next patient gets it only if that is the priority."""
    kinds = (kind(), kind("next", priority=priority))
    rules = hospital(
        cylinders=cylinders(fleet=2, full_gas=600 * LITRE), patients=kinds, allocation=Allocation(reserve=1)
    )
    outcome = run(rules, FixedDraws([(0, 3 * HOUR), (HOUR, HOUR, 1_000, 1)]))
    assert by_cause(outcome.unserved_s) == ({Cause.NO_CYLINDER: unserved} if unserved else {})


def test_a_low_cylinder_of_a_low_priority_is_not_changed_for_the_reserve():
    """Watched, low at 00:54 with one cylinder kept: it stays on until flow is lost at 00:57."""
    rules = hospital(cylinders=cylinders(fleet=2), patients=(kind(priority=2),), allocation=Allocation(reserve=1))
    outcome = run(rules, FixedDraws([(0, HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 3 * MINUTE}


@pytest.mark.parametrize(
    ("first", "units_taken"),
    [("lowest number", [0, 0, 0]), ("least loaded", [0, 1, 0]), ("most loaded", [0, 0, 0])],
)
def test_which_unit_comes_first(first, units_taken):
    """Three patients at 1 L/min on two units of 5 L/min."""
    rules = hospital(UNIT, concentrators=units(count=2), allocation=Allocation(first_unit=first))
    outcome = run(rules, FixedDraws([(0, HOUR), (60, HOUR), (120, HOUR)]))
    assert [int(line.split()[-1]) for line in steps(outcome, "on concentrator")] == units_taken


def test_the_most_loaded_unit_is_filled_up_first():
    """3 and then 4 L/min open two units; 1 L/min goes to the fuller second one."""
    rules = hospital(UNIT, concentrators=units(count=2), allocation=Allocation(first_unit="most loaded"))
    outcome = run(rules, FixedDraws([(0, HOUR, 3_000), (60, HOUR, 4_000), (120, HOUR, 1_000)]))
    assert [int(line.split()[-1]) for line in steps(outcome, "on concentrator")] == [0, 1, 1]
