"""Flow steps: the flow is turned down as a patient improves, and everything that follows from it is exact."""

from dataclasses import replace

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
    at,
    by_cause,
    constant,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    trace,
    units,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from random_hospitals import hospitals

from o2sim.draws import Draws
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, FlowStep, Grid, RegulatorSet, Staff, Transfer


class Stepping(FixedDraws):
    """Stays written down, the first patient's flow stepping as written: (seconds from arrival, mL/min)."""

    def __init__(self, rows, *steps, **more):
        super().__init__(rows, **more)
        self.steps = steps

    def patients(self, rules):
        """Return the stays with the steps of the first."""
        table = super().patients(rules)
        return replace(table, steps=(tuple(self.steps), *((),) * (len(table) - 1)))


def test_a_flow_that_steps_below_the_range_of_its_set_goes_on() -> None:
    """1 L/min, from 00:30 on 0.25, on a set of 0.5 to 2 L/min: served to the end; starting at 0.25 waits."""
    stock = cylinders(regulators=2, regulator_sets=(RegulatorSet(2, 500, 2_000),), full_gas=600 * LITRE)
    rules = hospital(cylinders=stock)
    outcome = run(rules, Stepping([(0, HOUR), (40 * MINUTE, 20 * MINUTE, 250)], (30 * MINUTE, 250)))
    assert steps(outcome, "gap begins") == ["00:40:00 gap begins: 1 no regulator"]
    assert by_cause(outcome.unserved_s) == {Cause.NO_REGULATOR: 20 * MINUTE}
    assert outcome.cylinder_gas == (30 * 1_000 + 30 * 250) * MINUTE


def test_a_cylinder_lasts_longer_from_the_step_on() -> None:
    """1 L/min, from 00:30 on 0.5: low at 01:18 and lost at 01:24 in place of 00:54 and 00:57."""
    # 60 L, residual at 6 L, flow lost at 3 L; looks at 02:00 and 04:00, a change takes 10 min.
    # At 00:30 30 L are left: (30 - 6) / 0.5 = 48 min to residual, (30 - 3) / 0.5 = 54 min to the loss of flow.
    rules = hospital(cylinders=cylinders(gauge_check_s=2 * HOUR, change_time_s=10 * MINUTE))
    outcome = run(rules, Stepping([(0, 3 * HOUR)], (30 * MINUTE, 500)))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 1000",
        "00:00:00 cylinder opened: 0 3 3600000",
        "00:00:00 on cylinder: 0 3600000",
        "00:30:00 flow stepped down: 0 500",
        "01:24:00 cylinder runs out: 0 0 180000",
        "01:24:00 gap begins: 0 ran empty unseen",
        "01:24:00 interruption: 0 ran empty unseen 5040",
        "02:00:00 cylinder emptied: 0 1 180000",
        "02:00:00 cylinder opened: 0 2 3600000",
        "02:10:00 gap ends: 0 ran empty unseen 2760",
        "02:10:00 on cylinder: 0 3600000",
        "03:00:00 cylinder racked: 0 1 2100000",  # 60 - 50 x 0.5 = 35 L
        "03:00:00 patient leaves: 0 2760",
    ]
    assert outcome.needed_gas == (30 + 75) * LITRE  # 150 min at 0.5
    assert outcome.cylinder_gas == (30 + 27 + 25) * LITRE


@pytest.mark.parametrize(("check_s", "seen"), [(0, "01:18:00"), (1_800, "01:30:00"), (4_680, "01:18:00")])
def test_a_look_finds_it_low_as_late_as_it_is(check_s: int, seen: str) -> None:
    """Residual pressure is reached at 01:18: the first look from then on leads to a change."""
    rules = hospital(cylinders=cylinders(gauge_check_s=check_s, lost_gas=0))  # the run-out is far off
    outcome = run(rules, Stepping([(0, 2 * HOUR)], (30 * MINUTE, 500)))
    assert [line[:8] for line in steps(outcome, "cylinder emptied")] == [seen]


def test_a_look_at_the_very_second_of_the_step_is_at_the_flow_so_far() -> None:
    """Low at 00:54 and looked at then, when the flow steps down: changed at the look, before the step."""
    rules = hospital(cylinders=cylinders(gauge_check_s=54 * MINUTE))
    outcome = run(rules, Stepping([(0, HOUR)], (54 * MINUTE, 500)))
    assert [line[9:] for line in steps(outcome, "cylinder emptied", "flow stepped down")] == [
        "cylinder emptied: 0 1 360000",
        "flow stepped down: 0 500",
    ]


