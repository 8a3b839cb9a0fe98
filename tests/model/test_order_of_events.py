"""What goes first when two things fall on the same second: a case for every pair where it changes the result."""

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    MINUTE,
    NEVER,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    at,
    by_cause,
    constant,
    cylinders,
    hospital,
    kind,
    resupply,
    run,
    steps,
    trace,
    units,
)

from o2sim.model.rules import Rank
from o2sim.outcome import DAILY_COLUMNS, Cause
from o2sim.scenario.types.hospital import Grid

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws
ONE = 54 * MINUTE  # what a cylinder of 60 L gives at 1 L/min down to residual pressure
LOST = 57 * MINUTE  # ... and until flow is lost


def test_the_order_is_the_written_one() -> None:
    """The order of design: supply before loss of supply, leaving before arriving, the tolerance last of all."""
    assert [rank.name for rank in sorted(Rank)] == [
        "DAY_BEGINS",
        "POWER_RESTORED",
        "FUNDS_COME",
        "PAYMENT_DUE",
        "DELIVERY",
        "REPAIR_DONE",
        "PATIENT_LEAVES",
        "SHIFT_CHANGES",
        "TIMER_ENDS",
        "PATIENT_ARRIVES",
        "GAUGE_CHECK",
        "CYLINDER_RUNS_OUT",
        "FLOW_STEPS_DOWN",
        "UNIT_FAILS",
        "POWER_LOST",
        "CYLINDER_LOST",
        "REVIEW",
        "TOLERANCE_CROSSED",
        "SUPPLY_CROSSED",
        "TRANSFER_DUE",
    ]


def test_the_day_is_counted_before_power_returns_at_midnight() -> None:
    """A patient without oxygen until midnight is counted in the state of that midnight."""
    rules = hospital(UNIT, grid=GRID, horizon_s=2 * DAY)
    draws = FixedDraws([(at("12:00"), DAY)], up=(at("06:00"),), down=(at("18:00"),))
    daily = run(rules, draws).daily
    assert daily[1, DAILY_COLUMNS.index("unserved")] == 1
    assert sum(run(rules, draws).unserved_s) == 12 * HOUR


def test_power_returns_before_a_delivery() -> None:
    """Who waits is given the concentrator, and the cylinder delivered at that second stays closed."""
    rules = hospital(
        UNIT_FIRST, grid=GRID, cylinders=cylinders(fleet=1, full_at_start=0), resupply=resupply(NEVER, 0, 1, HOUR)
    )
    outcome = run(rules, FixedDraws([(at("00:10"), 3 * HOUR)], up=(0,), down=(HOUR,)))
    assert steps(outcome, "delivery", "on concentrator") == [
        "01:00:00 on concentrator: 0 0",
        "01:00:00 delivery: 0 1 1",
    ]
    assert outcome.cylinders_opened == 0


