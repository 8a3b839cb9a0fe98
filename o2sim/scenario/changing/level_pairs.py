"""Varies both levels of the reorder rule together, the fleet held: `resupply.levels = 26/34` is the pair.

A better reorder rule costs no cylinder, so it is tried before any is bought. Below the first number an order is
made, up to the second: reorder point and order-up-to level. A level above the fleet orders nothing more, and a
reorder point nearer to the level than the least order is delivered none the sooner, so no pair goes beyond these.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from o2sim.errors import O2simError
from o2sim.scenario.types.hospital import Hospital

LEVELS_TOGETHER = "resupply.levels"
POINT, UP_TO = "resupply.reorder_point", "resupply.order_up_to"
PAIR_FORM = f"{LEVELS_TOGETHER} = 26/34, 30/34: reorder point / order-up-to level"
_PAIR = re.compile(r"([0-9]{1,9})/([0-9]{1,9})")
_TOPS = (3, 4, 5, 6)  # sixths of the fleet, as levels to order up to
_GAPS = (8, 4, 2)  # parts of such a level, as how far below it an order is made


def pair_text(point: int, upto: int) -> str:
    """Return a pair of levels as it is written."""
    return f"{point}/{upto}"


def read_pair(text: str) -> tuple[int, int]:
    """Return reorder point and order-up-to level of a pair such as 26/34. Raises O2simError for anything else."""
    found = _PAIR.fullmatch(text)
    if found is None:
        raise O2simError(f"vary {LEVELS_TOGETHER}: found {text!r}; allowed: {PAIR_FORM}")
    return int(found[1]), int(found[2])


def as_levels(text: str) -> dict[str, str]:
    """Return a pair as the two fields that it sets."""
    point, upto = read_pair(text)
    return {POINT: str(point), UP_TO: str(upto)}


def present(hospital: Hospital) -> tuple[int, int]:
    """Return the pair of the file. Raises O2simError without cylinders that are ordered again."""
    if hospital.cylinders is None or hospital.resupply is None:
        raise O2simError(f"vary {LEVELS_TOGETHER}: this strategy has no cylinders that are ordered again")
    if hospital.cylinders.sizes:
        raise O2simError(
            f"vary {LEVELS_TOGETHER}: found cylinders of several sizes, each with levels of its own; allowed: "
            f"resupply.sizes.{hospital.cylinders.sizes[0].name}.reorder_point and the like"
        )
    return hospital.resupply.reorder_point, hospital.resupply.order_up_to


def all_pairs(hospital: Hospital) -> tuple[str, ...]:
    """Return pairs of the whole range that the fleet allows, by rising levels, that of the file among them."""
    point, upto = present(hospital)
    fleet, least = _fleet(hospital), _least(hospital)
    tops = {upto, *(fleet * part // _TOPS[-1] for part in _TOPS)}
    found = {(point, upto)}
    for top in tops:
        found |= set(_below(top, {least, upto - point, *(top // part for part in _GAPS)}, least))
    return _written(found)


def raised_pairs(hospital: Hospital) -> tuple[str, ...]:
    """Return a few pairs whose levels are no lower than those of the file and not the same: ordered earlier."""
    point, upto = present(hospital)
    top, least = max(upto, _fleet(hospital)), _least(hospital)
    gap = upto - point
    found = set[tuple[int, int]]()
    for level in {upto, (upto + top) // 2, top}:
        found |= set(_below(level, {least, (least + gap) // 2, gap}, least))
    return _written({pair for pair in found if pair[0] >= point and pair != (point, upto)})


def _below(top: int, gaps: set[int], least: int) -> Iterator[tuple[int, int]]:
    yield from ((top - gap, top) for gap in gaps if least <= gap <= top)


def _written(pairs: set[tuple[int, int]]) -> tuple[str, ...]:
    by_level = sorted(pairs, key=lambda pair: (pair[1], pair[0]))
    return tuple(pair_text(*pair) for pair in by_level)


def _fleet(hospital: Hospital) -> int:
    assert hospital.cylinders is not None
    return hospital.cylinders.fleet


def _least(hospital: Hospital) -> int:
    """Return the least order that is delivered."""
    assert hospital.resupply is not None
    return max(1, hospital.resupply.minimum_order)
