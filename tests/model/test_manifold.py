"""The manifold: banks that take over, spent banks, the reserve, pipework, staff, bedside cylinders beside it."""

from dataclasses import replace
from typing import Any

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    FixedDraws,
    at,
    by_cause,
    constant,
    cylinders,
    hospital,
    kind,
    manifold,
    resupply,
    run,
    steps,
    trace,
    units,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from random_hospitals import audited, settled

from o2sim.draws import Draws
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.hospital import Allocation, Emergency, Grid, Hospital, Law, Staff, Strategy, Underfilled

MANIFOLD = ("manifold",)
ALONE = {"fleet": 5, "full_at_start": 5}  # two banks of two and one more


def test_two_banks_and_a_reserve_run_dry_and_are_changed() -> None:
    """Changeover without a gap, a reserve between the banks and a dry manifold, a delivery, the bank changed."""
    # A cylinder gives 60 - 6 = 54 L, a bank of two 108 L: 2 L/min for 10 min (20 L), then 3 L/min, 88 / 3 = 29:20.
    #   00:39:20 A is spent, B feeds (36 min at 3 L/min); the last two full ones go on A, ready at 01:09:20.
    #   01:15:20 B is spent, A feeds for 36 min; there is nothing to put on B.
    #   01:51:20 A is spent; the reserve of one cylinder feeds, 54 / 3 = 18 min: dry at 02:09:20.
    # Staff respond in 5 min, then there is no cylinder; interruption 10 min after 02:09:20 = 7,760 s.
    # The review of 02:00 finds nothing full: two are ordered, 40 min: 02:40. Bank A is ready at 03:10.
    rules = hospital(
        MANIFOLD,
        horizon_s=4 * HOUR,
        cylinders=cylinders(fleet=7),
        manifold=manifold(outlets=2, reserve=1),
        resupply=resupply(2 * HOUR, 1, 2, 40 * MINUTE),
        tolerated_gap_s=10 * MINUTE,
        response_time_s=5 * MINUTE,
    )
    outcome = run(rules, FixedDraws([(0, at("03:30"), 2_000), (at("00:10"), at("03:10"), 1_000)]))
    assert trace(outcome) == [
        "00:00:00 bank feeds: 0 2 6480000",  # 108 L x 60,000
        "00:00:00 patient arrives: 0 0 2000",
        "00:00:00 on outlet: 0 1",
        "00:10:00 patient arrives: 1 0 1000",
        "00:10:00 on outlet: 1 2",
        "00:39:20 bank spent: 0 2 720000",  # 2 x 6 L
        "00:39:20 bank taken off: 0 2 720000",
        "00:39:20 bank feeds: 1 2 6480000",
        "00:39:20 bank change: 0 2 7200000",
        "01:09:20 bank ready: 0 2 6480000",
        "01:15:20 bank spent: 1 2 720000",
        "01:15:20 bank taken off: 1 4 720000",
        "01:15:20 bank feeds: 0 2 6480000",
        "01:51:20 bank spent: 0 2 720000",
        "01:51:20 bank taken off: 0 6 720000",
        "01:51:20 bank feeds: 2 1 3240000",
        "02:00:00 order: 0 2 9600",
        "02:09:20 bank spent: 2 1 360000",
        "02:09:20 bank taken off: 2 7 360000",
        "02:09:20 manifold dry: 2",
        "02:09:20 supply lost: 0",
        "02:09:20 gap begins: 0 changeover",
        "02:09:20 supply lost: 1",
        "02:09:20 gap begins: 1 changeover",
        "02:14:20 cause changes: 0 no cylinder",
        "02:14:20 cause changes: 1 no cylinder",
        "02:19:20 interruption: 0 no cylinder 7760",
        "02:19:20 interruption: 1 no cylinder 7760",
        "02:40:00 delivery: 0 2 2",
        "02:40:00 bank change: 0 2 7200000",
        "02:40:00 cause changes: 0 changeover",  # there are cylinders: whoever connects them is awaited
        "02:40:00 cause changes: 1 changeover",
        "03:10:00 bank ready: 0 2 6480000",
        "03:10:00 bank feeds: 0 2 6480000",
        "03:10:00 gap ends: 0 changeover 3640",  # 02:09:20 to 03:10
        "03:10:00 on outlet: 0 1",
        "03:10:00 gap ends: 1 changeover 3640",
        "03:10:00 on outlet: 1 2",
        "03:20:00 patient leaves: 1 3640",
        "03:30:00 patient leaves: 0 3640",
    ]
    assert (outcome.reserve_s, outcome.manifold_dry_s, outcome.bank_changes) == (18 * MINUTE, 3_640, 2)
    # Given: 108 + 108 + 108 + 54 L, then 10 min at 3 and 10 min at 2 L/min.
    assert outcome.cylinder_gas == (378 + 30 + 20) * LITRE
    assert outcome.closing_gas == (5 * 6 + 120 - 50) * LITRE  # five empties, and bank A
    assert outcome.closing_usable_gas == (108 - 50) * LITRE


