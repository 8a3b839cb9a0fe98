"""Flowmeters, valve fittings, flow splitters, humidifiers, delivery sets: hand-worked traces and limits."""

from dataclasses import replace

import pytest
from build import (
    CYLINDER,
    CYLINDER_FIRST,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    by_cause,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    trace,
    units,
)

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, Bedside, Cylinders, RegulatorSet, Splitters, Staff

PAIR = Splitters(1, 2)
NONE_LEFT = cylinders(fleet=1, regulators=1, splitters=PAIR, leak_ml_min=500)  # watched
ADULTS = (kind(),)
TWO = [(0, HOUR, 1_000), (10 * MINUTE, HOUR, 2_000)]


def _shared(stock: Cylinders = NONE_LEFT, patients=TWO, classes=ADULTS, **changes):
    return run(hospital(cylinders=stock, patients=classes, **changes), FixedDraws(patients))


def test_two_patients_share_a_cylinder_trace_worked_by_hand() -> None:
    """60 L at 1 + 0.5 leak: 45 L after 10 min; at 3.5 L/min 6 L after 669 s, 3 L after 720 s: lost at 00:22."""
    outcome = _shared()
    assert trace(outcome) == [
        "00:00:00 patient arrives: 0 0 1000",
        "00:00:00 cylinder opened: 0 0 3600000",
        "00:00:00 on cylinder: 0 3600000",
        "00:10:00 patient arrives: 1 0 2000",
        "00:10:00 joins cylinder: 1 0 2700000",
        "00:21:09 gauge check: 0 358500",
        "00:22:00 cylinder runs out: 0 1 180000",
        "00:22:00 cylinder emptied: 0 1 180000",
        "00:22:00 supply lost: 0",
        "00:22:00 supply lost: 1",
        "00:22:00 gap begins: 0 no cylinder",
        "00:22:00 gap begins: 1 no cylinder",
        "00:22:00 interruption: 0 no cylinder 1320",
        "00:22:00 interruption: 1 no cylinder 1320",
        "01:00:00 gap ends: 0 no cylinder 2280",
        "01:00:00 patient leaves: 0 2280",
        "01:10:00 gap ends: 1 no cylinder 2880",
        "01:10:00 patient leaves: 1 2880",
    ]
    assert (outcome.cylinder_gas, outcome.leaked_gas) == ((22 + 24) * LITRE, 11 * LITRE)


def test_one_of_two_leaves_and_the_other_goes_on() -> None:
    """31 L are left when patient 1 leaves at 00:14; at 1.5 L/min 3 L after 1,120 s: lost at 00:32:40."""
    outcome = _shared(patients=[(0, HOUR, 1_000), (10 * MINUTE, 4 * MINUTE, 2_000)])
    assert steps(outcome, "patient leaves", "cylinder runs out") == [
        "00:14:00 patient leaves: 1 0",
        "00:32:40 cylinder runs out: 0 1 180000",
        "01:00:00 patient leaves: 0 1640",
    ]


def test_one_leaves_a_cylinder_that_is_known_to_be_low() -> None:
    """4.75 L are left when patient 1 leaves at 00:21:30; at 1.5 L/min 3 L after 70 s, and nobody looks again."""
    outcome = _shared(patients=[(0, HOUR, 1_000), (10 * MINUTE, 11 * MINUTE + 30, 2_000)])
    assert steps(outcome, "gauge check", "cylinder runs out") == [
        "00:21:09 gauge check: 0 358500",
        "00:22:40 cylinder runs out: 0 1 180000",
    ]


def test_the_one_who_opened_it_leaves_and_the_other_goes_on() -> None:
    """31 L left at 00:14, then 2.5 L/min: 3 L after 672 s, lost at 00:25:12 under patient 1."""
    outcome = _shared(patients=[(0, 14 * MINUTE, 1_000), (10 * MINUTE, HOUR, 2_000)])
    assert steps(outcome, "cylinder runs out") == ["00:25:12 cylinder runs out: 1 1 180000"]


