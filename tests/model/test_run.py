"""The engine's front door, its concentrator and power details, and that a broken balance is an error."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from build import (
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
    resupply,
    run,
    steps,
    units,
)

from o2sim.draws import Draws
from o2sim.errors import InvariantError, O2simError
from o2sim.model.invariants import check_leaving, check_whole_run
from o2sim.model.patient import OpenCylinder, Patient
from o2sim.model.reference import run_reference
from o2sim.model.run import simulate
from o2sim.model.state import State
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Grid, RoadClosure, Scenario

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws


def test_an_unknown_engine_or_strategy_is_named_with_what_is_allowed() -> None:
    """Both messages say what was found and what there is."""
    scenario = Scenario("test", "", "test.yaml", "0" * 16, {"s": hospital()})
    with pytest.raises(O2simError, match="engine: found 'abacus'; allowed: kernel, reference"):
        simulate(scenario, "s", Draws(1, 0), engine="abacus")
    with pytest.raises(O2simError, match="strategy: found 'mixed'; allowed: s"):
        simulate(scenario, "mixed", Draws(1, 0))


def _lose_a_cylinder(state: State) -> None:
    assert state.store is not None
    state.store.full -= 1
    state.store.fills.pop()


def _move_a_cylinder(state: State) -> None:
    assert state.store is not None
    state.store.in_use += 1
    state.store.empties.pop()


def _lose_a_regulator(state: State) -> None:
    assert state.sets is not None
    state.sets.free[0] -= 1


def _lose_gas(state: State) -> None:
    state.ledger.received_gas += 1
    state.ledger.received_gas_by_size[0] += 1


def _serve_twice(state: State) -> None:
    assert state.bank is not None
    patient = state.bank.units[0].patients[0]
    assert state.store is not None
    assert state.sets is not None
    state.on_cylinder[0] = patient
    state.open_cylinders[0] = patient.cylinder = OpenCylinder(patient, [patient], state.sets.kinds[0], state.store)
    state.store.in_use, state.sets.free = 1, [9]
    state.store.full -= 1
    state.store.fills.pop()
    state.ledger.leaked_gas += 60 * LITRE
    state.ledger.drawn(state.store, 60 * LITRE)
    state.ledger.cylinders_opened, state.ledger.opened_by_size = 1, [1]


def _serve_on_two_units(state: State) -> None:
    assert state.bank is not None
    state.bank.units[1].connect(state.bank.units[0].patients[0], 1_000)


def _serve_nobody(state: State) -> None:
    state.present[0].flowing = False


def _overload(state: State) -> None:
    assert state.bank is not None
    state.bank.units[0].load_ml_min += 1


def _crowd(state: State) -> None:
    assert state.bank is not None
    state.bank.units[0].rules = replace(state.bank.units[0].rules, outlets=0)


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (_lose_a_cylinder, "gas in cylinders"),
        (_lose_gas, "gas in cylinders"),
        (_lose_a_regulator, "regulators"),
        (_serve_twice, "one source a patient"),
        (_serve_on_two_units, "one unit a patient"),
        (_serve_nobody, "patient 0 served or in a gap"),
        (_overload, "load of unit 0"),
        (_crowd, "outlets of unit 0"),
    ],
)
def test_a_broken_balance_is_an_error(damage: Callable[[State], None], said: str) -> None:
    """A state damaged at the end of a sound run is refused, by the name of the balance."""
    rules = hospital(UNIT_FIRST, concentrators=units(2))
    state, _ = run_reference(rules, FixedDraws([(0, 2 * DAY)]))
    check_whole_run(state)
    damage(state)
    with pytest.raises(InvariantError, match=said):
        check_whole_run(state)


@pytest.mark.parametrize("damage", ["fleet", "in use"])
def test_a_cylinder_in_the_wrong_place_is_an_error(damage: str) -> None:
    """A cylinder that is nowhere, or in use at nobody's bedside, though the gas still balances."""
    empty = cylinders(full_at_start=3, residual_gas=0, lost_gas=0)  # so that empties hold no gas
    state, _ = run_reference(hospital(cylinders=empty), FixedDraws())
    assert state.store is not None
    state.store.empties.pop()
    state.store.in_use += damage == "in use"
    said = {"fleet": "places of the fleet", "in use": "cylinders in use"}[damage]
    with pytest.raises(InvariantError, match=said):
        check_whole_run(state)