SERVES_S = 3_421  # what a cylinder serves at 1 L/min; prime, so that nobody leaves as one runs out
ONE_EACH = {"bank": 1, "outlets": 1, "bank_change_time_s": 0, "changeover_gas": 3 * LITRE}


def _either(source: str, fleet: int, supply: Any) -> Hospital:
    """A source and a fleet in; one manifold outlet, or one watched bedside cylinder, and no delays out."""
    gas = {"full_gas": 3 * LITRE + SERVES_S * 1_000 + 7, "residual_gas": 3 * LITRE, "lost_gas": 3 * LITRE}
    return hospital(
        (source,),
        horizon_s=3 * DAY,
        cylinders=cylinders(fleet=fleet, **gas),
        resupply=supply,
        manifold=manifold(**ONE_EACH) if source == "manifold" else None,
        tolerated_gap_s=600,
    )


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    stays=st.lists(st.tuples(st.integers(0, 60), st.integers(1, 90)), min_size=1, max_size=8),
    fleet=st.integers(1, 9),
    supply=st.one_of(
        st.none(),
        st.builds(
            lambda hours, lead_h: (hours * HOUR, lead_h * HOUR), st.sampled_from([1, 6, 24]), st.integers(0, 20)
        ),
    ),
)
def test_a_manifold_of_one_outlet_without_delays_is_a_watched_cylinder(
    stays: list[tuple[int, int]], fleet: int, supply: tuple[int, int] | None
) -> None:
    """One patient at a time: the same seconds, gas, empties, deliveries; where the next one stands differs."""
    rule = resupply(supply[0], fleet - 1, fleet, supply[1]) if supply else None
    patients, now = [], 0
    for wait, stay in stays:
        patients.append((now + wait * 600, stay * 600))
        now = patients[-1][0] + stay * 600 + 600
    piped, bedside = (
        run(_either(source, fleet, rule), FixedDraws(patients)) for source in ("manifold", "cylinder")
    )
    for name in (
        "served_cylinder_s", "unserved_s", "interruptions", "longest_gap_s", "cylinder_gas", "cylinders_emptied",
        "cylinders_delivered", "orders", "returned_gas", "closing_gas", "closing_usable_gas",
    ):  # fmt: skip
        assert getattr(piped, name) == getattr(bedside, name), name


@pytest.mark.parametrize("leak", [0, 500])
def test_the_whole_manifold_runs_out_to_the_second(leak: int) -> None:
    """S cylinders with V litres to give at flow F, leak and all, last S V / F: 6 x 54 L at 0.9 L/min."""
    rules = hospital(
        MANIFOLD, cylinders=cylinders(fleet=6), manifold=manifold(reserve=2, leak_ml_min=leak), tolerated_gap_s=60
    )
    outcome = run(rules, FixedDraws([(0, DAY - 1, 900 if leak == 0 else 400)]))
    lasts_s = round(6 * 54 / 0.9 * 60)
    assert outcome.served_outlet_s == lasts_s == 21_600
    assert outcome.unserved_s[Cause.NO_CYLINDER] == DAY - 1 - lasts_s
    assert outcome.pipe_leak_gas == outcome.leaked_gas == lasts_s * leak
    assert outcome.interruptions[Cause.NO_CYLINDER] == 1


