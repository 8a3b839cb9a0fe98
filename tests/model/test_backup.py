"""A back-up at the bed, by hand: brought, opened for a lost unit, closed, changed at midnight, taken back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from build import (
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    at,
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

from o2sim.draws import Draws
from o2sim.model.store import CylinderStore
from o2sim.money.cost import REGULATORS, owned
from o2sim.outcome import Cause, LogEntry
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.types.costs import Costs
from o2sim.scenario.types.hospital import Allocation, Backups, Grid, Hospital, Law, Shortfall, Staff

ALL = ("adults", "children")
FULL, HALF = 60 * LITRE, 33 * LITRE  # 60 L, and 6 L with half of the 54 L above them
GRID = Grid(constant(1), constant(1))  # what stands here does not count: up and down are written down


def backups(count: int = 1, open_s: float = MINUTE, **changes: object) -> Backups:
    """Return a rule for both classes that changes what is below half."""
    return Backups(**{"classes": ALL, "count": count, "open_time_s": constant(open_s)} | changes)  # type: ignore[arg-type]


def ward(sources: tuple[str, ...] = UNIT, **changes: object) -> Hospital:
    """Return a hospital with one unit, four cylinders of 60 L, one back-up and five minutes to respond."""
    standard = {
        "cylinders": cylinders(backup=backups()),
        "response_time_s": 5 * MINUTE,
        "grid": GRID,
        "tolerated_gap_s": HOUR,
    }
    return hospital(sources, **standard | changes)


def test_a_back_up_from_first_to_last() -> None:
    """Two cuts on one back-up, a change at midnight below half, and a full one that goes back unopened.

    Of 60 L at 1 L/min, 29 are used from 20:01 to 20:30 and 14 from 21:01 to 21:15: 17 L are less than 33.
    """
    rules = ward(cylinders=cylinders(fleet=2, backup=backups()), horizon_s=2 * DAY)
    cuts = {"up": [20 * HOUR, 30 * MINUTE], "down": [30 * MINUTE, 15 * MINUTE]}
    assert trace(run(rules, FixedDraws([(at("18:00"), 8 * HOUR)], **cuts))) == [
        "18:00:00 patient arrives: 0 0 1000",
        "18:00:00 on concentrator: 0 0",
        "18:00:00 back-up brought: 0 1 3600000",
        "20:00:00 power lost",
        "20:00:00 supply lost: 0",
        "20:00:00 gap begins: 0 changeover",
        "20:01:00 back-up opened: 0 3600000",
        "20:01:00 gap ends: 0 changeover 60",
        "20:01:00 on cylinder: 0 3600000",
        "20:30:00 power restored",
        "20:30:00 back-up closed: 0 1860000",
        "20:30:00 on concentrator: 0 0",
        "21:00:00 power lost",
        "21:00:00 supply lost: 0",
        "21:00:00 gap begins: 0 changeover",
        "21:01:00 back-up opened: 0 1860000",
        "21:01:00 gap ends: 0 changeover 60",
        "21:01:00 on cylinder: 0 1860000",
        "21:15:00 power restored",
        "21:15:00 back-up closed: 0 1020000",
        "21:15:00 on concentrator: 0 0",
        "24:00:00 back-up changed: 0 0 3600000",
        "26:00:00 back-up taken back: 0 1 3600000",
        "26:00:00 patient leaves: 0 120",
    ]


def test_power_that_is_back_first_calls_the_opening_off() -> None:
    """A cut of 30 s: the patient is on the unit again before the minute is over; a loss not met."""
    outcome = run(ward(), FixedDraws([(0, 2 * HOUR)], up=[HOUR], down=[30]))
    assert steps(outcome, "back-up opened") == []
    assert (outcome.unit_losses, outcome.backups_opened, outcome.unserved_s[Cause.CHANGEOVER]) == (1, 0, 30)


def test_it_leaves_the_nurse_to_those_without_one() -> None:
    """One nurse, five minutes a response: free of the first patient after one minute, she is done at six."""
    rules = ward(UNIT_FIRST, staff=Staff(1, 1), cylinders=cylinders(backup=backups(count=1)))
    outcome = run(rules, FixedDraws([(0, 3 * HOUR), (0, 3 * HOUR)], up=[HOUR], down=[HOUR]))
    assert steps(outcome, "back-up opened", "cylinder opened") == [
        "01:01:00 back-up opened: 0 3600000",
        "01:06:00 cylinder opened: 1 2 3600000",
        "01:55:00 cylinder opened: 0 1 3600000",
    ]


def test_where_cylinders_are_no_source_it_is_for_a_lost_unit_alone() -> None:
    """One outlet: who is displaced waits beside three full cylinders, and the one at the bed."""
    first, second = kind("adults", priority=2), kind("children")
    rules = ward(
        concentrators=units(outlets=1), patients=(first, second), allocation=Allocation(preempt=True), grid=None
    )
    outcome = run(rules, FixedDraws([(0, 3 * HOUR), (HOUR, HOUR, 1_000, 1)]))
    assert steps(outcome, "displaced", "back-up opened", "cylinder opened") == ["01:00:00 displaced: 0 1"]
    assert outcome.unserved_s[Cause.CONCENTRATORS_FULL] == HOUR


def test_where_they_are_a_source_the_displaced_takes_the_one_at_the_bed() -> None:
    """Its set is held already: the only one there is does."""
    first, second = kind("adults", priority=2), kind("children")
    rules = ward(
        UNIT_FIRST,
        concentrators=units(outlets=1),
        patients=(first, second),
        allocation=Allocation(preempt=True),
        cylinders=cylinders(regulators=1, backup=backups()),
        grid=None,
    )
    outcome = run(rules, FixedDraws([(0, 3 * HOUR), (HOUR, 30 * MINUTE, 1_000, 1)]))
    assert steps(outcome, "displaced", "back-up opened", "back-up closed") == [
        "01:00:00 displaced: 0 1",
        "01:00:00 back-up opened: 0 3600000",
        "01:30:00 back-up closed: 0 1800000",
    ]


def test_those_first_in_line_are_given_one_as_far_as_there_are_any() -> None:
    """Two for three patients: by priority, then arrival; the third has one as another leaves."""
    patients = (kind("adults", priority=2), kind("children"))
    rules = ward(patients=patients, cylinders=cylinders(backup=backups(count=2)), grid=None)
    outcome = run(rules, FixedDraws([(0, 4 * HOUR), (0, 4 * HOUR), (60, 2 * HOUR, 1_000, 1)]))
    assert steps(outcome, "back-up brought", "back-up taken back") == [
        "00:00:00 back-up brought: 0 3 3600000",
        "00:00:00 back-up brought: 1 2 3600000",
        "04:00:00 back-up taken back: 0 3 3600000",
        "04:00:00 back-up taken back: 1 4 3600000",
    ]
    named = replace(rules.cylinders, backup=backups(count=2, classes=("children",)))
    outcome = run(replace(rules, cylinders=named), FixedDraws([(0, 4 * HOUR), (60, 2 * HOUR, 1_000, 1)]))
    assert steps(outcome, "back-up brought") == ["00:01:00 back-up brought: 1 3 3600000"]


@pytest.mark.parametrize(("waits", "brought"), [(True, []), (False, ["22:00:00 back-up brought: 0 2 60000000"])])
def test_a_set_stays_for_who_waits(waits: bool, brought: list[str]) -> None:
    """The only set comes free at 22:00, with no staff till 07:00: it is for who waits since 21:00.

    720 of 1,000 L of that cylinder are used, so a full one of the other three is brought.
    """
    rules = ward(
        UNIT_FIRST,
        concentrators=units(outlets=1),
        staff=Staff(1, 0, 1),
        cylinders=cylinders(full_gas=1_000 * LITRE, regulators=1, backup=backups()),
        grid=None,
    )
    others = [(at("21:00"), 8 * HOUR)] if waits else []
    draws = FixedDraws([(at("10:00"), DAY), (at("10:00"), 12 * HOUR), *others])
    outcome = run(replace(rules, patients=(kind(duration_s=constant(DAY)),)), draws)
    assert steps(outcome, "back-up brought") == brought


def test_the_emptiest_that_holds_enough_is_taken_else_a_full_one() -> None:
    """Of 10, 50, 40, 40 and 33 L, with 33 asked for: 33, then the first 40; without any a full one."""
    store = CylinderStore(cylinders(fleet=7, full_at_start=2))
    store.empties.clear()
    store.rack.extend(litres * LITRE for litres in (10, 50, 40, 40, 33))
    assert [store.take_backup(HALF) for _ in range(5)] == [
        (33 * LITRE, False),
        (40 * LITRE, False),
        (40 * LITRE, False),
        (50 * LITRE, False),
        (FULL, True),
    ]
    assert (list(store.rack), store.full, store.in_use) == ([10 * LITRE], 1, 5)


def test_what_comes_off_at_midnight_is_the_first_to_be_opened() -> None:
    """A cylinder put back first stands before those already on the rack; one without gas to give is an empty."""
    store = CylinderStore(cylinders(fleet=4, full_at_start=0))
    store.rack.append(40 * LITRE)
    assert store.put_back(20 * LITRE, 1_000, first=True)
    assert not store.put_back(6 * LITRE, 1_000, first=True)
    assert list(store.rack) == [20 * LITRE, 40 * LITRE]


def test_nobody_takes_or_shares_one_in_use() -> None:
    """An adult on the back-up in a cut, and no other cylinder: a child of higher priority waits."""
    patients = (kind("adults", priority=2), kind("children"))
    rules = ward(
        UNIT_FIRST,
        patients=patients,
        cylinders=cylinders(fleet=1, backup=backups()),
        allocation=Allocation(preempt=True),
    )
    draws = FixedDraws([(0, 3 * HOUR), (at("01:10"), HOUR, 1_000, 1)], up=[HOUR], down=[30 * MINUTE])
    outcome = run(rules, draws)
    assert steps(outcome, "displaced") == []
    assert outcome.unserved_s[Cause.NO_CYLINDER] == 20 * MINUTE


def test_one_that_runs_empty_is_gone_with_its_set() -> None:
    """A cut of two hours on the only cylinder: 57 min of it served; the root is handling, then supply."""
    rules = ward(
        cylinders=cylinders(fleet=1, backup=backups()), shortfall=Shortfall(500, 0, "supply clock"), grid=GRID
    )
    outcome = run(rules, FixedDraws([(0, 5 * HOUR)], up=[HOUR], down=[2 * HOUR]))
    assert steps(outcome, "cylinder runs out", "back-up brought", "back-up closed") == [
        "00:00:00 back-up brought: 0 0 3600000",
        "01:58:00 cylinder runs out: 0 1 180000",
    ]
    assert outcome.short_s == (62 * MINUTE, 0, MINUTE)


def test_staff_may_take_hours_where_one_opens_in_a_minute() -> None:
    """With perfect handling it flows at once; how long it takes otherwise does not count."""
    draws = FixedDraws([(0, 3 * HOUR)], up=[HOUR], down=[30 * MINUTE])
    quick, slow = (
        run(with_perfect_handling(ward(cylinders=cylinders(backup=backups(open_s=each)))), draws)
        for each in (30, 900)
    )
    assert quick == slow
    assert (quick.backups_opened, sum(quick.unserved_s)) == (1, 0)


def test_the_open_time_is_drawn_by_patient_and_loss() -> None:
    """A patient's second loss takes the same time however the first went; another patient's differs."""
    law = Law("exponential", (600.0,))
    draws = Draws(1, 0)
    assert draws.backup_open_s(law, 7, 1) == draws.backup_open_s(law, 7, 1)
    assert len({draws.backup_open_s(law, patient, loss) for patient in (7, 8) for loss in (0, 1)}) == 4


def test_the_fewest_full_count_those_at_beds() -> None:
    """So one batch gives the chance at smaller fleets: less by that number, all happens as it did."""
    patients = (kind("adults", admissions_per_day=3.0, duration_s=Law("exponential", (20 * HOUR,))),)
    grid = Grid(Law("exponential", (10 * HOUR,)), Law("exponential", (2 * HOUR,)))

    def month(fleet: int) -> tuple[int, list[LogEntry]]:
        """Return the fewest full ones, and the log without counts of full ones."""
        stock = cylinders(fleet=fleet, full_gas=600 * LITRE, backup=backups(count=3))
        supply = resupply(None, fleet - 10, fleet - 2, 2 * DAY)
        rules = ward(
            UNIT_FIRST, patients=patients, cylinders=stock, resupply=supply, grid=grid, horizon_s=30 * DAY
        )
        outcome = run(rules, Draws(3, 0))
        return outcome.fewest_full, [replace(entry, other=0, value=0) for entry in outcome.log]

    fewest, log = month(60)
    assert 0 < fewest < 50
    assert month(60 - fewest) == (0, log)


def test_its_set_is_paid_for_where_cylinders_are_no_source() -> None:
    """Concentrators alone own no regulator, with back-ups those of the fleet."""
    counts = {
        rules: [count for name, count, *_ in owned(rules) if name == REGULATORS]
        for rules in (ward(costs=Costs("USD")), ward(costs=Costs("USD"), cylinders=None))
    }
    assert list(counts.values()) == [[10], []]
