"""The frontier of cost and reliability, and which marks of it are sure.

A mark is made by means over the replications; it is right or wrong by the true means. "Dominated" is right where
some option truly costs no more and is truly more reliable, "frontier" where each other one truly costs more or is
truly less reliable. Every comparison of two options, in cost and in reliability, gets an equal part of the allowed
error (Bonferroni): with the stated confidence all marks that are called sure are right, together, whatever the
dependence between options. What is not called sure may be right all the same. Chances are compared by their
discordant pairs, exactly; means by Student's t of pairs, which is close where the replications are many and their
values not too skewed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.questions.choose.result import Option
from o2sim.statistics.selection import upper_difference

Columns = Mapping[str, npt.NDArray[Any]]  # of each option, one value a replication, all under the same draws


def frontier_of(options: Mapping[str, Option], measure: str) -> list[str]:
    """Return the options that no other dominates, by rising cost; nothing without prices."""
    found: list[str] = []
    if any(option.annual_cost is None for option in options.values()):
        return found
    for name, option in sorted(options.items(), key=lambda each: each[1].rank(measure)):
        if not found or option.rank(measure)[1] < options[found[-1]].rank(measure)[1]:
            found.append(name)
    return found


def dominator(options: Mapping[str, Option], frontier: Sequence[str], name: str) -> str | None:
    """Return the dearest option of the frontier that costs no more: it is the most reliable of those."""
    cost = options[name].annual_cost or 0.0
    cheaper = [each for each in frontier if (options[each].annual_cost or 0.0) <= cost]
    return None if name in frontier else cheaper[-1]


def sure_marks(
    costs: Columns, measures: Columns, frontier: Collection[str], confidence: float = 0.95
) -> dict[str, bool]:
    """Return which options' marks are sure: on the frontier for those named so, dominated for the others.

    Less is better in costs and measures; chances are given as booleans. With fewer than two replications nothing
    is sure.
    """
    names = list(costs)
    if len(names) == 1:
        return dict.fromkeys(names, True)
    if len(costs[names[0]]) < 2:
        return dict.fromkeys(names, False)
    error = (1 - confidence) / (2 * len(names) * (len(names) - 1))

    def dearer_by(one: str, other: str) -> float:
        return upper_difference(costs[one], costs[other], error)

    def better(one: str, other: str) -> bool:
        return upper_difference(measures[one], measures[other], error) < 0

    def on_frontier(name: str) -> bool:
        return all(dearer_by(name, other) < 0 or better(name, other) for other in names if other != name)

    def dominated(name: str) -> bool:
        mean = float(np.mean(costs[name]))
        others = [other for other in names if other != name and float(np.mean(costs[other])) <= mean]
        return any(dearer_by(other, name) <= 0 and better(other, name) for other in others)

    return {name: on_frontier(name) if name in frontier else dominated(name) for name in names}
