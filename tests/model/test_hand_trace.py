"""Whole traces worked by hand from the rules, compared line by line with the event log."""

import datetime as dt

from build import (
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    START,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    at,
    by_cause,
    constant,
    cylinders,
    hospital,
    resupply,
    run,
    steps,
    trace,
    units,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Grid, RoadClosure

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws


def test_one_patient_on_cylinders_with_gauge_checks_every_two_hours() -> None:
    """A run-out unseen between checks, a change at a check, then a low gauge with an empty shelf."""
    # 60 L, residual 6 L, flow lost at 3 L; 0.4 L/min to the patient + 0.1 L/min of leak = 0.5 L/min.
    # So residual is reached 54 / 0.5 = 108 min after the flow begins, flow is lost after 57 / 0.5 = 114 min.
    # Flow from 00:30: low 02:18, lost 02:24, both between the checks of 02:00 and 04:00: unseen until 04:00,
    #   interruption 10 min after 02:24 = 02:34; at 04:00 the change begins, 10 min: unserved 96 + 10 = 106 min.
    # Flow from 04:10: low 05:58, lost 06:04; the check of 06:00 sees 60 - 110 x 0.5 = 5 L and changes it:
    #   unserved 10 min, which is the tolerated gap and so no interruption.
    # Flow from 06:10: low 07:58, lost 08:04; the check of 08:00 sees 5 L, but the shelf is empty: it stays on.
    #   It is known to be low, so at 08:04 staff respond, 5 min; then there is no cylinder; 08:04 + 10 min = 08:14.
    rules = hospital(
        cylinders=cylinders(fleet=3, leak_ml_min=100, gauge_check_s=2 * HOUR, change_time_s=10 * MINUTE),
        tolerated_gap_s=10 * MINUTE,
        response_time_s=5 * MINUTE,
    )
    outcome = run(rules, FixedDraws([(at("00:30"), at("08:30"), 400)]))
    assert trace(outcome) == [
        "00:30:00 patient arrives: 0 0 400",
        "00:30:00 cylinder opened: 0 2 3600000",  # 60 L x 60,000
        "00:30:00 on cylinder: 0 3600000",
        "02:24:00 cylinder runs out: 0 0 180000",  # 3 L, unseen
        "02:24:00 gap begins: 0 ran empty unseen",
        "02:34:00 interruption: 0 ran empty unseen 8640",  # the gap began at 02:24 = 8,640 s
        "04:00:00 cylinder emptied: 0 1 180000",
        "04:00:00 cylinder opened: 0 1 3600000",
        "04:10:00 gap ends: 0 ran empty unseen 6360",  # 106 min
        "04:10:00 on cylinder: 0 3600000",
        "06:00:00 cylinder emptied: 0 2 300000",  # 5 L
        "06:00:00 cylinder opened: 0 0 3600000",
        "06:00:00 gap begins: 0 changeover",
        "06:10:00 gap ends: 0 changeover 600",
        "06:10:00 on cylinder: 0 3600000",
        "08:00:00 gauge check: 0 300000",
        "08:04:00 cylinder runs out: 0 1 180000",  # known to be low
        "08:04:00 cylinder emptied: 0 3 180000",
        "08:04:00 supply lost: 0",
        "08:04:00 gap begins: 0 changeover",
        "08:09:00 cause changes: 0 no cylinder",
        "08:14:00 interruption: 0 no cylinder 29040",  # 08:04 = 29,040 s
        "09:00:00 gap ends: 0 no cylinder 3360",  # 56 min
        "09:00:00 patient leaves: 0 10320",  # 106 + 10 + 56 = 172 min
    ]
    # Flowing 114 + 110 + 114 = 338 min at 0.4 and 0.1 L/min.
    assert (outcome.served_cylinder_s, sum(outcome.unserved_s), outcome.need_s) == (20_280, 10_320, 30_600)
    assert (outcome.cylinder_gas, outcome.leaked_gas) == (8_112_000, 2_028_000)  # 135.2 L and 33.8 L
    assert by_cause(outcome.unserved_s) == {
        Cause.CHANGEOVER: 900,
        Cause.RAN_EMPTY_UNSEEN: 6_360,
        Cause.NO_CYLINDER: 3_060,
    }
    assert (outcome.longest_gap_s, outcome.longer, outcome.stock_outs) == (6_360, (2, 1, 0, 0), 1)
    assert outcome.empty_shelf_s == 18 * HOUR  # from 06:00, when the last is taken, to midnight
    assert outcome.closing_gas == (3 + 5 + 3) * LITRE


def test_a_concentrator_under_power_cuts_with_cylinders_behind_it() -> None:
    """A cut shorter than the response, a longer one with a move to a cylinder and back, and overflow."""
    # The grid is up 60 min, down 3, up 57, down 120, then up: cuts at 01:00-01:03 and 02:00-04:00.
    # Unit of 5 L/min: patient 0 (3 L/min) fits, patient 1 (4 L/min, from 00:30) does not: a cylinder at once.
    # Staff take 5 min: in the first cut the unit is back at 01:03 and patient 0 resumes at once; in the second
    # patient 0 goes to a cylinder at 02:05 and returns at 04:00, having used 115 min x 3 = 345 of 400 L.
    # Patient 0 leaves at 05:00: patient 1 returns to the unit, having used 270 min x 4 = 1080 of 1,200 L.
    rules = hospital(
        UNIT_FIRST,
        cylinders=cylinders(full_gas=1_200 * LITRE),
        grid=GRID,
        tolerated_gap_s=4 * MINUTE,
        response_time_s=5 * MINUTE,
    )
    cuts = {"up": (60 * MINUTE, 57 * MINUTE), "down": (3 * MINUTE, 120 * MINUTE)}
    patients = [(0, at("05:00"), 3_000), (at("00:30"), at("05:30"), 4_000)]
    outcome = run(rules, FixedDraws(patients, **cuts))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 3000",
        "00:00:00 on concentrator: 0 0",
        "00:30:00 patient arrives: 1 0 4000",
        "00:30:00 cylinder opened: 1 3 72000000",  # 1,200 L
        "00:30:00 on cylinder: 1 72000000",
        "01:00:00 power lost",
        "01:00:00 supply lost: 0",
        "01:00:00 gap begins: 0 changeover",
        "01:03:00 power restored",
        "01:03:00 gap ends: 0 changeover 180",
        "01:03:00 on concentrator: 0 0",
        "02:00:00 power lost",
        "02:00:00 supply lost: 0",
        "02:00:00 gap begins: 0 changeover",
        "02:04:00 interruption: 0 changeover 7200",  # the tolerated gap is 4 min here
        "02:05:00 cylinder opened: 0 2 72000000",
        "02:05:00 gap ends: 0 changeover 300",
        "02:05:00 on cylinder: 0 72000000",
        "04:00:00 power restored",
        "04:00:00 cylinder racked: 0 1 51300000",  # 1,200 - 345 = 855 L
        "04:00:00 on concentrator: 0 0",
        "05:00:00 patient leaves: 0 480",
        "05:00:00 cylinder racked: 1 2 7200000",  # 1,200 - 1,080 = 120 L
        "05:00:00 on concentrator: 1 0",
        "06:00:00 patient leaves: 1 0",
    ]
    # Patient 0 on the unit 60 + 57 + 60 = 177 min, patient 1 60 min; on cylinders 115 and 270 min.
    assert (outcome.served_concentrator_s, outcome.served_cylinder_s) == (237 * MINUTE, 385 * MINUTE)
    assert (outcome.concentrator_gas, outcome.cylinder_gas) == (771 * LITRE, 1_425 * LITRE)
    assert (outcome.power_out_s, outcome.power_cuts) == (123 * MINUTE, 2)
    assert outcome.concentrator_running_s == 237 * MINUTE
    assert by_cause(outcome.interruptions) == {Cause.CHANGEOVER: 1}


