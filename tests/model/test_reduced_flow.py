"""Reduced flow: who needs more than a unit gives takes the best on offer, gives way, and gets more when it can."""

from dataclasses import replace

import pytest
from build import (
    CYLINDER_FIRST,
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
    manifold,
    run,
    steps,
    trace,
    units,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from random_hospitals import hospitals

from o2sim.draws import Draws
from o2sim.outcome import DAILY_COLUMNS, Cause
from o2sim.scenario.types.hospital import Allocation, Grid

ANY = Allocation(reduced_flow="any")
NEVER = Allocation(reduced_flow="never")
BIG = cylinders(fleet=1, full_gas=6_000 * LITRE)
FLOW_STEPS = ("on concentrator", "on cylinder", "reduced flow", "flow lowered", "flow raised")


def test_an_adult_of_eight_litres_on_a_unit_of_five() -> None:
    """Gets 5, gives way to a child, gets it back, loses it in a failure, and has it again after the repair."""
    # Patient 1 needs 1 L/min and patient 0 can spare it: 4 left. Patient 2 needs 3: patient 0 keeps at least half
    # of 5 L/min, so 4 - 2.5 = 1.5 L/min are to be had, with the 1 L/min from 02:00 on 2.5: it waits. After 3 h of
    # running the unit fails; it is repaired before the response is over and gives what it gave.
    rules = hospital(UNIT, concentrators=units(fails=True), response_time_s=5 * MINUTE)
    rows = [(0, 4 * HOUR, 8_000), (HOUR, HOUR, 1_000), (at("01:30"), HOUR, 3_000)]
    outcome = run(rules, FixedDraws(rows, failures={0: (3 * HOUR,)}, repairs={0: (3 * MINUTE,)}))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 8000",
        "00:00:00 on concentrator: 0 0",
        "00:00:00 reduced flow: 0 0 5000",
        "01:00:00 patient arrives: 1 0 1000",
        "01:00:00 flow lowered: 0 0 4000",
        "01:00:00 on concentrator: 1 0",
        "01:30:00 patient arrives: 2 0 3000",
        "01:30:00 gap begins: 2 concentrators full",
        "01:30:00 interruption: 2 concentrators full 5400",
        "02:00:00 patient leaves: 1 0",
        "02:00:00 flow raised: 0 0 5000",
        "02:30:00 gap ends: 2 concentrators full 3600",
        "02:30:00 patient leaves: 2 3600",
        "03:00:00 unit fails: 0 1",
        "03:00:00 supply lost: 0",
        "03:00:00 gap begins: 0 changeover",
        "03:00:00 interruption: 0 changeover 10800",
        "03:03:00 repair done: 0",
        "03:03:00 gap ends: 0 changeover 180",
        "03:03:00 on concentrator: 0 0",
        "04:00:00 patient leaves: 0 180",
    ]
    # Patient 0: 60 min at 5, 60 at 4, 60 at 5, 3 without, 57 at 5; missing 3, 4, 3 and 3 L/min. Patient 1: 60 L.
    assert outcome.concentrator_gas == (300 + 240 + 300 + 285 + 60) * LITRE
    assert outcome.missing_gas == (180 + 240 + 180 + 171) * LITRE
    assert outcome.needed_gas == outcome.concentrator_gas + outcome.missing_gas + (24 + 180) * LITRE
    assert (outcome.under_served_s, outcome.patients_under_served) == (237 * MINUTE, 1)
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 3 * MINUTE, Cause.CONCENTRATORS_FULL: HOUR}


@pytest.mark.parametrize("sources", [UNIT_FIRST, CYLINDER_FIRST])
def test_who_is_under_served_moves_to_the_first_cylinder_that_is_free(sources: tuple[str, ...]) -> None:
    """One cylinder, taken until 00:30: the second patient has 5 of 8 L/min until then, and no gap."""
    rules = hospital(sources, cylinders=BIG)
    outcome = run(rules, FixedDraws([(0, at("00:30"), 8_000), (at("00:10"), HOUR, 8_000)]))
    assert steps(outcome, *FLOW_STEPS, "patient leaves") == [
        "00:00:00 on cylinder: 0 360000000",
        "00:10:00 on concentrator: 1 0",
        "00:10:00 reduced flow: 1 0 5000",
        "00:30:00 patient leaves: 0 0",
        "00:30:00 on cylinder: 1 345600000",  # 6,000 - 30 x 8 = 5,760 L
        "01:10:00 patient leaves: 1 0",
    ]
    assert (outcome.under_served_s, outcome.missing_gas) == (20 * MINUTE, 60 * LITRE)
    assert (sum(outcome.unserved_s), outcome.interruptions) == (0, (0,) * len(Cause))


