"""A scenario with uncertain numbers in, what drives its answer out: the function behind `o2sim drivers`.

Four methods. One at a time: each number at its two ends (tornado). Nested: draws of all numbers together, and
replications inside each, so that what is not known is told apart from chance, with the value of finding out.
Morris and Sobol: screening and shares of variance, through SALib. All points of a run share their luck: the same
replications under the same seed everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from o2sim.errors import O2simError
from o2sim.measures.measures import batch_in_words
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.measures.table import unit_of
from o2sim.quantities.units import share
from o2sim.questions.drivers.nested import nested
from o2sim.questions.drivers.points import MEASURES, Batch, of_scenario
from o2sim.questions.drivers.screening import require_salib, screening
from o2sim.questions.drivers.settings import (
    LAWS,
    METHODS,
    MORRIS,
    MOST_SAMPLES,
    NESTED,
    ONE_AT_A_TIME,
    SOBOL,
    DriversSettings,
)
from o2sim.questions.drivers.tornado import middle, one_at_a_time
from o2sim.scenario.changing.fleet_levels import what_became
from o2sim.scenario.changing.levers import read_lever
from o2sim.scenario.changing.override import Original, original
from o2sim.scenario.changing.ranges import levels_of, with_ranges
from o2sim.scenario.types.hospital import DAY_S, Scenario
from o2sim.settings import takes
from o2sim.shown import Chart, Shown, chart_of, frame_of
from o2sim.statistics import doubt
from o2sim.statistics.estimator import Estimator, Summary
from o2sim.typed import as_json
from o2sim.version import __version__

if TYPE_CHECKING:
    import pandas as pd

REPLICATIONS = {ONE_AT_A_TIME: 200, NESTED: 100, MORRIS: 50, SOBOL: 50}  # where none are asked for
SAMPLES = {NESTED: 128, MORRIS: 10, SOBOL: 32}
HOLDS = {ONE_AT_A_TIME: doubt.CHANCE, NESTED: doubt.CHANCE_AND_INPUTS, MORRIS: doubt.POINTS, SOBOL: doubt.POINTS}
NOTHING = (
    "drivers: found no uncertain number in {file}; write some as {{low: 1 h, likely: 2 h, high: 6 h}} in the "
    "file, or give --vary 'FIELD = LOW, LIKELY, HIGH'"
)


@dataclass(frozen=True)
class Drivers(Shown):
    """What drives the answer; result is the object that `o2sim drivers --json` prints."""

    result: Summary = field(repr=False)

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the columns of the long table."""
        return ("method", "strategy", "measure", "field", "figure", "estimate", "low", "high", "levels")

    def rows(self) -> list[list[Any]]:
        """Return the long table: a figure of one strategy, measure and field a row; "" where there is none."""
        method = self.result["method"]
        makers: dict[str, Callable[[Summary], list[list[Any]]]] = {
            ONE_AT_A_TIME: _bar_rows, NESTED: _nested_rows, MORRIS: _index_rows, SOBOL: _index_rows
        }  # fmt: skip
        levels = self.result["levels"]
        rows = makers[method](self.result)
        return [[method, *("" if cell is None else cell for cell in (*row, levels))] for row in rows]

    def to_frame(self) -> pd.DataFrame:
        """Return the long table of `rows` as a data frame.

        Chances are shares of replications, 0 to 1; hours and money are for 365 days, money in the currency of the
        prices; what has no interval has none.
        """
        return frame_of(self)

    def chart(self, measure: Literal["chance", "hours", "cost"] = "chance") -> Chart:
        """Return the tornado, what is not known apart from chance, or the indices, by the method.

        Raises O2simError for a cost without prices.
        """
        return chart_of(self, measure=measure)