def test_the_pipework_leaks_with_nobody_on_it() -> None:
    """0.9 L/min empties both banks of 108 L in 120 min each; nobody goes without until somebody comes."""
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=4), manifold=manifold(leak_ml_min=900))
    outcome = run(rules, FixedDraws([(at("06:00"), HOUR)]))
    assert steps(outcome, "bank spent", "manifold dry", "supply lost", "gap begins") == [
        "02:00:00 bank spent: 0 2 720000",
        "04:00:00 bank spent: 1 2 720000",
        "04:00:00 manifold dry: 0",
        "06:00:00 gap begins: 0 no cylinder",
    ]
    assert (outcome.pipe_leak_gas, outcome.cylinder_gas) == (216 * LITRE, 0)
    assert outcome.manifold_dry_s == 20 * HOUR


def test_a_spent_bank_without_an_alarm_is_found_at_the_next_look() -> None:
    """Spent at 01:48 (108 L at 1 L/min), seen at the look of 04:00 - unless somebody loses supply before."""
    looks = manifold(gauge_check_s=4 * HOUR, bank_change_time_s=10 * MINUTE)
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=7), manifold=looks)
    outcome = run(rules, FixedDraws([(0, 3 * HOUR)]))
    assert steps(outcome, "bank spent", "bank taken off", "bank change", "bank ready") == [
        "01:48:00 bank spent: 0 2 720000",
        "04:00:00 bank taken off: 0 2 720000",
        "04:00:00 bank change: 0 2 7200000",
        "04:10:00 bank ready: 0 2 6480000",
    ]
    outcome = run(rules, FixedDraws([(0, at("03:50"))]))  # the second bank is spent at 03:36, before the look
    assert steps(outcome, "bank taken off", "bank change", "gap begins", "on outlet")[1:] == [
        "03:36:00 bank taken off: 0 2 720000",
        "03:36:00 bank taken off: 1 4 720000",
        "03:36:00 bank change: 0 2 7200000",
        "03:36:00 bank change: 1 1 3600000",  # one is left: a part bank
        "03:36:00 gap begins: 0 changeover",
        "03:46:00 on outlet: 0 1",
    ]
    outcome = run(rules, FixedDraws([(0, at("03:35")), (at("03:35"), HOUR, 60_000)]))
    assert steps(outcome, "bank taken off")[0].startswith("03:35:01")  # the first to lose it


def test_an_unseen_dry_manifold_is_seen_by_whoever_comes() -> None:
    """The leak empties both banks unseen; a patient who finds the outlet dry brings staff to the banks."""
    slow = manifold(gauge_check_s=12 * HOUR, leak_ml_min=1_800, bank_change_time_s=10 * MINUTE)
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=7), manifold=slow)
    outcome = run(rules, FixedDraws([(at("03:00"), HOUR)]))
    assert steps(outcome, "manifold dry", "bank taken off", "bank change", "on outlet")[:5] == [
        "02:00:00 manifold dry: 0",
        "03:00:00 bank taken off: 0 2 720000",
        "03:00:00 bank change: 0 2 7200000",
        "03:00:00 bank taken off: 1 4 720000",
        "03:00:00 bank change: 1 1 3600000",
    ]
    assert by_cause(outcome.unserved_s)[Cause.CHANGEOVER] == 10 * MINUTE


def test_a_bank_that_is_ready_takes_over_from_the_reserve() -> None:
    """Banks of one last 30 min each, a change 45: the reserve feeds from 01:00 to 01:15 and keeps half."""
    one = manifold(bank=1, reserve=1, bank_change_time_s=45 * MINUTE)
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=9), manifold=one, horizon_s=2 * HOUR)
    outcome = run(rules, FixedDraws([(0, 100 * MINUTE, 1_800)]))
    assert steps(outcome, "bank feeds") == [
        "00:00:00 bank feeds: 0 1 3240000",
        "00:30:00 bank feeds: 1 1 3240000",
        "01:00:00 bank feeds: 2 1 3240000",
        "01:15:00 bank feeds: 0 1 3240000",
    ]
    assert (outcome.reserve_s, outcome.manifold_dry_s) == (15 * MINUTE, 0)
    # A has given 25 min; the reserve has half; B, taken off at 01:00, is changed at 01:45; four full of six.
    assert outcome.closing_usable_gas == (54 - 45 + 27 + 54 + 4 * 54) * LITRE


def test_a_look_in_the_second_in_which_a_bank_is_spent_comes_too_soon() -> None:
    """A check goes before what runs out: 108 L at 0.9 L/min are spent at 02:00, seen at 04:00."""
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=7), manifold=manifold(gauge_check_s=2 * HOUR))
    outcome = run(rules, FixedDraws([(0, 3 * HOUR, 900)]))
    assert steps(outcome, "bank spent", "bank taken off") == [
        "02:00:00 bank spent: 0 2 720000",
        "04:00:00 bank taken off: 0 2 720000",
    ]


