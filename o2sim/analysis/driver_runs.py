"""Points (a value for each uncertain number) in, what every strategy does at each of them out: all under one luck.

The analyses of `o2sim drivers` know nothing of scenarios: they are given a function from values to Responses. That
of a scenario is `of_scenario`; a test gives one of known indices.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from types import TracebackType
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.analysis.driver_values import Values, texts_of
from o2sim.analysis.executors import Crew, Processes
from o2sim.analysis.measures import replication_table
from o2sim.analysis.study import Study, run_study
from o2sim.analysis.whatif import felt, supply_hours
from o2sim.scenario.override import Original
from o2sim.scenario.ranges import at_texts
from o2sim.scenario.types import Hospital, Scenario

CHANCE, HOURS, COST = "stock_out_probability", "unserved_hours_for_want_of_supply", "annual_cost"
MEASURES = (CHANCE, HOURS, COST)
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


class Lasting:
    """A crew that is kept from one point to the next, since starting processes costs more than many a point."""

    def __init__(self, crew: Crew) -> None:
        """Take the crew, which its maker ends."""
        self.crew, self.points_left, self._spent_s = crew, 0, 0.0

    @property
    def window(self) -> int:
        """Return how many pieces to have under way at once."""
        return self.crew.window

    @property
    def lost_errors(self) -> tuple[type[BaseException], ...]:
        """Return the errors that mean a worker was lost."""
        return self.crew.lost_errors

    def submit(self, work: Callable[..., Any], *args: Any) -> Future[Any]:
        """Return the future of one piece."""
        return self.crew.submit(work, *args)

    def renew(self) -> None:
        """Replace what broke."""
        self.crew.renew()

    def consider(self, seconds_done: float, seconds_left: float) -> None:
        """Take what a point has cost so far and what it lacks; those to come will cost as much each."""
        to_come = seconds_left + self.points_left * (seconds_done + seconds_left)
        self.crew.consider(self._spent_s + seconds_done, to_come)
        if seconds_left <= 0:
            self._spent_s += seconds_done

    def __enter__(self) -> Lasting:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Leave the crew for the next point."""


@dataclass(frozen=True)
class Batch:
    """How every point is run: the strategies (None: all), replications 0, 1, 2... and the seed."""

    strategies: Sequence[str] | None
    replications: int
    seed: int
    engine: str
    run_options: Mapping[str, Any]
    progress: Callable[[int, int], None] | None = None


def of_scenario(source: Original, batch: Batch) -> Evaluate:
    """Return the function that runs a scenario, its uncertain numbers in the order of the file.

    A strategy that a point leaves as it was at another is not run again. It raises ScenarioError for a point that
    makes no scenario before anything is run, and KeyboardInterrupt where Ctrl-C left no whole point.
    """
    known: dict[Hospital, dict[str, Table]] = {}

    def evaluate(values: Values) -> Responses:
        scenarios = [at_texts(source, texts_of(source.scenario.uncertain, row)) for row in values]
        names = [n for n in source.scenario.strategies if batch.strategies is None or n in batch.strategies]
        rows: list[dict[str, dict[str, Table]]] = []
        options = dict(batch.run_options)
        workers = options.pop("workers", 1)
        try:
            with options.pop("crew", None) or Processes(workers) as crew:
                lasting = Lasting(crew)
                for scenario in scenarios:
                    lasting.points_left = len(scenarios) - len(rows) - 1
                    done = len(rows) * batch.replications, len(scenarios) * batch.replications
                    rows.append(_point(scenario, names, batch, known, done, {**options, "crew": lasting}))
        except KeyboardInterrupt:
            if not rows:
                raise
        return Responses(
            {name: {m: np.array([row[name][m] for row in rows]) for m in rows[0][name]} for name in names}
        )

    return evaluate


def _point(
    scenario: Scenario,
    names: Sequence[str],
    batch: Batch,
    known: dict[Hospital, dict[str, Table]],
    done: tuple[int, int],
    options: Mapping[str, Any],
) -> dict[str, dict[str, Table]]:
    """Return one point's measures by strategy, shape (replications,) each, run where they are not known."""
    tell = batch.progress or (lambda *_: None)
    new = [name for name in names if felt(scenario.hospitals[name]) not in known]
    if new:
        study = run_study(
            scenario,
            strategies=new,
            replications=batch.replications,
            seed=batch.seed,
            engine=batch.engine,
            progress=lambda count: tell(done[0] + count, done[1]),
            **options,
        )
        if not study.complete:
            raise KeyboardInterrupt  # a point that is not whole would not compare with the others
        known |= {felt(scenario.hospitals[name]): measured(study, name) for name in new}
    tell(done[0] + batch.replications, done[1])
    return {name: known[felt(scenario.hospitals[name])] for name in names}


def measured(study: Study, strategy: str) -> dict[str, Table]:
    """Return the measures of one strategy, shape (replications,) each."""
    table = replication_table(study.scenario.hospitals[strategy], list(study.outcomes[strategy]))
    found = {CHANCE: table.stock_out.astype(np.float64), HOURS: supply_hours(table)}
    return found if table.cost is None else {**found, COST: table.cost}
