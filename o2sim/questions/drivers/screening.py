"""Compute Morris's and Sobol's indices of the mean outcome for uncertain numbers, through SALib.

Morris (Technometrics 33 (1991) 161-174; mu* by Campolongo, Cariboni and Saltelli, Environmental Modelling and
Software 22 (2007) 1509-1518): one number is moved at a time along trajectories over the whole range; mu* is the
mean size of the effect of moving it across its range, sigma how much that effect varies with the other numbers or
along its own range. Sobol (Saltelli and others, Computer Physics Communications 181 (2010) 259-270): S1 is the
share of the variance of the mean outcome that a number makes by itself, ST with all it does together with others.
All from memory.

All points share their luck, so the outcome is one function of the numbers; the indices are of that function, their
half-widths (of SALib's bootstrap) show how far the sample of points may have carried them, not the replications.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from typing import Any

import numpy as np

from o2sim.errors import O2simError
from o2sim.questions.drivers.points import Evaluate
from o2sim.questions.drivers.result import Index, MorrisIndex, SobolIndex
from o2sim.questions.drivers.settings import MORRIS
from o2sim.questions.drivers.values import Values, at_shares, stretched
from o2sim.scenario.types.uncertain import Uncertain

LEVELS = 4  # of Morris's grid
RESAMPLES = 200
MISSING = (
    "drivers: the methods morris and sobol need SALib, which is not installed; to have it: "
    "pip install SALib, or use --method one-at-a-time"
)


def require_salib() -> None:
    """Raise O2simError where SALib is not installed."""
    if find_spec("SALib") is None:
        raise O2simError(MISSING)


def screening(
    items: Sequence[Uncertain],
    evaluate: Evaluate,
    method: str,
    *,
    law: str,
    samples: int,
    seed: int,
    confidence: float,
) -> dict[str, Any]:
    """Return points, complete and strategies, as Screened has them.

    method: morris or sobol; samples: trajectories, or base points (a power of 2 is best). Where Ctrl-C left not
    all points, whole trajectories or blocks are used. Raises O2simError without SALib.
    """
    require_salib()
    problem = {"num_vars": len(items), "names": [item.path for item in items], "bounds": [[0.0, 1.0]] * len(items)}
    cube = _sample(problem, method, samples, seed)
    points = stretched(items, cube) if method == MORRIS else at_shares(items, np.clip(cube, 1e-9, 1 - 1e-9), law)
    answers = evaluate(points)
    block = len(items) + (1 if method == MORRIS else 2)
    whole = answers.points // block * block
    if whole < 2 * block:
        raise KeyboardInterrupt  # no index from fewer; a store has what is done
    options = {"conf_level": confidence, "num_resamples": RESAMPLES, "seed": seed}
    return {
        "points": whole,
        "complete": whole == len(points),
        "strategies": {
            name: {
                m: _indices(problem, method, cube[:whole], t[:whole].mean(axis=1), options)
                for m, t in each.items()
            }
            for name, each in answers.by_strategy.items()
        },
    }


def _sample(problem: dict[str, Any], method: str, samples: int, seed: int) -> Values:
    """Return points in the unit cube, shape (n, k), in whole trajectories or blocks."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that a number of base points is no power of 2
        if method == MORRIS:
            from SALib.sample import morris

            return np.asarray(morris.sample(problem, samples, num_levels=LEVELS, seed=seed))
        from SALib.sample import sobol

        return np.asarray(sobol.sample(problem, samples, calc_second_order=False, seed=seed))


def _indices(
    problem: dict[str, Any], method: str, cube: Values, outcome: Values, options: dict[str, Any]
) -> tuple[Index, ...] | None:
    """Return the indices of one measure of one strategy, the weightiest first; None where nothing varies."""
    if np.ptp(outcome) == 0:
        return None
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        if method == MORRIS:
            from SALib.analyze import morris

            found = morris.analyze(problem, cube, outcome, num_levels=LEVELS, **options)
            columns = [found[key] for key in ("mu_star", "mu_star_conf", "mu", "sigma")]
            effects = (MorrisIndex(*row) for row in _rows(problem, columns))
            return tuple(sorted(effects, key=lambda row: -row.mu_star))
        from SALib.analyze import sobol

        found = sobol.analyze(problem, outcome, calc_second_order=False, **options)
        columns = [found[key] for key in ("S1", "S1_conf", "ST", "ST_conf")]
        shares = (SobolIndex(*row) for row in _rows(problem, columns))
        return tuple(sorted(shares, key=lambda row: -row.st))


def _rows(problem: dict[str, Any], columns: Sequence[Values]) -> Iterator[tuple[Any, ...]]:
    """Yield each number's name and its figures, 0 for what is no number."""
    for name, *figures in zip(problem["names"], *columns, strict=True):
        yield name, *(float(value) if np.isfinite(value) else 0.0 for value in figures)
