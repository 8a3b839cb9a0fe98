"""What single faults planted in the rules had shown to be unseen: one case each."""

from build import (
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    NEVER,
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

from o2sim.draws.philox import Item
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Allocation, DayHours, Grid, Staff

NO_STOCK = cylinders(full_at_start=0)


class _Missed(FixedDraws):
    """Fixed draws in which the first patient asked about has the look at 00:57 missed."""

    def draw(self, _stream: str, item: Item, ordinal: int) -> float:
        self.first = getattr(self, "first", item)
        return 0.0 if (item, ordinal) == (self.first, 57 * MINUTE) else 0.999


def test_a_gauge_check_comes_before_the_run_out_of_another() -> None:
    """The only cylinder on hand goes to the one found low at 00:57, not to one known low that runs out then."""
    stock = cylinders(
        fleet=3,
        full_at_start=2,
        residual_gas=20 * LITRE,
        gauge_check_s=855,  # 00:42:45 and 00:57
        missed_by_day=0.5,
        missed_by_night=0.5,
    )
    rules = hospital(cylinders=stock, resupply=resupply(NEVER, 1, 2, 50 * MINUTE))
    outcome = run(rules, _Missed([(0, 2 * HOUR), (10 * MINUTE, 2 * HOUR)]))
    assert steps(outcome, "gauge check", "cylinder runs out", "gap begins")[:3] == [
        "00:42:45 gauge check: 0 1035000",
        "00:57:00 cylinder runs out: 0 1 180000",
        "00:57:00 gap begins: 0 no cylinder",
    ]


def test_part_used_cylinders_are_no_part_of_the_position() -> None:
    """The only full one comes back part-used at 00:10: the review of 01:00 finds a position of 0 and orders."""
    rules = hospital(cylinders=cylinders(fleet=2, full_at_start=1), resupply=resupply(HOUR, 0, 1, HOUR))
    outcome = run(rules, FixedDraws([(60, 10 * MINUTE)]))
    assert steps(outcome, "order") == ["01:00:00 order: 0 1 7200"]


def test_the_oldest_empty_goes_back_first() -> None:
    """One empty since the start at residual 6 L, one lost at 3 L: the delivery of one takes the 6 L."""
    rules = hospital(
        cylinders=cylinders(fleet=2, full_at_start=1, gauge_check_s=10 * HOUR),
        resupply=resupply(NEVER, 0, 1, 2 * HOUR),
    )
    outcome = run(rules, FixedDraws([(0, HOUR)]))
    assert (outcome.deliveries, outcome.returned_gas) == (1, 6 * LITRE)


def test_usable_gas_is_that_above_residual_in_full_and_part_used_cylinders() -> None:
    """After 10 min at 1 L/min: three full of 54 L usable, one part-used of 44 L."""
    outcome = run(hospital(), FixedDraws([(0, 10 * MINUTE)]))
    assert (outcome.opening_usable_gas, outcome.closing_usable_gas) == (4 * 54 * LITRE, (3 * 54 + 44) * LITRE)


def test_days_with_an_interruption_are_those_from_midnight() -> None:
    """Warm-up of 90 min: a gap from 22:00 to 23:00 of day 0 lies in one day."""
    rules = hospital(cylinders=NO_STOCK, warm_up_s=90 * MINUTE, horizon_s=2 * DAY)
    outcome = run(rules, FixedDraws([(90 * MINUTE + 22 * HOUR, HOUR)]))
    assert outcome.days_with_unserved == 1


def test_a_patient_affected_in_the_warm_up_and_again_in_the_horizon_counts() -> None:
    """Changed at 00:54 in a warm-up of 1 h and at 01:49 in the horizon: one patient affected."""
    rules = hospital(cylinders=cylinders(change_time_s=MINUTE), warm_up_s=HOUR)
    outcome = run(rules, FixedDraws([(0, 2 * HOUR)]))
    assert (outcome.interruptions[Cause.CHANGEOVER], outcome.patients_affected) == (1, 1)


def test_a_gap_that_ends_as_the_horizon_begins_is_not_of_it() -> None:
    """An hour without oxygen up to midnight leaves no longest gap."""
    outcome = run(hospital(cylinders=NO_STOCK, warm_up_s=HOUR), FixedDraws([(0, HOUR)]))
    assert (outcome.longest_gap_s, sum(outcome.unserved_s)) == (0, 0)


def test_who_returns_to_a_unit_goes_by_priority() -> None:
    """Power is back at 00:30 for one of two on cylinders: the one of the first priority, though it came second."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(rated=1_000),
        grid=Grid(constant(1), constant(1)),
        patients=(kind(priority=2), kind("newborns", priority=1)),
    )
    rows = [(MINUTE, 50 * MINUTE, 1_000, 0), (2 * MINUTE, 50 * MINUTE, 1_000, 1)]
    outcome = run(rules, FixedDraws(rows, up=(0,), down=(30 * MINUTE,)))
    assert steps(outcome, "on concentrator")[0] == "00:30:00 on concentrator: 1 0"


def test_a_new_cylinder_has_not_been_seen_low() -> None:
    """The first was found low at 00:55 and ran out at 00:57; the second, from 00:58, runs out unseen at 01:55."""
    rules = hospital(
        cylinders=cylinders(fleet=2, full_at_start=1, gauge_check_s=55 * MINUTE),
        resupply=resupply(NEVER, 1, 2, 58 * MINUTE),
    )
    outcome = run(rules, FixedDraws([(0, 2 * HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: MINUTE, Cause.RAN_EMPTY_UNSEEN: 5 * MINUTE}


def test_continuous_review_orders_as_a_cylinder_is_opened() -> None:
    """Position 3 is above the reorder point of 2; the cylinder opened at 01:00 brings it there: 2 of 2 empties."""
    rules = hospital(cylinders=cylinders(fleet=5, full_at_start=3), resupply=resupply(None, 2, 4, HOUR))
    outcome = run(rules, FixedDraws([(HOUR, 10 * MINUTE)]))
    assert steps(outcome, "order") == ["01:00:00 order: 0 2 7200"]


def test_an_order_is_up_to_the_level_and_not_of_it() -> None:
    """One full of a fleet of 4, order up to 2: one is ordered, though three are empty."""
    rules = hospital(cylinders=cylinders(full_at_start=1), resupply=resupply(DAY, 1, 2, HOUR))
    assert steps(run(rules, FixedDraws()), "order") == ["00:00:00 order: 0 1 3600"]


def test_the_shelf_is_not_empty_while_a_part_used_cylinder_is_on_it() -> None:
    """The only cylinder is in use for 10 min, then part-used on the rack: the shelf is empty for 10 min."""
    outcome = run(hospital(cylinders=cylinders(fleet=1)), FixedDraws([(HOUR, 10 * MINUTE)]))
    assert outcome.empty_shelf_s == 10 * MINUTE


def test_a_patient_leaves_before_the_shift_changes() -> None:
    """Low at 00:54 and nobody on duty until 00:56, when the patient leaves: none is opened for the way out."""
    rules = hospital(
        cylinders=cylinders(change_time_s=MINUTE),
        staff=Staff(day=1, night=0),
        day_hours=DayHours(56 * MINUTE, 20 * HOUR),
    )
    assert run(rules, FixedDraws([(0, 56 * MINUTE)])).cylinders_opened == 1


def test_the_nurse_is_free_as_the_patient_of_a_change_leaves() -> None:
    """Patient 0 leaves at 00:56 during a change of 5 min: patient 1, low since 00:55, is seen to that second."""
    rules = hospital(cylinders=cylinders(change_time_s=5 * MINUTE), staff=Staff(1, 1))
    outcome = run(rules, FixedDraws([(0, 56 * MINUTE), (MINUTE, 90 * MINUTE)]))
    assert steps(outcome, "gap begins") == [
        "00:54:00 gap begins: 0 changeover",
        "00:56:00 gap begins: 1 changeover",
    ]


def test_the_last_in_line_of_a_lower_priority_gives_way() -> None:
    """Two units taken by patients 0 and 1 of priority 2: a newborn takes that of patient 1, who came last."""
    rules = hospital(
        UNIT,
        concentrators=units(2, rated=1_000),
        patients=(kind(priority=2), kind("newborns", priority=1)),
        allocation=Allocation(preempt=True),
    )
    rows = [(0, HOUR, 1_000, 0), (MINUTE, HOUR, 1_000, 0), (2 * MINUTE, HOUR, 1_000, 1)]
    assert steps(run(rules, FixedDraws(rows)), "displaced") == ["00:02:00 displaced: 1 2"]


def test_continuous_review_orders_what_is_empty_as_one_is_emptied() -> None:
    """Two opened, 4 wanted: as the first is empty at 00:54 it is ordered, the other only as it is, at 01:24."""
    rules = hospital(resupply=resupply(None, 3, 4, HOUR))
    outcome = run(rules, FixedDraws([(0, 54 * MINUTE), (30 * MINUTE, 54 * MINUTE)]))
    assert steps(outcome, "order") == ["00:54:00 order: 0 1 6840", "01:24:00 order: 1 1 8640"]