def test_resupply_with_a_closed_road_no_overtaking_a_vehicle_limit_and_a_minimum_order() -> None:
    """Four orders: too small, held by the vehicle, held behind another, held by the road."""
    # Each patient needs 1 L/min for 54 min: one cylinder, taken off at residual pressure as the patient leaves.
    # Review every midnight, order up to 6 of a fleet of 6, at most 3, at least 2. Patients, all at noon:
    # day 0 one, day 1 four, day 5 two.
    # Day 1, 00:00: position 5; 1 wanted, below the minimum: no order.
    # Day 2, 00:00: full 1; 5 wanted, the vehicle takes 3: order 0, lead time 4 d: day 6, 00:00.
    # Day 3, 00:00: position 1 + 3 = 4; 2 wanted: order 1, lead time 1 d, but behind order 0: day 6, 00:00.
    # The road is closed on day 6 and day 7 (7 and 8 January): both are held to day 8, 00:00, in order.
    # Day 5, noon: two patients, one full cylinder: one gets it, the other goes without its 54 min.
    # Day 6, 00:00: position 0 + 5; 1 wanted, too small. Day 8, 00:00: 3 and 2 arrive, then the same: none.
    rules = hospital(
        cylinders=cylinders(fleet=6),
        horizon_s=9 * DAY,
        resupply=resupply(
            DAY,
            5,
            6,
            4 * DAY,
            vehicle_capacity=3,
            minimum_order=2,
            road_closures=(RoadClosure(dt.date(2027, 1, 7), dt.date(2027, 1, 8)),),
        ),
    )
    days = [0, 1, 1, 1, 1, 5, 5]
    leads = {(START + dt.timedelta(days=3), 0): DAY}
    patients = [(day * DAY + 12 * HOUR, 54 * MINUTE) for day in days]
    outcome = run(rules, FixedDraws(patients, lead_s=leads))
    assert steps(outcome, "order", "delivery", "gap begins", "gap ends", "cylinder opened") == [
        "12:00:00 cylinder opened: 0 5 3600000",
        "36:00:00 cylinder opened: 1 4 3600000",
        "36:00:00 cylinder opened: 2 3 3600000",
        "36:00:00 cylinder opened: 3 2 3600000",
        "36:00:00 cylinder opened: 4 1 3600000",
        "48:00:00 order: 0 3 691200",  # to arrive on day 8 = 8 x 86,400 s
        "72:00:00 order: 1 2 691200",
        "132:00:00 cylinder opened: 5 0 3600000",
        "132:00:00 gap begins: 6 no cylinder",
        "132:54:00 gap ends: 6 no cylinder 3240",
        "192:00:00 delivery: 0 3 3",
        "192:00:00 delivery: 1 2 5",
    ]
    # Columns full, part-used, in use, empty, on order: before the events of each midnight.
    assert outcome.daily[:, :5].tolist() == [
        [6, 0, 0, 0, 0],
        [5, 0, 0, 1, 0],
        [1, 0, 0, 5, 0],
        [1, 0, 0, 5, 3],
        [1, 0, 0, 5, 5],
        [1, 0, 0, 5, 5],
        [0, 0, 0, 6, 5],
        [0, 0, 0, 6, 5],
        [0, 0, 0, 6, 5],
    ]
    assert (outcome.orders, outcome.deliveries, outcome.cylinders_delivered) == (2, 2, 5)
    assert (outcome.received_gas, outcome.returned_gas) == (300 * LITRE, 30 * LITRE)
    assert outcome.empty_shelf_s == 60 * HOUR  # from noon of day 5 to day 8
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 54 * MINUTE}