def test_a_delivery_comes_before_a_repair() -> None:
    """Who waits is given the cylinder, and goes back to the repaired concentrator within the same second."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(fails=True, clock="calendar"),
        cylinders=cylinders(fleet=1, full_at_start=0),
        resupply=resupply(NEVER, 0, 1, HOUR),
    )
    draws = FixedDraws([(at("00:20"), 3 * HOUR)], failures={0: (600,)}, repairs={0: (50 * MINUTE,)})
    assert steps(run(rules, draws), "delivery", "on cylinder", "repair done", "on concentrator") == [
        "01:00:00 delivery: 0 1 1",
        "01:00:00 on cylinder: 0 3600000",
        "01:00:00 repair done: 0",
        "01:00:00 on concentrator: 0 0",
    ]


def test_a_repair_comes_before_a_patient_leaves() -> None:
    """Who leaves at that second has been connected first, for no time."""
    rules = hospital(UNIT, concentrators=units(fails=True, clock="calendar"))
    draws = FixedDraws([(at("00:20"), 40 * MINUTE)], failures={0: (600,)}, repairs={0: (50 * MINUTE,)})
    assert trace(run(rules, draws))[-4:] == [
        "01:00:00 repair done: 0",
        "01:00:00 gap ends: 0 concentrator down 2400",
        "01:00:00 on concentrator: 0 0",
        "01:00:00 patient leaves: 0 2400",
    ]


def test_a_patient_leaves_before_a_timer_ends() -> None:
    """A regulator freed at that second goes to who is in line, not to who has staff only from that second on."""
    # Patient 0 is on the unit till the cut; patients 1 and 2 do not fit it, and there is one regulator.
    rules = hospital(
        UNIT_FIRST,
        cylinders=cylinders(regulators=1),
        grid=GRID,
        response_time_s=5 * MINUTE,
        patients=(kind(priority=1), kind("children", priority=2)),
    )
    patients = [(0, 2 * HOUR), (at("00:25"), 10 * MINUTE, 4_500), (at("00:26"), 12 * MINUTE, 4_500, 1)]
    outcome = run(rules, FixedDraws(patients, up=(at("00:30"),), down=(HOUR,)))
    assert steps(outcome, "gap ends", "cause changes") == [
        "00:35:00 gap ends: 2 no regulator 540",  # 00:26-00:35
        "00:35:00 cause changes: 0 no regulator",
        "00:38:00 gap ends: 0 no regulator 480",  # 00:30-00:38, when patient 2 leaves
    ]


def test_a_timer_ends_before_a_patient_arrives() -> None:
    """The last cylinder goes to who was waiting for staff, not to an arrival of that second, whatever priority."""
    rules = hospital(
        UNIT_FIRST,
        cylinders=cylinders(fleet=1),
        grid=GRID,
        response_time_s=5 * MINUTE,
        patients=(kind(priority=2), kind("newborns", priority=1)),
    )
    patients = [(0, HOUR, 1_000, 0), (at("00:35"), 600, 1_000, 1)]
    outcome = run(rules, FixedDraws(patients, up=(at("00:30"),), down=(HOUR,)))
    assert steps(outcome, "cylinder opened") == ["00:35:00 cylinder opened: 0 0 3600000"]


def test_a_patient_arrives_before_a_gauge_check() -> None:
    """The last cylinder goes to the arrival; the check of that second finds nothing to change to."""
    rules = hospital(cylinders=cylinders(fleet=2))
    outcome = run(rules, FixedDraws([(0, HOUR), (ONE, 600)]))
    assert steps(outcome, "cylinder opened", "gauge check") == [
        "00:00:00 cylinder opened: 0 1 3600000",
        "00:54:00 cylinder opened: 1 0 3600000",
        "00:54:00 gauge check: 0 360000",
    ]


def test_a_gauge_check_comes_before_a_run_out() -> None:
    """A cylinder that loses flow at the second of a check is seen and changed: it did not run empty unseen."""
    rules = hospital(cylinders=cylinders(gauge_check_s=LOST, change_time_s=60))
    outcome = run(rules, FixedDraws([(0, HOUR)]))
    assert steps(outcome, "cylinder runs out") == []
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 60}


def test_a_cylinder_runs_out_before_a_unit_fails() -> None:
    """The only cylinder on hand goes to the patient whose own ran out, not to the one whose unit failed then."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(rated=1_000, fails=True),
        cylinders=cylinders(fleet=2, full_at_start=1, gauge_check_s=55 * MINUTE),
        resupply=resupply(NEVER, 1, 2, 56 * MINUTE),  # arrives after the check that found none, before the run-out
    )
    outcome = run(rules, FixedDraws([(0, HOUR), (0, HOUR)], failures={0: (LOST,)}))
    assert steps(outcome, "gauge check", "cylinder runs out", "unit fails", "gap begins") == [
        "00:55:00 gauge check: 1 300000",
        "00:57:00 cylinder runs out: 1 1 180000",
        "00:57:00 unit fails: 0 1",
        "00:57:00 gap begins: 0 no cylinder",
    ]


