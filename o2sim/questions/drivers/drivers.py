"""Find what drives the answer of a scenario with uncertain numbers: the function behind `o2sim drivers`.

Four methods. One at a time: each number at its two ends (tornado). Nested: draws of all numbers together, and
replications inside each, which separates what is unknown from chance and gives the value of finding out.
Morris and Sobol: screening and shares of variance, through SALib. All points of a run share their luck: the same
replications under the same seed everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from o2sim.errors import O2simError
from o2sim.measures.measures import batch_in_words
from o2sim.measures.names import CHANCE
from o2sim.measures.table import unit_of
from o2sim.quantities.units import share
from o2sim.questions.drivers import joint_rows
from o2sim.questions.drivers.nested import nested
from o2sim.questions.drivers.points import MEASURES, OF_FUNDS, Evaluate, Responses, of_scenario
from o2sim.questions.drivers.regret import Limits
from o2sim.questions.drivers.result import ByLoss, Found, Nested, OneAtATime, Range, Screened
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
from o2sim.questions.drivers.tornado import one_at_a_time
from o2sim.questions.whatif.whatif import check_strategies
from o2sim.runs.identity import Origin, Ran, drawn_from
from o2sim.scenario.changing.fleet_levels import what_became
from o2sim.scenario.changing.joint import Joint, joint_draws
from o2sim.scenario.changing.levers import read_lever
from o2sim.scenario.changing.override import Original, original
from o2sim.scenario.changing.ranges import levels_of, with_ranges
from o2sim.scenario.types.hospital import DAY_S, Scenario
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.settings import takes
from o2sim.shown import Chart, Shown, chart_of, frame_of
from o2sim.statistics import doubt
from o2sim.statistics.estimator import Estimator
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
    """What drives the answer: answers, and result, the object that `o2sim drivers --json` prints."""

    answers: Found = field(repr=False)

    @cached_property
    def result(self) -> dict[str, Any]:
        """Return the answers as plain dicts, lists, texts and numbers."""
        found: dict[str, Any] = as_json(self.answers)
        return found

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the columns of the long table."""
        return ("method", "strategy", "measure", "field", "figure", "estimate", "low", "high", "levels")

    def rows(self) -> list[list[Any]]:
        """Return the long table: a figure of one strategy, measure and field a row; "" where there is none."""
        said = self.answers
        makers: dict[type, Callable[[Any], Iterator[Sequence[Any]]]] = {
            OneAtATime: _bar_rows, Nested: _nested_rows, Screened: _index_rows
        }  # fmt: skip
        rows = ((said.method, *row, said.levels.levels) for row in makers[type(said)](said))
        return [["" if cell is None else cell for cell in row] for row in rows]

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
    fleet is uncertain, else they move with it. draws (with nested): a CSV file or a data frame of joint draws,
    whose rows are drawn in place of the ranges (see run_study). run_options: workers or crew, and store, as
    run_study takes them. progress is given the replications done and of how many. Ctrl-C gives the points done so
    far, `complete` False. Raises O2simError.
    """
    kept = source if isinstance(source, Original) else original(source)
    ranges = _ranges([vary] if isinstance(vary, str) else list(vary))
    joint = None
    if settings.draws is not None:
        joint_rows.check(settings, list(ranges))
        joint = joint_draws(settings.draws, kept)
    kept = with_ranges(kept, ranges, move_levels=not settings.hold_levels)
    method, strategies, law, seed = settings.method, settings.strategies, settings.law, settings.seed
    target, budget, worth = share(settings.target, "target"), settings.budget, settings.worth
    items = kept.scenario.uncertain if joint is None else joint_rows.items_of(joint)
    _check(kept, method, strategies, law, settings.samples, any_uncertain=bool(items))
    _check_money(budget=budget, worth=worth)
    count = REPLICATIONS[method] if settings.replications is None else settings.replications
    samples = SAMPLES.get(method, 0) if settings.samples is None else settings.samples
    if joint is None:
        evaluate = of_scenario(
            kept,
            strategies=strategies,
            replications=count,
            seed=seed,
            engine=settings.engine,
            run_options=run_options,
            progress=progress,
            move_levels=not settings.hold_levels,
        )
    else:
        evaluate = joint_rows.of_rows(joint, settings, count, progress, run_options)
    hospitals = list(kept.scenario.hospitals.values())
    estimator = Estimator(confidence, batch_in_words(count, hospitals[0].horizon_s))
    currency = next((hospital.costs.currency for hospital in hospitals if hospital.costs), None)
    counts_money = any(hospital.funds is not None for hospital in hospitals)
    asked: dict[str, Any] = {
        "of": Origin(kept.scenario.name, kept.scenario.hash),
        "ran": Ran(__version__, settings.engine, seed, count),
        "horizon_days": hospitals[0].horizon_s / DAY_S,
        "target": target,
        "budget": budget,
        "worth": worth,
        "confidence": confidence,
        doubt.KEY: HOLDS[method],
        "currency": currency,
        "units": {name: unit_of(name, currency) for name in MEASURES if counts_money or name not in OF_FUNDS},
        "method": method,
        "uncertain": tuple(Range(item.path, *item.texts, tuple(item.places)) for item in items),
        "levels": what_became(
            kept.scenario, strategies, lambda names: levels_of(kept, names), settings.hold_levels
        ),
    }
    if method == ONE_AT_A_TIME:
        bars = one_at_a_time(items, evaluate, estimator)
        complete = len(next(iter(bars.values())).bars[CHANCE]) == len(items)
        return Drivers(OneAtATime(**asked, complete=complete, strategies=bars))
    drawn: dict[str, Any] = {"law": law, "samples": samples}
    limits = (target, budget, worth)
    if joint is not None:
        return Drivers(Nested(**asked, **_over_rows(joint, items, evaluate, estimator, seed, limits)))
    if method == NESTED:
        found = nested(items, evaluate, estimator, seed=seed, limits=limits, **drawn)
        return Drivers(Nested(**asked, **drawn, **found))
    found = screening(items, evaluate, method, seed=seed, confidence=confidence, **drawn)
    return Drivers(Screened(**asked, **drawn, **found))


def _over_rows(
    joint: Joint,
    items: Sequence[Uncertain],
    evaluate: Evaluate,
    estimator: Estimator,
    seed: int,
    limits: Limits,
) -> dict[str, Any]:
    """Return what a nested run over the rows of joint draws gives, as Nested has it."""
    seen: list[Responses] = []
    found = nested(
        items,
        joint_rows.watched(evaluate, seen),
        estimator,
        law="",
        samples=joint.rows,
        seed=seed,
        limits=limits,
        drawn=joint_rows.values_of(joint),
    )
    met = drawn_from(joint, joint.rows * seen[0].replications)
    return {
        **found,
        "law": None,
        "samples": joint.rows,
        "drawn_from": replace(met, rows_met=found["draws"]),
        "rank_correlations": joint_rows.ranks(joint, seen[0], estimator.confidence),
    }


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


def _check(
    source: Original,
    method: str,
    strategies: Sequence[str] | None,
    law: str,
    samples: int | None,
    *,
    any_uncertain: bool,
) -> None:
    if method not in METHODS:
        raise O2simError(f"method: found {method!r}; allowed: {', '.join(METHODS)}")
    if law not in LAWS:
        raise O2simError(f"law: found {law!r}; allowed: {', '.join(LAWS)}")
    check_strategies(source, strategies)
    if not any_uncertain:
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


def _numbers(entry: Any) -> tuple[float, float | None, float | None]:
    """Return the middle of an estimate and its ends, of which a plain number has none."""
    return (entry, None, None) if isinstance(entry, int | float) else (entry.middle, entry.low, entry.high)


def _bar_rows(result: OneAtATime) -> Iterator[Sequence[Any]]:
    for strategy, item in result.strategies.items():
        for measure, guess in item.best_guess.items():
            yield strategy, measure, "", "best guess", *_numbers(guess)
        for measure, bar in ((measure, bar) for measure, bars in item.bars.items() for bar in bars):
            for figure, entry in (
                (f"at low, {bar.low.value}", bar.low),
                (f"at high, {bar.high.value}", bar.high),
                ("high less low", bar.difference),
                ("swing", bar.swing),
            ):
                yield strategy, measure, bar.field, figure, *_numbers(entry)


def _nested_rows(result: Nested) -> Iterator[Sequence[Any]]:
    for strategy, item in result.strategies.items():
        for measure in (name for name in MEASURES if name in item):
            for figure, entry in vars(item[measure]).items():
                if entry is not None:
                    yield strategy, measure, "", figure, *_numbers(entry)
    for rule in result.decisions:
        for strategy, often in rule.best_in.items():
            yield strategy, rule.by, "", "share of draws in which it is the best", *_numbers(often)
        if isinstance(rule, ByLoss):
            for strategy, regret in rule.regret.items():
                yield strategy, rule.by, "", "expected regret", *_numbers(regret)
            yield "", rule.by, "", "value of perfect information", *_numbers(rule.perfect_information)
            for each in rule.one_number:
                yield "", rule.by, each.field, "value of knowing it", each.estimate, 0.0, each.by_luck


def _index_rows(result: Screened) -> Iterator[Sequence[Any]]:
    for strategy, measures in result.strategies.items():
        for measure, index in ((measure, index) for measure, found in measures.items() for index in found or ()):
            figures = vars(index)
            for figure, value in figures.items():
                if figure != "field" and not figure.endswith("_half_width"):
                    half = figures.get(f"{figure}_half_width")
                    ends = (None, None) if half is None else (value - half, value + half)
                    yield strategy, measure, index.field, figure, value, *ends
