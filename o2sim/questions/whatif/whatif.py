"""Run every strategy at every combination of the values of some fields, under the same luck.

All points share the draws (same seed, same replications), so that a difference between two of them is the
fields' doing. The result is one object ready for JSON; `rows` is the same as a long table, one measure of one
strategy at one point a row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from o2sim import tabular
from o2sim.errors import O2simError, ScenarioError
from o2sim.measures.measures import batch_in_words
from o2sim.measures.replications import OF_UNBOUGHT
from o2sim.measures.table import unit_of
from o2sim.quantities.units import share
from o2sim.questions.whatif.apart import along, clear
from o2sim.questions.whatif.break_even import Series, break_evens
from o2sim.questions.whatif.point_runs import PointTable, run_points
from o2sim.questions.whatif.result import Answers, Change, Point, PointMeasures, Varied
from o2sim.questions.whatif.settings import WhatIfSettings
from o2sim.runs.identity import Origin, Ran
from o2sim.runs.study import one_or_many, ready_engine
from o2sim.scenario.changing.fleet_levels import levels_beside, what_became
from o2sim.scenario.changing.levers import FORMS, Lever, design, lever, points, read_lever, why_refused
from o2sim.scenario.changing.override import Original, changed, loaded, original
from o2sim.scenario.types.hospital import DAY_S, Scenario
from o2sim.settings import takes
from o2sim.shown import Chart, Shown, chart_of, frame_of
from o2sim.statistics import doubt
from o2sim.statistics.estimator import Estimator, Summary
from o2sim.typed import as_json
from o2sim.version import __version__

if TYPE_CHECKING:
    import pandas as pd

MEASURES = tuple(each.name for each in fields(PointMeasures) if each.name not in OF_UNBOUGHT)
COLUMNS = (
    "strategy",
    "measure",
    "unit",
    "estimate",
    "low",
    "high",
    "replications",
    "scenario_hash",
    "seed",
    "version",
    "levels",
)


@dataclass(frozen=True)
class WhatIf(Shown):
    """The answers to a what-if; result is the object that `o2sim whatif --json` prints."""

    result: Summary
    levers: tuple[Lever, ...] = field(repr=False)

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the columns of the long table."""
        return (*(each.path for each in self.levers), *COLUMNS)

    def rows(self) -> list[list[Any]]:
        """Return the long table: a row for each point, strategy and measure; "" where there is no number."""
        said = self.result
        shared = said["replications"], said["seed"], said["version"], said["levels"] or ""
        found = []
        for point in self.result["points"]:
            for strategy, measures in point["strategies"].items():
                for measure, entry in measures.items():
                    if entry is None:
                        continue
                    numbers = [entry.get("estimate", entry.get("mean")), entry["low"], entry["high"]]
                    cells = ["" if number is None else number for number in numbers]
                    where = [*point["values"].values(), strategy, measure, self.result["units"][measure]]
                    found.append([*where, *cells, shared[0], point["scenario_hash"], *shared[1:]])
        return found

    def to_frame(
        self, of: Literal["points", "measures", "break-evens", "leaders", "joined"] = "points"
    ) -> pd.DataFrame:
        """Return the answers as a data frame.

        points: a row for each point and strategy: a column for each field that varies, as a number with its unit
        in the name where it is one (power.grid.down.median (h)), then each measure with the ends of its interval
        (_low, _high): chances are shares of replications, 0 to 1; counts and hours are for 365 days; money is in
        the currency named. measures: the long table of `rows`. break-evens: a row for each change of the best
        strategy. leaders: a row for each point and measure: who leads, and who is not clearly different. joined: a
        row for each group of values that luck alone separates, by field, strategy and measure.
        """
        return frame_of(self, of=of)

    def chart(
        self, of: Literal["lines", "heat"] = "lines", measure: Literal["chance", "hours", "cost"] = "chance"
    ) -> Chart:
        """Return lines with bands over the first field, or a heat map over the first two with the target.

        Lines have a panel for each setting of the other fields.

        measure: the chance of a stock-out, patient-hours a year unserved for lack of supply, or cost a year.
        Raises O2simError for a heat map of one field or of chosen combinations that are no grid, and for a cost
        without prices.
        """
        return chart_of(self, of=of, measure=measure)


