"""Part-used cylinders: which is taken from the rack, which go to be filled, which count, what will not last."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    NEVER,
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
from o2sim.model.run import simulate
from o2sim.outcome import LogEntry, Outcome
from o2sim.scenario.types.hospital import Emergency, Hospital, Recorded, Scenario, SendPartUsed, StoreAccess

ENGINES = pytest.mark.parametrize("engine", ["reference", "kernel"])
OLDEST, EMPTIEST, FULLEST = "oldest that lasts", "emptiest that lasts", "fullest"
LARGE = {"residual_gas": 0, "lost_gas": 0}


def recorded(rows: Iterable[tuple[int, ...]], days: int = 2) -> Any:
    """Return a class whose arrivals (s), stays (s) and flows (1,000 mL/min unless said) are written down."""
    whole = sorted((arrival, stay, *flow, 1_000)[:3] for arrival, stay, *flow in rows)
    arrivals, stays, flows = zip(*whole, strict=True)
    return kind(recorded=Recorded(False, 0, days, arrivals, flows, stays))


def by(engine: str, rules: Hospital, seed: int = 1) -> Outcome:
    """Return the outcome of a hospital by an engine, with the event log."""
    scenario = Scenario("test", "", "test.yaml", "0" * 16, {"s": rules})
    return simulate(scenario, "s", Draws(seed, 0), engine, log=True)


def entries(outcome: Outcome, step: str) -> list[LogEntry]:
    """Return the entries of the log for a step."""
    return [entry for entry in outcome.log if entry.step == step]


def taken(engine: str, rack: str, change_when: str, need_litres: int) -> int:
    """Return the litres in what is taken from a rack of 1,000, 3,000 and 2,000 L, in order of coming.

    Full ones hold 4,000. It is to flow at 10 L/min; looks are at midnight, so it opens need / 10 min before that.
    """
    opens_s = DAY - need_litres // 10 * MINUTE
    rows = [(0, 300 * MINUTE, 10_000), (0, 400 * MINUTE, 2_500), (0, 500 * MINUTE, 4_000), (opens_s, HOUR, 10_000)]
    stock = cylinders(full_gas=4_000 * LITRE, gauge_check_s=DAY, rack=rack, change_when=change_when, **LARGE)
    outcome = by(engine, hospital(cylinders=stock, patients=(recorded(rows),)))
    assert [entry.value // LITRE for entry in entries(outcome, "cylinder racked")][:3] == [1_000, 3_000, 2_000]
    return entries(outcome, "cylinder opened")[-1].value // LITRE


@ENGINES
@pytest.mark.parametrize(
    ("need", "oldest", "emptiest", "fullest"),
    [(1_500, 3_000, 2_000, 3_000), (2_500, 3_000, 3_000, 3_000), (3_500, 4_000, 4_000, 4_000)],
)
def test_the_rack_gives_one_that_lasts_until_the_next_look(
    engine: str, need: int, oldest: int, emptiest: int, fullest: int
) -> None:
    """Worked by hand: of those that hold the need the oldest, emptiest or fullest; where none does, a full one."""
    found = [taken(engine, rack, "will_not_last", need) for rack in (OLDEST, EMPTIEST, FULLEST)]
    assert found == [oldest, emptiest, fullest]


@ENGINES
def test_with_residual_the_oldest_is_taken_whatever_it_holds(engine: str) -> None:
    """As before: 1,000 L for a need of 1,500; the emptiest and the fullest are those that last."""
    found = [taken(engine, rack, "residual", 1_500) for rack in (OLDEST, EMPTIEST, FULLEST)]
    assert found == [1_000, 2_000, 3_000]


def test_without_a_full_one_the_fullest_is_taken() -> None:
    """10 and 40 L on the rack, neither lasts the 50 min to the look, nothing else: the 40 L."""
    rows = [(0, 50 * MINUTE), (0, 20 * MINUTE), (70 * MINUTE, 10 * MINUTE)]
    stock = cylinders(fleet=2, gauge_check_s=2 * HOUR, rack=EMPTIEST)
    outcome = run(hospital(cylinders=stock), FixedDraws(rows))
    assert entries(outcome, "cylinder opened")[-1].value == 40 * LITRE


def test_lasting_is_reckoned_from_when_it_begins_to_flow() -> None:
    """Low at the look of 00:54, changed by 01:24, the next look at 01:48: 40 L are enough for these 24 min."""
    rows = [(0, 2 * HOUR), (0, 20 * MINUTE)]
    stock = cylinders(gauge_check_s=27 * MINUTE, change_time_s=30 * MINUTE, rack=EMPTIEST)
    outcome = run(hospital(cylinders=stock), FixedDraws(rows))  # looks at 00:27, 00:54, 01:21 and 01:48
    assert [entry.value // LITRE for entry in entries(outcome, "cylinder opened")] == [60, 60, 40]


def fleet_of_twenty(send: SendPartUsed | None) -> Hospital:
    """Return 20 cylinders of 1,000 L, at noon 3 full, 2 in use, 11 with 200 L, 4 with 500 L; s 10, S 16."""
    rows = [(0, 100 * MINUTE, 8_000)] * 11 + [(0, 100 * MINUTE, 5_000)] * 4 + [(0, 13 * HOUR, 1_000)] * 2
    stock = cylinders(
        fleet=20, full_gas=1_000 * LITRE, gauge_check_s=DAY, regulators=20, send_part_used=send, **LARGE
    )
    reviews = resupply(DAY // 2, 10, 16, 40 * DAY)
    return hospital(cylinders=stock, patients=(recorded(rows),), resupply=reviews, horizon_s=2 * DAY)


@ENGINES
def test_a_fleet_that_stands_about_part_used_is_ordered_for(engine: str) -> None:
    """Worked by hand: 11 of 15 part-used are below 25 %, 4 are kept; 11 are ordered, the position is then 14."""
    outcome = by(engine, fleet_of_twenty(SendPartUsed(250, 4)))
    assert [entry.other for entry in entries(outcome, "order")] == [11]
    full, part_used, in_use, empty, on_order = outcome.daily[1][:5]
    assert (full + on_order, part_used, in_use, empty) == (14, 6, 0, 11)  # the two in use are back since 13:00
    assert (outcome.cylinders_sent, outcome.sent_gas) == (11, 11 * 200 * LITRE)


@ENGINES
def test_without_sending_nothing_can_be_ordered(engine: str) -> None:
    """The same stock without the rule: no empties, no order."""
    outcome = by(engine, fleet_of_twenty(None))
    assert (outcome.orders, outcome.cylinders_sent) == (0, 0)


def sent(engine: str, send: SendPartUsed, minimum: int = 1, **changes: Any) -> Outcome:
    """Return a day of six cylinders: 10, 20, 20 and 40 L of 60 are back by 01:00, when the stock is reviewed."""
    rows = [(0, 50 * MINUTE), (0, 40 * MINUTE), (60, 40 * MINUTE), (0, 20 * MINUTE)]
    stock = cylinders(fleet=6, gauge_check_s=DAY, send_part_used=send)
    rule = resupply(HOUR, 5, 6, HOUR, minimum_order=minimum)
    return by(engine, hospital(patients=(recorded(rows),), **{"cylinders": stock, "resupply": rule} | changes))


@ENGINES
def test_the_emptiest_go_first_and_of_equals_the_one_longest_on_the_rack(engine: str) -> None:
    """Below 50 % of 54 usable litres are 10, 20 and 20 L; one is kept beside the 40 L."""
    outcome = sent(engine, SendPartUsed(500, 2))
    assert steps(outcome, "cylinder sent part-used", "order")[:3] == [
        f"01:00:00 cylinder sent part-used: 3 1 {10 * LITRE}",
        f"01:00:00 cylinder sent part-used: 2 2 {20 * LITRE}",
        "01:00:00 order: 0 2 7200",
    ]


@ENGINES
def test_what_is_sent_is_returned_gas(engine: str) -> None:
    """30 L go back with the delivery at 02:00, and the balance of gas holds."""
    outcome = sent(engine, SendPartUsed(500, 2), resupply=resupply(12 * HOUR, 5, 6, HOUR), horizon_s=DAY)
    assert outcome.sent_gas == outcome.returned_gas == outcome.refilled_gas == 30 * LITRE


@ENGINES
def test_none_is_sent_for_an_order_that_would_stay_below_its_minimum(engine: str) -> None:
    """Three may be sent and four are the least: nobody carries them about for nothing; with three all go."""
    assert sent(engine, SendPartUsed(500, 0), minimum=4).cylinders_sent == 0
    assert sent(engine, SendPartUsed(500, 0), minimum=3).cylinders_sent == 3


@ENGINES
def test_no_more_are_sent_than_the_order_wants(engine: str) -> None:
    """Ordering up to 3 with two full on the shelf: one is sent, the emptiest."""
    outcome = sent(engine, SendPartUsed(500, 0), resupply=resupply(HOUR, 2, 3, HOUR))
    assert (outcome.cylinders_sent, outcome.sent_gas) == (1, 10 * LITRE)


@ENGINES
def test_an_emergency_keeps_none(engine: str) -> None:
    """A review would keep four part-used; fewer than five on hand is an emergency: the first of 20 L goes."""
    rule = resupply(NEVER, 0, 6, DAY, emergency=Emergency(4, constant(HOUR), below=5))
    outcome = sent(engine, SendPartUsed(500, 4), resupply=rule)
    assert steps(outcome, "cylinder sent part-used", "emergency order") == [
        f"00:40:00 cylinder sent part-used: 1 1 {20 * LITRE}",
        "00:40:00 emergency order: 0 1 6000",
    ]


@ENGINES
def test_a_cylinder_that_is_being_fetched_is_not_sent(engine: str) -> None:
    """The only part-used one is being fetched at the review of 01:00: it stays, and is opened."""
    rows = [(0, 50 * MINUTE), (55 * MINUTE, 20 * MINUTE)]
    stock = cylinders(fleet=1, gauge_check_s=DAY, send_part_used=SendPartUsed(1_000, 0))
    access = StoreAccess(10 * MINUTE, 10 * MINUTE)
    rule = resupply(HOUR, 0, 1, DAY)
    outcome = by(engine, hospital(cylinders=stock, patients=(recorded(rows),), resupply=rule, store=access))
    assert steps(outcome, "cylinder opened")[1] == f"01:05:00 cylinder opened: 1 0 {20 * LITRE}"
    assert steps(outcome, "cylinder sent part-used")[0][:8] == "02:00:00"


@ENGINES
def test_a_cylinder_that_is_to_be_opened_in_a_change_is_not_sent(engine: str) -> None:
    """With the empty that comes off an emergency could order two; the only part-used one is opened, not sent."""
    rows = [(0, 40 * MINUTE), (0, 3 * HOUR)]
    stock = cylinders(fleet=2, send_part_used=SendPartUsed(1_000, 0))
    rule = resupply(DAY, 0, 2, DAY, emergency=Emergency(2, constant(DAY), minimum_order=2, below=2))
    outcome = by(engine, hospital(cylinders=stock, patients=(recorded(rows),), resupply=rule))
    assert steps(outcome, "cylinder opened")[2] == f"00:54:00 cylinder opened: 1 0 {20 * LITRE}"


@ENGINES
@pytest.mark.parametrize(("share", "orders"), [(None, 1), (900, 1), (815, 1), (814, 0)])
def test_part_used_cylinders_may_count_in_the_position(engine: str, share: int | None, orders: int) -> None:
    """44 of 54 usable litres, 814.8 thousandths: the review of 01:00 finds a position of 0, or of 1."""
    rule = resupply(HOUR, 0, 1, HOUR, position_counts_above_permille=share)
    stock, adults = cylinders(fleet=2, full_at_start=1), recorded([(60, 10 * MINUTE)])
    assert by(engine, hospital(cylinders=stock, patients=(adults,), resupply=rule)).orders == orders


@ENGINES
def test_what_will_not_last_stays_on_where_nothing_would_last(engine: str) -> None:
    """10 L left at the look of 01:00, 30 L on the rack last no hour: it runs out at 01:07, and staff know."""
    stock = cylinders(fleet=2, gauge_check_s=HOUR, change_when="will_not_last")
    adults = recorded([(0, 30 * MINUTE), (10 * MINUTE, 80 * MINUTE)])
    outcome = by(engine, hospital(cylinders=stock, patients=(adults,), response_time_s=5 * MINUTE))
    assert steps(outcome, "gauge check", "cylinder runs out", "cylinder emptied", "cylinder opened")[2:] == [
        f"01:00:00 gauge check: 1 {10 * LITRE}",
        f"01:07:00 cylinder runs out: 1 1 {3 * LITRE}",
        f"01:07:00 cylinder emptied: 1 1 {3 * LITRE}",
        f"01:12:00 cylinder opened: 1 0 {30 * LITRE}",
    ]


@ENGINES
def test_at_residual_pressure_it_is_changed_for_one_that_will_not_last(engine: str) -> None:
    """5 L left at the look of 01:00, residual pressure at 6 L: the 30 L on the rack take over."""
    stock = cylinders(fleet=2, gauge_check_s=HOUR, change_when="will_not_last")
    adults = recorded([(0, 30 * MINUTE), (5 * MINUTE, 80 * MINUTE)])
    outcome = by(engine, hospital(cylinders=stock, patients=(adults,)))
    assert steps(outcome, "cylinder opened")[2] == f"01:00:00 cylinder opened: 1 0 {30 * LITRE}"


@ENGINES
def test_nothing_is_fetched_for_a_change_that_would_not_last(engine: str) -> None:
    """Both begin 5 min later: 15 L are left at 01:00; nobody goes for the 35 L before the run-out at 01:12."""
    stock = cylinders(fleet=2, gauge_check_s=HOUR, change_when="will_not_last")
    adults = recorded([(0, 30 * MINUTE), (10 * MINUTE, 80 * MINUTE)])
    store = StoreAccess(5 * MINUTE, 5 * MINUTE)
    outcome = by(engine, hospital(cylinders=stock, patients=(adults,), store=store))
    assert [line[:8] for line in steps(outcome, "fetch begins")] == ["00:00:00", "00:10:00", "01:12:00"]


@pytest.mark.theory
@ENGINES
@pytest.mark.parametrize(("flow", "hours", "litres"), [(5_000, 2, 306), (5_000, 6, 918), (1_000, 12, 396)])
def test_gas_left_at_a_change_against_the_closed_form(engine: str, flow: int, hours: int, litres: int) -> None:
    """Changed at the last look before the run-out, whose phase is uniform: (flow + leak) x interval / 2 is left.

    Arrivals by chance, full cylinders of 6,640 L above the loss of flow; each patient has one change. Within four
    standard errors of the mean of a uniform law.
    """
    lasts_s = 6_640 * LITRE // (flow + 100)
    stock = cylinders(
        fleet=9_000, full_gas=6_826 * LITRE, lost_gas=186 * LITRE, residual_gas=186 * LITRE, leak_ml_min=100,
        gauge_check_s=hours * HOUR, change_when="will_not_last", left_open=1.0, regulators=9_000,
    )  # fmt: skip
    adults = kind(admissions_per_day=40.0, flow_ml_min=constant(flow), duration_s=constant(lasts_s + HOUR))
    outcome = by(engine, hospital(CYLINDER, cylinders=stock, patients=(adults,), horizon_s=90 * DAY), seed=3)
    left: dict[int, int] = {}
    for entry in entries(outcome, "cylinder left open"):
        left.setdefault(entry.item, entry.value - 186 * LITRE)
    assert len(left) > 3_000
    error = 2 * litres / (12 * len(left)) ** 0.5
    assert sum(left.values()) / len(left) / LITRE == pytest.approx(litres, abs=4 * error)


def test_a_look_leaves_what_lasts_until_the_next_one() -> None:
    """600 L at 0.1 L/min last four days: the look of 12:00 changes nothing."""
    stock = cylinders(full_gas=600 * LITRE, gauge_check_s=12 * HOUR, change_when="will_not_last")
    outcome = run(hospital(cylinders=stock), FixedDraws([(0, 20 * HOUR, 100)]))
    assert steps(outcome, "cylinder opened") == [f"00:00:00 cylinder opened: 0 3 {600 * LITRE}"]
