"""Two units: a flow above what one gives comes from two, and from one on reduced flow when the other is lost."""

from dataclasses import replace

from build import (
    DAY,
    HOUR,
    LITRE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    at,
    by_cause,
    constant,
    cylinders,
    hospital,
    run,
    steps,
    trace,
    units,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, Battery, Grid, Power

TWO = Allocation(two_units=True)
GRID = Grid(constant(1), constant(1))  # the times come from fixed draws


def test_an_adult_of_eight_litres_on_two_units_of_five() -> None:
    """5 + 3 L/min; one unit fails: 3, and the half litre that is free; repaired, it gives the rest."""
    rules = hospital(UNIT, concentrators=units(2, fails=True), allocation=TWO, response_time_s=300)
    rows = [(0, 3 * HOUR, 8_000), (600, 3 * HOUR, 1_500)]
    outcome = run(rules, FixedDraws(rows, failures={0: (HOUR,)}, repairs={0: (HOUR,)}))
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 8000",
        "00:00:00 on concentrator: 0 0",
        "00:00:00 second concentrator: 0 1 3000",
        "00:10:00 patient arrives: 1 0 1500",
        "00:10:00 on concentrator: 1 1",
        "01:00:00 unit fails: 0 1",
        "01:00:00 reduced flow: 0 1 3000",
        "01:00:00 flow raised: 0 1 3500",
        "02:00:00 repair done: 0",
        "02:00:00 second concentrator: 0 0 4500",
        "03:00:00 patient leaves: 0 0",
        "03:10:00 patient leaves: 1 0",
    ]
    assert (outcome.under_served_s, outcome.missing_gas) == (HOUR, 270 * LITRE)  # 4.5 L/min for an hour
    assert outcome.concentrator_gas == (8 * 180 - 270 + 270) * LITRE  # and 180 min at 1.5 L/min
    assert outcome.served_concentrator_s == 6 * HOUR
    assert outcome.concentrator_running_s == at("02:00") + at("03:10")  # unit 0 less an hour, unit 1


def test_two_units_come_before_a_cylinder_and_one_returns_to_them() -> None:
    """Patient 0 has two of two units; patient 1 a cylinder, until both units are free at 01:00."""
    rules = hospital(
        UNIT_FIRST, concentrators=units(2), allocation=TWO, cylinders=cylinders(full_gas=6_000 * LITRE)
    )
    outcome = run(rules, FixedDraws([(0, HOUR, 10_000), (60, 2 * HOUR, 10_000)]))
    assert steps(outcome, "on concentrator", "second concentrator", "on cylinder") == [
        "00:00:00 on concentrator: 0 0",
        "00:00:00 second concentrator: 0 1 5000",
        "00:01:00 on cylinder: 1 360000000",
        "01:00:00 on concentrator: 1 0",
        "01:00:00 second concentrator: 1 1 5000",
    ]
    assert outcome.under_served_s == 0


def test_a_power_cut_takes_both_units_and_gives_them_back() -> None:
    """Both are lost and both serve again after a gap of 2 min: one by itself, then the rest from the other."""
    rules = hospital(UNIT, concentrators=units(2), allocation=TWO, grid=GRID, response_time_s=300)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR, 8_000)], up=(HOUR,), down=(120,)))
    assert steps(outcome, "gap ends", "on concentrator", "flow raised", "second concentrator")[2:] == [
        "01:02:00 gap ends: 0 changeover 120",
        "01:02:00 on concentrator: 0 1",
        "01:02:00 flow raised: 0 1 5000",
        "01:02:00 second concentrator: 0 0 3000",
    ]
    assert (outcome.under_served_s, by_cause(outcome.unserved_s)) == (0, {Cause.CHANGEOVER: 120})


def test_an_inverter_for_one_unit_leaves_one_of_two() -> None:
    """The battery carries 400 W, a unit takes 350: in the cut unit 1 is shed and 5 of 8 L/min are left."""
    power = Power(battery=Battery(36_000_000, 100, 1_000, 400, 1_000, 10))
    rules = hospital(UNIT, concentrators=units(2), allocation=TWO, grid=GRID, power=power)
    outcome = run(rules, FixedDraws([(0, 3 * HOUR, 8_000)], up=(HOUR,), down=(HOUR,)))
    assert steps(outcome, "reduced flow", "second concentrator") == [
        "00:00:00 second concentrator: 0 1 3000",
        "01:00:00 reduced flow: 0 0 5000",
        "02:00:00 second concentrator: 0 1 3000",
    ]
    assert (outcome.under_served_s, sum(outcome.unserved_s)) == (HOUR, 0)


