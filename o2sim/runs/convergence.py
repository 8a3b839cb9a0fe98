"""Return the chance of a stock-out after the first 10, 20 ... replications of a study, each with its interval.

Each interval holds for its own number of replications. All of them together do not hold with that confidence:
whoever stops where one looks narrow is misled, which is why a number is fixed beforehand.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from o2sim.runs.study import Study
from o2sim.scenario.changing.joint import require_no_draws
from o2sim.statistics.intervals import clopper_pearson

ROWS = 24  # of the table; a drawing takes more


def convergence(study: Study, rows: int = ROWS, confidence: float = 0.95) -> dict[str, Any]:
    """Return {confidence, strategies: {name: [{replications, estimate, low, high}, ...]}}, ready for JSON.

    rows: about so many for each strategy, evenly spread by ratio from 10 (or all) to all replications.
    Raises O2simError for a study over joint draws.
    """
    require_no_draws(study.joint, "convergence", "its intervals know no rows")
    sizes = _sizes(study.replications, rows)
    found = {}
    for name, outcomes in study.outcomes.items():
        seen = np.cumsum(outcomes.column("stock_outs")[: study.replications] > 0)
        intervals = [clopper_pearson(int(seen[n - 1]), n, confidence) for n in sizes]
        found[name] = [
            {"replications": n, "estimate": each.estimate, "low": each.low, "high": each.high}
            for n, each in zip(sizes, intervals, strict=True)
        ]
    return {"confidence": confidence, "strategies": found}


def _sizes(n: int, rows: int) -> list[int]:
    first = min(10, n)
    return sorted({int(size) for size in np.geomspace(first, n, rows).round()})
