"""Draws of all uncertain numbers, replications inside each, in; what is not known told apart from chance out.

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
from o2sim.questions.drivers.tornado import estimate
from o2sim.questions.drivers.values import Values, at_shares, likely_values
from o2sim.questions.drivers.variance_parts import RANGE, ends, spread
from o2sim.questions.whatif.break_even import RESAMPLES, SEED
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.estimator import Estimator, Summary

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
) -> Summary:
    """Return strategies, decisions, convergence and complete of a nested run; JSON-ready.

    drawn: the draws, shape (samples, k), where they are not to come from `law`. limits: target, budget, worth.
    Raises O2simError for fewer than two replications, or fewer than four draws.
    """
    if samples < FEWEST:
        raise O2simError(f"nested: found {samples} draws; allowed: at least {FEWEST}, better a hundred")
    points = at_shares(items, shares(len(items), samples, seed), law) if drawn is None else drawn
    answers = evaluate(np.vstack([likely_values(items), points]))
    done = answers.points - 1
    if done < FEWEST:
        raise KeyboardInterrupt  # too few to tell a spread; a store has them
    if answers.replications < 2:
        raise O2simError("nested: found 1 replication a draw; allowed: at least 2, to tell chance apart")
    draws = {name: {m: table[1:] for m, table in each.items()} for name, each in answers.by_strategy.items()}
    fields = [item.path for item in items]
    found = decisions(draws, points[:done], fields, limits, estimator.confidence)
    return {
        "draws": done,
        "complete": done == len(points),
        "range": RANGE,
        "strategies": {
            name: {
                measure: _told(estimator, measure, answers.by_strategy[name][measure][0], table, limits[0])
                for measure, table in each.items()
            }
            for name, each in draws.items()
        },
        "decisions": found,
        "convergence": convergence(draws, points[:done], limits),
    }


def shares(numbers: int, samples: int, seed: int) -> Values:
    """Return points in the unit cube, shape (samples, numbers), never on its edges."""
    from scipy.stats import qmc  # seldom used, slow to import

    base = qmc.Sobol(numbers, scramble=False).random_base2(max(samples - 1, 1).bit_length())[:samples]
    moved = (base + uniforms(seed, 0, STREAM, 0, 0, numbers)) % 1.0
    return np.asarray(np.clip(moved, 1e-9, 1 - 1e-9))


def _told(estimator: Estimator, measure: str, guess: Table, table: Table, target: float) -> Summary:
    """Return one measure of one strategy: at the best guess, over what is not known, and how the two compare."""
    parts = spread(table, measure)
    z = float(ndtri((1 + estimator.confidence) / 2))
    least, most = (-np.inf if measure == COST else 0.0), (1.0 if measure == CHANCE else np.inf)
    low, high = ends(parts.values)
    around = _around(table, measure, estimator.confidence)
    luck = z * max(parts.of_mean - parts.between / len(table), 0.0) ** 0.5

    def entry(value: float, resampled: tuple[float, float]) -> Summary:
        below, above = max(value - resampled[0], 0.0), max(resampled[1] - value, 0.0)
        return {
            "estimate": value,
            "low": float(np.clip(value - np.hypot(below, luck), least, most)),
            "high": float(np.clip(value + np.hypot(above, luck), least, most)),
        }

    half = z * parts.of_mean**0.5
    found: Summary = {
        "best_guess": estimate(estimator, measure, guess),
        "mean": {
            "estimate": parts.mean,
            "low": max(parts.mean - half, least),
            "high": min(parts.mean + half, most),
        },
        "range_low": entry(low, around["low"]),
        "range_high": entry(high, around["high"]),
        "not_known_sd": {"estimate": parts.between**0.5, "low": around["sd"][0], "high": around["sd"][1]},
        "chance_sd": parts.within**0.5,
        "not_known_share": parts.between / (parts.between + parts.within) if parts.between + parts.within else 0.0,
    }
    if measure == CHANCE:
        found["meets_target_in"] = float((parts.values <= target).mean())
    return found


def _around(table: Table, measure: str, confidence: float) -> dict[str, tuple[float, float]]:
    """Return intervals of the range's ends and of the standard deviation, over bootstrap samples of the draws."""
    luck = np.random.default_rng(SEED)
    found: dict[str, list[float]] = {"low": [], "high": [], "sd": []}
    for _ in range(RESAMPLES):
        parts = spread(table[luck.integers(0, len(table), len(table))], measure)
        low, high = ends(parts.values)
        for key, value in (("low", low), ("high", high), ("sd", parts.between**0.5)):
            found[key].append(value)
    tail = (1 - confidence) / 2
    return {
        key: (float(np.quantile(values, tail)), float(np.quantile(values, 1 - tail)))
        for key, values in found.items()
    }


def convergence(draws: dict[str, dict[str, Table]], points: Values, limits: Limits) -> list[dict[str, Any]]:
    """Return the answers with an eighth, a quarter, half of the replications, then of the draws, and with all."""
    count, replications = next(iter(draws.values()))[CHANCE].shape
    fewer = [(count, max(replications // part, 2)) for part in (8, 4, 2, 1)]
    fewer += [(max(count // part, FEWEST), replications) for part in (8, 4, 2)]
    rows = []
    for j, r in dict.fromkeys(fewer):
        cut = {name: {m: table[:j, :r] for m, table in each.items()} for name, each in draws.items()}
        found = {name: spread(each[CHANCE]) for name, each in cut.items()}
        told = {
            name: {"mean": parts.mean, "range_low": ends(parts.values)[0], "range_high": ends(parts.values)[1]}
            for name, parts in found.items()
        }
        by = decisions(cut, points[:j], (), limits, 0.95)
        worth = {
            each["by"]: each["perfect_information"]["estimate"] for each in by if "perfect_information" in each
        }
        rows.append({"draws": j, "replications": r, "strategies": told, "perfect_information": worth})
    return rows