def test_a_low_cylinder_with_nothing_to_change_to_lasts_longer_too() -> None:
    """Seen low at 00:54 with an empty shelf; from 00:55 on 0.5 L/min: 5 - 3 = 2 L are 4 min and not 2."""
    rules = hospital(cylinders=cylinders(fleet=1))
    outcome = run(rules, Stepping([(0, HOUR)], (55 * MINUTE, 500)))
    assert steps(outcome, "gauge check", "cylinder runs out") == [
        "00:54:00 gauge check: 0 360000",
        "00:59:00 cylinder runs out: 0 1 180000",
    ]


def test_what_will_not_last_is_reckoned_by_the_new_flow() -> None:
    """Looks each hour: at 1 L/min the cylinder ends at 01:57 and goes at 01:00; stepped at 00:30 it stays on."""
    # 120 L, flow lost at 3 L: at 1 L/min until 01:57; with 0.5 from 00:30 on (90 - 3) / 0.5 = 174 min, until
    # 03:24: the last look before that is that of 03:00.
    stock = cylinders(full_gas=120 * LITRE, gauge_check_s=HOUR, change_when="will_not_last")
    for step_s, changed in ((30 * MINUTE, "03:00:00"), (5 * HOUR, "01:00:00")):
        outcome = run(hospital(cylinders=stock), Stepping([(0, 4 * HOUR)], (step_s, 500)))
        assert steps(outcome, "cylinder opened")[1][:8] == changed


def test_need_in_a_gap_and_after_a_transfer_steps_down_too() -> None:
    """Nothing to be had, sent on after 1 h of 2; 1 L/min for 90 min, then 0.5: 60 L unserved, 45 transferred."""
    nothing = hospital(CYLINDER, cylinders=cylinders(fleet=0), transfer=Transfer(HOUR, 0))
    outcome = run(nothing, Stepping([(0, 2 * HOUR)], (90 * MINUTE, 500)))
    assert (outcome.needed_gas, outcome.transferred_s) == (105 * LITRE, HOUR)
    waits = run(replace(nothing, transfer=None), Stepping([(0, 2 * HOUR)], (90 * MINUTE, 500)))
    assert waits.needed_gas == 105 * LITRE
    assert by_cause(waits.unserved_s) == {Cause.NO_CYLINDER: 2 * HOUR}


def test_room_on_a_unit_comes_with_the_step() -> None:
    """5 of 5 L/min until 01:00, then 2: a patient waiting for 3 is served that second."""
    outcome = run(hospital(UNIT), Stepping([(0, 3 * HOUR, 5_000), (60, 3 * HOUR, 3_000)], (HOUR, 2_000)))
    assert steps(outcome, "on concentrator") == ["00:00:00 on concentrator: 0 0", "01:00:00 on concentrator: 1 0"]


def test_one_on_a_cylinder_returns_to_a_unit_as_the_flow_comes_within_its_rated_flow() -> None:
    """8 L/min from a cylinder, 4 from 01:00 on: the unit can give that."""
    rules = hospital(UNIT_FIRST, cylinders=cylinders(full_gas=6_000 * LITRE))
    outcome = run(rules, Stepping([(0, 3 * HOUR, 8_000)], (HOUR, 4_000)))
    assert steps(outcome, "on concentrator") == ["01:00:00 on concentrator: 0 0"]


def test_reduced_flow_is_enough_once_less_is_needed() -> None:
    """5 of 8 L/min, then of 6, then all of 4: under-served for the first two hours."""
    outcome = run(hospital(UNIT), Stepping([(0, 3 * HOUR, 8_000)], (HOUR, 6_000), (2 * HOUR, 4_000)))
    assert (outcome.under_served_s, outcome.missing_gas) == (2 * HOUR, (180 + 60) * LITRE)
    assert outcome.concentrator_gas == (300 + 300 + 240) * LITRE


def test_the_second_of_two_units_is_let_go_first() -> None:
    """5 + 5 L/min, then 5 + 2, then 4 + 0: the second unit stops at 02:00."""
    rules = hospital(UNIT, concentrators=units(2), allocation=Allocation(two_units=True))
    outcome = run(rules, Stepping([(0, 3 * HOUR, 10_000)], (HOUR, 7_000), (2 * HOUR, 4_000)))
    assert outcome.concentrator_running_s == 5 * HOUR
    assert outcome.concentrator_gas == (600 + 420 + 240) * LITRE


