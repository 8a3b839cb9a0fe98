"""The answer of a sizing of cylinders in a few short sentences, and the rows of its curve beside the answer.

What could hurt a reader who does not know it (that handling is not in it, that a better rule comes before buying)
is said here too; how it was found stands in content.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from o2sim.looks.words import half_up, is_year, number, percent, short_frequency, span
from o2sim.questions.size.limits_text import limits
from o2sim.questions.size.result import CONFIRMED, ENOUGH, PASSED, Point, SizingResult
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.types.hospital import Hospital
from o2sim.typed import as_json

IS_ENOUGH = (ENOUGH, CONFIRMED, PASSED)
_KEYS = re.compile(r" \([^()]*(?:--|\w\.\w)[^()]*\)")  # keys of a file and flags, in brackets


@dataclass(frozen=True)
class Near:
    """A row beside the answer: so many cylinders, how often somebody went without, and whether that is enough."""

    fleet: int
    seen: str
    band: str
    is_enough: bool
    is_answer: bool
    is_there: bool


def short_sizing(result: SizingResult, hospital: Hospital, there: int | None) -> list[str]:
    """Return how many cylinders to keep and when to order, what that gives, and what it leaves out.

    hospital: as the answer would have it. there: how many there are; None where that is not known.
    """
    if not result.complete:
        return ["Stopped before the end, so no number is shown to be enough."]
    if result.answer is None:
        return [_none(result), limits_in_words(result)]
    fleet = int(result.answer.point.values[FLEET])
    found = [_keep(fleet, hospital, there), _gives(result), _left_out(result)]
    return [line for line in ([_first(result, fleet, there), *found]) if line]


def _keep(fleet: int, hospital: Hospital, there: int | None) -> str:
    have = "How many you have is not known."
    if there is not None:
        more = f"{fleet - there} fewer than that" if fleet > there else "enough"
        have = f"You have {there}: {more}."
    if hospital.resupply is None:
        return f"Keep {fleet} cylinders in all. {have}"
    point, upto = hospital.resupply.reorder_point, hospital.resupply.order_up_to
    return (
        f"Keep {fleet} cylinders in all; order when {point} are left, full and on order together, "
        f"and fill up to {upto}. {have}"
    )


def _gives(result: SizingResult) -> str:
    """Return what the answer gives; the bound is of the simulation, by which it was chosen."""
    assert result.answer is not None
    point, years = result.answer.point, runs_word(result)
    return (
        f"With {percent(result.confidence)} confidence somebody then goes without because no full cylinder is "
        f"left in at most {number(100 * result.target)} of 100 {years}; it happened in {point.failures:,} of "
        f"{point.replications:,} simulated."
    )


def _left_out(result: SizingResult) -> str:
    said = "That is supply alone: late looks at gauges and short hands come on top"
    beside = result.with_handling
    if beside is None:
        return f"{said}."
    chance = short_frequency(as_json(beside.chance_of_a_stock_out), beside.replications, result.horizon_days)
    hours = half_up(beside.short_patient_hours)
    return (
        f"{said}; with them supply runs out in {chance}, and {hours:,} patient-hours a year are short of oxygen."
    )


def _first(result: SizingResult, fleet: int, there: int | None) -> str:
    """Return the better reorder rule, to be tried before cylinders are bought."""
    rule = result.better_rule
    if rule is None or not rule.is_better or (there is not None and fleet <= there):
        return ""
    point, upto = rule.other.levels.split("/")
    gives = "which is enough" if rule.is_enough else "which is better, and not enough alone"
    return (
        f"First, without buying: with {rule.fleet} in all order at {point}, up to {upto}, {gives} (somebody goes "
        f"without in {rule.other.failures:,} of {rule.replications:,} simulated, now in "
        f"{rule.present.failures:,})."
    )


def _none(result: SizingResult) -> str:
    best = min(result.curve, key=lambda point: point.estimate)
    tried = [int(point.values[FLEET]) for point in result.curve]
    return (
        f"No number from {min(tried)} to {max(tried)} is shown to be enough for at most "
        f"{number(100 * result.target)} of 100 {runs_word(result)}: with {best.values[FLEET]} somebody goes "
        f"without in {_in_100(best.estimate)}."
    )


def limits_in_words(result: SizingResult) -> str:
    """Return what limits a sizing without an answer, and what to try, without keys of the file."""
    return _KEYS.sub("", limits(result))


def runs_word(result: SizingResult) -> str:
    """Return "years", or what the replications are in place of years."""
    return "years" if is_year(result.horizon_days) else f"runs of {span(result.horizon_days)}"


def _in_100(share: float) -> str:
    return f"{_short(100 * share)} of 100" if share else "none seen"


def _short(value: float) -> str:
    """Return a number out of 100 with one decimal below 10, without above."""
    return f"{value:.1f}" if value < 10 else f"{value:.0f}"


def near(result: SizingResult, there: int | None) -> list[Near]:
    """Return the answer, one less and one more, and what there is, by number; the best three without an answer."""
    curve = sorted(result.curve, key=lambda point: int(point.values[FLEET]))
    place = next((at for at, point in enumerate(curve) if point.values == result.chosen), len(curve) - 2)
    shown = {at for at in (place - 1, place, place + 1) if 0 <= at < len(curve)}
    shown |= {at for at, point in enumerate(curve) if int(point.values[FLEET]) == there}
    return [_row(curve[at], result, there) for at in sorted(shown)]


def _row(point: Point, result: SizingResult, there: int | None) -> Near:
    fleet, low, high = int(point.values[FLEET]), _short(100 * point.low), _short(100 * point.high)
    return Near(
        fleet,
        _in_100(point.estimate),
        f"{low} to {high}",
        point.status in IS_ENOUGH,
        point.values == result.chosen,
        fleet == there,
    )
