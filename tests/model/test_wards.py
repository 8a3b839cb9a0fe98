"""Wards: sources are shared within one only; cylinders are kept there or fetched; idle units are moved."""

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
    resupply,
    run,
    steps,
    trace,
    units,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_hospitals import hospitals

from o2sim.draws import Draws
from o2sim.errors import InvariantError
from o2sim.model.invariants import check_whole_run
from o2sim.model.reference import run_reference
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, Grid, Hospital, StoreAccess, Ward

KINDS = (kind("newborns", ward="north"), kind("adults", ward="south"))
NORTH, SOUTH = 0, 1  # classes, and their wards
BIG = cylinders(full_gas=6_000 * LITRE)  # no change within these runs
FETCH = StoreAccess(5 * MINUTE, 20 * MINUTE)


def _stay(arrival, length, ward, flow=1_000):
    return (arrival, length, flow, ward)


def _apart(sources, north, south, **changes):
    """Two wards with (units, regulators, bedside cylinders) each."""
    wards = (Ward("north", *north), Ward("south", *south))
    return hospital(sources, patients=KINDS, wards=wards, **changes)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(rules=hospitals(), seed=st.integers(0, 10_000))
def test_one_ward_that_holds_everything_is_as_good_as_none(rules: Hospital, seed: int) -> None:
    """The whole log is the same, also where units might be moved: there is nowhere to move them from."""
    count = rules.concentrators.count if rules.concentrators else 0
    sets = rules.cylinders.regulators if rules.cylinders else 0
    plain = replace(rules, wards=(), moving_s=None)
    patients = tuple(replace(each, ward="all") for each in rules.patients)
    named = replace(plain, wards=(Ward("all", count, sets),), patients=patients, moving_s=600)
    assert run(named, Draws(seed, 0)) == run(plain, Draws(seed, 0))


def test_a_unit_of_another_ward_is_out_of_reach():
    """North's unit is idle, south's full: the second patient of the south waits for an hour."""
    rules = _apart(UNIT, (1, 0), (1, 0), concentrators=units(2, outlets=1))
    outcome = run(rules, FixedDraws([_stay(0, HOUR, SOUTH), _stay(0, 2 * HOUR, SOUTH)]))
    assert steps(outcome, "on concentrator") == ["00:00:00 on concentrator: 0 1", "01:00:00 on concentrator: 1 1"]
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATORS_FULL: HOUR}
    assert (outcome.ward_unserved_s, outcome.ward_interruptions) == ((0, HOUR), (0, 1))


def test_an_idle_unit_is_moved_to_where_somebody_waits_and_stays_there():
    """It takes 30 min; at 01:00 a patient of the north finds no unit, and south's are in use until 02:00."""
    rules = _apart(UNIT, (1, 0), (1, 0), concentrators=units(2, outlets=1), moving_s=30 * MINUTE)
    stays = [_stay(0, 2 * HOUR, SOUTH), _stay(0, 2 * HOUR, SOUTH), _stay(HOUR, 2 * HOUR, NORTH)]
    outcome = run(rules, FixedDraws(stays))
    assert steps(outcome, "on concentrator", "move begins", "unit moved") == [
        "00:00:00 on concentrator: 0 1",
        "00:00:00 move begins: 0 1",
        "00:30:00 unit moved: 0 1",
        "00:30:00 on concentrator: 1 0",
        "02:00:00 move begins: 1 0",
        "02:30:00 unit moved: 1 0",
        "02:30:00 on concentrator: 2 1",
    ]
    assert outcome.concentrators_moved == 2
    assert outcome.ward_unserved_s == (90 * MINUTE, 30 * MINUTE)


def test_one_unit_at_a_time_is_moved_to_a_ward_the_lowest_number_first():
    """Two of the south wait at 00:00: north's unit 0 comes at 00:30, unit 1 at 01:00."""
    rules = _apart(UNIT, (2, 0), (0, 0), concentrators=units(2, outlets=1), moving_s=30 * MINUTE)
    outcome = run(rules, FixedDraws([_stay(0, 4 * HOUR, SOUTH)] * 2))
    assert steps(outcome, "unit moved") == ["00:30:00 unit moved: 0 1", "01:00:00 unit moved: 1 1"]