def test_a_change_leaves_both_without_for_the_change_time() -> None:
    """Found low at 00:21:09, changed in 5 min: both lose 300 s by changeover, and share the next one."""
    stock = replace(NONE_LEFT, fleet=2, full_at_start=2, change_time_s=5 * MINUTE)
    outcome = _shared(stock, [(0, 40 * MINUTE, 1_000), (10 * MINUTE, 30 * MINUTE, 2_000)])
    assert by_cause(outcome.unserved_s) == {Cause.CHANGEOVER: 2 * 5 * MINUTE}
    assert [entry.time_s for entry in outcome.log if entry.step == "gap ends"] == [21 * 60 + 9 + 300] * 2


def test_a_shared_cylinder_that_ran_empty_unseen_is_found_at_the_next_check() -> None:
    """Lost at 00:22 unseen, checks every hour: both go without until 01:00, then there is no cylinder."""
    outcome = _shared(replace(NONE_LEFT, gauge_check_s=HOUR), [(0, 2 * HOUR, 1_000), (10 * MINUTE, HOUR, 2_000)])
    assert by_cause(outcome.unserved_s) == {
        Cause.RAN_EMPTY_UNSEEN: 2 * 38 * MINUTE,
        Cause.NO_CYLINDER: (60 + 10) * MINUTE,
    }


def test_staff_called_for_a_lead_who_leaves_come_for_the_next() -> None:
    """The nurse changes patient 0's cylinder from 00:21:09 to 00:31:09. The shared one is found low at 00:28:40.

    It runs out at 00:29:40, patient 1 leaves at 00:30, and the nurse comes to patient 2 at 00:31:09.
    """
    stock = cylinders(fleet=9, full_gas=80 * LITRE, regulators=2, splitters=PAIR, leak_ml_min=500)
    patients = [(0, HOUR, 3_000), (0, 30 * MINUTE, 1_000), (8 * MINUTE, HOUR, 1_500)]
    outcome = _shared(replace(stock, change_time_s=10 * MINUTE), patients, staff=Staff(1, 1))
    assert [line.rsplit(" ", 2)[0] for line in steps(outcome, "cylinder opened")][:4] == [
        "00:00:00 cylinder opened: 0",
        "00:00:00 cylinder opened: 1",
        "00:21:09 cylinder opened: 0",
        "00:31:09 cylinder opened: 2",
    ]
    assert steps(outcome, "gap begins")[1:3] == [
        "00:29:40 gap begins: 1 waiting for staff",
        "00:29:40 gap begins: 2 waiting for staff",
    ]
    assert steps(outcome, "gap ends")[:3] == [
        "00:30:00 gap ends: 1 waiting for staff 20",
        "00:31:09 gap ends: 0 changeover 600",
        "00:41:09 gap ends: 2 changeover 689",
    ]


def test_a_cylinder_whose_lead_leaves_before_it_runs_out_is_still_waiting_for_the_nurse() -> None:
    """As above, but patient 1 leaves at 00:29: at 2 L/min it runs out at 00:30, and no second call is made."""
    stock = cylinders(fleet=9, full_gas=80 * LITRE, regulators=2, splitters=PAIR, leak_ml_min=500)
    patients = [(0, HOUR, 3_000), (0, 29 * MINUTE, 1_000), (8 * MINUTE, HOUR, 1_500)]
    outcome = _shared(replace(stock, change_time_s=10 * MINUTE), patients, staff=Staff(1, 1))
    found = [line for line in steps(outcome, "cylinder runs out", "supply lost", "gap ends") if ": 2" in line]
    # 68 L less 21 min at 3 L/min, less the leak and patient 2 at 2 L/min: 5 L at 00:29, 3 L a minute later
    assert found == ["00:30:00 cylinder runs out: 2 1 180000", "00:41:09 gap ends: 2 changeover 669"]