def test_a_step_during_the_response_is_served_at_the_new_flow() -> None:
    """The power is gone from 01:00 to 01:03 and the flow steps down at 01:01: 2 L/min from then on."""
    grid = Grid(constant(1), constant(1))
    rules = hospital(UNIT, grid=grid, response_time_s=300)
    draws = Stepping([(0, 2 * HOUR, 4_000)], (61 * MINUTE, 2_000), up=(HOUR,), down=(180,))
    outcome = run(rules, draws)
    assert outcome.concentrator_gas == (240 + 57 * 2) * LITRE
    assert outcome.needed_gas == (244 + 59 * 2) * LITRE


def test_steps_are_shares_of_the_first_flow_in_whole_ml_a_minute() -> None:
    """First flows of 333 mL/min: half is 166 (166.5, half to even), a tenth 33; equal steps leave no trace."""
    shares = (FlowStep(HOUR, 1.0), FlowStep(2 * HOUR, 0.5), FlowStep(3 * HOUR, 0.5), FlowStep(4 * HOUR, 0.1))
    adults = kind(admissions_per_day=5.0, flow_ml_min=constant(333), flow_steps=shares)
    table = Draws(1, 0).patients(hospital(patients=(adults,), horizon_s=5 * DAY))
    assert set(table.steps) == {((2 * HOUR, 166), (4 * HOUR, 33))}
    assert table.flows(0) == ((0, 333), (2 * HOUR, 166), (4 * HOUR, 33))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(rules=hospitals(), seed=st.integers(0, 10_000))
def test_steps_of_the_whole_flow_change_nothing(rules, seed) -> None:
    """Steps of 100 % give the log without steps."""
    plain = tuple(replace(each, flow_steps=()) for each in rules.patients)
    whole = tuple(replace(each, flow_steps=(FlowStep(HOUR, 1.0), FlowStep(DAY, 1.0))) for each in rules.patients)
    logs = [run(replace(rules, patients=kinds), Draws(seed, 0)).log for kinds in (plain, whole)]
    assert logs[0] == logs[1]


def test_a_flow_step_at_the_last_second_or_after_does_not_happen() -> None:
    """A step as the patient leaves, and one after: no event, the whole need at the first flow."""
    for step_s in (HOUR, at("01:30")):
        outcome = run(hospital(UNIT), Stepping([(0, HOUR)], (step_s, 500)))
        assert not steps(outcome, "flow stepped down")
        assert outcome.needed_gas == outcome.concentrator_gas == 60 * LITRE


def test_a_low_cylinder_that_waits_for_the_nurse_is_not_seen_low_again() -> None:
    """Looks each minute, low at 00:54; the nurse changes the other's first: 10 min of changes and no more."""
    # Patient 0 needs 0.25 L/min from 00:55 on: of 5 L the 2 L above the loss of flow last 8 min, until 01:03.
    kinds = (kind(priority=2), kind("children", priority=1))
    stock = cylinders(gauge_check_s=60, change_time_s=5 * MINUTE)
    rules = hospital(cylinders=stock, patients=kinds, staff=Staff(1, 1))
    draws = Stepping([(0, 90 * MINUTE, 1_000, 0), (0, 90 * MINUTE, 1_000, 1)], (55 * MINUTE, 250))
    outcome = run(rules, draws)
    assert steps(outcome, "gap begins") == [
        "00:54:00 gap begins: 1 changeover",
        "00:59:00 gap begins: 0 changeover",
    ]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 10 * MINUTE}


def test_who_needs_less_of_a_second_unit_makes_room_in_that_second() -> None:
    """5 + 3 L/min become 5 + 1 at 02:00: whoever is on a cylinder at 4 L/min goes to the unit at once."""
    stock, two = cylinders(full_gas=6_000 * LITRE), Allocation(two_units=True)
    rules = hospital(UNIT_FIRST, concentrators=units(2), cylinders=stock, allocation=two)
    outcome = run(rules, Stepping([(0, 6 * HOUR, 8_000), (600, 5 * HOUR, 4_000)], (2 * HOUR, 6_000)))
    assert steps(outcome, "on cylinder", "flow stepped down", "on concentrator") == [
        "00:00:00 on concentrator: 0 0",
        f"00:10:00 on cylinder: 1 {6_000 * LITRE}",
        "02:00:00 flow stepped down: 0 6000",
        "02:00:00 on concentrator: 1 1",
    ]