def test_who_waits_in_line_goes_before_a_bank() -> None:
    """Dry from 02:00; the one cylinder delivered at 02:10 goes to the bedside, not on a bank for half an hour."""
    rules = hospital(
        ("manifold", "cylinder"),
        cylinders=cylinders(fleet=2),
        manifold=manifold(bank=1),
        resupply=resupply(HOUR, 1, 1, 70 * MINUTE),
        horizon_s=3 * HOUR,
    )
    outcome = run(rules, FixedDraws([(0, 150 * MINUTE, 900)]))
    assert steps(outcome, "manifold dry", "delivery", "cylinder opened", "bank change") == [
        "02:00:00 manifold dry: 1",
        "02:10:00 delivery: 0 1 1",
        "02:10:00 cylinder opened: 0 0 3600000",
    ]


def test_a_bank_change_empties_the_shelf_and_counts_as_opened() -> None:
    """The only full one goes on the bank at 01:00: the shelf is empty for the hour that is left."""
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=3), manifold=manifold(bank=1), horizon_s=2 * HOUR)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR, 900)]))
    assert (outcome.empty_shelf_s, outcome.cylinders_opened, outcome.cylinders_emptied) == (HOUR, 1, 1)


def test_a_spent_bank_backs_an_order_at_once() -> None:
    """Continuous review: two are wanted as one is taken for the bank at 01:00, one empty is there to back them."""
    rules = hospital(
        MANIFOLD,
        cylinders=cylinders(fleet=4),
        manifold=manifold(bank=1),
        resupply=resupply(None, 1, 3, DAY),
        horizon_s=90 * MINUTE,
    )
    assert steps(run(rules, FixedDraws([(0, DAY, 900)])), "order") == ["01:00:00 order: 0 1 90000"]


def test_cover_counts_the_flow_of_the_outlets() -> None:
    """0.9 L/min on outlets: two cylinders are two hours' cover, the one left at 01:00 is too little."""
    rare = replace(resupply(10 * DAY, 0, 1, DAY), emergency=Emergency(2, constant(HOUR), cover_s=2 * HOUR))
    rules = hospital(
        MANIFOLD,
        cylinders=cylinders(fleet=4),
        manifold=manifold(bank=1),
        resupply=rare,
        horizon_s=90 * MINUTE,
    )
    outcome = run(rules, FixedDraws([(0, DAY, 900)]))
    assert steps(outcome, "emergency order") == ["01:00:00 emergency order: 0 1 7200"]


def test_a_remainder_stays_in_the_cylinders_of_a_bank() -> None:
    """100 L at 0.7 L/min do not come out even: the rest stays, shared out in whole units."""
    rules = hospital(
        MANIFOLD,
        cylinders=cylinders(fleet=3, full_gas=60 * LITRE + 1),
        manifold=manifold(bank=3, changeover_gas=6 * LITRE),
        horizon_s=6 * HOUR,
    )
    outcome = run(rules, FixedDraws([(0, 5 * HOUR, 700)]))
    usable = 3 * 54 * LITRE + 3
    assert steps(outcome, "bank spent") == [f"03:51:25 bank spent: 0 3 {18 * LITRE + usable % 700}"]
    assert usable // 700 == at("03:51:25")
    assert outcome.closing_gas == 18 * LITRE + usable % 700


def test_bank_changes_come_after_patients_while_something_feeds() -> None:
    """One nurse: both bedside changes called for at 01:00 come before the bank that is spent then."""
    rules = hospital(
        ("manifold", "cylinder"),
        cylinders=cylinders(fleet=12, gauge_check_s=HOUR, change_time_s=20 * MINUTE),
        manifold=manifold(outlets=1),
        staff=Staff(1, 1),
        horizon_s=2 * HOUR,
    )
    # On the outlet 1.8 L/min for 108 L, at each bedside 0.9 L/min for 54 L: an hour each.
    outcome = run(rules, FixedDraws([(0, 2 * HOUR, 1_800), (0, 2 * HOUR, 900), (0, 2 * HOUR, 900)]))
    assert steps(outcome, "bank spent", "bank change", "cylinder opened")[2:] == [
        "01:00:00 cylinder opened: 1 5 3600000",
        "01:00:00 bank spent: 0 2 720000",
        "01:20:00 cylinder opened: 2 4 3600000",
        "01:40:00 bank change: 0 2 7200000",
    ]