def test_the_nurse_comes_to_a_shared_cylinder_by_the_priority_of_those_still_on_it() -> None:
    """Patients 1 and 3, priority 1 and 2, share; low at 00:18:40 while the nurse is with patient 0 until 00:20:30.

    Patient 1 leaves at 00:20; patient 2, priority 1, low at 00:20:03, is now before patient 3.
    """
    kinds = (kind(priority=1), kind("later", priority=2))
    stock = cylinders(fleet=12, full_gas=48 * LITRE, regulators=3, splitters=PAIR, change_time_s=5 * MINUTE)
    patients = [(0, HOUR, 2_710, 0), (0, 20 * MINUTE, 1_000, 0), (30, HOUR, 2_150, 0), (120, HOUR, 1_400, 1)]
    outcome = _shared(stock, patients, classes=kinds, staff=Staff(1, 1))
    opened = [line.rsplit(" ", 2)[0] for line in steps(outcome, "cylinder opened")]
    assert opened[3:6] == [
        "00:15:30 cylinder opened: 0",
        "00:20:30 cylinder opened: 2",
        "00:25:30 cylinder opened: 3",
    ]


@pytest.mark.parametrize(("minute", "joined"), [(53, True), (54, False)])
def test_nobody_joins_a_cylinder_at_residual_pressure(minute: int, joined: bool) -> None:
    """60 L at 1 L/min hold the residual 6 L at 00:54: until then another may join, from then on none."""
    outcome = _shared(replace(NONE_LEFT, leak_ml_min=0), [(0, HOUR), (minute * MINUTE, HOUR)])
    assert bool(steps(outcome, "joins cylinder")) == joined


def test_of_two_cylinders_with_an_outlet_the_one_that_lasts_longer_is_joined() -> None:
    """After 10 min at 3 and at 1 L/min 30 and 50 L are left: the third joins the second."""
    stock = cylinders(fleet=2, regulators=2, splitters=Splitters(2, 2))
    outcome = _shared(stock, [(0, HOUR, 3_000), (0, HOUR, 1_000), (10 * MINUTE, HOUR, 1_000)])
    assert steps(outcome, "joins cylinder")[:1] == ["00:10:00 joins cylinder: 2 1 3000000"]


@pytest.mark.parametrize("splitters", [None, Splitters(0, 4), Splitters(9, 1)])
def test_without_an_outlet_to_spare_the_second_waits(splitters: Splitters | None) -> None:
    """No splitter, none in number, or one of a single outlet: no regulator until the first leaves."""
    stock = replace(NONE_LEFT, fleet=4, full_at_start=4, splitters=splitters)
    outcome = _shared(stock, [(0, 20 * MINUTE, 1_000), (10 * MINUTE, 20 * MINUTE, 2_000)])
    assert by_cause(outcome.unserved_s) == {Cause.NO_REGULATOR: 10 * MINUTE}


def test_splitters_and_their_outlets_are_limited() -> None:
    """Two regulators, one splitter of two outlets: three are served, the fourth finds no regulator."""
    stock = cylinders(fleet=9, full_gas=600 * LITRE, regulators=2, splitters=PAIR)
    outcome = _shared(stock, [(60 * place, HOUR) for place in range(4)])
    assert steps(outcome, "joins cylinder")[:1] == ["00:02:00 joins cylinder: 2 1 35940000"]
    assert steps(outcome, "gap begins") == ["00:03:00 gap begins: 3 no regulator"]


def test_the_smallest_range_that_fits_is_taken_first() -> None:
    """A child at 1 L/min takes the 0-2 L/min set, the next the other: no set is left for an adult at 4 L/min."""
    sets = (RegulatorSet(1, 0, 15_000), RegulatorSet(1, 0, 2_000))
    stock = cylinders(regulators=2, regulator_sets=sets, full_gas=600 * LITRE)
    child, adult = (0, HOUR, 1_000), (2 * MINUTE, HOUR, 4_000)
    assert by_cause(_shared(stock, [child, adult]).unserved_s) == {}
    crowded = _shared(stock, [child, (MINUTE, HOUR, 1_000), adult])
    assert steps(crowded, "gap begins") == ["00:02:00 gap begins: 2 no regulator"]