@takes(DriversSettings)
def drivers(
    source: str | Path | Scenario | Original,
    vary: str | Sequence[str] = (),
    *,
    settings: DriversSettings,
    confidence: float = 0.95,
    progress: Callable[[int, int], None] | None = None,
    run_options: Mapping[str, Any] | None = None,
) -> Drivers:
    """Return what drives the answer of a scenario with uncertain numbers, `{low: ..., likely: ..., high: ...}`.

    source: a scenario or its file. vary: more uncertain fields, or other ranges, such as `power.grid.down.median =
    1 h, 2 h, 6 h`; a field that a strategy states for itself is set there too. method: one-at-a-time, nested,
    morris or sobol; the last two need SALib. samples: draws (nested), trajectories (morris), base points (sobol).
    law: pert, triangular or uniform, of the draws. target (a share or "5 %"), budget and worth (money a year; what
    a year without a stock-out is worth) say what best is. hold_levels: the levels of the reorder rule stay where a
    fleet is uncertain, else they move with it. run_options: workers or crew, and store, as run_study takes
    them. progress is given the replications done and of how many. Ctrl-C gives the points done so far, `complete`
    False. Raises O2simError.
    """
    kept = source if isinstance(source, Original) else original(source)
    ranges = _ranges([vary] if isinstance(vary, str) else list(vary))
    kept = with_ranges(kept, ranges, move_levels=not settings.hold_levels)
    method, strategies, law, seed = settings.method, settings.strategies, settings.law, settings.seed
    target, budget, worth = share(settings.target, "target"), settings.budget, settings.worth
    _check(kept, method, strategies, law, settings.samples)
    _check_money(budget=budget, worth=worth)
    items = kept.scenario.uncertain
    count = REPLICATIONS[method] if settings.replications is None else settings.replications
    drawn = SAMPLES.get(method, 0) if settings.samples is None else settings.samples
    batch = Batch(strategies, count, seed, settings.engine, run_options or {}, progress, not settings.hold_levels)
    evaluate = of_scenario(kept, batch)
    hospitals = list(kept.scenario.hospitals.values())
    estimator = Estimator(confidence, batch_in_words(count, hospitals[0].horizon_s))
    currency = next((hospital.costs.currency for hospital in hospitals if hospital.costs), None)
    levels = what_became(kept.scenario, strategies, lambda names: levels_of(kept, names), settings.hold_levels)
    result: Summary = {
        "scenario": kept.scenario.name,
        "scenario_hash": kept.scenario.hash,
        "version": __version__,
        "engine": settings.engine,
        "seed": seed,
        "replications": count,
        "complete": True,
        "horizon_days": hospitals[0].horizon_s / DAY_S,
        "target": target,
        "budget": budget,
        "worth": worth,
        "confidence": confidence,
        doubt.KEY: HOLDS[method],
        "currency": currency,
        "units": _units(currency),
        "method": method,
        "uncertain": [
            {"field": item.path, "low": item.texts[0], "likely": item.texts[1], "high": item.texts[2],
             "places": list(item.places)} for item in items
        ],
        **as_json(levels),
    }  # fmt: skip
    if method == ONE_AT_A_TIME:
        found = one_at_a_time(items, evaluate, estimator)
        first = next(iter(found.values()))
        result |= {"strategies": found, "complete": len(first["bars"][CHANCE]) == len(items)}
    elif method == NESTED:
        result |= {"law": law, "samples": drawn}
        result |= nested(
            items, evaluate, estimator, law=law, samples=drawn, seed=seed, limits=(target, budget, worth)
        )
    else:
        result |= {"law": law, "samples": drawn}
        result |= screening(items, evaluate, method, law=law, samples=drawn, seed=seed, confidence=confidence)
    return Drivers(result)


def _ranges(vary: Sequence[str]) -> dict[str, tuple[str, str, str]]:
    """Return the ranges of `FIELD = LOW, LIKELY, HIGH`."""
    found: dict[str, tuple[str, str, str]] = {}
    for path, text in map(read_lever, vary):
        values = [part.strip() for part in text.split(",")]
        if len(values) != 3 or not all(values) or "{" in text:
            raise O2simError(
                f"vary {path}: found {text or 'no values'!r}; allowed: low, likely and high with commas "
                "between them, such as power.grid.down.median = 1 h, 2 h, 6 h"
            )
        if path in found:
            raise O2simError(f"vary: found {path} twice; give its low, likely and high once")
        found[path] = (values[0], values[1], values[2])
    return found


