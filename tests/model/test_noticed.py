"""Noticed between looks: a relative or an oximeter finds that a cylinder has lost its flow."""

from dataclasses import replace

import pytest
from build import (
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    UNIT_FIRST,
    FixedDraws,
    by_cause,
    constant,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    units,
)

from o2sim.errors import InvariantError
from o2sim.model import invariants
from o2sim.model.reference import begin_reference
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import ByOximeter, ByRelatives, Grid, Noticed, Splitters, Staff, Timed

RELATIVES = Noticed(by_relatives=ByRelatives(1.0, constant(5 * MINUTE)))
OXIMETER = Noticed(by_oximeter=ByOximeter(1, constant(3 * MINUTE)))
LATE = [(0, 90 * MINUTE)]  # 1 L/min: flow is lost at 00:57; looks each 2 h


def unseen(noticed, sources=("cylinder",), change_s=0, **changes):
    """Return a hospital with looks each 2 h in which somebody may notice before."""
    stock = cylinders(gauge_check_s=2 * HOUR, change_time_s=change_s, regulators=changes.pop("regulators", 10))
    stock = replace(stock, splitters=changes.pop("splitters", None), fleet=10, full_at_start=10)
    return hospital(sources, cylinders=stock, noticed=noticed, **changes)


def test_a_relative_finds_the_cylinder_that_ran_empty() -> None:
    """Flow is lost at 00:57 and a relative calls after 5 min; unseen too is the change of 10 min that follows."""
    outcome = run(unseen(RELATIVES, change_s=10 * MINUTE), FixedDraws(LATE))
    assert steps(outcome, "found empty") == ["01:02:00 found empty: 0 3 300"]
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 15 * MINUTE}


def test_an_oximeter_alarms() -> None:
    """The only patient has the only oximeter: it alarms 3 min after the loss of flow."""
    outcome = run(unseen(OXIMETER), FixedDraws(LATE))
    assert steps(outcome, "oximeter on", "found empty") == [
        "00:00:00 oximeter on: 0 0",
        "01:00:00 found empty: 0 2 180",
    ]
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 3 * MINUTE}


def test_the_earliest_of_look_oximeter_and_relative_counts() -> None:
    """Relatives after 5 min, oximeter after 3: the oximeter; relatives after 70: the look at 02:00."""
    both = replace(RELATIVES, by_oximeter=OXIMETER.by_oximeter)
    assert steps(run(unseen(both), FixedDraws(LATE)), "found empty") == ["01:00:00 found empty: 0 2 180"]
    slow = Noticed(by_relatives=ByRelatives(1.0, constant(70 * MINUTE)))
    outcome = run(unseen(slow), FixedDraws([(0, 3 * HOUR)]))
    assert steps(outcome, "found empty") == []
    assert steps(outcome, "cylinder opened")[1][:8] == "02:00:00"


@pytest.mark.parametrize(("minutes", "by"), [(3, 2), (63, 0)])
def test_in_ties_the_look_comes_first_then_the_oximeter(minutes: int, by: int) -> None:
    """Relative and oximeter at one second: the oximeter; with the look at 02:00 too, the look."""
    law = constant(minutes * MINUTE)
    outcome = run(unseen(Noticed(ByRelatives(1.0, law), ByOximeter(1, law))), FixedDraws([(0, 2 * HOUR + 1)]))
    expected = [f"01:00:00 found empty: 0 {by} 180"] if by else []
    assert steps(outcome, "found empty") == expected


def test_a_noted_time_comes_before_an_oximeter_at_the_same_second() -> None:
    """Reading 3 L too high, a note for 01:00 (margin 0), the alarm 3 min after 00:57: found at the noted time."""

    class High(FixedDraws):
        def normal(self, *_):
            return -3 * LITRE

    rules = unseen(OXIMETER)
    stock = replace(rules.cylinders, gauge_error_gas=1, change_when="timed", timed=Timed(0, 1.0))
    outcome = run(replace(rules, cylinders=stock), High(LATE))
    assert steps(outcome, "found empty") == ["01:00:00 found empty: 0 1 180"]