@takes(WhatIfSettings)
def whatif(
    source: str | Path | Scenario | Original,
    vary: str | Sequence[str] | pd.DataFrame,
    *,
    settings: WhatIfSettings,
    confidence: float = 0.95,
    progress: Callable[[int, int], None] | None = None,
    run_options: Mapping[str, Any] | None = None,
) -> WhatIf:
    """Return what all strategies (or those named) do at every combination of the values.

    source: a scenario or its file. vary: fields with values, such as `power.grid.down.median = 1 h, 2 h, 4 h` or
    `cylinders.fleet = 40..60 step 5`, whose combinations are all run; or a data frame with a column for each field
    and a row for each combination, cells as in a file. A field that a strategy states for itself is set there
    too. target (a share or "5 %") and budget (money a year, None: any) bound what counts as equal reliability and
    equal cost. hold_levels: the levels of the reorder rule stay where cylinders.fleet varies, else they move with
    it (a point where that makes no scenario is left out). run_options: workers or crew, store and chunk_size, as
    run_study takes them. progress is given the replications done and of how many. Ctrl-C gives the points done so
    far, `complete` False. Raises O2simError.
    Source of the ranges of break-evens: the percentile bootstrap (Efron and Tibshirani 1993, from memory).
    """
    kept = source if isinstance(source, Original) else original(source)
    levers, wanted = asked_for(vary)
    strategies = None if settings.strategies is None else one_or_many(settings.strategies)
    target, budget, replications = share(settings.target, "target"), settings.budget, settings.replications
    check_strategies(kept, strategies)
    if replications < 1:
        raise O2simError(f"a what-if needs at least 1 replication, not {replications}")
    wanted, scenarios, refused = _scenarios(kept, wanted, settings.hold_levels)  # all, before any is run
    engine = ready_engine(kept.scenario, settings.engine)
    tables = run_points(scenarios, strategies, replications, settings.seed, engine, progress, run_options)
    count = len(next(iter(tables[0].values())).stock_outs)
    done = []
    for values, scenario, by_strategy in zip(wanted, scenarios, tables, strict=False):
        estimator = Estimator(confidence, batch_in_words(count, next(iter(scenario.hospitals.values())).horizon_s))
        measures = {name: _measures(estimator, table) for name, table in by_strategy.items()}
        done.append(Point(values, scenario.hash, measures))
    there = changed(kept, wanted[0])
    levels = what_became(
        kept.scenario,
        strategies,
        lambda names: levels_beside(there.root, there.asked, names),
        settings.hold_levels,
    )
    hospitals = kept.scenario.hospitals.values()
    currency = next((hospital.costs.currency for hospital in hospitals if hospital.costs), None)
    counts_money = any(table.lacking for point in tables[: len(done)] for table in point.values())
    answers = Answers(
        of=Origin(kept.scenario.name, kept.scenario.hash),
        ran=Ran(__version__, engine, settings.seed, count),
        complete=len(done) == len(wanted) and count == replications,
        horizon_days=next(iter(hospitals)).horizon_s / DAY_S,
        target=target,
        budget=budget,
        confidence=confidence,
        interval_holds=doubt.CHANCE,
        currency=currency,
        units={name: unit_of(name, currency) for name in (*MEASURES, *(OF_UNBOUGHT if counts_money else ()))},
        vary=tuple(Varied(each.path, each.unit, tuple(each.values)) for each in levers),
        strategies=tuple(done[0].strategies),
        points=tuple(done),
        points_asked_for=len(wanted),
        refused=tuple(refused),
        levels=levels,
        break_evens=tuple(_break_evens(levers, done, tables, target, budget, confidence)),
        clear=clear(levers, [point.values for point in done], tables[: len(done)], confidence),
    )
    return WhatIf(as_json(answers), levers)


