"""Staff, wards and fetching beside flows given in part, two units, and kinds of regulator sets."""

from dataclasses import replace

from build import (
    CYLINDER,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    FixedDraws,
    at,
    by_cause,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    units,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, RegulatorSet, Staff, StoreAccess, Ward

FIVE = 5 * MINUTE
ONE = Staff(1, 1, FIVE)
FLOW = ("on concentrator", "on cylinder", "reduced flow", "flow raised", "flow lowered", "connecting begins")
KINDS = (kind("newborns", ward="north"), kind("adults", ward="south"))


def _apart(sources, north, south, **changes):
    """Two wards with (units, regulators, bedside cylinders) each."""
    wards = (Ward("north", *north), Ward("south", *south))
    return hospital(sources, patients=KINDS, wards=wards, **changes)


def test_a_part_of_a_flow_waits_for_the_nurse_as_all_of_it_does() -> None:
    """One unit of 5 L/min: 4 from 00:05; of 8 there is 1 from 00:15, 5 as the first leaves at 01:00, by itself."""
    outcome = run(
        hospital(UNIT, concentrators=units(1, outlets=2), staff=ONE),
        FixedDraws([(0, HOUR, 4_000), (at("00:10"), HOUR, 8_000)]),
    )
    assert steps(outcome, *FLOW) == [
        "00:00:00 connecting begins: 0",
        "00:05:00 on concentrator: 0 0",
        "00:10:00 connecting begins: 1",
        "00:15:00 on concentrator: 1 0",
        "00:15:00 reduced flow: 1 0 1000",
        "01:00:00 flow raised: 1 0 5000",
    ]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 2 * FIVE}


def test_who_is_on_reduced_flow_keeps_it_until_the_nurse_has_brought_the_cylinder() -> None:
    """The only cylinder is free at 00:35, fetched and connected by 00:50: 5 of 8 L/min flow till then."""
    rules = hospital(
        ("cylinder", "concentrator"),
        cylinders=replace(cylinders(fleet=1, full_gas=6_000 * LITRE), regulators=1),
        staff=ONE,
        store=StoreAccess(10 * MINUTE, 10 * MINUTE),
    )
    outcome = run(rules, FixedDraws([(0, at("00:35"), 8_000), (at("00:10"), HOUR, 8_000)]))
    assert steps(outcome, "fetch begins", *FLOW) == [
        "00:00:00 fetch begins: 0 600",
        "00:10:00 connecting begins: 0",
        "00:15:00 on cylinder: 0 360000000",
        "00:15:00 connecting begins: 1",
        "00:20:00 on concentrator: 1 0",
        "00:20:00 reduced flow: 1 0 5000",
        "00:35:00 fetch begins: 1 2700",
        "00:45:00 connecting begins: 1",
        "00:50:00 on cylinder: 1 350400000",  # 6,000 - 20 x 8 = 5,840 L
    ]


def test_others_give_way_in_part_on_the_same_ward_and_not_before_the_nurse_comes() -> None:
    """5 of 8 L/min on north; the next there gets half of it at 00:15; south waits, for it has no unit."""
    rules = _apart(UNIT, (1, 0), (0, 0), concentrators=units(1, outlets=2), staff=ONE)
    rows = [(0, HOUR, 8_000, 0), (at("00:10"), 30 * MINUTE, 8_000, 0), (at("00:20"), MINUTE, 8_000, 1)]
    outcome = run(rules, FixedDraws(rows))
    assert steps(outcome, *FLOW, "gap begins") == [
        "00:00:00 connecting begins: 0",
        "00:00:00 gap begins: 0 changeover",
        "00:05:00 on concentrator: 0 0",
        "00:05:00 reduced flow: 0 0 5000",
        "00:10:00 connecting begins: 1",
        "00:10:00 gap begins: 1 changeover",
        "00:15:00 flow lowered: 0 0 2500",
        "00:15:00 on concentrator: 1 0",
        "00:15:00 reduced flow: 1 0 2500",
        "00:20:00 gap begins: 2 concentrators full",
        "00:40:00 flow raised: 0 0 5000",
    ]


def test_an_idle_unit_is_moved_for_one_whom_it_serves_in_part() -> None:
    """Nobody on south has a unit; that of north is there after half an hour and gives 5 of 8 L/min."""
    rules = _apart(UNIT, (1, 0), (0, 0), concentrators=units(1), moving_s=30 * MINUTE)
    outcome = run(rules, FixedDraws([(0, HOUR, 8_000, 1)]))
    assert steps(outcome, "move begins", "unit moved", *FLOW) == [
        "00:00:00 move begins: 0 1",
        "00:30:00 unit moved: 0 1",
        "00:30:00 on concentrator: 0 0",
        "00:30:00 reduced flow: 0 0 5000",
    ]


def test_two_units_are_those_of_one_ward() -> None:
    """One unit on each ward: 8 L/min are given by no two; both on north: by the two, once the nurse is done."""
    rules = _apart(UNIT, (1, 0), (1, 0), concentrators=units(2), allocation=Allocation(two_units=True))
    stay = FixedDraws([(0, HOUR, 8_000, 0)])
    assert (run(rules, stay).under_served_s, run(rules, stay).concentrator_gas) == (HOUR, 300 * LITRE)
    both = _apart(UNIT, (2, 0), (0, 0), concentrators=units(2), allocation=Allocation(two_units=True), staff=ONE)
    assert (run(both, stay).under_served_s, run(both, stay).concentrator_gas) == (0, 8 * 55 * LITRE)


def test_a_set_for_the_flow_is_kept_while_the_cylinder_is_fetched() -> None:
    """One set to 2 L/min, one to 15: of three children two are fetched for at once, the third finds no set."""
    sets = (RegulatorSet(1, low_ml_min=0, high_ml_min=2_000), RegulatorSet(1, low_ml_min=0, high_ml_min=15_000))
    stock = replace(cylinders(fleet=3, full_gas=6_000 * LITRE), regulators=2, regulator_sets=sets)
    rules = hospital(CYLINDER, cylinders=stock, store=StoreAccess(10 * MINUTE, 10 * MINUTE))
    outcome = run(rules, FixedDraws([(0, HOUR, 1_000)] * 3))
    assert steps(outcome, "on cylinder") == [
        "00:10:00 on cylinder: 0 360000000",
        "00:10:00 on cylinder: 1 360000000",
    ]
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 20 * MINUTE, Cause.NO_REGULATOR: HOUR}
