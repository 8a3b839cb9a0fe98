"""A scenario file and fields with many values in, every strategy at every combination under the same luck out.

All points share the draws (same seed, same replications), so that a difference between two of them is the
fields' doing. The result is one object ready for JSON; `rows` is the same as a long table, one measure of one
strategy at one point a row.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

import o2sim
from o2sim.analysis.breakeven import Measured, Series, break_evens
from o2sim.analysis.estimator import Column, Estimator, Summary
from o2sim.analysis.levers import Lever, lever, points, read_lever
from o2sim.analysis.measures import Replications, batch_in_words, replication_table
from o2sim.analysis.study import run_study
from o2sim.errors import O2simError
from o2sim.outcome import CAUSE_LABELS, SUPPLY_CAUSES
from o2sim.scenario.override import Original, original, with_values
from o2sim.scenario.types import DAY_S, Hospital, Scenario

CHANCE, ANY, STOCK_OUTS, SUPPLY_HOURS, HOURS, FILL, COST = (
    "stock_out_probability",
    "interruption_probability",
    "stock_outs_per_year",
    "unserved_hours_for_want_of_supply",
    "unserved_patient_hours",
    "fill_rate",
    "annual_cost",
)
MEASURES = (CHANCE, ANY, STOCK_OUTS, SUPPLY_HOURS, HOURS, FILL, COST)
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
)


@dataclass(frozen=True)
class WhatIf:
    """The answers to a what-if; result is the object that `o2sim whatif --json` prints."""

    result: Summary
    levers: tuple[Lever, ...] = field(repr=False)

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the columns of the long table."""
        return (*(each.path for each in self.levers), *COLUMNS)

    def rows(self) -> list[list[Any]]:
        """Return the long table: a row for each point, strategy and measure; "" where there is no number."""
        shared = self.result["replications"], self.result["seed"], self.result["version"]
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

    def _repr_html_(self) -> str:
        """Return the chance of a stock-out at every point as a table, for a notebook."""
        heads = [*(each.path for each in self.levers), *self.result["strategies"]]
        rows = []
        for point in self.result["points"]:
            chances = [each[CHANCE]["estimate"] for each in point["strategies"].values()]
            cells = [*point["values"].values(), *(f"{100 * chance:.3g} %" for chance in chances)]
            rows.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>")
        head = "".join(f"<th>{escape(name)}</th>" for name in heads)
        return f"<p>Chance of a stock-out</p><table><tr>{head}</tr>{''.join(rows)}</table>"


def whatif(
    source: str | Path | Original,
    vary: str | Sequence[str],
    *,
    strategies: Sequence[str] | None = None,
    target: float = 0.05,
    budget: float | None = None,
    replications: int = 200,
    seed: int = 1,
    engine: str = "kernel",
    confidence: float = 0.95,
    progress: Callable[[int, int], None] | None = None,
    run_options: Mapping[str, Any] | None = None,
) -> WhatIf:
    """Return what all strategies (or those named) do at every combination of the values.

    vary: fields with values, such as `power.grid.down.median = 1 h, 2 h, 4 h` or `cylinders.fleet = 40..60 step
    5`. A field that a strategy states for itself is set there too. target (share) and budget (money a year,
    None: any) bound what counts as equal reliability and equal cost. run_options go to run_study as they are.
    progress is told the replications done and of how many. Ctrl-C gives the points done so far, `complete`
    False. Raises O2simError.
    """
    kept = source if isinstance(source, Original) else original(source)
    levers = _levers([vary] if isinstance(vary, str) else list(vary))
    _check(strategies, kept)
    wanted = points(levers)
    scenarios = [with_values(kept, values) for values in wanted]  # a fault in the last must not cost the first
    runs = _Runs(strategies, replications, seed, engine, run_options or {}, progress, len(wanted))
    try:
        for scenario in scenarios:
            runs.add(scenario)
    except KeyboardInterrupt:
        if not runs.tables:
            raise
    done = [
        _point(values, scenario, table, runs.count, confidence)
        for values, scenario, table in zip(wanted, scenarios, runs.tables, strict=False)
    ]
    hospitals = kept.scenario.hospitals.values()
    currency = next((hospital.costs.currency for hospital in hospitals if hospital.costs), None)
    result = {
        "scenario": kept.scenario.name,
        "scenario_hash": kept.scenario.hash,
        "version": o2sim.__version__,
        "engine": engine,
        "seed": seed,
        "replications": runs.count,
        "complete": len(done) == len(wanted) and runs.count == replications,
        "horizon_days": next(iter(hospitals)).horizon_s / DAY_S,
        "target": target,
        "budget": budget,
        "confidence": confidence,
        "currency": currency,
        "units": _units(currency),
        "vary": [{"field": each.path, "unit": each.unit, "values": list(each.values)} for each in levers],
        "strategies": list(done[0]["strategies"]),
        "points": done,
        "points_asked_for": len(wanted),
        "break_evens": _break_evens(levers, done, runs.tables, target, budget, confidence),
    }
    return WhatIf(result, levers)


def _check(strategies: Sequence[str] | None, source: Original) -> None:
    known = source.scenario.strategies
    for name in known if strategies is None else strategies:
        if name not in known:
            raise O2simError(f"no strategy is named {name!r}; known: {', '.join(known)}")