def _scenarios(
    source: Original, wanted: Sequence[dict[str, str]], hold_levels: bool
) -> tuple[list[dict[str, str]], list[Scenario], list[str]]:
    """Return the points, their scenarios, and those left out because levels that moved make no scenario.

    Raises ScenarioError for a value that is wrong by itself, or where all points are left out.
    """
    kept, scenarios, refused = list[dict[str, str]](), list[Scenario](), list[str]()
    faults = list[ScenarioError]()
    for values in wanted:
        there = changed(source, values, move_levels=not hold_levels)
        try:
            scenarios.append(loaded(source, there))
            kept.append(values)
        except ScenarioError as error:
            if not there.levels or any(there.is_asked(problem.field) for problem in error.problems):
                raise
            faults.append(error)
            refused.append(why_refused(values, error))
    if not kept:
        raise faults[0]
    return kept, scenarios, refused


def check_strategies(source: Original, strategies: Sequence[str] | None) -> None:
    """Raise O2simError for a strategy that the scenario does not have."""
    known = source.scenario.strategies
    for name in strategies or ():
        if name not in known:
            raise O2simError(f"no strategy is named {name!r}; known: {', '.join(known)}")


def asked_for(vary: str | Sequence[str] | pd.DataFrame) -> tuple[tuple[Lever, ...], list[dict[str, str]]]:
    """Return the fields with their values, and the combinations to run. Raises O2simError for none."""
    if tabular.is_frame(vary):
        return design(*tabular.cells(vary, "vary"))
    if not isinstance(vary, Sequence):
        raise O2simError(f"vary: found {type(vary).__name__}; allowed: texts as {FORMS}, or a data frame")
    texts = [vary] if isinstance(vary, str) else [str(text) for text in vary]
    if not texts:
        raise O2simError("whatif: found nothing to vary; write --vary 'FIELD = 1 h, 2 h, 4 h'")
    levers = []
    for path, text in map(read_lever, texts):
        if not text:
            raise O2simError(
                f"vary {path}: found no values; allowed: {path} = 1 h, 2 h, 4 h, or {path} = 40..60 step 2"
            )
        levers.append(lever(path, text))
    return tuple(levers), points(levers)


def _measures(estimator: Estimator, table: PointTable) -> PointMeasures:
    return PointMeasures(
        stock_out_probability=estimator.probability(table.stock_out),
        interruption_probability=estimator.probability(table.interruptions > 0),
        stock_outs_per_year=estimator.count(table.stock_outs, table.per_year),
        unserved_hours_for_want_of_supply=estimator.mean(table.supply_hours),
        unserved_patient_hours=estimator.mean(table.hours),
        fill_rate=estimator.ratio(table.litres_delivered, table.litres_needed, most=1.0),
        annual_cost=None if table.cost is None else estimator.mean(table.cost, least=-np.inf),
        **{name: estimator.mean(column) for name, column in table.lacking.items()},
    )


def _break_evens(
    levers: Sequence[Lever],
    done: Sequence[Point],
    tables: Sequence[Mapping[str, PointTable]],
    target: float,
    budget: float | None,
    confidence: float,
) -> Iterator[Change]:
    """Yield where the best strategy changes along each field that is a number, at each value of the others."""
    for axis, others, places in along(levers, [point.values for point in done]):
        if axis.numbers is None or len(axis.values) < 2 or len(tables[0]) < 2:
            continue
        number = dict(zip(axis.values, axis.numbers, strict=True))
        numbers = tuple(number[done[place].values[axis.path]] for place in places)
        measured = tuple({name: table.measures for name, table in tables[place].items()} for place in places)
        yield from break_evens(Series(numbers, measured, axis.path, axis.unit, others), target, budget, confidence)
