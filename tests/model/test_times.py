"""Times of hands: plain, drawn from laws, others by night; judged as the job begins, alike in both engines."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from build import (
    CYLINDER,
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
    run,
    steps,
    units,
)

from o2sim.scenario.types.hospital import Grid, Hospital, Law, Night, Staff

GRID = Grid(constant(1), constant(1))  # the times come from fixed draws
BIG = cylinders(full_gas=6_000 * LITRE)  # no change within these runs
WIDE = Law("uniform", (60.0, 1_200.0))


class Named(FixedDraws):
    """Fixed draws that note what is asked of the times of hands, and answer a minute more each time."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.asked: list[tuple[str, int]] = []

    def handling_s(self, _law: Law, stream: str, _item: object, ordinal: int) -> int:
        """Return ordinal minutes."""
        if (stream, ordinal) not in self.asked:
            self.asked.append((stream, ordinal))
        return ordinal * MINUTE


def gap_lengths(rules: Hospital, draws: FixedDraws) -> list[int]:
    """Return how many minutes each gap lasts."""
    return [entry.value // MINUTE for entry in run(rules, draws).log if entry.step == "gap ends"]


def test_each_loss_of_supply_has_a_response_of_its_own() -> None:
    """Power is lost three times, for ten minutes and for good: responses of the first, second and third loss."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=WIDE, cylinders=BIG)
    draws = Named([(0, DAY)], up=[HOUR, HOUR, HOUR], down=[30 * MINUTE, 30 * MINUTE])
    assert gap_lengths(rules, draws) == [1, 2, 3]
    assert draws.asked == [("response time", 1), ("response time", 2), ("response time", 3)]


def test_a_constant_is_not_drawn() -> None:
    """Plain times of all three kinds, by day and by night: nothing is asked of the draws."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=300, cylinders=cylinders(change_time_s=60))
    rules = replace(rules, staff=Staff(1, 1, 60), night=Night(600, 120, 90))
    draws = Named([(0, DAY)], up=[HOUR])
    assert len(gap_lengths(rules, draws)) > 2
    assert draws.asked == []


def test_each_cylinder_put_in_place_has_a_change_time_of_its_own() -> None:
    """Cylinders of 54 min each: the first is connected at once, the second in 2 min, the third in 3."""
    draws = Named([(0, 160 * MINUTE)])
    rules = hospital(cylinders=cylinders(change_time_s=WIDE))
    assert gap_lengths(rules, draws) == [2, 3]
    assert draws.asked == [("change time", 2), ("change time", 3)]


def test_each_connection_by_staff_has_a_time_of_its_own() -> None:
    """Three come at once for one nurse: each is connected once, in a minute, one after the other."""
    rules = hospital(UNIT, concentrators=units(1), staff=Staff(1, 1, WIDE))
    draws = Named([(HOUR, DAY)] * 3)
    assert gap_lengths(rules, draws) == [1, 2, 3]
    assert draws.asked == [("connect time", 1)]


@pytest.mark.parametrize(
    ("lost", "minutes"), [("06:59:59", 20), ("07:00", 5), ("18:59:59", 5), ("19:00", 20), ("23:00", 20)]
)
def test_night_is_what_day_hours_leaves(lost: str, minutes: int) -> None:
    """A response that begins by night takes what a night's does, to its end."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=5 * MINUTE, cylinders=BIG)
    rules = replace(rules, night=Night(response_time_s=20 * MINUTE))
    assert gap_lengths(rules, FixedDraws([(0, DAY)], up=[at(lost)])) == [minutes]


def test_night_is_judged_as_the_nurse_sets_out() -> None:
    """Two lose supply at 06:50, for one nurse: 20 min for the first, 5 for the second, reached by day."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=5 * MINUTE, cylinders=BIG, staff=Staff(1, 1))
    rules = replace(rules, night=Night(response_time_s=20 * MINUTE))
    outcome = run(rules, FixedDraws([(0, DAY)] * 2, up=[at("06:50")]))
    assert steps(outcome, "on cylinder") == [
        f"07:10:00 on cylinder: 0 {BIG.full_gas}",
        f"07:15:00 on cylinder: 1 {BIG.full_gas}",
    ]


def test_what_is_left_out_of_the_night_is_as_by_day() -> None:
    """A night that says only how long a change takes leaves the response as it is."""
    rules = hospital(UNIT_FIRST, grid=GRID, response_time_s=5 * MINUTE, cylinders=BIG, night=Night(None, 900))
    assert gap_lengths(rules, FixedDraws([(0, DAY)], up=[at("23:00")])) == [5]


def test_connecting_that_takes_time_by_night_alone_needs_hands_by_day() -> None:
    """By day a connection is made within a second of the nurse's coming; by night it takes ten minutes."""
    rules = hospital(UNIT, concentrators=units(1), staff=Staff(1, 1), night=Night(connect_s=10 * MINUTE))
    outcome = run(rules, FixedDraws([(at("12:00"), DAY), (at("20:00"), DAY)]))
    assert steps(outcome, "on concentrator") == ["12:00:01 on concentrator: 0 0", "20:10:00 on concentrator: 1 0"]


@pytest.mark.parametrize(
    ("by_day", "by_night", "allowed"),
    [
        (600, None, 600),
        (600, 900, 900),
        (900, 600, 900),
        (Law("exponential", (600.0,)), None, 1_797),  # 600 ln 20: what one in twenty exceeds
        (Law("uniform", (0.0, 1_000.0)), 600, 1_000),  # the longest there is
    ],
)
def test_what_has_to_last_until_the_next_look_allows_for_a_long_change(
    by_day: int | Law, by_night: int | None, allowed: int
) -> None:
    """The longer of day and night; of a law what is seldom exceeded."""
    stock = cylinders(change_time_s=by_day, change_when="will_not_last", gauge_check_s=HOUR)
    assert hospital(CYLINDER, cylinders=stock, night=Night(None, by_night)).longest_change_s == allowed