def test_the_oximeter_goes_to_the_first_in_line_and_is_passed_on() -> None:
    """An adult keeps it to the end of the stay; then the child, who came later, has it before the other adult."""
    classes = (kind("adults", priority=2), kind("children", priority=1))
    draws = FixedDraws([(0, HOUR, 100, 0), (600, 2 * HOUR, 100, 1), (601, 2 * HOUR, 100, 0)])
    outcome = run(unseen(OXIMETER, patients=classes), draws)
    assert steps(outcome, "oximeter on") == [
        "00:00:00 oximeter on: 0 0",
        "01:00:00 oximeter on: 1 0",
        "02:10:00 oximeter on: 2 0",
    ]


def test_a_patient_on_a_concentrator_may_have_it() -> None:
    """The first in line is on the unit; the second, on a cylinder, has none: found at the look."""
    rules = unseen(OXIMETER, UNIT_FIRST, concentrators=units(1, 1_000))
    outcome = run(rules, FixedDraws([(0, 3 * HOUR), (60, 150 * MINUTE)]))
    assert steps(outcome, "oximeter on") == ["00:00:00 oximeter on: 0 0"]
    assert steps(outcome, "found empty") == []
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 62 * MINUTE}


def test_an_oximeter_on_mains_is_silent_in_a_cut() -> None:
    """Flow is lost at 00:57, the alarm due at 01:00 waits for power until 01:10; a battery helps."""
    mains = Noticed(by_oximeter=replace(OXIMETER.by_oximeter, cut_by_power=True))
    cut = FixedDraws(LATE, up=[50 * MINUTE, DAY], down=[20 * MINUTE])
    grid = Grid(constant(1), constant(1))
    silent, battery = (run(unseen(each, grid=grid), cut) for each in (mains, OXIMETER))
    assert steps(silent, "found empty") == ["01:10:00 found empty: 0 2 780"]
    assert steps(battery, "found empty") == ["01:00:00 found empty: 0 2 180"]


def test_a_silent_oximeter_leaves_it_to_the_relative() -> None:
    """The alarm due at 01:00 is silent until 01:30; the relative calls at 01:02."""
    both = Noticed(RELATIVES.by_relatives, replace(OXIMETER.by_oximeter, cut_by_power=True))
    draws = FixedDraws(LATE, up=[50 * MINUTE, DAY], down=[40 * MINUTE])
    outcome = run(unseen(both, grid=Grid(constant(1), constant(1))), draws)
    assert steps(outcome, "found empty") == ["01:02:00 found empty: 0 3 300"]


def test_any_of_those_on_a_shared_cylinder_may_notice_and_nobody_who_has_left() -> None:
    """Two at 1 L/min each from 00:01 lose flow at 00:29; the oximeter of the first is gone at 00:30."""
    shared = {"regulators": 1, "splitters": Splitters(1, 2)}
    stays = [(0, HOUR), (MINUTE, HOUR)]
    outcome = run(unseen(OXIMETER, **shared), FixedDraws(stays))
    assert steps(outcome, "found empty") == ["00:32:00 found empty: 0 2 180"]
    left = run(unseen(OXIMETER, **shared), FixedDraws([(0, 30 * MINUTE), (MINUTE, 150 * MINUTE)]))
    assert steps(left, "found empty", "oximeter on") == ["00:00:00 oximeter on: 0 0", "02:00:00 oximeter on: 1 0"]


def test_the_change_waits_for_staff_as_when_a_look_finds_it() -> None:
    """One nurse changes the first cylinder from 01:02 to 01:12; the second, found at 01:03, waits."""
    rules = unseen(RELATIVES, change_s=10 * MINUTE, staff=Staff(1, 1))
    outcome = run(rules, FixedDraws([(0, 3 * HOUR), (MINUTE, 3 * HOUR)]))
    waits = by_cause(outcome.unserved_s)[Cause.WAITING_FOR_STAFF]
    assert steps(outcome, "found empty")[:2] == ["01:02:00 found empty: 0 3 300", "01:03:00 found empty: 1 3 300"]
    assert waits >= 9 * MINUTE


def test_oximeters_free_and_with_patients_are_those_there_are() -> None:
    """An oximeter that is nowhere breaks the balance."""
    _, state = begin_reference(unseen(OXIMETER), FixedDraws())
    state.oximeters_free = 0
    with pytest.raises(InvariantError, match="oximeters"):
        invariants.check_whole_run(state)