def test_without_reduced_flow_one_of_two_units_is_not_too_high_a_flow() -> None:
    """8 L/min with 4 to spare on each of two: served; 12 L/min is more than two give: too high a flow."""
    never = replace(TWO, reduced_flow="never")
    rules = hospital(UNIT, concentrators=units(2), allocation=never)
    served = run(rules, FixedDraws([(0, HOUR, 1_000), (60, HOUR, 8_000)]))
    assert sum(served.unserved_s) == 0
    too_high = run(rules, FixedDraws([(0, HOUR, 12_000)]))
    assert by_cause(too_high.unserved_s) == {Cause.FLOW_TOO_HIGH: HOUR}
    full = run(rules, FixedDraws([(0, HOUR, 2_000), (0, HOUR, 3_000), (0, HOUR, 8_000)]))
    assert by_cause(full.unserved_s) == {Cause.CONCENTRATORS_FULL: HOUR}


def test_who_has_two_units_gives_up_the_second_for_one_who_would_get_nothing() -> None:
    """5 + 3 L/min of two units, the other 2 taken: a third gets 2.5 of what the second gave, until 01:00."""
    rules = hospital(UNIT, concentrators=units(2), allocation=TWO)
    rows = [(0, 2 * HOUR, 8_000), (0, 2 * HOUR, 2_000), (60, HOUR - 60, 2_500)]
    outcome = run(rules, FixedDraws(rows))
    assert trace(outcome)[5:] == [
        "00:01:00 patient arrives: 2 0 2500",
        "00:01:00 reduced flow: 0 0 5000",
        "00:01:00 on concentrator: 2 1",
        "01:00:00 patient leaves: 2 0",
        "01:00:00 second concentrator: 0 1 3000",
        "02:00:00 patient leaves: 0 0",
        "02:00:00 patient leaves: 1 0",
    ]
    assert (outcome.missing_gas, sum(outcome.unserved_s)) == (177 * LITRE, 0)  # 3 L/min for 59 min


def test_low_concentration_of_either_unit_counts() -> None:
    """Both units start at 00:00 and take 5 min to reach concentration: 5 min for the one patient."""
    slow = replace(units(2), start_up_s=300)
    outcome = run(hospital(UNIT, concentrators=slow, allocation=TWO), FixedDraws([(0, HOUR, 8_000)]))
    assert outcome.low_concentration_s == 300


def test_an_inverter_for_one_unit_starts_one_of_two() -> None:
    """No grid: 8 L/min want two units and there is power for one: 5 L/min; `never`: nothing, for lack of power."""
    power = Power(battery=Battery(36_000_000, 100, 1_000, 400, 1_000, 10))
    rules = hospital(
        UNIT, concentrators=units(2), allocation=TWO, grid=Grid(never_on=True), power=power, horizon_s=DAY
    )
    assert steps(run(rules, FixedDraws([(0, HOUR, 8_000)])), "reduced flow") == ["00:00:00 reduced flow: 0 0 5000"]
    never = replace(rules, allocation=replace(TWO, reduced_flow="never"))
    assert by_cause(run(never, FixedDraws([(0, HOUR, 8_000)])).unserved_s) == {Cause.NO_POWER: HOUR}


def test_the_last_in_line_gives_up_the_second_unit() -> None:
    """Two with two of four units each: a third takes that of the second one; with `never` it waits."""
    rules = hospital(UNIT, concentrators=replace(units(4), outlets=1), allocation=TWO)
    rows = [(0, HOUR, 10_000), (0, HOUR, 10_000), (60, HOUR - 60, 1_000)]
    assert steps(run(rules, FixedDraws(rows)), "reduced flow") == ["00:01:00 reduced flow: 1 2 5000"]
    never = replace(rules, allocation=replace(TWO, reduced_flow="never"))
    assert by_cause(run(never, FixedDraws(rows)).unserved_s) == {Cause.CONCENTRATORS_FULL: HOUR - 60}
