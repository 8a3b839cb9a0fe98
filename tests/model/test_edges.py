"""The edges of the horizon: what the warm-up hides, what reaches over an edge, what the end cuts."""

import datetime as dt

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    START,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
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

from o2sim.outcome import DAILY_COLUMNS, Cause
from o2sim.scenario.types.hospital import Grid

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws
NO_STOCK = cylinders(fleet=1, full_at_start=0)
WARM = {"warm_up_s": DAY, "horizon_s": DAY}  # the horizon runs from 24:00 to 48:00


def test_the_warm_up_is_not_counted() -> None:
    """A day of everything before the horizon leaves every count of the horizon at zero."""
    rules = hospital(
        UNIT_FIRST,
        **WARM,
        concentrators=units(rated=1_000, fails=True),
        grid=GRID,
        resupply=resupply(HOUR, 3, 4, HOUR),
        cylinders=cylinders(regulators=1, leak_ml_min=100),
    )
    draws = FixedDraws(
        [(0, 5 * HOUR), (0, 6 * HOUR), (0, 7 * HOUR)],
        up=(2 * HOUR,),
        down=(HOUR,),
        failures={0: (4 * HOUR,)},
        repairs={0: (HOUR,)},
    )
    outcome = run(rules, draws)
    assert {"power lost", "unit fails", "delivery", "gap ends"} <= {entry.step for entry in outcome.log}
    gas = ("opening_gas", "closing_gas", "opening_usable_gas", "closing_usable_gas")
    kept = {"horizon_s", "events", *gas, *(f"{name}_by_size" for name in gas)}
    counts = {
        name: value for name, value in vars(outcome).items() if name not in kept | {"log", "daily", "at_once"}
    }
    assert not any(any(value) if isinstance(value, tuple) else value for value in counts.values())
    assert outcome.opening_gas == outcome.closing_gas > 0
    assert {by_level for by_level in vars(outcome.at_once).values() if by_level} == {(DAY,)}


def test_a_patient_of_the_warm_up_is_counted_from_the_start_of_the_horizon() -> None:
    """Served 2 h before midnight and 3 h after: 3 h, one patient, 3 h of gas; the cylinder was opened before."""
    rules = hospital(cylinders=cylinders(full_gas=600 * LITRE), **WARM)
    outcome = run(rules, FixedDraws([(DAY - 2 * HOUR, 5 * HOUR)]))
    assert (outcome.patients, outcome.need_s, outcome.served_cylinder_s) == (1, 3 * HOUR, 3 * HOUR)
    assert (outcome.cylinder_gas, outcome.cylinders_opened) == (180 * LITRE, 0)
    assert outcome.opening_gas == (3 * 600 + 480) * LITRE
    assert outcome.opening_usable_gas == outcome.opening_gas - 4 * 6 * LITRE


def test_a_patient_who_leaves_as_the_horizon_begins_is_not_of_it() -> None:
    """A stay that ends at midnight lies in the warm-up."""
    outcome = run(hospital(**WARM), FixedDraws([(DAY - HOUR, HOUR)]))
    assert (outcome.patients, outcome.need_s, outcome.served_cylinder_s) == (0, 0, 0)


@pytest.mark.parametrize(("began_before_s", "interruptions"), [(3 * HOUR, 0), (2 * HOUR, 1), (HOUR, 1)])
def test_a_gap_counts_where_its_tolerance_is_crossed(began_before_s: int, interruptions: int) -> None:
    """A tolerated gap of 2 h crossed before, at, and after the start of the horizon; the true start is kept."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, tolerated_gap_s=2 * HOUR, **WARM)
    outcome = run(rules, FixedDraws([(DAY - began_before_s, began_before_s + 4 * HOUR)]))
    assert outcome.interruptions[Cause.NO_CYLINDER] == outcome.patients_affected == interruptions
    assert outcome.longest_gap_s == began_before_s + 4 * HOUR
    assert sum(outcome.unserved_s) == 4 * HOUR  # the seconds are clipped
    assert outcome.days_with_unserved == 1


def test_lengths_are_counted_where_they_are_crossed_inside_the_horizon() -> None:
    """A gap from 21:00 to 04:00: 10 min and 1 h are crossed in the warm-up, 6 h at 03:00, 24 h never."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, **WARM)
    outcome = run(rules, FixedDraws([(DAY - 3 * HOUR, 7 * HOUR)]))
    assert outcome.longer == (0, 0, 1, 0)


