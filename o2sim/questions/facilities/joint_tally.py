"""Joint draws in a study of facilities: laid over each, summed row by row, rows as clusters."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import numpy.typing as npt

from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.money.unbought import Unbought
from o2sim.questions.facilities.result import Figures
from o2sim.questions.facilities.tally import HOUR_S, Moments, Tally
from o2sim.runs.chunks import Chunk
from o2sim.runs.packing import Packed, Row, pack_totals, totals_of
from o2sim.runs.study import costs_of, run_replication
from o2sim.scenario.changing.facilities import Facility
from o2sim.scenario.changing.joint import DrawsError, Joint, joint_draws
from o2sim.scenario.changing.override import Original, likely_root
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Scenario
from o2sim.statistics.clusters import split
from o2sim.statistics.estimates import Mean
from o2sim.statistics.estimator import Estimator

if TYPE_CHECKING:
    import pandas as pd

MOST_LOADS = 5_000  # rows of all facilities together: assumption, about a minute of reading, 200 MB of memory
Column = npt.NDArray[np.float64]
Base = str | Path | Scenario | None


def joints_of(
    facilities: Sequence[Facility], draws: str | Path | pd.DataFrame | None, base: Base
) -> tuple[Joint, ...]:
    """Return the draws laid over each facility, nothing without draws.

    base: the scenario that the rows of facilities override, None for a folder of files. Raises O2simError for too
    many, ScenarioError with what is wrong at any facility.
    """
    if draws is None:
        return ()
    found, problems = list[Joint](), dict[Problem, list[str]]()
    for facility in facilities:
        try:
            found.append(joint_draws(draws, _original(facility, base)))
        except ScenarioError as error:
            for each in error.problems:
                problems.setdefault(each, []).append(facility.scenario.name)
        if found and found[0].rows * len(facilities) > MOST_LOADS:
            raise O2simError(
                f"study: found {found[0].rows:,} draws for each of {len(facilities):,} facilities; allowed: at "
                f"most "
                f"{MOST_LOADS:,} of all together; give fewer draws, or part of the facilities"
            )
    if problems:
        raise DrawsError([_at(each, names, len(facilities)) for each, names in problems.items()])
    return tuple(found)


def _at(problem: Problem, names: Sequence[str], count: int) -> Problem:
    """Return a problem of the draws, with the facilities at which it comes up where those are not all."""
    if len(names) == count:
        return problem
    hint = f"at {names[0]}" + (f" and {len(names) - 1} more" if len(names) > 1 else "")
    return dataclasses.replace(problem, hint=f"{problem.hint}; {hint}" if problem.hint else hint)


def _original(facility: Facility, base: Base) -> Original:
    """Return the values of a facility, to be changed: it keeps what is stated, not the text."""
    scenario = facility.scenario
    at = facility.place if base is None else base
    folder = at.beside if isinstance(at, Scenario) else Path(at).parent
    return Original(likely_root(scenario.tree), facility.place, folder, scenario.name, scenario, scenario.tree)


@dataclass
class RowTallies:
    """The figures of some replications of one facility under one strategy, a tally for each row of the draws."""

    rows: list[Tally]

    @classmethod
    def of(cls, rows: int) -> RowTallies:
        """Return tallies of no replications."""
        return cls([Tally() for _ in range(rows)])

    def add(self, outcome: Any, cost: float | None) -> None:
        """Take one replication, with its money a year (None without prices)."""
        self.rows[outcome.replication % len(self.rows)].add(outcome, cost)

    def merge(self, other: RowTallies) -> None:
        """Take all the replications of another."""
        for mine, more in zip(self.rows, other.rows, strict=True):
            mine.merge(more)

    def figures(self, horizon_s: int, priced: bool, confidence: float) -> Figures:
        """Return the figures: chances within the horizon, the rest scaled to 365 days."""
        per_year = YEAR_DAYS * DAY_S / horizon_s
        hours = per_year / HOUR_S
        estimator = Estimator(confidence, "", len(self.rows))
        stock_out, interruption = (
            self._seen([getattr(each, name) for each in self.rows])
            for name in ("with_stock_out", "with_interruption")
        )
        found = split(stock_out, len(self.rows), confidence)
        return Figures(
            replications=sum(each.replications for each in self.rows),
            stock_out_probability=dataclasses.replace(estimator.probability(stock_out), note=None),
            interruption_probability=dataclasses.replace(estimator.probability(interruption), note=None),
            stock_outs_per_year=_plain(estimator.count(self._means("stock_outs", per_year), per_year)),
            unserved_patient_hours=_plain(estimator.mean(self._means("unserved_s", hours))),
            unserved_supply_patient_hours=_plain(estimator.mean(self._means("unserved_supply_s", hours))),
            annual_cost=_plain(estimator.mean(self._means("cost", 1.0), least=-np.inf)) if priced else None,
            stock_out_by_inputs=None if found is None else found.share,
        )

    def unbought(self, hospital: Hospital) -> Unbought | None:
        """Return what was needed and not bought in all rows; None where nobody counts money."""
        whole = Tally()
        for each in self.rows:
            whole.merge(each)
        return whole.unbought(hospital)

    def _order(self) -> npt.NDArray[np.int64]:
        """Return the row of each replication."""
        return np.arange(sum(each.replications for each in self.rows)) % len(self.rows)

    def _seen(self, counts: Sequence[int]) -> npt.NDArray[np.bool_]:
        """Return in which replications it was seen, those of a row in some order: intervals ask for no other."""
        order = self._order()
        before = np.arange(len(order)) // len(self.rows)  # replications of the same row
        return np.asarray(before < np.array(counts)[order])

    def _means(self, name: str, factor: float) -> Column:
        """Return for each replication the mean of its row: all that intervals with rows as clusters ask for."""
        moments: list[Moments] = [getattr(each, name) for each in self.rows]
        counts = [max(each.replications, 1) for each in self.rows]
        means = [float(each.total / count) * factor for each, count in zip(moments, counts, strict=True)]
        return np.array(means, dtype=np.float64)[self._order()]


def _plain(found: Mean) -> Mean:
    return dataclasses.replace(found, note=None)


Kind = TypeVar("Kind", Tally, RowTallies)


def tally_rows(
    rows: Sequence[Scenario], chunk: Chunk, seed: int, engine: str, keep: bool, count: int
) -> tuple[dict[str, RowTallies], dict[str, Packed], float]:
    """Return tallies of a chunk by strategy, packed totals if they are to be kept, and how long it took.

    rows: the scenarios that its replications meet in turn, from the first on. count: of all rows.
    """
    return tallied(rows, chunk, seed, engine, keep, partial(RowTallies.of, count))


def tallied(
    rows: Sequence[Scenario], chunk: Chunk, seed: int, engine: str, keep: bool, new: Callable[[], Kind]
) -> tuple[dict[str, Kind], dict[str, Packed], float]:
    """Return what `tally_rows` does, in tallies of the kind that `new` makes."""
    began, names = time.perf_counter(), chunk.strategies
    tallies = {name: new() for name in names}
    kept: dict[str, list[Row]] = {name: [] for name in names}
    costs: dict[str, list[float | None]] = {name: [] for name in names}
    for place, replication in enumerate(range(chunk.first, chunk.stop)):
        scenario = rows[place % len(rows)]
        outcomes = run_replication(scenario, names, seed, replication, engine)
        for name, outcome in zip(names, outcomes, strict=True):
            (cost,) = costs_of(scenario, name, [outcome])
            tallies[name].add(outcome, cost)
            if keep:
                kept[name].append(totals_of(outcome))
                costs[name].append(cost)
    packed = {name: pack_totals(kept[name], costs[name]) for name in names} if keep else {}
    return tallies, packed, time.perf_counter() - began
