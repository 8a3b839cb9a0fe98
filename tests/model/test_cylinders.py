"""Cylinders at the bedside: seconds they last, part-used ones, changes, what happens to the regulator."""

import pytest
from build import (
    CYLINDER_FIRST,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    NEVER,
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
    units,
)
from hypothesis import given
from hypothesis import strategies as st
from random_hospitals import audited

from o2sim.model.rules import keep_gas, next_look_s, residual_after_s, runs_out_after_s
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, Grid, Strategy

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws


@given(
    content=st.integers(0, 10**9), flow=st.integers(1, 20_000), leak=st.integers(0, 500), reserve=st.integers(0, 5)
)
def test_seconds_a_cylinder_lasts_against_the_definition(content: int, flow: int, leak: int, reserve: int) -> None:
    """At the run-out one more second could not be given; residual pressure is met at the first second."""
    rules = cylinders(lost_gas=3 * LITRE, residual_gas=(3 + reserve) * LITRE, leak_ml_min=leak)
    rate, out_s, low_s = (
        flow + leak,
        runs_out_after_s(content, rules, flow),
        residual_after_s(content, rules, flow),
    )
    usable = max(0, content - rules.lost_gas)
    assert out_s * rate <= usable < (out_s + 1) * rate
    assert 0 <= low_s <= out_s
    assert low_s == out_s or content - low_s * rate <= rules.residual_gas
    assert low_s == 0 or content - (low_s - 1) * rate > rules.residual_gas


@given(now=st.integers(0, 10**7), interval=st.integers(1, 10**5), midnight=st.integers(0, 10**6))
def test_the_next_check_is_the_first_multiple_from_midnight(now: int, interval: int, midnight: int) -> None:
    """At or after now, less than an interval away, a whole number of intervals from midnight; watched is now."""
    check = next_look_s(now, cylinders(gauge_check_s=interval), midnight)
    assert now <= check < now + interval
    assert (check - midnight) % interval == 0
    assert next_look_s(now, cylinders(gauge_check_s=0), midnight) == now


def test_what_is_kept_is_the_greater_of_residual_and_lost() -> None:
    """A residual pressure below that at which flow is lost gives nothing more."""
    assert keep_gas(cylinders(residual_gas=6, lost_gas=3)) == 6
    assert keep_gas(cylinders(residual_gas=3, lost_gas=6)) == 6


def test_part_used_cylinders_are_used_first_and_oldest_first() -> None:
    """Two stays of 10 and 20 min leave 50 and 40 L on the rack: the next two take these, in that order."""
    rows = [(0, 10 * MINUTE), (0, 20 * MINUTE), (HOUR, 5 * MINUTE), (HOUR, 5 * MINUTE), (HOUR, 5 * MINUTE)]
    outcome = run(hospital(), FixedDraws(rows))
    assert steps(outcome, "cylinder opened") == [
        "00:00:00 cylinder opened: 0 3 3600000",
        "00:00:00 cylinder opened: 1 2 3600000",
        "01:00:00 cylinder opened: 2 2 3000000",
        "01:00:00 cylinder opened: 3 2 2400000",
        "01:00:00 cylinder opened: 4 1 3600000",
    ]


@pytest.mark.parametrize(("minutes", "rack", "empty"), [(53, 1, 0), (54, 0, 1), (55, 0, 1)])
def test_content_above_residual_is_part_used_else_empty(minutes: int, rack: int, empty: int) -> None:
    """After 54 min at 1 L/min a cylinder of 60 L stands at its residual 6 L."""
    outcome = run(hospital(cylinders=cylinders(gauge_check_s=10 * HOUR)), FixedDraws([(0, minutes * MINUTE)]))
    assert len(steps(outcome, "cylinder racked")) == rack
    assert len(steps(outcome, "cylinder emptied")) == outcome.cylinders_emptied == empty


def test_an_empty_cylinder_with_a_remainder_is_empty() -> None:
    """Without a reserve a cylinder of 5 L serves 7 L/min for 42 s; the 0.1 L left is no part-used cylinder."""
    stock = cylinders(fleet=2, full_gas=300_000, residual_gas=0, lost_gas=0, gauge_check_s=MINUTE)
    with audited():
        outcome = run(hospital(cylinders=stock), FixedDraws([(0, 10 * MINUTE, 7_000)]))
    assert steps(outcome, "cylinder opened", "cylinder racked", "cylinder emptied") == [
        "00:00:00 cylinder opened: 0 1 300000",
        "00:01:00 cylinder emptied: 0 1 6000",
        "00:01:00 cylinder opened: 0 0 300000",
        "00:02:00 cylinder emptied: 0 2 6000",
    ]