@pytest.mark.parametrize(("tolerated_s", "interruptions"), [(HOUR - 1, 1), (HOUR, 0)])
def test_the_end_cuts_a_gap(tolerated_s: int, interruptions: int) -> None:
    """A gap that begins an hour before the end: seconds and length are clipped, the last instant not reached."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, tolerated_gap_s=tolerated_s)
    outcome = run(rules, FixedDraws([(DAY - HOUR, 5 * HOUR)]))
    assert (outcome.longest_gap_s, sum(outcome.unserved_s), outcome.need_s) == (HOUR, HOUR, HOUR)
    assert (sum(outcome.interruptions), outcome.longer) == (interruptions, (interruptions, 0, 0, 0))


def test_the_end_cuts_what_is_served() -> None:
    """Served from 22:00 on by a cylinder and by a unit: 2 h each, running hours and power cut likewise."""
    rules = hospital(UNIT_FIRST, concentrators=units(rated=1_000), cylinders=cylinders(full_gas=600 * LITRE))
    outcome = run(rules, FixedDraws([(DAY - 2 * HOUR, DAY), (DAY - 2 * HOUR, DAY)]))
    assert (outcome.served_concentrator_s, outcome.served_cylinder_s) == (2 * HOUR, 2 * HOUR)
    assert (outcome.concentrator_running_s, outcome.closing_gas) == (2 * HOUR, (3 * 600 + 480) * LITRE)
    cut = run(hospital(UNIT, grid=GRID), FixedDraws(up=(DAY - HOUR,)))
    assert (cut.power_out_s, cut.power_cuts) == (HOUR, 1)


def test_an_event_at_the_last_instant_does_not_happen() -> None:
    """A delivery due exactly at the end is still on order."""
    rules = hospital(cylinders=cylinders(full_at_start=0), resupply=resupply(DAY, 0, 4, DAY))
    outcome = run(rules, FixedDraws())
    assert (outcome.orders, outcome.deliveries, outcome.empty_shelf_s) == (1, 0, DAY)


def test_a_transfer_before_the_horizon_counts_its_stay_within_it() -> None:
    """Sent away at 22:00 for a stay of 5 h: no transfer of the horizon, but 3 h of its need and gas."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, patients=(kind(if_unserved="transfer"),), **WARM)
    outcome = run(rules, FixedDraws([(DAY - 2 * HOUR, 5 * HOUR)]))
    assert (outcome.transferred, outcome.patients, sum(outcome.interruptions)) == (0, 1, 0)
    assert (outcome.transferred_s, outcome.need_s, outcome.needed_gas) == (3 * HOUR, 3 * HOUR, 180 * LITRE)


def test_a_transfer_near_the_end_counts_its_stay_up_to_the_end() -> None:
    """Sent away an hour before the end for a stay of 5 h: one transfer, 1 h of need."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, patients=(kind(if_unserved="transfer"),))
    outcome = run(rules, FixedDraws([(DAY - HOUR, 5 * HOUR)]))
    assert (outcome.transferred, outcome.transferred_s, outcome.need_s) == (1, HOUR, HOUR)


def test_the_state_of_each_day_is_that_before_its_first_event() -> None:
    """Two days: one patient on a cylinder over midnight, another who arrives at midnight is not yet counted."""
    rules = hospital(cylinders=cylinders(full_gas=600 * LITRE), warm_up_s=HOUR, horizon_s=2 * DAY)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR), (HOUR, HOUR), (25 * HOUR - 60, 3 * MINUTE, 2_000)]))
    first = dict(zip(DAILY_COLUMNS, outcome.daily[0].tolist(), strict=True))
    assert first == {
        "full": 3,
        "part_used": 0,
        "in_use": 1,
        "empty": 0,
        "on_order": 0,
        "patients": 1,
        "unserved": 0,
        "on_concentrator": 0,
        "flow_needed_ml_min": 1_000,
        "away": 0,
        "under_served": 0,
        "usable_litres": 3 * 594 + 534,
        "used_7_days_litres": 60,
        "mean_need_litres": 0,
        "cylinder_flow_ml_min": 1_000,
        "used_litres": 60,
    }
    assert outcome.daily[1].tolist() == [2, 1, 1, 0, 0, 1, 0, 0, 2_000, 0, 0, 2_194, 182, 0, 2_000, 122]


@pytest.mark.parametrize(
    ("gap_s", "days", "affected"), [(600, 0, 0), (601, 1, 1), (HOUR, 1, 1), (HOUR + 600, 1, 1), (HOUR + 601, 2, 1)]
)
def test_days_and_patients_count_by_the_same_threshold(gap_s: int, days: int, affected: int) -> None:
    """From 22:50 on, tolerated for 10 min: a second more counts, and so does the next day from 00:00 on."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, horizon_s=3 * DAY, tolerated_gap_s=10 * MINUTE)
    outcome = run(rules, FixedDraws([(DAY - HOUR - 600, gap_s)]))
    assert (outcome.days_with_unserved, outcome.patients_affected) == (days, affected)


