"""Run every strategy at points, a value for each uncertain number, all of them under the same luck.

The analyses of `o2sim drivers` know nothing of scenarios: they are given a function from values to Responses. That
of a scenario is `of_scenario`; a test gives one of known indices.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.measures.names import BROKEN, CHANCE, COST, NOT_BOUGHT, SUPPLY_HOURS
from o2sim.questions.drivers.values import Values, texts_of
from o2sim.questions.whatif.point_runs import run_points
from o2sim.runs.study import ready_engine
from o2sim.scenario.changing.override import Original
from o2sim.scenario.changing.ranges import at_texts

OF_FUNDS = (NOT_BOUGHT, BROKEN)  # there only where money is counted
MEASURES = (CHANCE, SUPPLY_HOURS, COST, *OF_FUNDS)
Table = npt.NDArray[np.float64]  # shape (points, replications)


@dataclass(frozen=True)
class Responses:
    """By strategy and measure what each replication gave at each point, shape (points, replications).

    The chance is 0 or 1 in each replication. A measure that has no meaning (cost without prices) is not there.
    Points may be fewer than were asked for, and replications too, where Ctrl-C cut the work short.
    """

    by_strategy: dict[str, dict[str, Table]]

    @property
    def points(self) -> int:
        """Return the number of points done."""
        return len(self._any)

    @property
    def replications(self) -> int:
        """Return the number of replications at each point."""
        return int(self._any.shape[1])

    @property
    def _any(self) -> Table:
        return next(iter(next(iter(self.by_strategy.values())).values()))


Evaluate = Callable[[Values], Responses]


def of_scenario(
    source: Original,
    *,
    strategies: Sequence[str] | None,
    replications: int,
    seed: int,
    engine: str,
    run_options: Mapping[str, Any] | None = None,
    progress: Callable[[int, int], None] | None = None,
    move_levels: bool = False,
) -> Evaluate:
    """Return the function that runs a scenario, its uncertain numbers in the order of the file.

    strategies: None for all. move_levels: of the reorder rule, with a fleet. A strategy that a point leaves as it
    was at another is not run again. It raises ScenarioError for a point that makes no scenario before anything is
    run, and KeyboardInterrupt where Ctrl-C left no whole point.
    """

    def evaluate(values: Values) -> Responses:
        texts = [texts_of(source.scenario.uncertain, row) for row in values]
        scenarios = [at_texts(source, each, move_levels=move_levels) for each in texts]
        ready = ready_engine(source.scenario, engine)
        tables = run_points(scenarios, strategies, replications, seed, ready, progress, run_options)
        if any(len(table.stock_outs) < replications for table in tables[0].values()):
            raise KeyboardInterrupt  # a point that is not whole would not compare with the others
        points = [{name: table.measures for name, table in point.items()} for point in tables]
        return Responses(
            {
                name: {m: np.array([at[name][m] for at in points]) for m in found}
                for name, found in points[0].items()
            }
        )

    return evaluate