def test_a_watched_cylinder_without_a_reserve_is_changed_once() -> None:
    """The same watched and without change time: two cylinders of 42 s, then nothing, and the run ends."""
    stock = cylinders(fleet=2, full_gas=300_000, residual_gas=0, lost_gas=0)
    with audited():
        outcome = run(hospital(cylinders=stock), FixedDraws([(0, 10 * MINUTE, 7_000)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 600 - 84}
    assert (outcome.cylinders_opened, outcome.closing_gas) == (2, 12_000)


def test_a_cylinder_found_low_is_changed_at_the_next_check_after_a_delivery() -> None:
    """Low with an empty shelf at 01:00; a full one comes at 01:01; the check of 01:20 changes it before 01:30."""
    stock = cylinders(
        fleet=2, full_at_start=1, residual_gas=32 * LITRE, gauge_check_s=20 * MINUTE, change_time_s=MINUTE
    )
    rules = hospital(cylinders=stock, resupply=resupply(NEVER, 1, 2, 61 * MINUTE))
    outcome = run(rules, FixedDraws([(0, 2 * HOUR, 500)]))  # 28 L used at 00:56, 57 L at 01:54
    assert steps(outcome, "gauge check", "delivery", "cylinder emptied", "gap ends") == [
        "01:00:00 gauge check: 0 1800000",
        "01:01:00 delivery: 0 1 1",
        "01:20:00 cylinder emptied: 0 1 1200000",
        "01:21:00 gap ends: 0 changeover 60",
    ]


def test_a_patient_who_leaves_during_a_change_puts_the_new_cylinder_back() -> None:
    """The change would end at 00:59; the patient leaves at 00:56: the full cylinder opened for it is part-used."""
    outcome = run(hospital(cylinders=cylinders(change_time_s=5 * MINUTE)), FixedDraws([(0, 56 * MINUTE)]))
    assert steps(outcome, "cylinder racked", "patient leaves") == [
        "00:56:00 cylinder racked: 0 1 3600000",
        "00:56:00 patient leaves: 0 120",
    ]


def test_the_regulator_stays_through_a_change_and_goes_with_the_patient() -> None:
    """Who waits for the only regulator gets it as the other leaves, not during the change."""
    rules = hospital(cylinders=cylinders(regulators=1, change_time_s=5 * MINUTE))
    outcome = run(rules, FixedDraws([(0, 90 * MINUTE), (MINUTE, 2 * HOUR)]))
    assert steps(outcome, "gap ends")[1] == "01:30:00 gap ends: 1 no regulator 5340"


def test_a_cylinder_found_empty_gives_way_to_a_concentrator_where_that_comes_first() -> None:
    """Flow lost at 00:57; at the check of 01:00 the unit, free since 00:58, is taken without a change time."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(rated=1_000),
        cylinders=cylinders(gauge_check_s=HOUR, change_time_s=5 * MINUTE),
    )
    outcome = run(rules, FixedDraws([(0, 58 * MINUTE), (0, 2 * HOUR)]))
    assert steps(outcome, "on concentrator", "gap ends") == [
        "00:00:00 on concentrator: 0 0",
        "01:00:00 gap ends: 1 ran empty unseen 180",
        "01:00:00 on concentrator: 1 0",
    ]


def test_a_patient_in_a_change_returns_to_a_concentrator_when_it_is_over() -> None:
    """The unit is free at 00:56, the change of 00:54 over at 00:59: the patient goes to the unit then."""
    rules = hospital(UNIT_FIRST, concentrators=units(rated=1_000), cylinders=cylinders(change_time_s=5 * MINUTE))
    outcome = run(rules, FixedDraws([(0, 56 * MINUTE), (0, 2 * HOUR)]))
    assert steps(outcome, "on concentrator")[1:] == ["00:59:00 on concentrator: 1 0"]


@pytest.mark.parametrize(("returns", "moved"), [(True, 1), (False, 0)])
def test_return_to_the_concentrator_is_an_option(returns: bool, moved: int) -> None:
    """With it the patient moves as the unit has room at 00:30, without it the patient stays on the cylinder."""
    strategy = Strategy("s", ("concentrator", "cylinder"), returns)
    rules = hospital(UNIT_FIRST, strategy=strategy, concentrators=units(rated=1_000))
    outcome = run(rules, FixedDraws([(0, 30 * MINUTE), (0, 50 * MINUTE)]))
    assert len(steps(outcome, "on concentrator")) == 1 + moved


def test_nobody_returns_where_cylinders_come_first() -> None:
    """With cylinders first the unit is the overflow: when it is free nobody moves from a cylinder to it."""
    rules = hospital(CYLINDER_FIRST, cylinders=cylinders(fleet=1))
    outcome = run(rules, FixedDraws([(0, 50 * MINUTE), (0, 20 * MINUTE)]))
    assert steps(outcome, "on concentrator", "on cylinder") == [
        "00:00:00 on cylinder: 0 3600000",
        "00:00:00 on concentrator: 1 0",
    ]


def test_waiting_patients_go_before_returning_ones() -> None:
    """At the return of power the unit goes to who waits, of a lower priority or not, not to who has a cylinder."""
    rules = hospital(UNIT_FIRST, concentrators=units(rated=1_000), cylinders=cylinders(fleet=1), grid=GRID)
    draws = FixedDraws([(MINUTE, 50 * MINUTE), (2 * MINUTE, 50 * MINUTE)], up=(0,), down=(at("00:30"),))
    outcome = run(rules, draws)
    assert steps(outcome, "on concentrator")[0] == "00:30:00 on concentrator: 1 0"


def test_a_cylinder_freed_by_a_return_goes_to_who_waits_at_once() -> None:
    """Patient 0 returns to the unit at 00:30; patient 1, too much for it, takes the cylinder that second."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(rated=1_000),
        cylinders=cylinders(fleet=1),
        grid=GRID,
        allocation=Allocation(reduced_flow="never"),
    )
    rows = [(MINUTE, 50 * MINUTE), (2 * MINUTE, 40 * MINUTE, 2_000)]
    outcome = run(rules, FixedDraws(rows, up=(0,), down=(at("00:30"),)))
    assert steps(outcome, "on concentrator", "on cylinder") == [
        "00:01:00 on cylinder: 0 3600000",
        "00:30:00 on concentrator: 0 0",
        "00:30:00 on cylinder: 1 1860000",
    ]


def test_waiting_is_by_priority_and_then_by_arrival() -> None:
    """Three wait for the only regulator: the one of the second priority, who came first of them, goes last."""
    rules = hospital(cylinders=cylinders(regulators=1), patients=(kind(priority=2), kind("newborns", priority=1)))
    rows = [(0, 30 * MINUTE, 1_000, 1), (60, 3 * HOUR, 1_000, 0), (120, HOUR, 1_000, 1), (180, HOUR, 1_000, 1)]
    outcome = run(rules, FixedDraws(rows))
    served = [entry.item for entry in outcome.log if entry.step == "on cylinder"]
    assert list(dict.fromkeys(served)) == [0, 2, 3, 1]


def test_continuous_review_orders_at_the_start_what_is_missing_then() -> None:
    """All four empty at the start: one order for four at once, though nothing is opened or emptied."""
    rules = hospital(cylinders=cylinders(fleet=4, full_at_start=0), resupply=resupply(None, 3, 4, HOUR))
    assert steps(run(rules, FixedDraws()), "order") == ["00:00:00 order: 0 4 3600"]


def test_a_watched_cylinder_on_its_reserve_is_changed_as_a_delivery_comes() -> None:
    """Low at 00:54 with nothing to change to, a delivery at 00:55: changed then, in one minute."""
    rules = hospital(
        cylinders=cylinders(fleet=2, full_at_start=1, change_time_s=MINUTE),
        response_time_s=5 * MINUTE,
        resupply=resupply(DAY, 1, 2, 55 * MINUTE),
    )
    outcome = run(rules, FixedDraws([(0, 80 * MINUTE)]))
    assert steps(outcome, "gap begins") == ["00:55:00 gap begins: 0 changeover"]
    assert sum(outcome.unserved_s) == MINUTE


def test_a_low_cylinder_without_replacement_gives_way_to_a_unit_with_room() -> None:
    """Cylinders first, none left at 00:54, a unit free: a planned move, nobody unserved."""
    outcome = run(hospital(CYLINDER_FIRST, cylinders=cylinders(fleet=1)), FixedDraws([(0, 80 * MINUTE)]))
    assert steps(outcome, "on concentrator") == ["00:54:00 on concentrator: 0 0"]
    assert sum(outcome.unserved_s) == 0


def test_a_continuous_review_waits_for_the_cylinder_just_opened() -> None:
    """(r,Q) with a fleet of no more than the level: as the third is opened 2 empties back 3, so it waits."""
    rows = [(60 * place, 10) for place in (1, 2, 3)]
    stock = cylinders(fleet=4, full_gas=10_000, residual_gas=0, lost_gas=0)
    rules = hospital(cylinders=stock, resupply=resupply(None, 1, 4, DAY))
    outcome = run(rules, FixedDraws(rows))
    assert steps(outcome, "order")[0] == "00:03:10 order: 0 3 86590"
