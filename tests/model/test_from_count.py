"""Runs that begin from a count, worked by hand: who is on what at second 0, and what is still to come."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from build import (
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    START,
    UNIT,
    UNIT_FIRST,
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
from counts import MIDNIGHT, counted
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from random_hospitals import hospitals
from sized import unsized

from o2sim.draws import Draws
from o2sim.draws.from_count import start_of
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS, Cause, Outcome
from o2sim.scenario.types.bedside import Bedside
from o2sim.scenario.types.hospital import (
    Battery,
    FlowStep,
    Generator,
    Grid,
    Hospital,
    Law,
    Power,
    Recorded,
    Refuel,
    Scenario,
    Window,
)
from o2sim.scenario.types.now import CountedCylinders, GridNow, Now, OnOxygen, OrderUnderWay, UnitsNow

TEN_HOURS = kind(duration_s=constant(10 * HOUR))
GRID = Grid(constant(100 * HOUR), constant(10 * HOUR))
LUCK = Draws(0, 0)  # all laws are constants and nobody comes: what was counted is all there is
HALF_PAST_SEVEN = MIDNIGHT + dt.timedelta(hours=7, minutes=30)
FULL, PART_USED, IN_USE, EMPTY, ON_ORDER = range(5)  # columns of the daily count


def met(age_s: int = 9 * HOUR, source: Any = None, **known: Any) -> OnOxygen:
    """Return a patient of the first class, on oxygen for so long."""
    return OnOxygen(0, age_s=age_s, source=source, **known)


def stock(full: int, empty: int, *part_used: int) -> CountedCylinders:
    """Return a count of cylinders."""
    return CountedCylinders(full, empty, part_used)


def began(rules: Hospital, at: dt.datetime = HALF_PAST_SEVEN, **now: Any) -> Outcome:
    """Run a hospital from a count, by both engines alike."""
    begun = counted(rules, Now(at, **{"on_oxygen": (), **now}))
    outcome = run(begun, LUCK)
    twin = simulate(Scenario("", "", "", "", {"s": begun}), "s", LUCK, "kernel", log=True)
    assert (twin, twin.log, twin.daily.tolist()) == (outcome, outcome.log, outcome.daily.tolist())
    return outcome


def ward(**changes: Any) -> Hospital:
    """Return a hospital of cylinders whose patients stay ten hours."""
    return hospital(**{"patients": (TEN_HOURS,), **changes})


def units_ward(**changes: Any) -> Hospital:
    """Return a hospital of concentrators whose patients stay ten hours."""
    return ward(sources=UNIT, **changes)


def test_the_fleet_is_where_it_was_counted() -> None:
    """Of ten: 2 full, 3 empty, 2 part-used, 1 on a patient; one of the part-used is spent, two are in no place."""
    outcome = began(
        ward(cylinders=cylinders(fleet=10)),
        MIDNIGHT,
        cylinders=stock(2, 3, 30 * LITRE, 6 * LITRE),
        on_oxygen=(met(source="cylinder", gas=50 * LITRE),),
    )
    assert outcome.daily[0, :5].tolist() == [2, 1, 1, 4, 0]
    # 2 x 60 L full, 30 L part-used, 50 L on the patient; 3 empties at the residual 6 L, that on the gauge at 6 L.
    # (The empties are put back at their residual content, which is what the spent one held as well.)
    assert outcome.opening_gas == (120 + 30 + 50 + 4 * 6) * LITRE
    assert outcome.cylinders_lost == 0  # in the run


def test_a_cylinder_met_runs_out_by_its_gauge() -> None:
    """20 L and a bit at 0.9 L/min and 0.1 L/min of leak: lost at 3 L after 17 min, seen at 08:00."""
    rules = ward(
        cylinders=cylinders(fleet=3, leak_ml_min=100, gauge_check_s=2 * HOUR, change_time_s=10 * MINUTE),
        response_time_s=5 * MINUTE,
    )
    one = met(flow_ml_min=900, source="cylinder", gas=20 * LITRE + 100)
    outcome = began(rules, cylinders=stock(1, 1), on_oxygen=(one,))
    assert (20 * LITRE + 100 - 3 * LITRE) // (900 + 100) == 17 * MINUTE
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 900",
        "00:00:00 on cylinder: 0 1200100",
        "00:17:00 cylinder runs out: 0 0 180100",
        "00:17:00 gap begins: 0 ran empty unseen",
        "00:17:00 interruption: 0 ran empty unseen 1020",
        "00:30:00 cylinder emptied: 0 2 180100",  # the look of 08:00
        "00:30:00 cylinder opened: 0 0 3600000",
        "00:40:00 gap ends: 0 ran empty unseen 1380",
        "00:40:00 on cylinder: 0 3600000",
        "01:00:00 cylinder racked: 0 1 2400000",  # 20 min at 1 L/min
        "01:00:00 patient leaves: 0 1380",
    ]
    # The first hour of the run is the tenth of the stay; the cylinder met was opened before.
    assert (outcome.need_s, outcome.cylinders_opened, outcome.arrivals, outcome.patients) == (HOUR, 1, 0, 1)


def test_who_waits_or_lacks_the_source_is_short_from_second_0() -> None:
    """One counted as waiting, one on a unit that the strategy has not, one anywhere: no cylinder, no unit."""
    people = met(source="none"), met(source="concentrator"), met()
    outcome = began(ward(), cylinders=stock(0, 4), on_oxygen=people)
    assert steps(outcome, "gap begins") == [f"00:00:00 gap begins: {place} no cylinder" for place in range(3)]
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 3 * HOUR}
    assert (outcome.first_interruption_s, outcome.first_stock_out_s, outcome.first_bare_s) == (0, 0, 0)
    assert outcome.first_delivery_s == -1


def test_a_patient_on_a_cylinder_under_a_strategy_without_any_is_put_on_a_unit() -> None:
    """The source is not there, another is: it takes over at once."""
    outcome = began(units_ward(), on_oxygen=(met(source="cylinder", gas=20 * LITRE),))
    assert steps(outcome, "on concentrator") == ["00:00:00 on concentrator: 0 0"]
    assert outcome.unserved_s == (0,) * len(Cause)


@pytest.mark.parametrize(
    ("rules", "cause"),
    [
        (ward(cylinders=cylinders(fleet=3, regulators=1)), Cause.NO_REGULATOR),
        (
            ward(cylinders=cylinders(fleet=3), bedside=Bedside(humidifiers=1, humidify_above_ml_min=0)),
            Cause.NO_DELIVERY_SET,
        ),
    ],
)
def test_a_cylinder_without_a_device_goes_to_the_rack_and_its_patient_waits(rules: Hospital, cause: Cause) -> None:
    """One regulator set, or one humidifier, for two on cylinders: the second waits beside the rack."""
    people = tuple(met(source="cylinder", gas=gas * LITRE) for gas in (59, 40))
    outcome = began(rules, cylinders=stock(0, 1), on_oxygen=people)
    assert steps(outcome, "on cylinder", "gap begins")[:2] == [
        "00:00:00 on cylinder: 0 3540000",
        f"00:00:00 gap begins: 1 {cause.label}",
    ]
    assert outcome.opening_gas == (59 + 40 + 6) * LITRE
    opened = steps(outcome, "cylinder opened")  # the first is changed as 6 L are left, after 53 min
    assert opened[0] == "00:53:00 cylinder opened: 0 0 2400000"


def test_a_device_short_on_units_leaves_the_second_patient_waiting() -> None:
    """One humidifier for two met on a unit."""
    rules = units_ward(bedside=Bedside(humidifiers=1, humidify_above_ml_min=0))
    outcome = began(rules, on_oxygen=(met(source="concentrator"),) * 2)
    assert by_cause(outcome.unserved_s) == {Cause.NO_DELIVERY_SET: HOUR}


def test_who_was_met_anywhere_has_a_cylinder_that_nobody_counted() -> None:
    """Six cylinders, four of them counted: of three met anywhere two have the others, one opens a full one."""
    outcome = began(ward(cylinders=cylinders(fleet=6)), MIDNIGHT, cylinders=stock(2, 2), on_oxygen=(met(),) * 3)
    assert outcome.daily[0, :4].tolist() == [1, 0, 3, 2]
    assert steps(outcome, "cylinder opened")[0] == "00:00:00 cylinder opened: 2 1 3600000"


def test_a_free_unit_goes_before_a_cylinder_that_nobody_counted() -> None:
    """Concentrators first: two of three met anywhere are on the unit, one has the uncounted cylinder."""
    rules = ward(sources=UNIT_FIRST, cylinders=cylinders(fleet=6), concentrators=units(outlets=2))
    outcome = began(rules, MIDNIGHT, cylinders=stock(2, 2), on_oxygen=(met(),) * 3)
    assert outcome.daily[0, :4].tolist() == [2, 0, 1, 2]
    first = [f"00:00:00 on concentrator: {place} 0" for place in range(2)]
    assert steps(outcome, "on concentrator")[:2] == first


def test_a_grid_that_has_been_down_comes_back_after_the_rest_of_the_cut() -> None:
    """A cut of 10 h that began 7 h before the count ends 3 h after it; it is no cut of the run."""
    one = met(5 * HOUR, "concentrator")
    outcome = began(units_ward(grid=GRID), on_oxygen=(one,), grid=GridNow(False, 7 * HOUR))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 1000",
        "00:00:00 gap begins: 0 no power",
        "00:00:00 interruption: 0 no power 0",
        "03:00:00 power restored",
        "03:00:00 gap ends: 0 no power 10800",
        "03:00:00 on concentrator: 0 0",
        "05:00:00 patient leaves: 0 10800",
    ]
    assert (outcome.power_out_s, outcome.power_cuts) == (3 * HOUR, 0)


@pytest.mark.parametrize("up", [True, False])
def test_after_what_was_met_comes_the_next_of_each_kind(up: bool) -> None:
    """What was met of grid and unit is the first of its kind; what follows has luck of its own."""
    long, short = Law("exponential", (20.0 * HOUR,)), Law("exponential", (2.0 * HOUR,))
    bank = replace(units(fails=True, clock="calendar"), failure_s=long, repair_s=short)
    rules = units_ward(grid=Grid(long, short), concentrators=bank, horizon_s=30 * DAY)
    now = Now(MIDNIGHT, on_oxygen=(), grid=GridNow(up, HOUR), units=UnitsNow(0, (HOUR,)))
    draws = Draws(6, 2)
    log = run(counted(rules, now), draws).log
    turns = [each.time_s for each in log if each.step in ("power lost", "power restored")]
    ups, downs = draws.grid_up(long), draws.grid_down(short)
    after = (downs[0], ups[1], downs[1]) if up else (ups[1], downs[1], ups[2])
    assert tuple(np.diff(turns[:4]).tolist()) == after
    turns = [each.time_s for each in log if each.step in ("repair done", "unit fails")]
    assert np.diff(turns[:3]).tolist() == [draws.failures(long, 0)[1], draws.repairs(short, 0)[1]]


def test_a_battery_four_fifths_full_carries_a_unit_for_so_long() -> None:
    """Room for 2 h of one unit's 350 W: at 80 % it lasts 96 min."""
    power = Power(battery=Battery(2 * HOUR * 350, 1_000, 1_000, None, 1_000))
    rules = units_ward(grid=GRID, power=power)
    one = met(5 * HOUR, "concentrator")
    outcome = began(rules, on_oxygen=(one,), grid=GridNow(False, 7 * HOUR), battery_permille=800)
    assert steps(outcome, "battery empty", "power restored") == [
        "01:36:00 battery empty",
        "03:00:00 power restored",
    ]


