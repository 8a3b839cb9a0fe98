"""Run replications inside each draw of all uncertain numbers, and separate what is unknown from chance.

Draws are points of Sobol's sequence (scipy.stats.qmc, not scrambled), moved together by a drawn shift and taken
modulo 1 (Cranley and Patterson, SIAM Journal on Numerical Analysis 13 (1976) 904-914, from memory): they fill the
space more evenly than independent ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.special import ndtri

from o2sim.draws.philox import uniforms
from o2sim.errors import O2simError
from o2sim.measures.names import CHANCE, COST
from o2sim.questions.drivers.points import Evaluate, Table
from o2sim.questions.drivers.regret import Limits, decisions
from o2sim.questions.drivers.result import ByLoss, Estimate, OverDraws, Row
from o2sim.questions.drivers.tornado import estimate
from o2sim.questions.drivers.values import Values, at_shares, likely_values
from o2sim.questions.drivers.variance_parts import RANGE, ends, quantiles, resamples, spread
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.estimator import Estimator
from o2sim.statistics.intervals import clopper_pearson

FEWEST = 4  # draws that make a spread
STREAM = "shift of the draws of uncertain numbers"


def nested(
    items: Sequence[Uncertain],
    evaluate: Evaluate,
    estimator: Estimator,
    *,
    law: str,
    samples: int,
    seed: int,
    limits: Limits,
    drawn: Values | None = None,
) -> dict[str, Any]:
    """Return draws, complete, range, strategies, decisions and convergence of a nested run, as Nested has them.

    drawn: the draws, shape (samples, k), where they are not to come from `law`. limits: target, budget, worth.
    Raises O2simError for fewer than two replications, or fewer than four draws.
    """
    if samples < FEWEST:
        raise O2simError(f"nested: found {samples} draws; allowed: at least {FEWEST}, better a hundred")
    points = at_shares(items, shares(len(items), samples, seed), law) if drawn is None else drawn
    answers = evaluate(np.vstack([likely_values(items), points]))
    done = answers.points - 1
    if done < FEWEST:
        raise KeyboardInterrupt  # too few to show a spread; a store keeps them
    if answers.replications < 2:
        raise O2simError("nested: found 1 replication a draw; allowed: at least 2, to set chance apart")
    draws = {name: {m: table[1:] for m, table in each.items()} for name, each in answers.by_strategy.items()}
    fields = [item.path for item in items]
    return {
        "draws": done,
        "complete": done == len(points),
        "range": RANGE,
        "strategies": {
            name: {m: _over_draws(estimator, m, table[0], table[1:], limits[0]) for m, table in each.items()}
            for name, each in answers.by_strategy.items()
        },
        "decisions": tuple(decisions(draws, points[:done], fields, limits, estimator.confidence)),
        "convergence": convergence(draws, points[:done], limits),
    }


def shares(numbers: int, samples: int, seed: int) -> Values:
    """Return points in the unit cube, shape (samples, numbers), never on its edges."""
    from scipy.stats import qmc  # seldom used, slow to import

    base = qmc.Sobol(numbers, scramble=False).random_base2(max(samples - 1, 1).bit_length())[:samples]
    moved = (base + uniforms(seed, 0, STREAM, 0, 0, numbers)) % 1.0
    return np.asarray(np.clip(moved, 1e-9, 1 - 1e-9))


def _over_draws(estimator: Estimator, measure: str, guess: Table, table: Table, target: float) -> OverDraws:
    """Return one measure of one strategy: at the best guess, over what is not known, and how the two compare."""
    parts = spread(table, measure)
    z = float(ndtri((1 + estimator.confidence) / 2))
    least, most = (-np.inf if measure == COST else 0.0), (1.0 if measure == CHANCE else np.inf)
    low, high, sd = _around(table, measure, estimator.confidence)
    luck = z * max(parts.of_mean - parts.between / len(table), 0.0) ** 0.5

    def end(value: float, resampled: tuple[float, float]) -> Estimate:
        below, above = max(value - resampled[0], 0.0), max(resampled[1] - value, 0.0)
        reach = value - np.hypot(below, luck), value + np.hypot(above, luck)
        return Estimate(value, *(float(np.clip(each, least, most)) for each in reach))

    alone = _alike(measure, table, estimator.confidence)
    half = z * parts.of_mean**0.5
    variance = parts.between + parts.within
    return OverDraws(
        best_guess=estimate(estimator, measure, guess),
        mean=alone or Estimate(parts.mean, max(parts.mean - half, least), min(parts.mean + half, most)),
        range_low=alone or end(ends(parts.values)[0], low),
        range_high=alone or end(ends(parts.values)[1], high),
        not_known_sd=Estimate(parts.between**0.5, *sd),
        chance_sd=parts.within**0.5,
        not_known_share=parts.between / variance if variance else 0.0,
        meets_target_in=float((parts.values <= target).mean()) if measure == CHANCE else None,
    )


def _alike(measure: str, table: Table, confidence: float) -> Estimate | None:
    """Return the chance with its exact interval where all years are alike: no variance is not certainty.

    Draw j at replication j are years of their own in both doubts: as many as the shorter side has. None elsewhere.
    """
    if measure != CHANCE or table.min() != table.max():
        return None
    years = min(table.shape)
    found = clopper_pearson(years * float(table[0, 0]), years, confidence)
    return Estimate(found.estimate, found.low, found.high)


def _around(table: Table, measure: str, confidence: float) -> list[tuple[float, float]]:
    """Return intervals of the range's ends and of the standard deviation, over bootstrap samples of the draws."""
    resampled = [spread(table[rows], measure) for rows in resamples(len(table))]
    columns = zip(*((*ends(parts.values), parts.between**0.5) for parts in resampled), strict=True)
    return [quantiles(column, confidence) for column in columns]


def convergence(draws: dict[str, dict[str, Table]], points: Values, limits: Limits) -> tuple[Row, ...]:
    """Return the answers with an eighth, a quarter, half of the replications, then of the draws, and with all."""
    count, replications = next(iter(draws.values()))[CHANCE].shape
    fewer = [(count, max(replications // part, 2)) for part in (8, 4, 2, 1)]
    fewer += [(max(count // part, FEWEST), replications) for part in (8, 4, 2)]
    rows = []
    for j, r in dict.fromkeys(fewer):
        cut = {name: {m: table[:j, :r] for m, table in each.items()} for name, each in draws.items()}
        found = {name: spread(each[CHANCE]) for name, each in cut.items()}
        settled = {
            name: {"mean": parts.mean, **dict(zip(("range_low", "range_high"), ends(parts.values), strict=True))}
            for name, parts in found.items()
        }
        chosen = decisions(cut, points[:j], (), limits, 0.95)
        worth = {each.by: each.perfect_information.estimate for each in chosen if isinstance(each, ByLoss)}
        rows.append(Row(j, r, settled, worth))
    return tuple(rows)