def test_days_with_an_interruption_are_counted_once_each() -> None:
    """Two patients without oxygen from day 0 into day 1, and one on day 3: three days."""
    rules = hospital(CYLINDER, cylinders=NO_STOCK, horizon_s=5 * DAY)
    rows = [(DAY - HOUR, 2 * HOUR), (DAY - HOUR, HOUR + 1), (4 * DAY - 60, 60)]
    outcome = run(rules, FixedDraws(rows))
    assert outcome.days_with_unserved == 3
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 3 * HOUR + 61}


def test_reviews_fall_at_multiples_of_the_period_from_midnight_of_the_start_date() -> None:
    """Warm-up 30 h, review every 8 h: the first at 06:00 of the warm-up, so that one falls on the start itself."""
    rules = hospital(
        cylinders=cylinders(fleet=9, full_at_start=0),
        warm_up_s=30 * HOUR,
        resupply=resupply(8 * HOUR, 9, 9, 0, vehicle_capacity=1),
    )
    orders = steps(run(rules, FixedDraws()), "order")
    assert [text[:8] for text in orders[:4]] == ["06:00:00", "14:00:00", "22:00:00", "30:00:00"]


def test_a_lead_time_is_that_of_the_date_of_the_order() -> None:
    """One order on the last day of the warm-up (31 December), one on the first of the horizon."""
    dates = [START - dt.timedelta(1), START]
    rules = hospital(
        cylinders=cylinders(full_at_start=0), resupply=resupply(DAY, 4, 4, 0, vehicle_capacity=1), **WARM
    )
    lead_s = {(dates[0], 0): HOUR, (dates[1], 0): 2 * HOUR}
    assert steps(run(rules, FixedDraws(lead_s=lead_s)), "delivery") == [
        "01:00:00 delivery: 0 1 1",
        "26:00:00 delivery: 1 1 2",
    ]


def test_gauge_checks_fall_at_multiples_of_the_interval_from_midnight() -> None:
    """Warm-up 90 min, checks every 40 min: at 01:30 + k x 40 min; low at 00:54, lost at 00:57, found at 01:30."""
    rules = hospital(cylinders=cylinders(gauge_check_s=40 * MINUTE), warm_up_s=90 * MINUTE)
    outcome = run(rules, FixedDraws([(0, 3 * HOUR)]))
    assert steps(outcome, "cylinder runs out", "gap ends")[:2] == [
        "00:57:00 cylinder runs out: 0 0 180000",
        "01:30:00 gap ends: 0 ran empty unseen 1980",
    ]


def test_a_patient_with_two_interruptions_is_affected_once() -> None:
    """Two power cuts in one stay, one of them with a second patient: three interruptions, two patients."""
    rules = hospital(UNIT, grid=GRID)
    draws = FixedDraws([(0, 5 * HOUR), (3 * HOUR, HOUR)], up=(HOUR, 150 * MINUTE), down=(600, 600))
    outcome = run(rules, draws)
    assert (sum(outcome.interruptions), outcome.patients_affected) == (3, 2)