@pytest.mark.parametrize(("fuel_ml", "runs_out"), [(1_000, ["02:00:00 fuel runs out"]), (0, [])])
def test_the_fuel_that_was_read_is_what_the_generator_has(fuel_ml: int, runs_out: list[str]) -> None:
    """At 500 mL an hour a litre lasts two hours of a cut; a dry tank gives no power at all."""
    generator = Generator(
        start_delay_s=0, night_delay_s=0, night=Window(0, 0), hours=(), power_w=None, base_load_w=0,
        idle_ml_h=500, per_kw_ml_h=0, tank_ml=5_000, refuel=Refuel(0, constant(100 * DAY)),
    )  # fmt: skip
    rules = units_ward(grid=GRID, power=Power(generator=generator))
    one = met(5 * HOUR, "concentrator")
    outcome = began(rules, on_oxygen=(one,), grid=GridNow(False, 7 * HOUR), fuel_ml=fuel_ml)
    assert steps(outcome, "fuel runs out") == runs_out
    assert sum(outcome.unserved_s) == (HOUR if fuel_ml else 3 * HOUR)


@pytest.mark.parametrize(("next_review_s", "second"), [(0, 0), (HOUR, HOUR), (None, 16 * HOUR + 30 * MINUTE)])
def test_the_next_review_is_where_it_was_said_or_at_midnight(next_review_s: int | None, second: int) -> None:
    """1 full and 2 on their way for an hour: position 3 is the reorder point, 2 are ordered."""
    rules = ward(cylinders=cylinders(fleet=6), resupply=resupply(DAY, 3, 5, 2 * HOUR))
    orders = (OrderUnderWay(2, HOUR),)
    outcome = began(rules, cylinders=stock(1, 5), on_order=orders, next_review_s=next_review_s)
    assert [entry.time_s for entry in outcome.log if entry.step == "order"] == [second]
    assert [entry.time_s for entry in outcome.log if entry.step == "delivery"] == [HOUR, second + 2 * HOUR]
    assert (outcome.first_delivery_s, outcome.first_bare_s) == (HOUR, -1)
    assert (outcome.orders, outcome.deliveries, outcome.cylinders_delivered) == (1, 2, 4)


