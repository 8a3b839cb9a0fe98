"""Staff: jobs at the bedside wait for a free pair of hands, by priority, by day and by night."""

from build import (
    CYLINDER,
    HOUR,
    LITRE,
    MINUTE,
    UNIT_FIRST,
    FixedDraws,
    at,
    by_cause,
    constant,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    trace,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import DayHours, Grid, Staff

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws
ONE = Staff(1, 1)
BIG = cylinders(full_gas=6_000 * LITRE)  # no change within these runs
THREE_STAYS = [(60 * place, 4 * HOUR) for place in range(3)]


def _after_a_cut(staff, **changes):
    """Three patients on one unit, power lost at 01:00 for ever, 5 min to connect each to a cylinder."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=5 * MINUTE, staff=staff, cylinders=BIG, **changes)
    return run(rules, FixedDraws(THREE_STAYS, up=(HOUR,)))


def test_after_a_power_cut_one_nurse_reconnects_one_patient_after_the_other():
    """Three at 5 min each: 01:05, 01:10, 01:15, so 5 + 10 + 15 min unserved, 15 of them waiting."""
    outcome = _after_a_cut(ONE)
    assert [line[:8] for line in steps(outcome, "cylinder opened")][:3] == ["01:05:00", "01:10:00", "01:15:00"]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 15 * MINUTE, Cause.WAITING_FOR_STAFF: 15 * MINUTE}


def test_staff_enough_for_everybody_are_as_good_as_no_staff_section():
    """Three nurses for three patients: the same steps at the same seconds as without the rule."""
    assert sorted(trace(_after_a_cut(Staff(3, 3)))) == sorted(trace(_after_a_cut(None)))


def test_the_nurse_goes_to_the_higher_priority_first():
    """The last to arrive has priority 1: reconnected first."""
    kinds = (kind(priority=2), kind("newborns", priority=1))
    draws = FixedDraws([(0, 4 * HOUR), (60, 4 * HOUR, 1_000, 1)], up=(HOUR,))
    outcome = run(
        hospital(UNIT_FIRST, grid=GRID, response_time_s=300, staff=ONE, patients=kinds, cylinders=BIG), draws
    )
    assert steps(outcome, "cylinder opened") == [
        "01:05:00 cylinder opened: 1 3 360000000",
        "01:10:00 cylinder opened: 0 2 360000000",
    ]


def test_power_that_returns_frees_the_nurse_and_the_line():
    """The grid is back at 01:07: the second job is dropped half way, the third never begins."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=5 * MINUTE, staff=ONE, cylinders=BIG)
    outcome = run(rules, FixedDraws(THREE_STAYS, up=(HOUR,), down=(7 * MINUTE,)))
    assert steps(outcome, "cylinder opened") == ["01:05:00 cylinder opened: 0 3 360000000"]
    assert steps(outcome, "gap ends")[1:] == [
        "01:07:00 gap ends: 1 changeover 420",
        "01:07:00 gap ends: 2 waiting for staff 420",
    ]


def test_interruption_while_waiting_for_staff_is_no_stock_out():
    """Tolerated 9 min: the second is over it in the change, the third while it waits for the nurse until 01:10."""
    outcome = _after_a_cut(ONE, tolerated_gap_s=9 * MINUTE)
    assert outcome.stock_outs == 0
    assert sum(outcome.interruptions) == 2
    assert outcome.interruptions[Cause.WAITING_FOR_STAFF] == 1


def test_more_hands_by_day_take_over_the_line_at_the_change_of_shift():
    """Night ends at 01:06: two more begin at once, so the second and third are served at 01:10 and 01:11."""
    outcome = _after_a_cut(Staff(day=3, night=1), day_hours=DayHours(at("01:06"), at("20:00")))
    assert [line[:8] for line in steps(outcome, "cylinder opened")] == ["01:05:00", "01:10:00", "01:11:00"]


def test_a_low_cylinder_flows_while_it_waits_for_the_nurse():
    """Two watched cylinders low at 00:54; the second is changed at 00:57 and not unserved while it waits."""
    rules = hospital(CYLINDER, cylinders=cylinders(change_time_s=2 * MINUTE), staff=ONE)
    outcome = run(rules, FixedDraws([(0, 90 * MINUTE), (0, 90 * MINUTE)]))
    assert steps(outcome, "gap begins") == [
        "00:54:00 gap begins: 0 changeover",
        "00:56:00 gap begins: 1 changeover",
    ]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 4 * MINUTE}


def test_a_cylinder_that_runs_out_while_it_waits_has_staff_as_its_cause():
    """A change takes 5 min: the second cylinder runs out at 00:57, waits until 00:59, is changed by 01:04."""
    rules = hospital(CYLINDER, cylinders=cylinders(change_time_s=5 * MINUTE), staff=ONE)
    outcome = run(rules, FixedDraws([(0, 90 * MINUTE), (0, 90 * MINUTE)]))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 10 * MINUTE, Cause.WAITING_FOR_STAFF: 2 * MINUTE}