def test_a_unit_without_power_or_in_use_is_not_moved():
    """North's unit serves; when it is free at 01:00 the grid is down for good."""
    rules = _apart(
        UNIT,
        (1, 0),
        (0, 0),
        concentrators=units(1, outlets=1),
        moving_s=30 * MINUTE,
        grid=Grid(constant(1), constant(1)),
    )
    outcome = run(rules, FixedDraws([_stay(0, HOUR, NORTH), _stay(0, 4 * HOUR, SOUTH)], up=(at("00:59"),)))
    assert outcome.concentrators_moved == 0


def test_regulators_of_another_ward_are_out_of_reach():
    """One regulator in the south: its second patient has no regulator beside four full cylinders."""
    rules = _apart(CYLINDER, (0, 3), (0, 1), cylinders=cylinders(full_gas=6_000 * LITRE, regulators=4))
    outcome = run(rules, FixedDraws([_stay(0, HOUR, SOUTH)] * 2))
    assert by_cause(outcome.unserved_s) == {Cause.NO_REGULATOR: HOUR}


def test_a_cylinder_kept_on_the_ward_flows_at_once_another_is_fetched():
    """By night the store is 20 min away; by day one is brought to the ward from 07:00, there at 07:05."""
    rules = _apart(CYLINDER, (0, 5), (0, 5, 1), cylinders=BIG, store=FETCH)
    rules = replace(rules, response_time_s=0)
    stays = [_stay(HOUR, 20 * HOUR, SOUTH), _stay(HOUR, 20 * HOUR, SOUTH), _stay(8 * HOUR, HOUR, SOUTH)]
    outcome = run(rules, FixedDraws(stays))
    assert steps(outcome, "fetch begins", "on cylinder", "gap ends", "ward restocked") == [
        "01:00:00 on cylinder: 0 360000000",
        "01:00:00 fetch begins: 1 4800",
        "01:20:00 gap ends: 1 changeover 1200",
        "01:20:00 on cylinder: 1 360000000",
        "07:05:00 ward restocked: 1 1 1",
        "08:00:00 on cylinder: 2 360000000",
        "08:05:00 ward restocked: 1 1 1",
    ]