def test_orders_come_in_the_order_in_which_they_were_placed() -> None:
    """Due in -1, 1 and 2 h: the one overdue comes at once, whatever the order of the list."""
    rules = ward(cylinders=cylinders(fleet=9), resupply=resupply(DAY, 0, 5, 2 * HOUR))
    orders = (OrderUnderWay(2, HOUR), OrderUnderWay(3, 0), OrderUnderWay(1, 3 * HOUR))
    outcome = began(rules, cylinders=stock(0, 9), on_order=orders)
    assert steps(outcome, "delivery") == [
        "00:00:00 delivery: 0 1 1",
        "01:00:00 delivery: 1 2 3",
        "02:00:00 delivery: 2 3 6",
    ]


def test_one_technician_sees_to_the_first_of_three_units_and_then_to_the_others() -> None:
    """Repairs of 10 h: the first has been down for 9 h and is done in one, the others follow one by one."""
    law = constant(100 * HOUR)
    bank = replace(units(4, fails=True), failure_s=law, repair_s=constant(10 * HOUR), crew=1)
    downs = UnitsNow(1, (9 * HOUR, 2 * HOUR, 0), (98 * HOUR,))
    outcome = began(units_ward(concentrators=bank), on_oxygen=(met(5 * HOUR, "concentrator"),), units=downs)
    assert steps(outcome, "repair done", "unit fails", "on concentrator") == [
        "00:00:00 on concentrator: 0 0",
        "01:00:00 repair done: 1",
        "02:00:00 unit fails: 0 1",  # it had run for 98 h of 100
        "02:00:00 on concentrator: 0 1",
        "11:00:00 repair done: 2",
        "21:00:00 repair done: 3",
    ]


