"""Choose among strategies over many draws of what is unknown, and value knowing more.

A loss is what is to be small: the chance of a stock-out, or money. The best now has the least mean loss. With
perfect information one would take the best at each draw: the value of perfect information is the mean loss of the
best now less the mean of the least losses (Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961, from
memory).

A least loss picked among noisy means looks better than it is, so that value is bracketed: above by the plain one,
below by choosing with one half of the replications and judging with the other. Shown is the middle, with an
interval from the low end of the one to the high end of the other, over bootstrap samples of the draws.

The value of knowing one number alone (and all others not) comes from regressing the losses on it, with a cubic
(Strong, Oakley and Brennan, Medical Decision Making 34 (2014) 311-326, from memory, who use splines); beside it
stands what a number without any bearing would seem to be worth: the same with its values shuffled.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.measures.names import CHANCE, COST
from o2sim.questions.drivers.points import Table
from o2sim.questions.drivers.result import ByCost, ByLoss, Estimate, OneNumber, Perfect
from o2sim.questions.drivers.values import Values
from o2sim.questions.drivers.variance_parts import quantiles, resamples, spread
from o2sim.questions.whatif.break_even import SEED

BY_CHANCE = "lowest chance of a stock-out"
BY_COST = "cheapest that meets the target"
BY_WORTH = "cost and stock-outs at their worth"
SHUFFLES = 20
DEGREE = 3
ROUNDING = 1e-12
Limits = tuple[float, float | None, float | None]  # target, budget, worth


def decisions(
    tables: Mapping[str, Mapping[str, Table]],
    values: Values,
    fields: Sequence[str],
    limits: Limits,
    confidence: float,
) -> list[ByLoss | ByCost]:
    """Return a decision by each rule that there is: by chance, by cost within the target, by worth.

    tables: by strategy and measure, shape (draws, replications); values: shape (draws, numbers).
    """
    if len(tables) < 2:
        return []
    target, budget, worth = limits
    found: list[ByLoss | ByCost] = []
    afforded = {
        name: each[CHANCE]
        for name, each in tables.items()
        if budget is None or (COST in each and float(each[COST].mean()) <= budget)
    }
    if len(afforded) > 1:
        left_out = tuple(name for name in tables if name not in afforded)
        known = value_of_information(afforded, values, fields, confidence)
        found.append(ByLoss(BY_CHANCE, "share", left_out, **known))
    if all(COST in each for each in tables.values()):
        found.append(_cheapest(tables, target))
        if worth is not None:
            losses = {name: each[COST] + worth * each[CHANCE] for name, each in tables.items()}
            known = value_of_information(losses, values, fields, confidence)
            found.append(ByLoss(BY_WORTH, "money", None, **known))
    return found


def value_of_information(
    losses: Mapping[str, Table], values: Values, fields: Sequence[str], confidence: float
) -> dict[str, Any]:
    """Return best_now, best_in, regret, perfect_information and one_number, as ByLoss has them.

    losses: by strategy, shape (draws, replications) each; values: shape (draws, numbers).
    """
    names = list(losses)
    means = np.column_stack([table.mean(axis=1) for table in losses.values()])
    by_halves = _by_halves(list(losses.values()))
    best = int(means.mean(axis=0).argmin())
    perfect = _perfect(means, by_halves, confidence)
    regret = {
        name: _regret(perfect, means[:, place] - means[:, best], confidence, place == best)
        for place, name in enumerate(names)
    }
    return {
        "best_now": names[best],
        "best_in": dict(zip(names, _shares(means), strict=True)),
        "regret": regret,
        "perfect_information": perfect,
        "one_number": _one_by_one(means, values, fields),
    }


def _by_halves(tables: Sequence[Table]) -> Values:
    """Return by draw the loss of whom one half of the replications chooses, judged by the other, both ways."""
    if tables[0].shape[1] < 2:
        return np.asarray(np.min([table[:, 0] for table in tables], axis=0))
    even = np.column_stack([table[:, 0::2].mean(axis=1) for table in tables])
    odd = np.column_stack([table[:, 1::2].mean(axis=1) for table in tables])
    rows = np.arange(len(even))
    return np.asarray((odd[rows, even.argmin(axis=1)] + even[rows, odd.argmin(axis=1)]) / 2)


def _perfect(means: Table, by_halves: Values, confidence: float) -> Perfect:
    """Return the value of perfect information with its interval, and the two ends of its bracket."""
    least = means.min(axis=1)
    below, above = _bracket(means, least, by_halves)
    brackets = [_bracket(means[rows], least[rows], by_halves[rows]) for rows in resamples(len(means))]
    (low, _), (_, high) = (quantiles(each, confidence) for each in zip(*brackets, strict=True))
    return Perfect((below + above) / 2, max(low, 0.0), high, at_least=below, at_most=above)


def _bracket(means: Table, least: Values, by_halves: Values) -> tuple[float, float]:
    now = float(means.mean(axis=0).min())
    above = _cleared(now - float(least.mean()), means)
    return min(_cleared(now - float(by_halves.mean()), means), above), above


def _cleared(value: float, means: Table) -> float:
    """Return a value of information, at least zero, and zero where it is only rounding beside the losses."""
    return value if value > ROUNDING * float(np.abs(means).max()) else 0.0


def _regret(perfect: Perfect, more: Values, confidence: float, is_best: bool) -> Estimate:
    """Return the expected regret of a strategy that loses `more` than the best now, shape (draws,)."""
    if is_best:
        return Estimate(perfect.estimate, perfect.low, perfect.high)
    low, high = quantiles([more[rows].mean() for rows in resamples(len(more))], confidence)
    return Estimate(perfect.estimate + float(more.mean()), max(perfect.low + low, 0.0), perfect.high + high)


def _shares(means: Table) -> list[float]:
    """Return the share of draws in which each has the least loss; those level share a draw."""
    least = means == means.min(axis=1, keepdims=True)
    return [float(share) for share in (least / least.sum(axis=1, keepdims=True)).mean(axis=0)]


def _one_by_one(means: Table, values: Values, fields: Sequence[str]) -> tuple[OneNumber, ...]:
    """Return the value of knowing each number alone, the greatest first."""
    luck = np.random.default_rng(SEED)
    found = []
    for field, column in zip(fields, values.T, strict=False):
        shuffled = [_known(means, luck.permutation(column)) for _ in range(SHUFFLES)]
        found.append(OneNumber(field, _known(means, column), float(np.mean(shuffled))))
    return tuple(sorted(found, key=lambda each: -each.estimate))


def _known(means: Table, column: Values) -> float:
    """Return the value of knowing one number, shape (draws,), by cubic regression of every loss on it."""
    spread = float(np.ptp(column))
    if spread == 0:
        return 0.0
    scaled = (column - column.min()) / spread * 2 - 1
    basis = np.polynomial.legendre.legvander(scaled, DEGREE)
    fitted = basis @ np.linalg.lstsq(basis, means, rcond=None)[0]
    return _cleared(float(fitted.mean(axis=0).min() - fitted.min(axis=1).mean()), means)


def _cheapest(tables: Mapping[str, Mapping[str, Table]], target: float) -> ByCost:
    """Return who is the cheapest that meets the target, now and at each draw; the most reliable if none does.

    Chances are those by draw, the noise of the replications taken out (see variance_parts).
    """
    names = list(tables)
    chance = np.column_stack([spread(each[CHANCE]).values for each in tables.values()])
    cost = np.column_stack([each[COST].mean(axis=1) for each in tables.values()])
    now = _pick(chance.mean(axis=0, keepdims=True), cost.mean(axis=0, keepdims=True), target)[0]
    picked = _pick(chance, cost, target)
    dearer = cost - cost[np.arange(len(picked)), picked][:, None]
    meets = dict(zip(names, (chance <= target).T, strict=True))
    return ByCost(
        by=BY_COST,
        unit="money",
        best_now=names[now],
        best_in={name: float((picked == place).mean()) for place, name in enumerate(names)},
        misses_target_in={name: float(1 - both.mean()) for name, both in meets.items()},
        dearer_where_it_meets={
            name: float(dearer[both, place].mean()) if both.any() else None
            for place, (name, both) in enumerate(meets.items())
        },
        none_meets_in=float((~(chance <= target).any(axis=1)).mean()),
    )


def _pick(chance: Table, cost: Table, target: float) -> npt.NDArray[np.intp]:
    """Return by draw the place of the cheapest that meets the target, of the least chance where none does."""
    meets = chance <= target
    by_cost = np.where(meets, cost, np.inf).argmin(axis=1)
    least = np.lexsort((cost, chance), axis=1)[:, 0]  # the cheaper of those level
    return np.where(meets.any(axis=1), by_cost, least)