def test_a_cylinder_that_gives_nothing_leaves_one_on_reduced_flow() -> None:
    """The only cylinder is found unusable on opening: the unit serves within the same second."""
    unusable = replace(cylinders(fleet=1, full_gas=6 * LITRE), regulators=1)  # at residual pressure from the start
    outcome = run(hospital(UNIT_FIRST, cylinders=unusable), FixedDraws([(0, HOUR, 8_000)]))
    assert outcome.cylinders_unusable == 1
    assert (outcome.under_served_s, outcome.interruptions) == (HOUR, (0,) * len(Cause))


def test_two_who_need_more_than_a_unit_gives_share_it() -> None:
    """The first gives way down to half the rated flow; the third finds nothing: 5 L/min are 2.5 and 2.5."""
    rows = [(0, HOUR, 8_000), (0, HOUR, 8_000), (0, 30 * MINUTE, 8_000)]
    outcome = run(hospital(UNIT), FixedDraws(rows))
    assert steps(outcome, *FLOW_STEPS, "gap begins") == [
        "00:00:00 on concentrator: 0 0",
        "00:00:00 reduced flow: 0 0 5000",
        "00:00:00 flow lowered: 0 0 2500",
        "00:00:00 on concentrator: 1 0",
        "00:00:00 reduced flow: 1 0 2500",
        "00:00:00 gap begins: 2 concentrators full",
        "01:00:00 flow raised: 1 0 5000",
    ]
    assert outcome.concentrator_gas == 300 * LITRE


def test_the_best_offer_is_the_unit_with_most_to_spare() -> None:
    """Units with 4, 3 and 4.5 L/min to spare, the last without an outlet left: the first it is."""
    three = replace(units(3), outlets=2)
    rows = [(0, HOUR, 3_000), (0, HOUR, 3_000), (0, HOUR, 4_500), (60, HOUR, 500), (120, HOUR, 9_000)]
    outcome = run(hospital(UNIT, concentrators=three), FixedDraws(rows))
    assert steps(outcome, "reduced flow") == ["00:02:00 reduced flow: 4 1 2000"]


def test_who_needs_no_more_than_a_unit_gives_waits_unless_any_may_take_a_part() -> None:
    """2 of 5 L/min are free beside 3: one of 4 L/min waits; with `any` it takes the 2."""
    rows = [(0, HOUR, 3_000), (0, HOUR, 4_000)]
    waits = run(hospital(UNIT), FixedDraws(rows))
    assert by_cause(waits.unserved_s) == {Cause.CONCENTRATORS_FULL: HOUR}
    takes = run(hospital(UNIT, allocation=ANY), FixedDraws(rows))
    assert steps(takes, "reduced flow") == ["00:00:00 reduced flow: 1 0 2000"]
    assert (takes.under_served_s, takes.missing_gas) == (HOUR, 120 * LITRE)


@pytest.mark.parametrize("grid", [Grid(never_on=True), None])
def test_why_one_of_eight_litres_gets_nothing(grid: Grid | None) -> None:
    """Without power the cause is no power, with every outlet taken the units are full; `never`: too high."""
    one_outlet = replace(units(), outlets=1)
    rows = [(0, HOUR, 5_000), (0, HOUR, 8_000)] if grid is None else [(0, HOUR, 8_000)]
    default = run(hospital(UNIT, concentrators=one_outlet, grid=grid), FixedDraws(rows))
    never = run(hospital(UNIT, concentrators=one_outlet, grid=grid, allocation=NEVER), FixedDraws(rows))
    cause = Cause.CONCENTRATORS_FULL if grid is None else Cause.NO_POWER
    assert by_cause(default.unserved_s) == {cause: HOUR}
    assert by_cause(never.unserved_s) == {Cause.FLOW_TOO_HIGH: HOUR}


def test_a_higher_priority_takes_a_full_source_before_a_part_of_one() -> None:
    """With pre-emption the cylinder of a lower priority is taken; its holder gets what the unit can give."""
    kinds = (kind(priority=2), kind("children", priority=1))
    rules = hospital(
        CYLINDER_FIRST, cylinders=replace(BIG, regulators=1), patients=kinds, allocation=Allocation(preempt=True)
    )
    outcome = run(rules, FixedDraws([(0, HOUR, 6_000, 0), (60, HOUR, 8_000, 1)]))
    assert steps(outcome, *FLOW_STEPS, "displaced")[1:] == [
        "00:01:00 displaced: 0 1",
        "00:01:00 on cylinder: 1 359640000",
        "00:01:00 on concentrator: 0 0",
        "00:01:00 reduced flow: 0 0 5000",
    ]