def test_drift_and_service_go_on_from_where_they_were() -> None:
    """Drifted in part, the alarm is that much nearer; a meter of 98 h is 2 h from the service of every 50 h."""
    draws, long = Draws(0, 2), kind(duration_s=constant(90 * HOUR))
    drifts = replace(units(), drift_s=constant(100 * HOUR), alarm_permille=875, repair_s=constant(HOUR))
    serviced = replace(units(), service_every_s=50 * HOUR, service_time_s=0)
    now = Now(MIDNIGHT, on_oxygen=(met(0, "concentrator"),), units=UnitsNow(1, (), (98 * HOUR,)))
    wards = (units_ward(concentrators=bank, patients=(long,), horizon_s=2 * DAY) for bank in (drifts, serviced))
    rules = [counted(each, now) for each in wards]
    age_s, rest_s = (int(start_of(draws.key, rules[0]).units[name][0]) for name in ("drift_age_s", "drift_s"))
    assert 0 < age_s < 50 * HOUR
    assert age_s + rest_s == 100 * HOUR
    alarms, services = (
        [each.time_s for each in run(each, draws).log if each.step == step]
        for each, step in zip(rules, ("unit alarms", "service begins"), strict=True)
    )
    assert alarms[0] == 50 * HOUR - age_s  # from 93 % to 82 %, 87.5 % is half-way
    assert services == [2 * HOUR]


