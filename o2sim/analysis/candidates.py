"""A scenario file, a strategy and the fields to size in, the candidates to try out, each a loaded scenario.

A bigger fleet under a reorder point held fixed orders later: it can meet a closed road with less. So reorder
point, order-up-to level and full cylinders at the start move with the fleet by the same number, unless they are
sized themselves or held on purpose. That also is what makes one batch of replications enough (see one_batch).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from o2sim.analysis.levers import EVEN_STEPS, Lever, lever, points, quantity, read_lever, written
from o2sim.errors import O2simError, ScenarioError
from o2sim.scenario.meanings import meaning, nearest
from o2sim.scenario.override import Original, stated, with_values
from o2sim.scenario.problems import quote
from o2sim.scenario.types import Hospital, Scenario

FLEET = "cylinders.fleet"
LEVELS = ("cylinders.full_at_start", "resupply.reorder_point", "resupply.order_up_to")
CYLINDER_SECTIONS = ("cylinders", "resupply", "manifold")
UNIT_SECTIONS = ("concentrators", "power")
IN_PLACE_OF_CYLINDERS = (
    "fields of concentrators and power, such as concentrators.count, power.battery.usable or power.generator.tank"
)
IN_PLACE_OF_UNITS = "fields of cylinders and resupply, such as cylinders.fleet"
POINTS_TOGETHER = 225  # of ranges that are not stated, all combinations of several
WHOLE_POINTS = 120  # of a range that is not stated: half to twice what the file says, in whole steps


@dataclass
class Candidate:
    """One combination of values: numbers as asked for, and all that is set, levels that move along included."""

    values: dict[str, str]  # of the fields that are sized
    changes: dict[str, str]  # all that is set
    scenario: Scenario = field(repr=False)

    def hospital(self, strategy: str) -> Hospital:
        """Return the hospital as the strategy sees it."""
        return self.scenario.hospitals[strategy]


@dataclass(frozen=True)
class Field:
    """What is sized, over which values, and what moves with the fleet."""

    levers: tuple[Lever, ...]
    moved: dict[str, int]  # level: what the file says of it
    fleet: int | None  # what the file says of the fleet, where levels move with it
    candidates: list[Candidate]
    refused: tuple[str, ...]  # values that make no scenario, with the first reason


def field_of(source: Original, strategy: str, vary: Sequence[str], hold_levels: bool = False) -> Field:
    """Return the candidates, in the order of their values. Raises O2simError where there is nothing to vary."""
    asked = [read_lever(text) for text in vary]
    if not asked:
        raise O2simError("size: found nothing to vary; write --vary cylinders.fleet or another field")
    _require_use(source, strategy, [path for path, _ in asked])
    levers = tuple(lever(path, text or _around(source, path, strategy, len(asked))) for path, text in asked)
    for each in levers:
        if each.numbers is None:
            raise O2simError(
                f"vary {each.path}: found {', '.join(each.values)}; allowed to size: numbers with a unit"
            )
    moved, fleet = _moving(source, strategy, levers, hold_levels)
    candidates: list[Candidate] = []
    refused: list[str] = []
    first = ""
    for values in points(levers):
        changes = {**values, **_levels(values, moved, fleet)}
        try:
            candidates.append(Candidate(values, changes, with_values(source, changes, strategy)))
        except ScenarioError as error:
            problem = error.problems[0]
            first = first or f"{told(values)}: {problem.field}: {problem.found}; allowed: {problem.allowed}"
            if not all(text for _, text in asked):
                continue  # nobody asked for it: the range is ours
            refused.append(f"{told(values)}: {problem.field}: {problem.found}; allowed: {problem.allowed}")
    if not candidates:
        whole = "; state the rest of it in the file first" if "key is missing" in first else ""
        raise O2simError(f"size: none of the values makes a scenario that can be run; the first: {first}{whole}")
    return Field(levers, moved, fleet, candidates, tuple(refused))


def told(values: dict[str, str]) -> str:
    """Return values in words: `cylinders.fleet = 40, concentrators.count = 5`."""
    return ", ".join(f"{path} = {text}" for path, text in values.items())


def _require_use(source: Original, strategy: str, paths: Sequence[str]) -> None:
    """Refuse to buy in vain: what belongs to a source that the strategy does not use."""
    hospital = source.scenario.hospitals[strategy]
    unused = (
        (hospital.cylinders, CYLINDER_SECTIONS, "no cylinders", IN_PLACE_OF_CYLINDERS),
        (hospital.concentrators, UNIT_SECTIONS, "no concentrators", IN_PLACE_OF_UNITS),
    )
    for used, sections, without, others in unused:
        for path in paths:
            if used is None and path.split(".")[0] in sections:
                raise O2simError(
                    f"size: {strategy!r} uses {without}, so {path} cures none of its stock-outs; allowed: {others}"
                )


def _around(source: Original, path: str, strategy: str, together: int) -> str:
    """Return half to twice what the file says of a field, as a range; raise O2simError where it says nothing."""
    text = stated(source, path, strategy)
    found = None if text is None else quantity(text)
    if text is None and not meaning(path):
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
    return levels.get(path) or sys.maxsize


def _moving(
    source: Original, strategy: str, levers: Sequence[Lever], hold_levels: bool
) -> tuple[dict[str, int], int | None]:
    """Return the levels that move with the fleet and the fleet of the file, nothing where none does."""
    paths = [each.path for each in levers]
    cylinders = source.scenario.hospitals[strategy].cylinders
    if FLEET not in paths or hold_levels or cylinders is None:
        return {}, None
    found = {path: stated(source, path, strategy) for path in LEVELS if path not in paths}
    return {path: int(Fraction(text)) for path, text in found.items() if text is not None}, cylinders.fleet


def _levels(values: dict[str, str], moved: dict[str, int], fleet: int | None) -> dict[str, str]:
    """Return the levels as they move with the fleet."""
    found = quantity(values[FLEET]) if fleet is not None else None
    if fleet is None or found is None or found[1] or found[0].denominator != 1:
        return {}  # what is no whole number of cylinders the loader refuses
    further = int(found[0]) - fleet
    return {path: str(level + further) for path, level in moved.items()}
