"""Resupply in the field and cylinders going wrong: traces worked by hand, and what must never happen."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from build import (
    CYLINDER_FIRST,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    FixedDraws,
    constant,
    cylinders,
    hospital,
    resupply,
    run,
    steps,
    trace,
)

from o2sim.outcome import DAILY_COLUMNS
from o2sim.scenario.types.hospital import Cylinders, Emergency, PartDelivery, RoadClosure, Underfilled

AWAY = DAILY_COLUMNS.index("away")
STAY = 54 * MINUTE  # empties one cylinder of 60 L at 1 L/min, to the residual pressure
ORDERS = ("order", "emergency order", "order cut", "delivery")


class Faults(FixedDraws):
    """Fixed draws with the content of each delivered cylinder (L), empties refused and losses written down."""

    def __init__(self, patients: Any, fills: Any = (), refused: Any = (), lost_s: Any = (), **rest: Any) -> None:
        super().__init__(patients, **rest)
        self.contents, self.refusals, self.lost_s = fills, refused, lost_s

    def fill(self, cylinders: Cylinders, nth: int) -> int:
        """Return the content written down, full after the last of them."""
        return self.contents[nth] * LITRE if nth < len(self.contents) else cylinders.full_gas

    def refused(self, _cylinders: Cylinders, nth: int) -> bool:
        """Return True for the empties written down."""
        return nth in self.refusals

    def losses(self, _cylinders: Cylinders) -> Any:
        """Return the times between losses written down."""
        return [*self.lost_s, 10**9]


def noons(*days: int) -> list[tuple[int, int]]:
    """Days in, one patient at noon of each out who empties one cylinder."""
    return [(day * DAY + 12 * HOUR, STAY) for day in days]


def test_own_cylinders_are_away_from_order_to_delivery() -> None:
    """The empty leaves with the order of day 1 and is back, full, on day 3."""
    rules = hospital(
        cylinders=cylinders(fleet=3), horizon_s=5 * DAY, resupply=resupply(DAY, 2, 3, 2 * DAY, own_cylinders=True)
    )
    outcome = run(rules, FixedDraws(noons(0)))
    assert steps(outcome, *ORDERS) == ["24:00:00 order: 0 1 259200", "72:00:00 delivery: 0 1 3"]
    # Columns full, part-used, in use, empty, on order, then away: before the events of each midnight.
    assert [(*row[:5], row[AWAY]) for row in outcome.daily.tolist()] == [
        (3, 0, 0, 0, 0, 0),
        (2, 0, 0, 1, 0, 0),
        (2, 0, 0, 0, 1, 1),
        (2, 0, 0, 0, 1, 1),
        (3, 0, 0, 0, 0, 0),
    ]
    assert (outcome.returned_gas, outcome.received_gas) == (6 * LITRE, 60 * LITRE)
    assert (outcome.collections, outcome.deliveries) == (1, 1)


@pytest.mark.parametrize(("own", "arrives"), [(False, 3), (True, 5)])
def test_a_closed_road_holds_own_cylinders_on_the_way_out_as_well(own: bool, arrives: int) -> None:
    """The road is closed on day 1 and day 2; an order by telephone comes on day 3, an own cylinder on 5."""
    closure = RoadClosure(dt.date(2027, 1, 2), dt.date(2027, 1, 3))
    rules = hospital(
        cylinders=cylinders(fleet=3),
        horizon_s=6 * DAY,
        resupply=resupply(DAY, 2, 3, 2 * DAY, own_cylinders=own, road_closures=(closure,)),
    )
    assert steps(run(rules, FixedDraws(noons(0))), "order") == [f"24:00:00 order: 0 1 {arrives * DAY}"]


def test_an_outage_holds_the_order_and_no_delivery_falls_on_a_sunday() -> None:
    """The supplier is out on 2 and 3 January; 10 January is a Sunday."""
    # Day 1 (2 January, Saturday) 00:00: the order is taken up on day 3 and takes 1 day: day 4, Monday to Tuesday.
    # Day 8 (Saturday) 00:00: one day later is day 9, Sunday 10 January: put off to day 10, at the same hour.
    outage = RoadClosure(dt.date(2027, 1, 2), dt.date(2027, 1, 3))
    rules = hospital(
        cylinders=cylinders(fleet=3),
        horizon_s=12 * DAY,
        resupply=resupply(DAY, 2, 3, DAY, supplier_outages=(outage,), no_delivery=(6,)),
    )
    assert steps(run(rules, FixedDraws(noons(0, 7))), *ORDERS) == [
        "24:00:00 order: 0 1 345600",
        "96:00:00 delivery: 0 1 3",
        "192:00:00 order: 1 1 864000",
        "240:00:00 delivery: 1 1 3",
    ]


@pytest.mark.parametrize("own", [False, True])
def test_the_rest_of_a_part_delivery_is_cancelled_and_ordered_again(own: bool) -> None:
    """Half of an order of four comes; its two empties are free again and go into the next order."""
    rules = hospital(
        cylinders=cylinders(fleet=4),
        horizon_s=4 * DAY,
        resupply=resupply(DAY, 3, 4, 12 * HOUR, part_delivery=PartDelivery(1.0, constant(0.5)), own_cylinders=own),
    )
    assert steps(run(rules, FixedDraws(noons(0) * 4)), *ORDERS) == [
        "24:00:00 order: 0 4 129600",
        "36:00:00 order cut: 0 2",
        "36:00:00 delivery: 0 2 2",
        "48:00:00 order: 1 2 216000",
        "60:00:00 order cut: 1 1",
        "60:00:00 delivery: 1 1 3",
        "72:00:00 order: 2 1 302400",
        "84:00:00 delivery: 2 1 4",  # at least one comes
    ]


def test_an_emergency_order_takes_the_empties_promised_to_an_ordinary_one() -> None:
    """Two empties wait for a lorry of day 11; with one full cylinder left the emergency lorry takes them."""
    # Day 0 noon: two cylinders emptied. Day 1 00:00: both are ordered, to arrive on day 11.
    # Day 1 noon: a third is opened, one is left, fewer than 2: emergency up to 3 = 2, in 6 h; no other empties.
    # Day 2 00:00: 3 full; the empty of day 1 is ordered.
    rules = hospital(
        cylinders=cylinders(fleet=4),
        horizon_s=3 * DAY,
        resupply=resupply(DAY, 3, 4, 10 * DAY, emergency=Emergency(3, constant(6 * HOUR), below=2)),
    )
    outcome = run(rules, FixedDraws([(12 * HOUR, STAY), (12 * HOUR, STAY), (36 * HOUR, STAY)]))
    assert steps(outcome, *ORDERS, "cylinder opened") == [
        "12:00:00 cylinder opened: 0 3 3600000",
        "12:00:00 cylinder opened: 1 2 3600000",
        "24:00:00 order: 0 2 950400",
        "36:00:00 cylinder opened: 2 1 3600000",
        "36:00:00 order cut: 0 2",
        "36:00:00 emergency order: 1 2 151200",
        "42:00:00 delivery: 1 2 3",
        "48:00:00 order: 2 1 1036800",
    ]
    assert (outcome.emergency_orders, outcome.emergency_deliveries, outcome.emergency_cylinders) == (1, 1, 2)
    assert (outcome.orders, outcome.deliveries, outcome.cylinders_cut) == (3, 1, 2)


def test_hours_of_cover_trigger_an_emergency_order() -> None:
    """At 1 L/min a shelf of 54 usable litres lasts 54 min; an hour is wanted, so one patient is enough."""
    # 00:00: one of three opened, 108 L left: 108 min. 00:54 it is empty, the second opened: 54 L, below the hour.
    rules = hospital(
        cylinders=cylinders(fleet=3),
        resupply=resupply(30 * DAY, 0, 3, DAY, emergency=Emergency(3, constant(HOUR), cover_s=HOUR)),
    )
    outcome = run(rules, FixedDraws([(60, 100 * MINUTE)]))
    assert steps(outcome, *ORDERS) == ["00:55:00 emergency order: 0 1 6900", "01:55:00 delivery: 0 1 2"]


def test_emergency_orders_without_lead_time_are_never_short() -> None:
    """A shelf that is filled the moment it is empty serves everybody, whatever the ordinary supply."""
    patients = [(60 * nth, 3 * STAY) for nth in range(100)]
    plain = resupply(30 * DAY, 0, 2, DAY)
    with_emergency = resupply(30 * DAY, 0, 2, DAY, emergency=Emergency(2, constant(0), below=1))
    stock = cylinders(fleet=400, full_at_start=1, regulators=200)
    short = run(hospital(cylinders=stock, resupply=plain), FixedDraws(patients))
    never = run(hospital(cylinders=stock, resupply=with_emergency), FixedDraws(patients))
    assert short.stock_outs > 0
    assert (sum(never.interruptions), sum(never.unserved_s), never.empty_shelf_s) == (0, 0, 0)


def test_an_unusable_and_an_underfilled_cylinder_are_found_out_on_opening() -> None:
    """The delivered one gives nothing: to the empties, ten minutes for the next, which is half full."""
    # Day 0 noon: both cylinders of the start are emptied; day 1 00:00: both ordered, delivered at 01:00.
    # Day 1 noon: a patient's first is unusable; the next flows after 10 min. It holds 33 L: 27 min to residual.
    # The patient needs 37 min: 10 of change, 27 served.
    rules = hospital(
        cylinders=cylinders(
            fleet=2, change_time_s=10 * MINUTE, unusable=0.5, underfilled=Underfilled(1.0, constant(0.55))
        ),
        horizon_s=2 * DAY,
        tolerated_gap_s=HOUR,
        resupply=resupply(DAY, 1, 2, HOUR),
    )
    outcome = run(rules, Faults([*noons(0, 0), (36 * HOUR, 37 * MINUTE)], fills=(0, 33)))
    assert [text for text in trace(outcome) if text.startswith("36:")] == [
        "36:00:00 patient arrives: 2 0 1000",
        "36:00:00 cylinder opened: 2 1 0",
        "36:00:00 cylinder unusable: 2 0",
        "36:00:00 cylinder emptied: 2 1 0",
        "36:00:00 cylinder opened: 2 0 1980000",  # 33 L
        "36:00:00 gap begins: 2 changeover",
        "36:10:00 gap ends: 2 changeover 600",
        "36:10:00 on cylinder: 2 1980000",
        "36:37:00 cylinder emptied: 2 2 360000",  # 6 L
        "36:37:00 patient leaves: 2 600",
    ]
    assert (outcome.cylinders_unusable, outcome.received_gas) == (1, 33 * LITRE)


def test_a_patient_waits_when_the_last_cylinder_is_unusable() -> None:
    """With nothing behind it an unusable cylinder leaves the patient without: no cylinder."""
    rules = hospital(
        cylinders=cylinders(fleet=1, unusable=0.5), horizon_s=2 * DAY, resupply=resupply(DAY, 0, 1, 0)
    )
    outcome = run(rules, Faults(noons(0, 1), fills=(0,)))
    assert steps(outcome, "cylinder unusable", "gap begins", "gap ends") == [
        "36:00:00 cylinder unusable: 1 0",
        "36:00:00 gap begins: 1 no cylinder",
        "36:54:00 gap ends: 1 no cylinder 3240",
    ]


def test_after_the_last_unusable_cylinder_a_unit_serves_at_once() -> None:
    """Cylinders first: the only one gives nothing, so the patient is on the concentrator at that second."""
    rules = hospital(
        CYLINDER_FIRST,
        cylinders=cylinders(fleet=1, unusable=0.5),
        horizon_s=2 * DAY,
        resupply=resupply(DAY, 0, 1, 0),
    )
    outcome = run(rules, Faults(noons(0, 1), fills=(0,)))
    assert steps(outcome, "cylinder unusable", "on concentrator") == [
        "36:00:00 cylinder unusable: 1 0",
        "36:00:00 on concentrator: 1 0",
    ]
    assert sum(outcome.unserved_s) == 0


@pytest.mark.parametrize("own", [False, True])
def test_a_refused_empty_leaves_the_fleet(own: bool) -> None:
    """Of two empties one is condemned: one full comes, and the fleet is two from then on."""
    rules = hospital(
        cylinders=cylinders(fleet=3, refused=0.5),
        horizon_s=3 * DAY,
        resupply=resupply(DAY, 2, 3, HOUR, own_cylinders=own),
    )
    outcome = run(rules, Faults(noons(0, 0), refused=(1,)))
    assert steps(outcome, *ORDERS, "cylinder condemned") == [
        "24:00:00 order: 0 2 90000",
        "25:00:00 cylinder condemned: 1 360000",
        "25:00:00 delivery: 0 1 2",
    ]
    assert (outcome.cylinders_lost, outcome.returned_gas) == (1, 12 * LITRE)
    assert outcome.daily[2, :4].tolist() == [2, 0, 0, 0]


def test_cylinders_in_use_or_promised_do_not_go_missing() -> None:
    """One in use, one promised to an order, one full: the full one goes missing, then nothing is left to lose."""
    rules = hospital(
        cylinders=cylinders(fleet=3, losses_per_day=1.0),
        horizon_s=2 * DAY,
        resupply=resupply(DAY, 2, 3, 10 * DAY),
    )
    patients = [(12 * HOUR, STAY), (36 * HOUR, STAY)]
    outcome = run(rules, Faults(patients, lost_s=(36 * HOUR + 60, 60)))
    assert steps(outcome, "cylinder lost") == ["36:01:00 cylinder lost: 1 0 3600000"]
    assert outcome.cylinders_lost == 1