def test_steps_of_a_flow_already_met_are_not_met_again() -> None:
    """Half after 1 h, a quarter after 6: 2 L/min at first is 1 after 5 h; 0.333 after 7 h was 1.332 at first."""
    stepping = kind(
        duration_s=constant(10 * HOUR),
        flow_ml_min=constant(2_000),
        flow_steps=(FlowStep(HOUR, 0.5), FlowStep(6 * HOUR, 0.25)),
    )
    people = met(5 * HOUR, "concentrator"), met(7 * HOUR, "concentrator", flow_ml_min=333)
    rules = counted(units_ward(patients=(stepping,)), Now(HALF_PAST_SEVEN, on_oxygen=people))
    assert start_of((0, 0), rules).rows["flow_ml_min"].tolist() == [2_000, 1_332]
    assert trace(run(rules, LUCK)) == [
        "00:00:00 patient arrives: 0 0 1000",
        "00:00:00 on concentrator: 0 0",
        "00:00:00 patient arrives: 1 0 333",
        "00:00:00 on concentrator: 1 0",
        "01:00:00 flow stepped down: 0 500",
        "03:00:00 patient leaves: 1 0",
        "05:00:00 patient leaves: 0 0",
    ]


def test_who_is_weaned_late_is_in_need_for_the_rest_of_the_stay_and_stays_on() -> None:
    """Ten hours of need, five of them over, and an hour of late weaning; beyond its law a stay ends at once."""
    slow = kind(duration_s=constant(10 * HOUR), weaned_late_s=constant(HOUR))
    people = met(5 * HOUR, "concentrator"), met(12 * HOUR, "concentrator")
    outcome = began(units_ward(patients=(slow,)), on_oxygen=people)
    assert steps(outcome, "need ends", "patient leaves") == [
        "00:00:01 need ends: 1",
        "01:00:01 patient leaves: 1 0",
        "05:00:00 need ends: 0",
        "06:00:00 patient leaves: 0 0",
    ]
    assert outcome.need_s == 5 * HOUR + 1


def test_a_register_replayed_beside_a_count_loses_those_of_before() -> None:
    """Since the day before, since this morning, and from this afternoon on: the count says who is there by now."""
    register = Recorded(
        "replay", 0, 12, (-90_000, 1_000, 60_000), (1_000,) * 3, (135_000, 70_000, 3_600)
    )  # fmt: skip
    rules = ward(patients=(kind(recorded=register),), cylinders=cylinders(fleet=6))
    outcome = began(rules, cylinders=stock(5, 1))
    assert steps(outcome, "patient arrives") == ["09:10:00 patient arrives: 0 0 1000"]  # 60,000 s - 07:30
    assert (outcome.arrivals, outcome.patients) == (1, 1)


@pytest.mark.parametrize(("at_s", "days"), [(0, 1), (DAY - 1, 2)])
def test_days_are_those_of_the_calendar_whenever_the_count_was(at_s: int, days: int) -> None:
    """From 00:00 or 23:59:59 31 hours have two midnights; an hour without oxygen falls on one day or two."""
    rules = ward(horizon_s=DAY + 7 * HOUR)
    at = MIDNIGHT + dt.timedelta(seconds=at_s)
    outcome = began(rules, at, cylinders=stock(0, 4), on_oxygen=(met(source="none"),))
    unserved = DAILY_COLUMNS.index("unserved")
    assert outcome.daily[:, unserved].tolist() == [1, 0]
    assert (outcome.days_with_unserved, sum(outcome.unserved_s)) == (days, HOUR)