@pytest.mark.parametrize(("flow", "served"), [(99, False), (100, True), (2_000, True), (2_001, False)])
def test_a_flow_outside_the_range_of_the_flowmeter_finds_no_regulator(flow: int, served: bool) -> None:
    """A flowmeter of 0.1 to 2 L/min can be set to its ends and to nothing beyond."""
    stock = cylinders(regulators=1, regulator_sets=(RegulatorSet(1, 100, 2_000),), full_gas=600 * LITRE)
    lost = by_cause(_shared(stock, [(0, HOUR, flow)]).unserved_s)
    assert lost == ({} if served else {Cause.NO_REGULATOR: HOUR})


def test_one_whose_flow_does_not_fit_the_flowmeter_cannot_share() -> None:
    """The splitter's outlets have the flowmeter of the set: 4 L/min cannot join a cylinder with 0 to 2 L/min."""
    stock = cylinders(regulator_sets=(RegulatorSet(1, 0, 2_000),), splitters=PAIR, full_gas=600 * LITRE)
    outcome = _shared(stock, [(0, HOUR, 1_000), (60, HOUR, 4_000), (120, HOUR, 2_000)])
    assert [line.split(": ")[1] for line in steps(outcome, "joins cylinder")] == ["2 0 35880000"]


def test_sets_that_do_not_fit_the_valve_are_counted_out() -> None:
    """Three pin-index sets beside one bullnose set, cylinders with bullnose valves: one patient is served."""
    sets = (RegulatorSet(3, valve="pin-index"), RegulatorSet(1, valve="bullnose"))
    stock = cylinders(regulators=4, regulator_sets=sets, valve="bullnose", full_gas=600 * LITRE)
    outcome = _shared(stock, [(0, HOUR), (0, HOUR)])
    assert by_cause(outcome.unserved_s) == {Cause.NO_REGULATOR: HOUR}


def test_one_shares_rather_than_waits_where_no_cylinder_is_left() -> None:
    """One cylinder and two regulators: the second joins it, and both run out together."""
    assert len(steps(_shared(replace(NONE_LEFT, regulators=2)), "joins cylinder")) == 1