def test_a_dry_manifold_is_changed_before_the_calls_of_patients() -> None:
    """Both banks spent at once with the nurse busy: the bank goes before the response to its own patient."""
    rules = hospital(
        ("manifold", "cylinder"),
        cylinders=cylinders(fleet=12, gauge_check_s=HOUR, change_time_s=70 * MINUTE),
        manifold=manifold(outlets=1),
        staff=Staff(1, 1),
        horizon_s=4 * HOUR,
        response_time_s=5 * MINUTE,
    )
    # A is spent at 01:00 as the nurse begins 70 min at the bedside, B at 02:00: dry; the nurse comes at 02:10.
    outcome = run(rules, FixedDraws([(0, 4 * HOUR, 1_800), (0, 4 * HOUR, 900)]))
    assert steps(outcome, "manifold dry", "bank change", "gap begins", "cause changes")[1:5] == [
        "02:00:00 manifold dry: 1",
        "02:00:00 gap begins: 0 waiting for staff",
        "02:10:00 bank change: 0 2 7200000",
        "02:40:00 bank change: 1 2 7200000",
    ]


def test_a_manifold_alone_waits_for_staff() -> None:
    """The bank waits behind a bedside change; who comes meanwhile waits for staff, then for the change."""
    rules = hospital(
        ("cylinder", "manifold"),
        cylinders=cylinders(fleet=8, gauge_check_s=HOUR, change_time_s=70 * MINUTE, regulators=1),
        manifold=manifold(bank=1),
        staff=Staff(1, 1),
        horizon_s=4 * HOUR,
    )
    outcome = run(rules, FixedDraws([(0, 3 * HOUR, 900), (0, 3 * HOUR, 900), (at("02:05"), HOUR, 900)]))
    # The outlet's banks of 54 L last 60 min each: the first at 01:00, as the bedside change begins.
    assert steps(outcome, "manifold dry", "gap begins", "cause changes", "bank change", "on outlet") == [
        "00:00:00 on outlet: 1 1",
        "01:00:00 gap begins: 0 changeover",
        "02:00:00 manifold dry: 1",
        "02:00:00 gap begins: 1 waiting for staff",
        "02:05:00 gap begins: 2 waiting for staff",
        "02:10:00 bank change: 0 1 3600000",
        "02:10:00 cause changes: 2 changeover",
        "02:40:00 on outlet: 1 1",
        "02:40:00 bank change: 1 1 3600000",
        "02:40:00 on outlet: 2 2",
    ]