def test_the_first_seconds_are_counted_from_the_count() -> None:
    """A bare shelf from the start, 53 min of gas and 10 min tolerated, a delivery after 2 h."""
    rules = ward(cylinders=cylinders(fleet=3), resupply=resupply(DAY, 0, 3, 3 * HOUR), tolerated_gap_s=10 * MINUTE)
    one = met(2 * HOUR, "cylinder", gas=56 * LITRE)
    outcome = began(rules, cylinders=stock(0, 2), on_oxygen=(one,), on_order=(OrderUnderWay(1, HOUR),))
    assert steps(outcome, "cylinder runs out", "interruption", "delivery")[:3] == [
        "00:53:00 cylinder runs out: 0 1 180000",  # 56 L less 3 L: nothing to change it for as 6 L are left
        "01:03:00 interruption: 0 no cylinder 3180",
        "02:00:00 delivery: 0 1 1",
    ]
    firsts = (
        outcome.first_bare_s,
        outcome.first_interruption_s,
        outcome.first_stock_out_s,
        outcome.first_delivery_s,
    )
    assert firsts == (0, 63 * MINUTE, 63 * MINUTE, 2 * HOUR)


def fresh(rules: Hospital) -> Hospital:
    """Return a hospital without a warm-up, and without what no count can call new."""
    bank = rules.concentrators and replace(
        rules.concentrators, failure_clock="running", drift_s=None, analyser_check_s=None
    )
    power = rules.power and replace(rules.power, voltage=None)
    return replace(rules, start=START, warm_up_s=0, concentrators=bank, power=power)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(hospitals().filter(lambda each: each.manifold is None).map(unsized).map(fresh))
def test_a_count_of_a_new_and_empty_hospital_is_no_count(rules: Hospital) -> None:
    """All full ones full, all else new, nobody there: the log is that of a run without a count."""
    gas, bank = rules.cylinders, rules.concentrators
    now = Now(
        MIDNIGHT,
        CountedCylinders(gas.full_at_start, gas.fleet - gas.full_at_start) if gas is not None else None,
        on_oxygen=(),
        units=UnitsNow(bank.count, (), (0,) * bank.count) if bank is not None else None,
        grid=GridNow(True, 0),
    )
    assume(not Draws(5, 1).patients(rules).present)  # by a register
    one, other = run(rules, Draws(5, 1)), run(replace(rules, now=now), Draws(5, 1))
    assert one.log == other.log
    assert (one.daily == other.daily).all()
    assert replace(one, log=(), events=0) == replace(other, log=(), events=0)


@settings(deadline=None, derandomize=True)
@given(st.integers(0, 5), st.integers(0, 1))
def test_one_more_in_the_list_shifts_nobody_elses_luck(count: int, extra: int) -> None:
    """Stays, flows and gas of those listed are the same with one more at the end, and so is who comes later."""
    classes = tuple(
        kind(name, admissions_per_day=2.0, duration_s=constant(HOUR)) for name in ("adults", "newborns")
    )
    listed = tuple(OnOxygen(place % 2, source="cylinder") for place in range(count))
    rows = []
    for people in (listed, (*listed, OnOxygen(extra, source="cylinder"))):
        rules = counted(hospital(patients=classes), Now(MIDNIGHT, stock(1, 1), on_oxygen=people))
        start, sample = start_of((3, 4), rules), Draws(3, 4).sample(rules)
        gas = {(*row.tolist(), int(each["content"])) for row, each in zip(start.rows, start.given, strict=True)}
        rows.append((gas, sample.rows[len(people) :].tolist()))
    assert rows[0][0] < rows[1][0]
    assert rows[0][1] == rows[1][1]