def _check(source: Original, method: str, strategies: Sequence[str] | None, law: str, samples: int | None) -> None:
    if method not in METHODS:
        raise O2simError(f"method: found {method!r}; allowed: {', '.join(METHODS)}")
    if law not in LAWS:
        raise O2simError(f"law: found {law!r}; allowed: {', '.join(LAWS)}")
    known = source.scenario.strategies
    for name in known if strategies is None else strategies:
        if name not in known:
            raise O2simError(f"no strategy is named {name!r}; known: {', '.join(known)}")
    if not source.scenario.uncertain:
        raise O2simError(NOTHING.format(file=source.file))
    if samples is not None and not 2 <= samples <= MOST_SAMPLES:
        raise O2simError(f"samples: found {samples}; allowed: from 2 to {MOST_SAMPLES:,}")
    if method in (MORRIS, SOBOL):
        require_salib()


def _check_money(**given: float | None) -> None:
    """Raise O2simError for an amount that is none."""
    for name, amount in given.items():
        if amount is not None and not 0 <= amount < inf:
            raise O2simError(f"{name}: found {amount}; allowed: an amount of money a year, from 0")


def _units(currency: str | None) -> dict[str, str]:
    return {name: unit_of(name, currency) for name in (CHANCE, SUPPLY_HOURS, COST)}


def _bar_rows(result: Summary) -> list[list[Any]]:
    rows = []
    for strategy, item in result["strategies"].items():
        for measure, entry in item["best_guess"].items():
            rows.append([strategy, measure, "", "best guess", middle(entry), entry["low"], entry["high"]])
        for measure, bars in item["bars"].items():
            for bar in bars:
                for figure in ("low", "high", "difference"):
                    entry = bar[figure]
                    told = f"at {figure}, {entry['value']}" if "value" in entry else "high less low"
                    rows.append(
                        [strategy, measure, bar["field"], told, middle(entry), entry["low"], entry["high"]]
                    )
                rows.append([strategy, measure, bar["field"], "swing", bar["swing"], None, None])
    return rows


def _nested_rows(result: Summary) -> list[list[Any]]:
    rows = []
    for strategy, item in result["strategies"].items():
        for measure in MEASURES:
            for figure, entry in item.get(measure, {}).items():
                if isinstance(entry, dict):
                    rows.append([strategy, measure, "", figure, middle(entry), entry["low"], entry["high"]])
                elif isinstance(entry, int | float):
                    rows.append([strategy, measure, "", figure, entry, None, None])
    for decision in result["decisions"]:
        by = decision["by"]
        for strategy, often in decision["best_in"].items():
            rows.append([strategy, by, "", "share of draws in which it is the best", often, None, None])
        for strategy, regret in decision.get("regret", {}).items():
            entry = regret
            rows.append([strategy, by, "", "expected regret", entry["estimate"], entry["low"], entry["high"]])
        if decision.get("perfect_information"):
            entry = decision["perfect_information"]
            rows.append(
                ["", by, "", "value of perfect information", entry["estimate"], entry["low"], entry["high"]]
            )
            for each in decision["one_number"]:
                rows.append(["", by, each["field"], "value of knowing it", each["estimate"], 0.0, each["by_luck"]])
    return rows


def _index_rows(result: Summary) -> list[list[Any]]:
    rows = []
    for strategy, measures in result["strategies"].items():
        for measure, entries in measures.items():
            for each in entries or ():
                for figure, value in each.items():
                    if figure == "field" or figure.endswith("_half_width"):
                        continue
                    half = each.get(f"{figure}_half_width")
                    ends = (None, None) if half is None else (value - half, value + half)
                    rows.append([strategy, measure, each["field"], figure, value, *ends])
    return rows
