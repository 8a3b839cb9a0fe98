"""The candidates to try for the fields to size, each a loaded scenario.

Levels of the reorder rule move with the fleet (see scenario/changing/fleet_levels.py), unless they are sized
themselves or held on purpose. That is also why one batch of replications can be enough (see one_batch).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from o2sim.errors import O2simError, ScenarioError
from o2sim.outcome import Cause
from o2sim.scenario.changing.fleet_levels import levels_beside
from o2sim.scenario.changing.joint import Joint
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER, all_pairs, as_levels
from o2sim.scenario.changing.levers import (
    EVEN_STEPS,
    Lever,
    lever,
    listed,
    points,
    quantity,
    read_lever,
    why_refused,
    written,
)
from o2sim.scenario.changing.override import Changed, Original, changed, loaded, stated
from o2sim.scenario.changing.unit_rows import by_model
from o2sim.scenario.keys.fields import meaning, nearest
from o2sim.scenario.text.problems import quote
from o2sim.scenario.types.hospital import Hospital, Scenario

CYLINDER_SECTIONS = ("cylinders", "resupply", "manifold")
UNIT_SECTIONS = ("concentrators", "power")
IN_PLACE_OF_CYLINDERS = (
    "fields of concentrators and power, such as concentrators.count, power.battery.usable or power.generator.tank"
)
IN_PLACE_OF_UNITS = "fields of cylinders and resupply, such as cylinders.fleet"
POINTS_TOGETHER = 225  # of ranges that are not stated, all combinations of several
MOST_STOCKS = 600  # of a range that one batch gives as a whole
WHOLE_POINTS = 120  # of a range that is not stated: half to twice what the file says, in whole steps


@dataclass
class Candidate:
    """One combination of values: the numbers to try, and all that is set, levels that move along included."""

    values: dict[str, str]  # of the fields that are sized
    there: Changed = field(repr=False)  # all that is set
    scenario: Scenario = field(repr=False)

    def hospital(self, strategy: str) -> Hospital:
        """Return the hospital as the strategy sees it."""
        return self.scenario.hospitals[strategy]

    def at_row(self, joint: Joint, row: int, strategy: str, hold_levels: bool) -> Scenario:
        """Return the scenario at a row of joint draws. Raises O2simError where the values make none there."""
        source = joint.sources[row]
        try:
            return loaded(source, changed(source, self.values, strategy, move_levels=not hold_levels))
        except ScenarioError as error:
            line = joint.table.rows[row].line
            raise O2simError(f"{joint.table.file}:{line}: {why_refused(self.values, error)}") from error


@dataclass(frozen=True)
class Question:
    """The question: the target is a chance within the horizon; replications is how many one candidate gets.

    most_missing: the largest share of the litres needed that may not be delivered.
    """

    source: Original
    strategy: str
    target: float
    confidence: float
    causes: tuple[Cause, ...]
    replications: int
    seed: int
    engine: str
    most_missing: float
    joint: Joint | None = None  # draws that replications meet in turn
    hold_levels: bool = False

    @property
    def rows(self) -> int | None:
        """Return how many joint draws there are, None without."""
        return None if self.joint is None else self.joint.rows

    @property
    def hospital(self) -> Hospital:
        """Return the hospital of the file."""
        return self.source.scenario.hospitals[self.strategy]


@dataclass(frozen=True)
class Field:
    """What is sized, over which values, and what moves with the fleet."""

    levers: tuple[Lever, ...]
    moved: tuple[str, ...]  # levels that move with the fleet
    held: bool  # whether levels stay where the fleet changes
    candidates: list[Candidate]
    refused: tuple[str, ...]  # values that make no scenario, with the first reason

    @property
    def in_a_row(self) -> bool:
        """Return True where one field with numbers is sized: its candidates have a next one and one before."""
        return len(self.levers) == 1 and self.levers[0].numbers is not None

    @property
    def pairs(self) -> bool:
        """Return True where the levels of the reorder rule are tried in pairs, the fleet held."""
        return self.levers[0].path == LEVELS_TOGETHER


def field_of(
    source: Original,
    strategy: str,
    vary: Sequence[str],
    hold_levels: bool = False,
    whole: tuple[int, int] | None = None,
) -> Field:
    """Return the candidates, in the order of their values. Raises O2simError where there is nothing to vary.

    whole: the first and last of the only field's values, every whole number between them, where its range is ours.
    """
    asked = [read_lever(text) for text in vary]
    if not asked:
        raise O2simError("size: found nothing to vary; write --vary cylinders.fleet or another field")
    _require_use(source, strategy, [path for path, _ in asked])
    if LEVELS_TOGETHER in [path for path, _ in asked]:
        return _pairs(source, strategy, asked)
    if whole is None:
        levers = tuple(lever(path, text or _around(source, path, strategy, len(asked))) for path, text in asked)
    else:
        levers = (_every(asked[0][0], *whole),)
    for each in levers:
        if each.numbers is None:
            raise O2simError(
                f"vary {each.path}: found {', '.join(each.values)}; allowed to size: numbers with a unit"
            )
    candidates: list[Candidate] = []
    refused: list[str] = []
    first = ""
    for values in points(levers):
        there = changed(source, values, strategy, move_levels=not hold_levels)
        try:
            candidates.append(Candidate(values, there, loaded(source, there)))
        except ScenarioError as error:
            first = first or why_refused(values, error)
            if not all(text for _, text in asked):
                continue  # nobody asked for it: the range is ours
            refused.append(why_refused(values, error))
    if not candidates:
        rest = "; state the rest of it in the file first" if "key is missing" in first else ""
        raise O2simError(f"size: none of the values makes a scenario that can be run; the first: {first}{rest}")
    first_there = candidates[0].there
    moved = () if hold_levels else levels_beside(first_there.root, first_there.asked, [strategy])[0]
    return Field(levers, tuple(moved), hold_levels, candidates, tuple(refused))


def candidate(source: Original, strategy: str, pair: str) -> Candidate:
    """Return the hospital with a pair of levels of the reorder rule, all else as it is.

    Raises O2simError for what is no pair, ScenarioError where it makes no scenario.
    """
    there = changed(source, as_levels(pair), strategy)
    return Candidate({LEVELS_TOGETHER: pair}, there, loaded(source, there))


def _pairs(source: Original, strategy: str, asked: Sequence[tuple[str, str]]) -> Field:
    """Return the candidates of pairs of levels, those that are listed or of the whole range."""
    if len(asked) > 1:
        raise O2simError(
            f"size: {LEVELS_TOGETHER} holds the fleet, so it is sized alone; leave the other --vary out"
        )
    own = all_pairs(source.scenario.hospitals[strategy])
    each = listed(LEVELS_TOGETHER, asked[0][1] or ", ".join(own))
    candidates: list[Candidate] = []
    refused: list[str] = []
    for pair in each.values:
        try:
            candidates.append(candidate(source, strategy, pair))
        except ScenarioError as error:
            refused.append(why_refused({LEVELS_TOGETHER: pair}, error))
    if not candidates:
        raise O2simError(f"size: none of the pairs makes a scenario that can be run; the first: {refused[0]}")
    return Field((each,), (), False, candidates, tuple(refused) if asked[0][1] else ())


def _every(path: str, low: int, high: int) -> Lever:
    """Return a field with the whole numbers from low to high, thinned out where they are too many."""
    step = -(-(high - low) // MOST_STOCKS)
    numbers = sorted({*range(low, high, max(1, step)), high})
    return Lever(path, tuple(map(str, numbers)), tuple(map(float, numbers)))


def _require_use(source: Original, strategy: str, paths: Sequence[str]) -> None:
    """Refuse to size what belongs to a source that the strategy does not use: it would be bought in vain."""
    hospital = source.scenario.hospitals[strategy]
    unused = (
        (hospital.cylinders, CYLINDER_SECTIONS, "no cylinders", IN_PLACE_OF_CYLINDERS),
        (hospital.concentrators, UNIT_SECTIONS, "no concentrators", IN_PLACE_OF_UNITS),
    )
    for used, sections, without, others in unused:
        for path in paths:
            if used is None and path.split(".")[0] in sections:
                raise O2simError(
                    f"size: {strategy!r} uses {without}, so {path} cures none of its shortfalls; allowed: {others}"
                )


def _around(source: Original, path: str, strategy: str, together: int) -> str:
    """Return half to twice what the file says of a field, as a range; raise O2simError where it says nothing."""
    text = stated(source, path, strategy)
    found = None if text is None else quantity(text)
    if text is None and not meaning(path) and not by_model(path.split(".")):
        near = nearest(path)
        hint = f" (did you mean {near}?)" if near else ""
        raise O2simError(f"vary {path}: found no such key; allowed: a key of the scenario that is a number{hint}")
    if found is None or found[0] <= 0:
        said = "says nothing of it" if text is None else f"says {quote(text)}"
        raise O2simError(f"vary {path}: the file {said}, so the range must be stated, such as {path} = 10..40")
    number, unit = found
    most = _most(source.scenario.hospitals[strategy], path) if together == 1 else sys.maxsize
    steps = WHOLE_POINTS if together == 1 else max(2, int(POINTS_TOGETHER ** (1 / together) + 1e-9) - 1)
    if unit or number.denominator != 1:
        width = number * Fraction(3, 2) / min(steps, EVEN_STEPS)
        return f"{written(number / 2, unit)}..{written(number * 2, unit)} step {written(width, unit)}"
    low, high = max(1, int(number) // 2), int(number) * 2
    high = min(high, most) if most > low else high
    step = -(-(high - low) // steps)
    return f"{low}..{high} step {max(1, step)}"


def _most(hospital: Hospital, path: str) -> int:
    """Return the highest value worth trying: more than there is to order does nothing."""
    if hospital.cylinders is None or hospital.resupply is None:
        return sys.maxsize
    levels = {
        "resupply.order_up_to": hospital.cylinders.fleet,
        "resupply.reorder_point": hospital.resupply.order_up_to,
    }
    for size, (_, upto) in zip(hospital.cylinders.sizes, hospital.resupply.levels, strict=False):
        levels |= {f"resupply.sizes.{size.name}.order_up_to": size.fleet}
        levels |= {f"resupply.sizes.{size.name}.reorder_point": upto}
    return levels.get(path) or sys.maxsize
