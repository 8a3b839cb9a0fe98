"""Why somebody goes without: every cause once, and which one holds where several do."""

import pytest
from build import (
    CYLINDER,
    CYLINDER_FIRST,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
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
    units,
)

from o2sim.outcome import SUPPLY_CAUSES, Cause, Outcome
from o2sim.scenario.types.hospital import Allocation, Grid

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws
NO_GRID = Grid(never_on=True)
FULL_FLOW = Allocation(reduced_flow="never")
NO_STOCK = cylinders(fleet=1, full_at_start=0)
STAY = [(HOUR, HOUR)]  # one patient from 01:00 to 02:00


def _interruption(cause: Cause) -> tuple[int, ...]:
    return tuple(int(index == cause) for index in range(len(Cause)))


def test_changeover_while_a_cylinder_is_changed() -> None:
    """Watched, a cylinder of 60 L at 1 L/min is changed after 54 min: unserved for the 5 min of the change."""
    outcome = run(hospital(cylinders=cylinders(change_time_s=5 * MINUTE)), FixedDraws(STAY))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 5 * MINUTE}
    assert outcome.interruptions == _interruption(Cause.CHANGEOVER)


def test_changeover_while_staff_respond_to_a_lost_supply() -> None:
    """A power cut at 01:30: 5 min until a cylinder is connected."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=5 * MINUTE)
    outcome = run(rules, FixedDraws(STAY, up=(at("01:30"),)))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 5 * MINUTE}


def test_ran_empty_unseen_until_the_next_check_and_the_change() -> None:
    """Flow is lost at 01:57, the next check is at 02:00, the change takes 2 min: 5 min in all."""
    rules = hospital(cylinders=cylinders(gauge_check_s=HOUR, change_time_s=2 * MINUTE))
    outcome = run(rules, FixedDraws([(HOUR, 90 * MINUTE)]))
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 5 * MINUTE}
    assert outcome.interruptions == _interruption(Cause.RAN_EMPTY_UNSEEN)


def test_no_regulator() -> None:
    """Cylinders on the shelf and nothing to connect them with."""
    outcome = run(hospital(cylinders=cylinders(regulators=0)), FixedDraws(STAY))
    assert by_cause(outcome.unserved_s) == {Cause.NO_REGULATOR: HOUR}
    assert outcome.interruptions == _interruption(Cause.NO_REGULATOR)


def test_no_power() -> None:
    """Where there is no grid, the concentrator gives nothing."""
    outcome = run(hospital(UNIT, grid=NO_GRID), FixedDraws(STAY))
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: HOUR}
    assert outcome.interruptions == _interruption(Cause.NO_POWER)
    assert outcome.power_out_s == DAY


def test_concentrator_down() -> None:
    """The only unit failed at 00:30 by the calendar and is not repaired that day."""
    rules = hospital(UNIT, concentrators=units(fails=True, clock="calendar"))
    outcome = run(rules, FixedDraws(STAY, failures={0: (30 * MINUTE,)}))
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATOR_DOWN: HOUR}
    assert outcome.interruptions == _interruption(Cause.CONCENTRATOR_DOWN)


@pytest.mark.parametrize(("rated", "outlets"), [(5_000, 1), (1_500, 4)])
def test_concentrators_full(rated: int, outlets: int) -> None:
    """No outlet free, or not enough flow to spare: the second patient waits until the first leaves."""
    rules = hospital(UNIT, concentrators=units(rated=rated, outlets=outlets))
    outcome = run(rules, FixedDraws([(0, at("01:30")), *STAY]))
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATORS_FULL: 30 * MINUTE}


def test_concentrators_full_where_one_is_down_and_the_other_full() -> None:
    """Some unit works, so it is room that is wanting, not a repair."""
    rules = hospital(UNIT, concentrators=units(2, 1_000, fails=True, clock="calendar"))
    outcome = run(rules, FixedDraws([(0, at("01:30")), *STAY], failures={1: (30 * MINUTE,)}))
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATORS_FULL: 30 * MINUTE}


def test_no_cylinder() -> None:
    """An empty shelf and no delivery."""
    outcome = run(hospital(cylinders=NO_STOCK), FixedDraws(STAY))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: HOUR}
    assert outcome.interruptions == _interruption(Cause.NO_CYLINDER)


def test_flow_too_high_for_the_source() -> None:
    """6 L/min from units of 5 L/min, one of them free, and no reduced flow: too much, with or without power."""
    for grid in (None, NO_GRID):
        outcome = run(hospital(UNIT, grid=grid, allocation=FULL_FLOW), FixedDraws([(HOUR, HOUR, 6_000)]))
        assert by_cause(outcome.unserved_s) == {Cause.FLOW_TOO_HIGH: HOUR}
        assert outcome.interruptions == _interruption(Cause.FLOW_TOO_HIGH)


def test_a_stock_out_is_an_interruption_by_supply_and_not_by_handling() -> None:
    """Staff however quick could not have prevented the first five; handling is reported apart."""
    assert {cause for cause in Cause if not cause.is_supply} == {
        Cause.CHANGEOVER,
        Cause.RAN_EMPTY_UNSEEN,
        Cause.NO_REGULATOR,
        Cause.WAITING_FOR_STAFF,
        Cause.NO_DELIVERY_SET,
    }
    handled = Outcome(0, DAY, interruptions=tuple(int(cause not in SUPPLY_CAUSES) for cause in Cause))
    assert handled.stock_outs == 0
    assert run(hospital(cylinders=NO_STOCK), FixedDraws(STAY)).stock_outs == 1


@pytest.mark.parametrize(("sources", "cause"), [(UNIT_FIRST, Cause.NO_CYLINDER), (CYLINDER_FIRST, Cause.NO_POWER)])
def test_the_reason_is_that_of_the_last_source_in_order(sources: tuple[str, ...], cause: Cause) -> None:
    """With no power and no cylinder the last resort names the cause."""
    outcome = run(hospital(sources, cylinders=NO_STOCK, grid=NO_GRID), FixedDraws(STAY))
    assert by_cause(outcome.unserved_s) == {cause: HOUR}


def test_a_running_timer_goes_before_the_reason_at_the_last_source() -> None:
    """With no power and no cylinder the cause is changeover for the 5 min of the response, then no cylinder."""
    rules = hospital(UNIT_FIRST, cylinders=NO_STOCK, grid=GRID, response_time_s=5 * MINUTE)
    outcome = run(rules, FixedDraws(STAY, up=(at("01:30"),)))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 5 * MINUTE, Cause.NO_CYLINDER: 25 * MINUTE}


@pytest.mark.parametrize(
    ("tolerated_s", "cause"), [(299, Cause.CHANGEOVER), (300, Cause.NO_POWER), (301, Cause.NO_POWER)]
)
def test_an_interruption_has_the_cause_that_holds_as_the_tolerance_is_crossed(
    tolerated_s: int, cause: Cause
) -> None:
    """A response of 300 s: an interruption within it is by changeover, from its end on by the supply."""
    rules = hospital(UNIT, grid=GRID, response_time_s=300, tolerated_gap_s=tolerated_s)
    outcome = run(rules, FixedDraws(STAY, up=(at("01:30"),)))
    assert outcome.interruptions == _interruption(cause)


def test_the_cause_follows_the_state_through_one_gap() -> None:
    """Down from 01:15, no power from 01:25 until 01:50, down still: one gap, three spells, one interruption."""
    rules = hospital(UNIT, concentrators=units(fails=True), grid=GRID)
    draws = FixedDraws(STAY, up=(at("01:25"),), down=(25 * MINUTE,), failures={0: (15 * MINUTE,)})
    outcome = run(rules, draws)
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: 25 * MINUTE, Cause.CONCENTRATOR_DOWN: 20 * MINUTE}
    assert outcome.interruptions == _interruption(Cause.CONCENTRATOR_DOWN)
    assert (outcome.longest_gap_s, len(steps(outcome, "gap ends"))) == (45 * MINUTE, 1)


def test_one_whose_flow_no_unit_can_give_is_passed_over() -> None:
    """The first in line needs 6 L/min; the second, of a lower priority, is given the unit at once."""
    kinds = (kind(priority=1), kind("children", priority=2))
    rules = hospital(UNIT, patients=kinds, allocation=FULL_FLOW)
    outcome = run(rules, FixedDraws([(0, HOUR, 6_000, 0), (60, HOUR, 1_000, 1)]))
    assert by_cause(outcome.unserved_s) == {Cause.FLOW_TOO_HIGH: HOUR}
    assert outcome.served_concentrator_s == HOUR


@pytest.mark.parametrize("cause", [Cause.NO_CYLINDER, Cause.NO_REGULATOR])
def test_one_who_transfers_is_an_interruption_by_the_cause_on_arrival(cause: Cause) -> None:
    """The patient leaves at once, nobody is unserved, and the stay counts as transferred."""
    stock = NO_STOCK if cause == Cause.NO_CYLINDER else cylinders(regulators=0)
    outcome = run(hospital(CYLINDER, cylinders=stock, patients=(kind(if_unserved="transfer"),)), FixedDraws(STAY))
    assert outcome.interruptions == _interruption(cause)
    assert (outcome.transferred, outcome.patients_affected, outcome.patients) == (1, 1, 1)
    assert (outcome.transferred_s, sum(outcome.unserved_s), outcome.need_s) == (HOUR, 0, HOUR)


def test_one_who_is_served_on_arrival_does_not_transfer_later() -> None:
    """A supply lost during the stay leaves a gap, not a transfer."""
    rules = hospital(UNIT, grid=GRID, patients=(kind(if_unserved="transfer"),))
    outcome = run(rules, FixedDraws(STAY, up=(at("01:30"),)))
    assert (outcome.transferred, by_cause(outcome.unserved_s)) == (0, {Cause.NO_POWER: 30 * MINUTE})


def test_a_patient_on_a_cylinder_found_low_keeps_it_until_it_is_empty() -> None:
    """With nothing to change to, the flow goes on to 01:57: of the reserve below residual half is used."""
    outcome = run(hospital(cylinders=cylinders(fleet=1)), FixedDraws(STAY))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 3 * MINUTE}
    assert outcome.closing_gas == 3 * LITRE


def test_without_a_grid_there_is_no_power_from_the_first_second() -> None:
    """One who arrives at second 0 is never connected: no power, no changeover, and no power cut is counted."""
    outcome = run(hospital(UNIT, grid=NO_GRID, response_time_s=300), FixedDraws([(0, HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: HOUR}
    assert (outcome.power_cuts, outcome.power_out_s) == (0, DAY)