def test_cylinders_kept_on_another_ward_are_out_of_reach():
    """All four stand on the north: for the south there is no cylinder."""
    rules = _apart(CYLINDER, (0, 5, 4), (0, 5), cylinders=BIG)
    outcome = run(rules, FixedDraws([_stay(0, HOUR, SOUTH)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: HOUR}


def test_the_last_cylinder_is_fetched_for_one_patient_only():
    """Of two who come at 10:00 the second has no cylinder from the first second on."""
    rules = hospital(CYLINDER, cylinders=cylinders(full_gas=6_000 * LITRE, fleet=1), store=FETCH)
    outcome = run(rules, FixedDraws([(10 * HOUR, HOUR), (10 * HOUR, HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 5 * MINUTE, Cause.NO_CYLINDER: HOUR}


def test_a_low_cylinder_flows_on_while_the_next_is_fetched():
    """Low at 10:54, flow lost at 10:57, the next there at 10:59 and connected by 11:01: 4 min without."""
    rules = hospital(
        CYLINDER, cylinders=cylinders(change_time_s=2 * MINUTE), store=FETCH, tolerated_gap_s=10 * MINUTE
    )
    outcome = run(rules, FixedDraws([(10 * HOUR - 5 * MINUTE, 90 * MINUTE)]))
    assert trace(outcome) == [
        "09:55:00 patient arrives: 0 0 1000",
        "09:55:00 fetch begins: 0 36000",
        "09:55:00 gap begins: 0 changeover",
        "10:00:00 cylinder opened: 0 3 3600000",
        "10:00:00 gap ends: 0 changeover 300",
        "10:00:00 on cylinder: 0 3600000",
        "10:54:00 fetch begins: 0 39540",
        "10:57:00 cylinder runs out: 0 1 180000",
        "10:57:00 gap begins: 0 changeover",
        "10:59:00 cylinder emptied: 0 1 180000",
        "10:59:00 cylinder opened: 0 2 3600000",
        "11:01:00 gap ends: 0 changeover 240",
        "11:01:00 on cylinder: 0 3600000",
        "11:25:00 cylinder racked: 0 1 2160000",
        "11:25:00 patient leaves: 0 540",
    ]


def test_a_fetch_is_called_off_where_a_unit_finds_room():
    """The first is off the unit at 10:03: the second, for whom a cylinder is on its way, is put on it."""
    rules = hospital(UNIT_FIRST, concentrators=units(1, outlets=1), cylinders=BIG, store=FETCH)
    outcome = run(rules, FixedDraws([(9 * HOUR, HOUR + 3 * MINUTE), (10 * HOUR, HOUR)]))
    assert steps(outcome, "on concentrator", "cylinder opened", "gap ends")[-2:] == [
        "10:03:00 gap ends: 1 changeover 180",
        "10:03:00 on concentrator: 1 0",
    ]
    assert outcome.cylinders_opened == 0


def test_no_time_to_fetch_is_as_good_as_no_store():
    """By day at no time, by night at 20 min: a run by day alone is the same."""
    plain = hospital(CYLINDER, cylinders=cylinders(fleet=9))
    draws = [(8 * HOUR + 60 * place, 5 * HOUR) for place in range(4)]
    timed = replace(plain, store=StoreAccess(0, 20 * MINUTE))
    assert run(timed, FixedDraws(draws)) == run(plain, FixedDraws(draws))


def test_only_those_of_the_same_ward_give_way():
    """Priority 1 of the north waits, though priority 2 of the south is on a unit."""
    kinds = (kind("newborns", ward="north", priority=1), kind("adults", ward="south", priority=2))
    rules = _apart(UNIT, (0, 0), (1, 0), concentrators=units(1, outlets=1), allocation=Allocation(preempt=True))
    outcome = run(replace(rules, patients=kinds), FixedDraws([_stay(0, HOUR, SOUTH), _stay(60, HOUR, NORTH)]))
    assert steps(outcome, "displaced") == []


def test_a_ward_whose_units_are_all_down_says_so():
    """South's unit fails after 30 min, north's works: the cause in the south is concentrator down."""
    rules = _apart(UNIT, (1, 0), (1, 0), concentrators=units(2, fails=True))
    outcome = run(rules, FixedDraws([_stay(0, HOUR, SOUTH)], failures={1: (30 * MINUTE,)}, repairs={1: (DAY,)}))
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATOR_DOWN: 30 * MINUTE}


def test_a_delivery_goes_to_the_wards_after_those_who_wait():
    """Three come at 12:00: two wait, the third is brought to the ward."""
    rules = _apart(
        CYLINDER,
        (0, 5, 1),
        (0, 5),
        cylinders=cylinders(full_gas=6_000 * LITRE, fleet=3, full_at_start=0),
        resupply=resupply(DAY, 2, 3, 12 * HOUR),
    )
    outcome = run(rules, FixedDraws([_stay(HOUR, DAY, SOUTH), _stay(HOUR, DAY, NORTH)]))
    assert steps(outcome, "on cylinder", "ward restocked") == [
        "12:00:00 on cylinder: 0 360000000",
        "12:00:00 on cylinder: 1 360000000",
        "12:00:00 ward restocked: 0 1 1",
    ]


@pytest.mark.parametrize(
    ("said", "damage"),
    [
        ("regulators of ward 1", lambda s: setattr(s.wards[1], "regulators_free", 5)),
        ("bedside cylinders of ward 1", lambda s: setattr(s.wards[1], "most_bedside", 0)),
        ("ward of unit 1", lambda s: setattr(s.bank.units[1], "ward", 0)),
        ("unit 1 serves nobody", lambda s: setattr(s.bank.units[1], "on_the_move", True)),
        ("who is expected on unit 0", lambda s: s.bank.units[0].expected.append(s.present[0])),
        ("places of the fleet", lambda s: s.store.bedside[1].append(5)),
    ],
)
def test_a_broken_balance_of_a_ward_is_an_error(said, damage):
    """A sound state that is damaged is refused by the name of the balance."""
    rules = _apart(UNIT_FIRST, (1, 5), (1, 5, 1), concentrators=units(2, outlets=1), cylinders=BIG)
    state, _ = run_reference(rules, FixedDraws([_stay(0, 2 * DAY, SOUTH)] * 2))
    check_whole_run(state)
    damage(state)
    if "fleet" in said:
        state.opening_gas[0] += 5
    with pytest.raises(InvariantError, match=said):
        check_whole_run(state)
