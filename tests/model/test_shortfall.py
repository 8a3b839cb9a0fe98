"""Shortfall: the clocks of a spell, interruptions and stock-outs to the second, roots, and the balances."""

from dataclasses import replace

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
    constant,
    cylinders,
    hospital,
    kind,
    resupply,
    run,
    units,
)

from o2sim.outcome import Cause, Outcome, Root
from o2sim.scenario.types.hospital import Allocation, Grid, Shortfall

HALF = Shortfall(500, 300, "supply clock")
CUT = 10_000  # seconds into the run
T, R = 10 * MINUTE, 5 * MINUTE


def counted(outcome: Outcome, since: int = CUT) -> tuple[list[int], list[int]]:
    """Return the seconds after which interruptions and stock-outs of the first patient are counted."""
    found = [(entry.step, entry.time_s - since) for entry in outcome.log if entry.item == 0]
    return [at for step, at in found if step == "interruption"], [at for step, at in found if step == "stock-out"]


GRID = Grid(constant(1), constant(1))  # the times are those of the draws


def by_cuts(
    sources: tuple[str, ...], response_s: int, down: list[int], up: list[int]
) -> tuple[list[int], list[int]]:
    """Return what is counted of one patient on a unit through cuts of the grid and the times between them."""
    rules = hospital(sources, grid=GRID, tolerated_gap_s=T, response_time_s=response_s, shortfall=HALF)
    return counted(run(rules, FixedDraws([(0, DAY - 1)], up=[CUT, *up], down=down)))


@pytest.mark.parametrize(
    ("response_s", "sources", "expected"),
    [
        (5 * MINUTE, UNIT, ([600], [600])),
        (11 * MINUTE, UNIT, ([600], [600])),
        (11 * MINUTE, UNIT_FIRST, ([600], [])),
    ],
)
def test_a_power_cut_of_an_hour_against_the_worked_table(
    response_s: int, sources: tuple[str, ...], expected: tuple[list[int], list[int]]
) -> None:
    """Without another source a cut is a stock-out whatever the response; with a cylinder at hand it is none."""
    assert by_cuts(sources, response_s, [HOUR], []) == expected


@pytest.mark.parametrize(
    ("down", "up", "expected"),
    [
        ([9 * MINUTE] * 6, [MINUTE] * 5, ([660], [660])),
        ([9 * MINUTE] * 6, [5 * MINUTE] * 5, ([], [])),
        ([10 * MINUTE], [], ([], [])),
        ([10 * MINUTE + 1], [], ([600], [600])),
    ],
)
def test_flicker_and_the_length_of_a_cut_against_the_worked_table(
    down: list[int], up: list[int], expected: tuple[list[int], list[int]]
) -> None:
    """Nine minutes off and one on, again and again, is one spell; five minutes on are a recovery."""
    assert by_cuts(UNIT, 0, down, up) == expected


@pytest.mark.parametrize(("cut_s", "days", "affected"), [(10 * MINUTE, 0, 0), (11 * MINUTE, 1, 1), (DAY, 2, 1)])
def test_days_count_from_where_the_clock_of_a_spell_is_at_the_tolerance(
    cut_s: int, days: int, affected: int
) -> None:
    """Without power from 23:45 on: an interruption from 23:55, which a long cut takes into the next day."""
    rules = hospital(UNIT, grid=GRID, tolerated_gap_s=T, response_time_s=0, shortfall=HALF, horizon_s=2 * DAY)
    outcome = run(rules, FixedDraws([(0, 2 * DAY - 1)], up=[DAY - 15 * MINUTE], down=[cut_s]))
    assert (outcome.days_with_unserved, outcome.patients_affected) == (days, affected)


def test_the_last_cylinder_taken_by_another_against_the_worked_table() -> None:
    """A cylinder is at hand until 240 s, and again at 1,200 s: the supply clock goes from 240 s, to 840 s."""
    assert counted(_last_cylinder_taken(0)) == ([600], [840])


def test_a_stock_out_of_the_horizon_may_follow_an_interruption_of_the_warm_up() -> None:
    """The horizon begins between the two: one stock-out is counted, no interruption."""
    outcome = _last_cylinder_taken(CUT + 700)
    assert (sum(outcome.interruptions), outcome.stock_outs) == (0, 1)