def test_a_patient_returns_to_a_unit_from_a_shared_cylinder() -> None:
    """A unit of 2 L/min is full until 00:30; then one of the two moves back and the other goes on alone."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(1, rated=2_000, outlets=1),
        cylinders=cylinders(fleet=1, full_gas=600 * LITRE, regulators=1, splitters=PAIR),
    )
    outcome = run(rules, FixedDraws([(0, 30 * MINUTE, 2_000), (60, HOUR, 2_000), (120, HOUR, 1_000)]))
    assert steps(outcome, "joins cylinder", "on concentrator", "gap begins") == [
        "00:00:00 on concentrator: 0 0",
        "00:02:00 joins cylinder: 2 1 35880000",
        "00:30:00 on concentrator: 1 0",
        "01:01:00 on concentrator: 2 0",
    ]


CATHETER = kind(delivery="nasopharyngeal catheter")
ROOM = cylinders(fleet=9, full_gas=600 * LITRE)


@pytest.mark.parametrize("sources", [CYLINDER, UNIT, CYLINDER_FIRST])
def test_a_catheter_needs_a_humidifier_whatever_the_source(sources: tuple[str, ...]) -> None:
    """One humidifier: the second patient waits 50 min until the first leaves, beside a free source."""
    rules = hospital(sources, patients=(CATHETER,), bedside=Bedside(humidifiers=1))
    rules = replace(rules, cylinders=ROOM if rules.cylinders else None)
    outcome = run(rules, FixedDraws([(0, HOUR), (10 * MINUTE, HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_DELIVERY_SET: 50 * MINUTE}
    assert outcome.stock_outs == 0


@pytest.mark.parametrize(("flow", "lost"), [(4_000, {}), (4_001, {Cause.NO_DELIVERY_SET: HOUR})])
def test_a_flow_above_the_stated_one_needs_a_humidifier(flow: int, lost: dict[Cause, int]) -> None:
    """Prongs at 4 L/min need none, above they do."""
    rules = hospital(cylinders=ROOM, bedside=Bedside(humidifiers=0, humidify_above_ml_min=4_000))
    assert by_cause(run(rules, FixedDraws([(0, HOUR, flow)])).unserved_s) == lost


def test_delivery_sets_are_limited_by_device() -> None:
    """Two sets of prongs and no limit on masks: the third on prongs waits, those on masks do not."""
    kinds = (kind(delivery="nasal prongs"), kind("masked", delivery="face mask"))
    rules = hospital(cylinders=ROOM, patients=kinds, bedside=Bedside(delivery_sets=(("nasal prongs", 2),)))
    rules = replace(rules, cylinders=replace(ROOM, fleet=9, full_at_start=9))
    stays = [(0, HOUR, 1_000, 0)] * 3 + [(0, HOUR, 1_000, 1)] * 3
    assert by_cause(run(rules, FixedDraws(stays)).unserved_s) == {Cause.NO_DELIVERY_SET: HOUR}


def test_where_the_supply_is_wanting_too_the_cause_is_the_supply() -> None:
    """No cylinder and no humidifier: a stock-out, for a humidifier would not help."""
    rules = hospital(
        cylinders=cylinders(fleet=1, full_at_start=0), patients=(CATHETER,), bedside=Bedside(humidifiers=0)
    )
    assert by_cause(run(rules, FixedDraws([(0, HOUR)])).unserved_s) == {Cause.NO_CYLINDER: HOUR}


def test_one_in_line_holds_no_humidifier() -> None:
    """Power is lost under the first for ever: in line she holds none, and the second gets it with the cylinder."""
    kinds = (replace(CATHETER, priority=2), replace(CATHETER, name="second", priority=1))
    stock = cylinders(fleet=1, full_gas=30 * LITRE)  # 27 min at 1 L/min, then nothing
    rules = hospital(cylinders=stock, patients=kinds, bedside=Bedside(humidifiers=1))
    outcome = run(rules, FixedDraws([(0, 2 * HOUR, 1_000, 0), (40 * MINUTE, HOUR, 1_000, 1)]))
    assert set(by_cause(outcome.unserved_s)) == {Cause.NO_CYLINDER}


def test_a_higher_priority_takes_source_and_humidifier_together() -> None:
    """With pre-emption the one on the only humidifier is displaced, not the one without."""
    kinds = (kind(priority=2), replace(CATHETER, priority=2), replace(CATHETER, name="urgent", priority=1))
    rules = hospital(
        cylinders=cylinders(fleet=3, full_gas=600 * LITRE, regulators=2),
        patients=kinds,
        bedside=Bedside(humidifiers=1),
        allocation=Allocation(preempt=True),
    )
    outcome = run(rules, FixedDraws([(0, HOUR, 1_000, 1), (60, HOUR, 1_000, 0), (120, HOUR, 1_000, 2)]))
    assert steps(outcome, "displaced") == ["00:02:00 displaced: 0 2"]


def test_a_higher_priority_takes_an_outlet_of_a_shared_cylinder() -> None:
    """Two share by the only splitter of two outlets; the last in line gives up the outlet."""
    kinds = (kind(priority=2), kind("urgent", priority=1))
    stock = cylinders(fleet=1, full_gas=600 * LITRE, regulators=1, splitters=PAIR)
    rules = hospital(cylinders=stock, patients=kinds, allocation=Allocation(preempt=True))
    outcome = run(rules, FixedDraws([(0, HOUR), (60, HOUR), (120, HOUR, 2_000, 1)]))
    assert steps(outcome, "displaced", "joins cylinder") == [
        "00:01:00 joins cylinder: 1 0 35940000",
        "00:02:00 displaced: 1 2",
        "00:02:00 joins cylinder: 2 0 35820000",
        "01:00:00 joins cylinder: 1 2 25380000",
    ]