FAILURES = {"failures": {0: (2 * HOUR,)}, "repairs": {0: (90 * MINUTE,)}}
TWO_STAYS = [(0, HOUR), (at("03:00"), 3 * HOUR)]


def test_a_unit_that_fails_by_the_running_clock() -> None:
    """Only powered, serving hours bring a failure nearer; here a power cut puts it off by half an hour."""
    # Drawn: 2 h to the failure. Patient 0 is on it for 1 h; from 01:00 to 03:00 it stands idle. Patient 1 from
    # 03:00; no power 03:20-03:50 (20 min run, 40 min to go): it fails at 04:30 and is repaired at 06:00,
    # exactly as patient 1 leaves: the repair goes first, patient 1 is served for no time and leaves.
    rules = hospital(
        UNIT, concentrators=units(fails=True), grid=GRID, tolerated_gap_s=HOUR, response_time_s=10 * MINUTE
    )
    outcome = run(rules, FixedDraws(TWO_STAYS, up=(at("03:20"),), down=(30 * MINUTE,), **FAILURES))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 1000",
        "00:00:00 on concentrator: 0 0",
        "01:00:00 patient leaves: 0 0",
        "03:00:00 patient arrives: 1 0 1000",
        "03:00:00 on concentrator: 1 0",
        "03:20:00 power lost",
        "03:20:00 supply lost: 1",
        "03:20:00 gap begins: 1 changeover",
        "03:30:00 cause changes: 1 no power",
        "03:50:00 power restored",
        "03:50:00 gap ends: 1 no power 1800",
        "03:50:00 on concentrator: 1 0",
        "04:30:00 unit fails: 0 1",
        "04:30:00 supply lost: 1",
        "04:30:00 gap begins: 1 changeover",
        "04:40:00 cause changes: 1 concentrator down",
        "05:30:00 interruption: 1 concentrator down 16200",  # 04:30 = 16,200 s
        "06:00:00 repair done: 0",
        "06:00:00 gap ends: 1 concentrator down 5400",
        "06:00:00 on concentrator: 1 0",
        "06:00:00 patient leaves: 1 7200",
    ]
    assert (outcome.concentrator_running_s, outcome.concentrator_failures) == (2 * HOUR, 1)


def test_a_unit_that_fails_by_the_calendar_clock() -> None:
    """With the same draws a unit on the calendar clock fails idle, at 02:00, and is back before it runs again."""
    # Drawn: 2 h to the failure, 1.5 h of repair: down 02:00-03:30. Patient 1 arrives at 03:00 and waits 30 min.
    rules = hospital(UNIT, concentrators=units(fails=True, clock="calendar"), tolerated_gap_s=HOUR)
    outcome = run(rules, FixedDraws(TWO_STAYS, **FAILURES))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 1000",
        "00:00:00 on concentrator: 0 0",
        "01:00:00 patient leaves: 0 0",
        "02:00:00 unit fails: 0 0",
        "03:00:00 patient arrives: 1 0 1000",
        "03:00:00 gap begins: 1 concentrator down",
        "03:30:00 repair done: 0",
        "03:30:00 gap ends: 1 concentrator down 1800",
        "03:30:00 on concentrator: 1 0",
        "06:00:00 patient leaves: 1 1800",
    ]
    assert (outcome.concentrator_running_s, outcome.concentrator_failures) == (210 * MINUTE, 1)
