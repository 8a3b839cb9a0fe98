"""How many replications a wanted precision takes, by a pilot; how close a study came.

Precision is how far an end of the interval of a chance may lie from the estimate: 0.01 is ±1 in 100. The interval
is not quite even about the estimate, so both ends are kept to it; half the width is never more.

The pilot has a seed of its own and is in no result. What is reported comes from fresh replications whose number
does not depend on what they show, so its interval is as sure as one whose number was fixed by hand. Adding
replications until the interval looks narrow enough would not be: it stops where chance has made it narrow
(Law, Simulation Modeling and Analysis, 9.4.1, from memory; two stages: Stein, Annals of Mathematical Statistics
1945;16:243-58, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from scipy.special import betaincinv

from o2sim.errors import O2simError
from o2sim.statistics.intervals import clopper_pearson
from o2sim.typed import Count, Inside, Share, item

LEAST, BELOW = 0.0001, 0.5  # what may be asked for
MOST = 10_000  # replications, unless another ceiling is stated: ±1 in 100 whatever the chance
FIRST_PILOT = 100
PILOT_SHARE = 10  # a pilot has at least one replication for so many that it asks for
PLAUSIBLE = 0.8  # interval of the pilot's chance whose end nearest 1/2 is planned for: wrong one time in ten
PEAK = 0.75  # over the square root of n: so far short of 1/2 the further end is furthest (found numerically)
SEED_STEP = 1_000_000_000  # from the seed of a study to that of its pilot
SEEDS = 2**63


@dataclass(frozen=True)
class Pilot:
    """The replications that fixed the number of a study, and are in no result."""

    seed: Count = item("of its own, so that none of it is in the results")
    replications: Count = item()
    stock_outs_seen: Mapping[str, Count] = item()
    used_in_results: Literal[False] = item()


@dataclass(frozen=True)
class Precision:
    """What was wanted of a study, what its pilot fixed and how close it came."""

    measure: Literal["stock_out_probability"]
    wanted: Inside = item("how far an end of the interval may lie from the estimate: 0.01 is ±1 in 100")
    confidence: Inside = item()
    pilot: Pilot = item()
    replications_needed: Count = item("what the pilot asks for")
    replications_allowed: Count = item()
    replications_fixed: Count = item("fresh ones, the lesser of the two")
    within_reach: bool = item("whether as many were allowed as were needed")
    expected: Share = item("precision to be expected of the number fixed")
    reached: Mapping[str, Share] = item("precision by strategy")
    widest: str = item("the strategy that is known least closely")
    met: bool = item("whether every strategy is known as closely as wanted")


@dataclass(frozen=True)
class Plan:
    """What was wanted of a study, and how a pilot fixed its number of replications.

    seen: replications of the pilot with a stock-out, by strategy. needed: what the pilot asks for; fixed: what is
    run, `most` where more were needed.
    """

    wanted: float
    confidence: float
    most: int
    pilot_seed: int
    pilot: int
    seen: dict[str, int]
    needed: int

    @property
    def fixed(self) -> int:
        """Return how many fresh replications are run."""
        return min(self.needed, self.most)

    @property
    def within_reach(self) -> bool:
        """Return False where more replications would be needed than are allowed."""
        return self.needed <= self.most

    @property
    def expected(self) -> float:
        """Return the precision to be expected of as many as are run, planned for with the same care."""
        n = self.fixed
        chances = [plausible(count, self.pilot) for count in self.seen.values()]
        return max(arm(n * chance, n, self.confidence) for chance in chances)


def check_precision(wanted: float, most: int) -> None:
    """Raise O2simError for a precision nobody can mean, or a ceiling below one."""
    if not LEAST <= wanted < BELOW:
        raise O2simError(
            f"precision: found {wanted:g}; allowed: from {LEAST:g} (±{100 * LEAST:g} %) to below {BELOW:g} "
            "(±50 %), such as 0.01 for ±1 in 100"
        )
    if most < 1:
        raise O2simError(f"a study needs at least 1 replication, not {most}")


def pilot_seed(seed: int) -> int:
    """Return the seed of the pilot of a study with a seed."""
    return (seed + SEED_STEP) % SEEDS


def arm(seen: float, n: int, confidence: float = 0.95) -> float:
    """Return how far the further end of Clopper and Pearson's interval lies from seen / n; seen may be a fraction.

    A fraction stands for the number expected of n replications; the ends go smoothly with it.
    """
    tail, share = (1 - confidence) / 2, seen / n
    low = 0.0 if seen <= 0 else float(betaincinv(seen, n - seen + 1, tail))
    high = 1.0 if seen >= n else float(betaincinv(seen + 1, n - seen, 1 - tail))
    return max(share - low, high - share)


def needed(chance: float, wanted: float, confidence: float = 0.95) -> int:
    """Return the least number of replications whose interval is expected to keep to a precision.

    It comes to z^2 p (1 - p) / wanted^2 (any textbook; Law 9.4.1) and about 1 / wanted more, the price of an
    interval whose coverage is never below what is stated. No chance further from 1/2 needs more.
    """
    chance = min(chance, 1 - chance)

    def enough(n: int) -> bool:
        worst = max(0.0, min(chance, 0.5 - PEAK / sqrt(n)))
        return max(arm(n * chance, n, confidence), arm(n * worst, n, confidence)) <= wanted

    above = 1
    while not enough(above):
        above *= 2
    below = above // 2  # not enough, or zero
    while above - below > 1:
        middle = (below + above) // 2
        below, above = (below, middle) if enough(middle) else (middle, above)
    return above


def plausible(seen: int, n: int) -> float:
    """Return the chance that a pilot still allows which needs most replications: the nearest to 1/2."""
    interval = clopper_pearson(seen, n, PLAUSIBLE)
    return min(max(0.5, interval.low), interval.high)


def plan_precision(
    wanted: float,
    most: int,
    seed: int,
    pilot: Callable[[int], Mapping[str, int]],
    confidence: float = 0.95,
) -> Plan:
    """Return the plan for a wanted precision of every strategy.

    pilot: runs so many replications of every strategy with the pilot's seed, and gives in how many of them each
    had a stock-out. It is asked again for more as long as it is less than a tenth of what it asks for: it may look
    at itself as often as it likes, since it is in no result. Raises O2simError as check_precision does.
    """
    check_precision(wanted, most)
    size = min(FIRST_PILOT, most)
    while True:
        seen = dict(pilot(size))
        asked = max(needed(plausible(count, size), wanted, confidence) for count in seen.values())
        larger = min(asked, most) // PILOT_SHARE
        if larger <= size:
            return Plan(wanted, confidence, most, pilot_seed(seed), size, seen, asked)
        size = larger


def reached(plan: Plan, seen: Mapping[str, int], n: int) -> Precision:
    """Return what was wanted, what the pilot fixed and how close n replications came.

    seen: replications with a stock-out, by strategy. `reached` is the precision by strategy, `widest` the one that
    came least close, `met` whether every strategy keeps to what was wanted.
    """
    arms = {name: arm(count, n, plan.confidence) for name, count in seen.items()}
    widest = max(arms, key=lambda name: arms[name])
    return Precision(
        measure="stock_out_probability",
        wanted=plan.wanted,
        confidence=plan.confidence,
        pilot=Pilot(plan.pilot_seed, plan.pilot, plan.seen, used_in_results=False),
        replications_needed=plan.needed,
        replications_allowed=plan.most,
        replications_fixed=plan.fixed,
        within_reach=plan.within_reach,
        expected=plan.expected,
        reached=arms,
        widest=widest,
        met=arms[widest] <= plan.wanted,
    )
