"""What to do next about the reorder rule, as commands to copy: try it before buying, then size on top of it."""

from __future__ import annotations

import shlex

from o2sim.questions.size.result import SizingResult
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER


def rule_first_step(result: SizingResult, again: str, copy: str) -> list[str]:
    """Return how a better reorder rule is written, before anything is bought; nothing where none was found.

    again: the command without what it sized and wrote, ready for a shell; copy: a file that is not there yet.
    """
    rule = result.better_rule
    if rule is None or result.pairs or not rule.is_better:
        return []
    name = shlex.quote(copy)
    return [
        "Before buying, try more pairs of levels, have the best written, and see what it gives with supply alone "
        f"and with handling:\n{again} --vary {LEVELS_TOGETHER} --write {name}\n{_compare(result, name)}"
    ]


def size_on_top(result: SizingResult, copy: str) -> list[str]:
    """Return how to size the fleet with the better rule in place, where that alone is not enough."""
    if not result.pairs or result.answer is not None or not result.can_be_written:
        return []
    words = ["o2sim", "size", copy, "--strategy", result.strategy, "--target", f"{100 * result.target:g} %"]
    return [f"That alone is not enough. How many cylinders are still lacking with it:\n{shlex.join(words)}"]


def _compare(result: SizingResult, copy: str) -> str:
    seed = "" if result.ran.seed == 1 else f" --seed {result.ran.seed}"
    return f"o2sim compare {copy}{seed} --supply-alone"