def _last_cylinder_taken(warm_up_s: int) -> Outcome:
    """Return what happens where another patient takes the last cylinder 240 s into a power cut of an hour."""
    rules = hospital(
        UNIT_FIRST,
        concentrators=units(outlets=1),
        cylinders=cylinders(fleet=2, full_at_start=1, full_gas=6_000 * LITRE),
        resupply=resupply(None, 0, 1, 960),
        grid=GRID,
        tolerated_gap_s=T,
        response_time_s=R,
        shortfall=HALF,
        warm_up_s=warm_up_s,
        horizon_s=DAY,
    )
    # The empty one is ordered as the last full one is taken: it comes 960 s later.
    return run(rules, FixedDraws([(0, DAY - 1), (CUT + 240, DAY)], up=[CUT], down=[HOUR]))


@pytest.mark.parametrize(("bare_s", "expected"), [(2_280, ([600], [2_880])), (2_400, ([600], []))])
def test_a_cylinder_that_ran_empty_unseen_against_the_worked_table(
    bare_s: int, expected: tuple[list[int], list[int]]
) -> None:
    """50 min unseen are handling while another cylinder stands by; bare from 2,280 s to 3,000 s is a stock-out."""
    # 57 L at 1 L/min from 0: empty at 3,420 s, seen at the look of 6,420 s = 3,000 s later.
    empty_s = 57 * MINUTE
    rules = hospital(
        CYLINDER,
        cylinders=cylinders(fleet=3, full_at_start=2, gauge_check_s=empty_s + 3_000, residual_gas=3 * LITRE),
        resupply=resupply(None, 0, 1, 3_000 - bare_s),
        tolerated_gap_s=T,
        shortfall=HALF,
    )
    outcome = run(rules, FixedDraws([(0, empty_s + 4_000), (empty_s + bare_s, 2 * HOUR)]))
    assert counted(outcome, empty_s) == expected


@pytest.mark.parametrize(("given", "expected"), [(5_000, ([], [])), (4_999, ([600], [600]))])
def test_half_of_the_flow_is_enough_and_less_is_not(given: int, expected: tuple[list[int], list[int]]) -> None:
    """10 L/min prescribed for an hour: 5 L/min is under-served, 4.999 L/min is short of supply."""
    rules = hospital(UNIT, concentrators=units(rated=given), tolerated_gap_s=T, shortfall=HALF)
    outcome = run(rules, FixedDraws([(CUT, HOUR, 10_000)]))
    assert counted(outcome) == expected
    short = given < 5_000
    assert (outcome.under_served_s, outcome.short_served_s) == ((0, HOUR) if short else (HOUR, 0))
    assert outcome.short_s[Root.SUPPLY] == (HOUR if short else 0)
    assert outcome.deficit_ms == HOUR * (1_000 * (10_000 - given) // 10_000)
    assert outcome.stock_outs_by_cause[Cause.FLOW_TOO_HIGH] == short


def test_a_flow_that_may_not_be_given_in_part_has_no_source() -> None:
    """3 L/min to spare beside a patient of 4 L/min, which is not above the rated flow: no source, supply."""
    rules = hospital(UNIT, tolerated_gap_s=T, shortfall=HALF)
    outcome = run(rules, FixedDraws([(0, DAY - 1, 2_000), (CUT, HOUR, 4_000)]))
    assert outcome.short_s == (HOUR, 0, 0)
    assert outcome.stock_outs_by_cause[Cause.CONCENTRATORS_FULL] == 1
    shared = replace(rules, allocation=Allocation(reduced_flow="any"))
    assert run(shared, FixedDraws([(0, DAY - 1, 2_000), (CUT, HOUR, 4_000)])).short_s == (0, 0, 0)


def test_a_patient_without_a_regulator_set_is_short_of_equipment_and_keeps_the_cylinder() -> None:
    """Two cylinders, one set in use: the next lacks a set, the one after that a cylinder."""
    rules = hospital(
        CYLINDER,
        cylinders=cylinders(fleet=2, regulators=1, full_gas=6_000 * LITRE),
        tolerated_gap_s=T,
        shortfall=HALF,
    )
    outcome = run(rules, FixedDraws([(0, DAY - 1), (100, HOUR), (100, HOUR)]))
    assert outcome.short_s == (HOUR, HOUR, 0)
    assert (sum(outcome.interruptions), outcome.stock_outs) == (2, 1)
    assert outcome.interruptions[Cause.NO_REGULATOR] == 2


def test_who_is_turned_away_counts_at_once() -> None:
    """A class that is transferred where nobody can serve it: an interruption, and a stock-out of supply."""
    away = kind(if_unserved="transfer")
    rules = hospital(UNIT, patients=(away,), concentrators=units(count=0), tolerated_gap_s=T, shortfall=HALF)
    outcome = run(rules, FixedDraws([(CUT, HOUR)]))
    assert (sum(outcome.interruptions), outcome.stock_outs, outcome.transferred) == (1, 1, 1)
    assert counted(outcome) == ([0], [0])
