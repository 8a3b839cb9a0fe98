"""Days of cover: the stock book and emergency orders by it, worked by hand; and never short at zero lead."""

from dataclasses import replace

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    LITRE,
    START,
    FixedDraws,
    constant,
    cylinders,
    hospital,
    kind,
    resupply,
    run,
    steps,
)

from o2sim.draws import Draws
from o2sim.draws.season import mean_need
from o2sim.outcome import DAILY_COLUMNS, Cause
from o2sim.scenario.types.hospital import Emergency, Law, Season

COLUMNS = ("usable_litres", "used_7_days_litres", "mean_need_litres", "cylinder_flow_ml_min", "used_litres")
ONE_A_DAY = [
    (day * DAY + HOUR, 9 * HOUR) for day in range(10)
]  # at 1 L/min 540 L, all that is usable of one cylinder
NEED = {"admissions_per_day": 0.5, "duration_s": constant(18 * HOUR)}  # 540 L a day as well


def ten(emergency=None, **change):
    """An emergency rule in, a hospital of ten cylinders of 540 usable litres and no other supply out."""
    stock = cylinders(fleet=10, full_gas=546 * LITRE)
    supply = resupply(DAY, 0, 10, 30 * DAY, emergency=emergency)
    return hospital(cylinders=stock, resupply=supply, horizon_s=10 * DAY, patients=(kind(**change),))


def emergency(days, **change):
    """Days of cover in, an emergency rule with a lead time of 30 h out."""
    return Emergency(10, constant(30 * HOUR), days_of_cover_s=int(days * DAY), **change)


def test_the_stock_book_at_each_midnight():
    """One cylinder a day from ten; after seven days the book holds seven, the first day falls out."""
    outcome = run(ten(**NEED), FixedDraws(ONE_A_DAY))
    shown = [[row[DAILY_COLUMNS.index(name)] for name in COLUMNS] for row in outcome.daily.tolist()]
    assert shown == [[540 * (10 - day), 540 * min(day, 7), 540, 0, 540 * min(day, 1)] for day in range(10)]


def test_gas_in_use_is_on_hand_and_the_leak_is_used():
    """From 18:00 at 1 L/min with a leak of 0.1 L/min: by midnight 396 L are gone, 9 x 540 + 144 L are left."""
    rules = ten()
    rules = replace(rules, cylinders=replace(rules.cylinders, leak_ml_min=100), horizon_s=2 * DAY)
    outcome = run(rules, FixedDraws([(18 * HOUR, 8 * HOUR)]))
    assert outcome.daily[1, -5:].tolist() == [9 * 540 + 144, 396, 0, 1_100, 396]


@pytest.mark.parametrize(
    ("need", "lines"),
    [
        # 10 - k on hand after k days; over the book's k/7 a day: 7 x 4/5 = 5.6 at noon of day 5, 7 x 4/6 = 4.67 at
        # the midnight of day 6, as the book is closed.
        ({}, ["144:00:00 emergency order: 0 6 626400"]),
        # Over the need of one a day: 5 days as the sixth is opened, 4 when it is put back at 10:00.
        (NEED, ["130:00:00 emergency order: 0 6 576000"]),
    ],
)
def test_an_emergency_order_goes_by_days_of_cover(need, lines):
    """By the last 7 days' use where nothing is needed on average; by the mean need where that is greater."""
    outcome = run(ten(emergency(5), **need), FixedDraws(ONE_A_DAY))
    assert steps(outcome, "emergency order") == lines


def test_gas_that_has_flowed_since_counts_as_gone():
    """3,240 L, 5.5 days are 2,970 L: 2,760 L as a second cylinder is opened at 09:00, 8 h into the first."""
    rules = ten(emergency(5.5), **NEED)
    rules = replace(rules, cylinders=replace(rules.cylinders, fleet=7, full_at_start=6))
    outcome = run(rules, FixedDraws([(HOUR, 9 * HOUR), (9 * HOUR, 60)]))
    assert steps(outcome, "emergency order")[0] == "09:00:00 emergency order: 0 1 140400"


def test_the_book_begins_with_the_warm_up():
    """Nine days and an hour, one cylinder a day: seven days at the first midnight; the need is of that day."""
    seasonal = NEED | {"season": Season(START, 3.0)}
    rules = replace(ten(**seasonal), warm_up_s=9 * DAY + HOUR, horizon_s=2 * DAY)
    outcome = run(rules, FixedDraws([(start + HOUR, stay) for start, stay in ONE_A_DAY]))
    used, need = (outcome.daily[:, DAILY_COLUMNS.index(name)].tolist() for name in COLUMNS[1:3])
    assert used == [7 * 540, 7 * 540]
    assert need == [gas // LITRE for gas in mean_need(rules)[10:]]
    assert need[0] == 809  # at the peak of a ratio of 3 half as much again, rounded down


@pytest.mark.parametrize(
    ("change", "lines"),
    [
        (
            {"vehicle_capacity": 2},
            ["130:00:00 emergency order: 0 2 576000", "178:00:00 emergency order: 1 2 748800"],
        ),
        ({"minimum_order": 7}, ["154:00:00 emergency order: 0 7 662400"]),
    ],
)
def test_the_vehicle_and_the_least_an_emergency_order_is_for(change, lines):
    """Two at a time: four days' cover and two on the way last to day 7; seven once there are seven empties."""
    outcome = run(replace(ten(emergency(5, **change), **NEED), horizon_s=8 * DAY), FixedDraws(ONE_A_DAY))
    assert steps(outcome, "emergency order") == lines


@pytest.mark.no_cover
@pytest.mark.parametrize("trigger", [{"below": 1}, {"cover_s": 1}, {"days_of_cover_s": 30 * DAY}])
@pytest.mark.parametrize("replication", range(3))
def test_never_short_with_emergency_orders_of_no_lead_time(trigger, replication):
    """Twelve cylinders, four of them in use at most, and no other supply: short without, never with them."""
    rules = hospital(
        CYLINDER,
        horizon_s=20 * DAY,
        patients=(kind(admissions_per_day=4.0, duration_s=Law("exponential", (20.0 * HOUR,))),),
        cylinders=cylinders(fleet=12, full_gas=600 * LITRE, regulators=4, gauge_check_s=2 * HOUR),
        resupply=resupply(DAY, 8, 12, 9 * DAY),
    )
    at_once = replace(rules.resupply, emergency=Emergency(12, constant(0), **trigger))
    short, never = (run(each, Draws(2, replication)) for each in (rules, replace(rules, resupply=at_once)))
    assert short.unserved_s[Cause.NO_CYLINDER] > 0
    assert (never.unserved_s[Cause.NO_CYLINDER], never.stock_outs, never.empty_shelf_s) == (0, 0, 0)