class _Runs:
    """Runs the points one after the other; a strategy that the values leave as it was is not run again."""

    def __init__(
        self,
        strategies: Sequence[str] | None,
        replications: int,
        seed: int,
        engine: str,
        run_options: Mapping[str, Any],
        progress: Callable[[int, int], None] | None,
        points_wanted: int,
    ) -> None:
        self.strategies, self.replications, self.seed, self.engine = strategies, replications, seed, engine
        self.run_options, self.progress = run_options, progress
        self.total = points_wanted * replications
        self.count = replications  # done at every point
        self.known: dict[Hospital, Replications] = {}
        self.tables: list[dict[str, Replications]] = []

    def add(self, scenario: Scenario) -> None:
        """Run one point; raise KeyboardInterrupt where Ctrl-C cut it short, the first kept as far as it is."""
        names = [n for n in scenario.strategies if self.strategies is None or n in self.strategies]
        new = [name for name in names if felt(scenario.hospitals[name]) not in self.known]
        if new:
            before = len(self.tables) * self.replications
            study = run_study(
                scenario,
                strategies=new,
                replications=self.replications,
                seed=self.seed,
                engine=self.engine,
                progress=None if self.progress is None else (lambda count: self._tell(before + count)),
                **self.run_options,
            )
            if not study.complete and self.tables:
                raise KeyboardInterrupt  # a point that is not whole would not compare with the others
            self.count = study.replications
            for name, outcomes in study.outcomes.items():
                hospital = scenario.hospitals[name]
                self.known[felt(hospital)] = replication_table(hospital, list(outcomes))
        self.tables.append({name: self.known[felt(scenario.hospitals[name])] for name in names})
        self._tell(len(self.tables) * self.replications)
        if self.count < self.replications:
            raise KeyboardInterrupt

    def _tell(self, count: int) -> None:
        if self.progress is not None:
            self.progress(count, self.total)


def felt(hospital: Hospital) -> Hospital:
    """Return the part of a hospital that its measures can feel: without concentrators, power is nothing to it."""
    return hospital if hospital.concentrators is not None else replace(hospital, grid=None, power=None)


def _point(
    values: dict[str, str], scenario: Scenario, tables: Mapping[str, Replications], count: int, confidence: float
) -> Summary:
    horizon_s = next(iter(scenario.hospitals.values())).horizon_s
    estimator = Estimator(confidence, batch_in_words(count, horizon_s))
    measures = {name: _measures(estimator, table) for name, table in tables.items()}
    return {"values": values, "scenario_hash": scenario.hash, "strategies": measures}


def _levers(vary: Sequence[str]) -> tuple[Lever, ...]:
    if not vary:
        raise O2simError("whatif: found nothing to vary; write --vary 'FIELD = 1 h, 2 h, 4 h'")
    found = []
    for path, text in map(read_lever, vary):
        if not text:
            raise O2simError(
                f"vary {path}: found no values; allowed: {path} = 1 h, 2 h, 4 h, or {path} = 40..60 step 2"
            )
        found.append(lever(path, text))
    return tuple(found)


def _units(currency: str | None) -> dict[str, str]:
    return {
        CHANCE: "share of replications, 0 to 1",
        ANY: "share of replications, 0 to 1",
        STOCK_OUTS: "number per 365 days",
        SUPPLY_HOURS: "patient-hours per 365 days",
        HOURS: "patient-hours per 365 days",
        FILL: "share, 0 to 1",
        COST: f"{currency or 'money'} per 365 days",
    }


def supply_hours(table: Replications) -> Column:
    """Return patient-hours a year unserved for want of supply, shape (n,)."""
    columns = [table.unserved_hours_by_cause[CAUSE_LABELS[cause]] for cause in sorted(SUPPLY_CAUSES)]
    return np.asarray(np.sum(columns, axis=0), dtype=np.float64)


def _measures(estimator: Estimator, table: Replications) -> Summary:
    values = table.values
    litres = estimator.ratio(values["litres_delivered"], values["litres_needed"], most=1.0)
    return {
        CHANCE: estimator.probability(table.stock_out),
        ANY: estimator.probability(table.interruptions_by_length["all"] > 0),
        STOCK_OUTS: estimator.count(values["stock_outs_per_year"], table.per_year),
        SUPPLY_HOURS: estimator.mean(supply_hours(table)),
        HOURS: estimator.mean(values["unserved_patient_hours"]),
        FILL: litres,
        COST: None if table.cost is None else estimator.mean(table.cost, least=-np.inf),
    }


def _break_evens(
    levers: Sequence[Lever],
    done: Sequence[Summary],
    tables: Sequence[Mapping[str, Replications]],
    target: float,
    budget: float | None,
    confidence: float,
) -> list[Summary]:
    """Return where the best strategy changes along each field that is a number, at each value of the others."""
    found = []
    for axis in levers:
        if axis.numbers is None or len(axis.values) < 2 or len(tables[0]) < 2:
            continue
        number = dict(zip(axis.values, axis.numbers, strict=True))
        lines: dict[tuple[tuple[str, str], ...], list[int]] = {}
        for place, point in enumerate(done):
            others = tuple((path, text) for path, text in point["values"].items() if path != axis.path)
            lines.setdefault(others, []).append(place)
        for others, places in lines.items():
            ordered = sorted(places, key=lambda place: number[done[place]["values"][axis.path]])
            numbers = [number[done[place]["values"][axis.path]] for place in ordered]
            series = Series(tuple(numbers), tuple(_measured(tables[place]) for place in ordered))
            for change in break_evens(series, target, budget, confidence):
                found.append({"field": axis.path, "unit": axis.unit, "at": dict(others), **change})
    return found


def _measured(tables: Mapping[str, Replications]) -> dict[str, Measured]:
    return {
        name: Measured(table.stock_out.astype(float), supply_hours(table), table.cost)
        for name, table in tables.items()
    }