def test_outlets_are_limited_and_their_fullness_is_a_cause_of_supply() -> None:
    """Three on three outlets; the fourth waits until one leaves."""
    rules = hospital(MANIFOLD, cylinders=cylinders(fleet=40), manifold=manifold(bank=20))
    outcome = run(rules, FixedDraws([(0, HOUR), (0, 2 * HOUR), (0, 2 * HOUR), (0, 2 * HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.OUTLETS_FULL: HOUR}
    assert outcome.stock_outs == 1


def test_patients_go_from_bedside_cylinders_back_to_outlets() -> None:
    """The fourth has a cylinder until an outlet comes free; its cylinder goes to the rack, no gap."""
    rules = hospital(("manifold", "cylinder"), cylinders=cylinders(fleet=41), manifold=manifold(bank=20))
    outcome = run(rules, FixedDraws([(0, 30 * MINUTE), *[(0, 50 * MINUTE)] * 3]))
    assert steps(outcome, "cylinder racked", "on outlet")[3:] == [
        "00:30:00 cylinder racked: 3 1 1800000",
        "00:30:00 on outlet: 3 3",
    ]
    assert sum(outcome.unserved_s) == 0
    assert outcome.served_outlet_s == (30 + 50 + 50 + 20) * MINUTE


def test_patients_go_from_outlets_back_to_a_unit_and_on_when_it_stops() -> None:
    """Units first: a cut sends the patient to an outlet after the response, power brings it back."""
    rules = hospital(
        ("concentrator", "manifold"),
        grid=Grid(Law("constant", (1.0,)), Law("constant", (1.0,))),
        response_time_s=5 * MINUTE,
        concentrators=units(outlets=1),
    )
    draws = FixedDraws([(0, 4 * HOUR)], up=(HOUR,), down=(HOUR,))
    assert steps(run(rules, draws), "on outlet", "on concentrator") == [
        "00:00:00 on concentrator: 0 0",
        "01:05:00 on outlet: 0 1",
        "02:00:00 on concentrator: 0 0",
    ]


def test_a_bank_that_is_ready_within_the_response_serves_at_once() -> None:
    """Dry at 03:36, staff respond in 20 min, the bank is changed in 10: served again at 03:46."""
    rules = hospital(
        MANIFOLD,
        cylinders=cylinders(fleet=7),
        manifold=manifold(gauge_check_s=DAY, bank_change_time_s=10 * MINUTE),
        response_time_s=20 * MINUTE,
    )
    outcome = run(rules, FixedDraws([(0, 4 * HOUR)]))
    assert steps(outcome, "supply lost", "gap ends") == [
        "03:36:00 supply lost: 0",
        "03:46:00 gap ends: 0 changeover 600",
    ]
    outcome = run(rules, FixedDraws([(0, at("03:40"))]))  # leaves while staff are on their way
    assert steps(outcome, "gap ends") == ["03:40:00 gap ends: 0 changeover 240"]


def test_a_low_bedside_cylinder_gives_way_to_a_free_outlet() -> None:
    """Cylinders first, none left to change to: at the check the patient moves to an outlet without a gap."""
    rules = hospital(
        ("cylinder", "manifold"), cylinders=cylinders(fleet=5, gauge_check_s=HOUR), horizon_s=2 * HOUR
    )
    outcome = run(rules, FixedDraws([(0, 100 * MINUTE, 900)]))  # 54 L at 0.9 L/min: low at 01:00
    assert steps(outcome, "cylinder emptied", "on outlet") == [
        "01:00:00 cylinder emptied: 0 1 360000",
        "01:00:00 on outlet: 0 1",
    ]
    assert sum(outcome.unserved_s) == 0


def test_one_found_empty_goes_to_an_outlet_where_these_come_first() -> None:
    """The outlets are full until 01:58; the cylinder, empty at 00:57, is found at 02:00: an outlet instead."""
    rules = hospital(
        ("manifold", "cylinder"),
        cylinders=cylinders(fleet=9, gauge_check_s=2 * HOUR),
        manifold=manifold(outlets=1, bank=3),
        horizon_s=3 * HOUR,
    )
    outcome = run(rules, FixedDraws([(0, at("01:58")), (0, at("02:30"))]))
    assert steps(outcome, "gap begins", "on outlet", "cylinder opened")[-2:] == [
        "00:57:00 gap begins: 1 ran empty unseen",
        "02:00:00 on outlet: 1 1",
    ]


def test_a_higher_priority_takes_an_outlet() -> None:
    """With pre-emption the child gets the adult's outlet; the adult goes without."""
    rules = hospital(
        MANIFOLD,
        patients=(kind(priority=2), kind("children", priority=1)),
        manifold=manifold(outlets=1),
        allocation=Allocation(preempt=True),
    )
    outcome = run(rules, FixedDraws([(0, HOUR), (10 * MINUTE, 20 * MINUTE, 1_000, 1)]))
    assert steps(outcome, "displaced", "gap begins", "gap ends") == [
        "00:10:00 displaced: 0 1",
        "00:10:00 gap begins: 0 outlets full",
        "00:30:00 gap ends: 0 outlets full 1200",
    ]


def test_the_reserve_for_the_bedside_is_not_put_on_a_bank() -> None:
    """Two of three full ones are kept for the bedside: one is put on the bank; all three without a bedside."""
    rules = hospital(
        ("manifold", "cylinder"),
        cylinders=cylinders(fleet=9),
        manifold=manifold(bank=3),
        allocation=Allocation(reserve=2),
        horizon_s=4 * HOUR,
    )
    outcome = run(rules, FixedDraws([(0, 3 * HOUR)]))
    assert steps(outcome, "bank change") == ["02:42:00 bank change: 0 1 3600000"]
    outcome = run(replace(rules, strategy=Strategy("s", MANIFOLD)), FixedDraws([(0, 3 * HOUR)]))
    assert steps(outcome, "bank change") == ["02:42:00 bank change: 0 3 10800000"]


def test_unusable_cylinders_on_a_bank_give_nothing() -> None:
    """All delivered ones are unusable or under-filled: a bank gives less, or is spent as it is changed."""
    gas = {"fleet": 4, "unusable": 0.5, "underfilled": Underfilled(1.0, Law("constant", (0.5,)))}
    rules = hospital(
        MANIFOLD,
        cylinders=cylinders(**gas),
        manifold=manifold(bank_change_time_s=0),
        resupply=resupply(HOUR, 3, 4, 0),
        horizon_s=2 * DAY,
    )
    outcome = run(rules, Draws(3, 0))
    assert outcome.cylinders_unusable == 0  # nobody came, nothing was delivered
    outcome = run(rules, FixedDraws([(0, 2 * DAY - 1)]))
    given = [entry for entry in outcome.log if entry.step == "bank ready"]
    assert {entry.value % (24 * LITRE) for entry in given} == {0}  # 30 L less 6, once or twice
    assert outcome.cylinders_unusable > 0
    changes = sum(entry.step == "bank change" for entry in outcome.log)
    assert changes == outcome.bank_changes > len(given) > 0


def test_a_cylinder_back_on_the_rack_frees_the_full_one_kept_for_the_bedside() -> None:
    """One is kept for the bedside; a part-used one that comes back will do, so the second bank is changed."""
    gas = cylinders(fleet=3, full_at_start=0, regulators=1)
    rules = hospital(
        ("manifold", "cylinder"),
        cylinders=gas,
        manifold=manifold(bank=1, outlets=1, bank_change_time_s=0),
        resupply=resupply(None, 0, 1, 0, emergency=Emergency(up_to=3, lead_time_s=constant(0), below=1)),
        allocation=Allocation(reserve=1),
    )
    with audited(settled):
        outcome = run(rules, FixedDraws([(at("01:00"), HOUR)]))
    assert [entry for entry in trace(outcome) if "bank ready" in entry][:2] == [
        f"01:00:00 bank ready: 0 1 {54 * LITRE}",
        f"01:00:00 bank ready: 1 1 {54 * LITRE}",
    ]


def test_a_bank_of_unusable_cylinders_is_seen_at_once_where_somebody_waits() -> None:
    """Looks every two hours: what is put on a dry manifold is empty, and goes to the empties that second."""
    rules = hospital(
        MANIFOLD,
        cylinders=cylinders(fleet=2, full_at_start=0, unusable=1.0),
        manifold=manifold(bank=1, bank_change_time_s=0, gauge_check_s=2 * HOUR),
        resupply=resupply(HOUR, 1, 2, 0),
        horizon_s=2 * HOUR,
    )
    outcome = run(rules, FixedDraws([(0, HOUR)]))
    assert [entry.split(":")[2] for entry in trace(outcome) if "bank" in entry][:3] == [
        "00 bank change",
        "00 bank spent",
        "00 bank taken off",
    ]


def test_oxygen_without_need_is_counted_apart_on_an_outlet() -> None:
    """Weaned an hour late: half of the gas was not needed; with a dry manifold such a patient does without."""
    late = kind(
        admissions_per_day=12.0,
        flow_ml_min=Law("constant", (1_000.0,)),
        duration_s=Law("constant", (1_800.0,)),
        weaned_late_s=Law("constant", (1_800.0,)),
    )
    rules = hospital(MANIFOLD, patients=(late,), horizon_s=3 * DAY, cylinders=cylinders(fleet=16))
    rules = replace(rules, manifold=manifold(outlets=20, bank=3))
    outcome: Outcome = run(rules, Draws(2, 0))
    assert outcome.unneeded_cylinder_gas > 0
    assert outcome.served_outlet_s == outcome.served_cylinder_s > 0
    assert outcome.unserved_s[Cause.NO_CYLINDER] > 0


def test_without_a_manifold_nothing_of_it_is_counted() -> None:
    """The bedside alone counts nothing under the manifold."""
    outcome = run(hospital(CYLINDER), FixedDraws([(0, HOUR)]))
    assert (outcome.served_outlet_s, outcome.bank_changes, outcome.manifold_dry_s, outcome.reserve_s) == (0,) * 4