def test_a_patient_with_seconds_unaccounted_for_is_an_error() -> None:
    """Nine of ten seconds served or unserved."""
    patient = Patient(3, 0, 1, False, 1_000, arrival_s=0, leave_s=10, served_s=4, unserved_s=5)
    with pytest.raises(InvariantError, match="need of patient 3"):
        check_leaving(patient)


def test_several_patients_share_a_unit_up_to_its_rated_flow() -> None:
    """5 L/min: 2 + 2 fit, the third takes the next unit, a fourth of 1 L/min the first again."""
    rows = [(0, HOUR, 2_000), (1, HOUR, 2_000), (2, HOUR, 2_000), (3, HOUR, 1_000)]
    outcome = run(hospital(UNIT, concentrators=units(2)), FixedDraws(rows))
    assert [entry.other for entry in outcome.log if entry.step == "on concentrator"] == [0, 0, 1, 0]


def test_nobody_moves_from_unit_to_unit() -> None:
    """When the first unit is free again, who is on the second stays there."""
    rows = [(0, HOUR, 4_000), (1, 3 * HOUR, 4_000)]
    outcome = run(hospital(UNIT, concentrators=units(2)), FixedDraws(rows))
    assert len(steps(outcome, "on concentrator")) == 2


def test_power_that_returns_before_a_repair_does_not_serve_a_failed_unit() -> None:
    """Unit 0 fails during its own cut: its patient waits for the repair, the other's resumes with the power."""
    rules = hospital(
        UNIT, concentrators=units(2, 1_000, fails=True, clock="calendar"), grid=GRID, response_time_s=HOUR
    )
    draws = FixedDraws(
        [(0, 3 * HOUR), (0, 3 * HOUR)],
        up=(60 * MINUTE,),
        down=(10 * MINUTE,),
        failures={0: (65 * MINUTE,)},
        repairs={0: (15 * MINUTE,)},
    )
    assert steps(run(rules, draws), "gap ends") == [
        "01:10:00 gap ends: 1 changeover 600",
        "01:20:00 gap ends: 0 changeover 1200",  # repaired within the response: it resumes at once
    ]