def test_a_unit_fails_before_power_is_lost() -> None:
    """A running clock that has run out at the second of a power cut has run out: the unit needs repair."""
    rules = hospital(UNIT, concentrators=units(fails=True), grid=GRID)
    draws = FixedDraws(
        [(0, 2 * HOUR)], up=(HOUR,), down=(600,), failures={0: (HOUR,)}, repairs={0: (30 * MINUTE,)}
    )
    outcome = run(rules, draws)
    assert steps(outcome, "unit fails") == ["01:00:00 unit fails: 0 1"]
    assert sum(outcome.unserved_s) == 30 * MINUTE


def test_power_is_lost_before_a_review() -> None:
    """The cylinder opened at the second of a power cut is missed by the review of that second, and ordered."""
    rules = hospital(
        UNIT_FIRST,
        cylinders=cylinders(fleet=2, full_at_start=1),
        grid=GRID,
        resupply=resupply(HOUR, 0, 2, DAY),
    )
    outcome = run(rules, FixedDraws([(0, at("01:30"))], up=(HOUR,), down=(600,)))
    assert steps(outcome, "cylinder opened", "order") == [
        "01:00:00 cylinder opened: 0 0 3600000",
        "01:00:00 order: 0 1 90000",  # 25 h; for the one empty there is
    ]


def test_a_review_comes_before_the_tolerance_is_crossed() -> None:
    """An order with no lead time ends a gap at the very second of its tolerance: no interruption."""
    rules = hospital(cylinders=cylinders(fleet=1), tolerated_gap_s=HOUR, resupply=resupply(2 * HOUR, 0, 1, 0))
    # The only cylinder is in use at the review of 00:00 and empty at 00:54; the next review is at 02:00.
    outcome = run(rules, FixedDraws([(0, ONE), (at("01:00"), at("01:30"))]))
    assert steps(outcome, "order", "delivery", "gap ends", "interruption") == [
        "02:00:00 order: 0 1 7200",
        "02:00:00 delivery: 0 1 1",
        "02:00:00 gap ends: 1 no cylinder 3600",
    ]


def test_a_patient_leaves_exactly_as_the_cylinder_runs_out() -> None:
    """No run-out and no gap: the patient no longer needs the gas."""
    rules = hospital(cylinders=cylinders(gauge_check_s=10 * HOUR))
    outcome = run(rules, FixedDraws([(60, LOST)]))
    assert steps(outcome, "cylinder runs out", "gap begins") == []
    assert steps(outcome, "cylinder emptied", "patient leaves") == [
        "00:58:00 cylinder emptied: 0 1 180000",
        "00:58:00 patient leaves: 0 0",
    ]


def test_a_delivery_exactly_as_a_patient_arrives() -> None:
    """The patient is served at once."""
    rules = hospital(cylinders=cylinders(fleet=1, full_at_start=0), resupply=resupply(NEVER, 0, 1, HOUR))
    outcome = run(rules, FixedDraws([(HOUR, ONE)]))
    assert (sum(outcome.unserved_s), outcome.served_cylinder_s) == (0, ONE)


@pytest.mark.parametrize(("tolerated_s", "interruptions"), [(HOUR - 1, 1), (HOUR, 0), (HOUR + 1, 0)])
def test_a_gap_that_ends_exactly_at_the_tolerance(tolerated_s: int, interruptions: int) -> None:
    """A gap of one hour exceeds a tolerated gap of one second less, and no longer one."""
    rules = hospital(UNIT, grid=GRID, tolerated_gap_s=tolerated_s)
    outcome = run(rules, FixedDraws([(0, 4 * HOUR)], up=(HOUR,), down=(HOUR,)))
    assert outcome.interruptions[Cause.NO_POWER] == interruptions
    assert outcome.longest_gap_s == HOUR