def test_under_served_patients_are_counted_at_midnight_and_in_the_horizon_alone() -> None:
    """Reduced from the warm-up on: counted once in the horizon, and in the census of its first midnight."""
    rules = hospital(UNIT, warm_up_s=HOUR)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR, 8_000), (0, HOUR, 100)]))
    assert outcome.daily[0, DAILY_COLUMNS.index("under_served")] == 1
    assert (outcome.under_served_s, outcome.patients_under_served) == (HOUR, 1)


@pytest.mark.no_cover
@settings(max_examples=60, deadline=None, derandomize=True)
@given(rules=hospitals(), seed=st.integers(0, 10_000))
def test_where_no_flow_is_above_the_rated_flow_the_rule_changes_nothing(rules, seed) -> None:
    """Units that give 200 L/min, more than anybody needs: the log with reduced flow is that without."""
    if rules.concentrators is None:
        return
    units, most = rules.concentrators, {"rated_flow_ml_min": 200_000}
    listed = tuple(replace(each, rules=replace(each.rules, **most)) for each in units.listed)
    wide = replace(rules, concentrators=replace(units, listed=listed, **most))
    kinds = tuple(replace(each, flow_ml_min=constant(1_000)) for each in rules.patients)
    logs = [
        run(
            replace(wide, patients=kinds, allocation=Allocation(reduced_flow=rule, two_units=two)), Draws(seed, 0)
        ).log
        for rule, two in (("never", False), ("above rated flow", True))
    ]
    assert logs[0] == logs[1]


def test_what_a_move_leaves_free_goes_to_who_waits_in_the_same_second() -> None:
    """The last cylinder is kept for priority 1: patient 1 moves to it at 00:30, patient 2 gets the unit then."""
    kinds = (kind(priority=1), kind("others", priority=2))
    rules = hospital(UNIT_FIRST, cylinders=BIG, patients=kinds, allocation=Allocation(reserve=1))
    rows = [(0, 30 * MINUTE, 8_000, 0), (60, HOUR, 8_000, 0), (120, HOUR, 3_000, 1)]
    outcome = run(rules, FixedDraws(rows))
    assert steps(outcome, "on cylinder", "on concentrator") == [
        "00:00:00 on cylinder: 0 360000000",
        "00:01:00 on concentrator: 1 0",
        "00:30:00 on cylinder: 1 345600000",
        "00:30:00 on concentrator: 2 0",
    ]


def test_a_return_a_move_and_a_wait_end_in_one_second() -> None:
    """At 00:30 patient 3 returns to unit 0, patient 4 moves to its cylinder, patient 5 gets unit 1."""
    kinds = (kind(priority=1), kind("others", priority=2))
    rules = hospital(
        UNIT_FIRST, concentrators=units(2), cylinders=BIG, patients=kinds, allocation=Allocation(reserve=1)
    )
    rows = [(0, 2 * HOUR, 1_000), (0, at("00:30"), 4_000), (0, at("00:20"), 5_000)]
    rows += [(10, HOUR, 3_000), (20, HOUR, 8_000), (at("00:25"), HOUR, 5_000, 1)]
    outcome = run(rules, FixedDraws(rows))
    assert steps(outcome, "on cylinder", "on concentrator", "reduced flow")[3:] == [
        "00:00:10 on cylinder: 3 360000000",
        "00:20:00 on concentrator: 4 1",
        "00:20:00 reduced flow: 4 1 5000",
        "00:30:00 on concentrator: 3 0",
        "00:30:00 on cylinder: 4 354630000",
        "00:30:00 on concentrator: 5 1",
    ]


def test_a_unit_left_for_an_outlet_takes_the_next_from_an_outlet_at_once() -> None:
    """A unit repaired takes one from an outlet, which one on reduced flow takes; that unit takes a third."""
    rules = hospital(
        ("concentrator", "manifold"),
        concentrators=units(2, rated=1_000, outlets=1, fails=True, clock="calendar"),
        manifold=manifold(outlets=2),
    )
    patients = [(0, 5_000), (0, 5_000), (1_500, 3_000, 2_000)]
    draws = FixedDraws(patients, failures={0: [1_000], 1: [1_000]}, repairs={0: [1_000], 1: [2_000]})
    outcome = run(rules, draws)
    assert [entry for entry in trace(outcome) if entry.startswith("00:50:00")] == [
        "00:50:00 repair done: 1",
        "00:50:00 on concentrator: 0 1",
        "00:50:00 on outlet: 2 2",
        "00:50:00 on concentrator: 1 0",
    ]