def test_a_patient_who_leaves_during_the_response_is_gone() -> None:
    """The response of 10 min to a cut at 01:00 outlasts a stay that ends at 01:05."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=10 * MINUTE)
    outcome = run(rules, FixedDraws([(0, 65 * MINUTE)], up=(HOUR,)))
    assert (by_cause(outcome.unserved_s), outcome.cylinders_opened) == ({Cause.CHANGEOVER: 5 * MINUTE}, 0)


def test_units_without_failures_never_fail_and_draw_nothing() -> None:
    """No failure law: a year of draws without one."""
    outcome = run(hospital(UNIT), FixedDraws([(0, DAY)], failures={0: (1,)}))
    assert (outcome.concentrator_failures, outcome.concentrator_running_s) == (0, DAY)


@pytest.mark.parametrize(("overtaking", "arrivals"), [(False, [4, 4]), (True, [2, 4])])
def test_an_order_overtakes_only_where_it_may(overtaking: bool, arrivals: list[int]) -> None:
    """Ordered at 00:00 with 4 h and at 01:00 with 1 h to go."""
    rules = hospital(
        cylinders=cylinders(fleet=2, full_at_start=0),
        resupply=resupply(HOUR, 1, 2, HOUR, vehicle_capacity=1, overtaking=overtaking),
    )
    draws = FixedDraws(lead_s={(rules.start, 0): 4 * HOUR, (rules.start, 1): HOUR})
    outcome = run(rules, draws)
    assert [entry.time_s // HOUR for entry in outcome.log if entry.step == "delivery"] == arrivals


def test_a_closed_road_holds_a_delivery_until_the_day_after() -> None:
    """Closed on the second day, both dates inclusive: what was due then comes at the midnight that ends it."""
    second = hospital().start.replace(day=2)
    rules = hospital(
        horizon_s=3 * DAY,
        cylinders=cylinders(full_at_start=0),
        resupply=resupply(3 * DAY, 0, 4, DAY, road_closures=(RoadClosure(second, second),)),
    )
    assert steps(run(rules, FixedDraws()), "delivery") == ["48:00:00 delivery: 0 4 4"]


def test_continuous_review_orders_as_cylinders_are_emptied() -> None:
    """One for one with a base stock of 4: each cylinder used up is ordered at once, and comes 6 h later."""
    rules = hospital(resupply=resupply(None, 3, 4, 6 * HOUR))
    outcome = run(rules, FixedDraws([(HOUR, 54 * MINUTE), (5 * HOUR, 54 * MINUTE)]))
    assert steps(outcome, "order", "delivery") == [
        "01:54:00 order: 0 1 28440",
        "05:54:00 order: 1 1 42840",
        "07:54:00 delivery: 0 1 3",
        "11:54:00 delivery: 1 1 4",
    ]


def test_an_order_at_or_below_the_reorder_point_only() -> None:
    """Position 3 of 4 with a reorder point of 2 orders nothing; position 2 orders up to 4."""
    rules = hospital(resupply=resupply(HOUR, 2, 4, HOUR))
    outcome = run(rules, FixedDraws([(0, 54 * MINUTE), (121 * MINUTE, 54 * MINUTE)]))
    assert steps(outcome, "order") == ["03:00:00 order: 0 2 14400"]


def test_what_is_on_order_counts_as_stock() -> None:
    """A fleet of 6, order up to 2: at 01:00 two are on order and nothing more is ordered, though 4 are empty."""
    rules = hospital(cylinders=cylinders(fleet=6, full_at_start=0), resupply=resupply(HOUR, 1, 2, 150 * MINUTE))
    assert steps(run(rules, FixedDraws()), "order", "delivery") == [
        "00:00:00 order: 0 2 9000",
        "02:30:00 delivery: 0 2 2",
    ]


def test_each_failure_has_its_own_repair() -> None:
    """By the calendar: 1 h to the first failure, 10 min of repair, 2 h to the second, 20 min of repair."""
    rules = hospital(UNIT, concentrators=units(fails=True, clock="calendar"))
    draws = FixedDraws(failures={0: (HOUR, 2 * HOUR)}, repairs={0: (10 * MINUTE, 20 * MINUTE)})
    assert steps(run(rules, draws), "unit fails", "repair done") == [
        "01:00:00 unit fails: 0 0",
        "01:10:00 repair done: 0",
        "03:10:00 unit fails: 0 0",
        "03:30:00 repair done: 0",
    ]


def test_a_unit_repaired_without_power_serves_when_power_returns() -> None:
    """Failed at 01:00, no power from 01:05, repaired at 01:10, power at 01:20, all within a response of 1 h."""
    rules = hospital(UNIT, concentrators=units(fails=True), grid=GRID, response_time_s=HOUR)
    draws = FixedDraws(
        [(0, 3 * HOUR)],
        up=(65 * MINUTE,),
        down=(15 * MINUTE,),
        failures={0: (HOUR,)},
        repairs={0: (10 * MINUTE,)},
    )
    assert steps(run(rules, draws), "gap ends") == ["01:20:00 gap ends: 0 changeover 1200"]


def test_a_unit_that_returns_is_not_the_supply_of_who_has_left_it() -> None:
    """Moved from the unit to a cylinder at 01:05, which is low at 01:59, lost at 02:02; power is back at 02:04."""
    # What was lost at 02:02 is the cylinder: staff are there at 02:07, and then the unit is the first source.
    rules = hospital(UNIT_FIRST, cylinders=cylinders(fleet=1), grid=GRID, response_time_s=5 * MINUTE)
    outcome = run(rules, FixedDraws([(0, 3 * HOUR)], up=(HOUR,), down=(64 * MINUTE,)))
    assert steps(outcome, "gap ends", "on concentrator")[1:] == [
        "01:05:00 gap ends: 0 changeover 300",
        "02:07:00 gap ends: 0 changeover 300",
        "02:07:00 on concentrator: 0 0",
    ]