@pytest.mark.parametrize(("down_s", "opened"), [(299, 0), (300, 0), (301, 1)])
def test_power_restored_exactly_when_the_response_ends(down_s: int, opened: int) -> None:
    """The patient resumes on the concentrator at the last second of the response; a second later on a cylinder."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=300)
    outcome = run(rules, FixedDraws([(0, 4 * HOUR)], up=(HOUR,), down=(down_s,)))
    assert outcome.cylinders_opened == opened
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: min(down_s, 300)}


def test_a_review_at_the_instant_of_a_delivery() -> None:
    """The delivery goes first, who waits takes the cylinder, and the review sees the shelf empty and orders."""
    rules = hospital(cylinders=cylinders(fleet=2, full_at_start=1), resupply=resupply(HOUR, 0, 2, HOUR))
    outcome = run(rules, FixedDraws([(0, ONE), (at("00:58"), ONE)]))
    assert steps(outcome, "order", "delivery", "cylinder opened")[:5] == [
        "00:00:00 cylinder opened: 0 0 3600000",
        "00:00:00 order: 0 1 3600",
        "01:00:00 delivery: 0 1 1",
        "01:00:00 cylinder opened: 1 0 3600000",
        "01:00:00 order: 1 1 7200",
    ]


def test_within_one_rank_the_lower_number_goes_first() -> None:
    """Of two arrivals of one priority at one second the first in the table gets the only cylinder."""
    outcome = run(hospital(cylinders=cylinders(fleet=1)), FixedDraws([(60, ONE), (60, ONE)]))
    assert steps(outcome, "on cylinder", "interruption") == [
        "00:01:00 on cylinder: 0 3600000",
        "00:01:00 interruption: 1 no cylinder 60",
    ]


def test_deliveries_of_one_second_come_in_the_order_of_the_orders() -> None:
    """Two orders held by a closed road arrive together, the earlier first."""
    rules = hospital(
        cylinders=cylinders(fleet=2, full_at_start=0), resupply=resupply(HOUR, 1, 2, HOUR, vehicle_capacity=1)
    )
    outcome = run(rules, FixedDraws(spells=[(HOUR, 5 * HOUR)]))
    assert steps(outcome, "delivery") == ["05:00:00 delivery: 0 1 1", "05:00:00 delivery: 1 1 2"]


def test_what_is_created_for_this_second_runs_in_this_second() -> None:
    """A gap with no tolerance is an interruption at its first second, after all else of that second."""
    outcome = run(hospital(CYLINDER, cylinders=cylinders(fleet=1, full_at_start=0)), FixedDraws([(60, 1)]))
    assert trace(outcome) == [
        "00:01:00 patient arrives: 0 0 1000",
        "00:01:00 gap begins: 0 no cylinder",
        "00:01:00 interruption: 0 no cylinder 60",
        "00:01:01 gap ends: 0 no cylinder 1",
        "00:01:01 patient leaves: 0 1",
    ]


def test_after_a_power_cut_the_last_cylinder_goes_by_priority() -> None:
    """Responses that end at the same second are served as one line: by priority, then arrival."""
    rules = hospital(
        UNIT_FIRST,
        cylinders=cylinders(fleet=1),
        grid=GRID,
        response_time_s=300,
        patients=(kind(priority=2), kind("newborns", priority=1)),
    )
    outcome = run(rules, FixedDraws([(0, at("01:30"), 1_000, 0), (60, at("01:30"), 500, 1)], up=(HOUR,)))
    assert steps(outcome, "on cylinder") == ["01:05:00 on cylinder: 1 3600000"]


def test_at_one_gauge_check_the_last_cylinder_goes_by_priority() -> None:
    """Of two cylinders found low at the same check the one of the higher priority is changed."""
    rules = hospital(
        cylinders=cylinders(fleet=3, gauge_check_s=55 * MINUTE),
        patients=(kind(priority=2), kind("newborns", priority=1)),
    )
    outcome = run(rules, FixedDraws([(0, HOUR, 1_000, 0), (0, HOUR, 1_000, 1)]))
    assert steps(outcome, "gauge check") == ["00:55:00 gauge check: 0 300000"]
