"""Take the draws of a nested run from a table of joint draws: values that go together stay together.

Each row meets the same replications, as draws of ranges do: nested needs them crossed to take the noise of the
inner replications out. One-at-a-time, Morris and Sobol lay out points of their own, at which a number moves while
all others stay; rows in which all move together hold no such points.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

import numpy as np
from scipy.special import ndtri

from o2sim.errors import O2simError, QuantityError
from o2sim.quantities import units
from o2sim.questions.drivers.points import Evaluate, Responses, Table
from o2sim.questions.drivers.result import RankCorrelation
from o2sim.questions.drivers.settings import NESTED, DriversSettings
from o2sim.questions.drivers.values import Values
from o2sim.questions.whatif.point_runs import run_points
from o2sim.runs.study import ready_engine
from o2sim.scenario.changing.joint import Joint
from o2sim.scenario.changing.levers import quantity
from o2sim.scenario.changing.override import stated
from o2sim.scenario.types.uncertain import Uncertain

FEWEST_RANKED = 10  # rows of which a rank correlation says anything (assumption)


def check(settings: DriversSettings, vary: Sequence[str]) -> None:
    """Raise O2simError for what joint draws do not go with."""
    if settings.method != NESTED:
        raise O2simError(
            f"drivers: draws go with --method {NESTED}, found {settings.method}: it moves one number while all "
            f"others "
            "stay, or lays out points of its own, and rows of joint draws, in which all numbers move together, "
            "hold "
            f"no such points; add --method {NESTED}"
        )
    if vary:
        raise O2simError("drivers: draws go without --vary; give the field a column of the draws")
    if settings.samples is not None:
        raise O2simError("drivers: draws go without --samples: each row is one; leave it out")


def items_of(joint: Joint) -> tuple[Uncertain, ...]:
    """Return the columns as uncertain numbers: least, what the file says, greatest."""
    columns = zip(*(row.texts for row in joint.table.rows), strict=True)
    return tuple(_item(joint, path, column) for path, column in zip(joint.table.paths, columns, strict=True))


def values_of(joint: Joint) -> Values:
    """Return the rows as numbers, shape (rows, columns); words by the order in which they first come."""
    columns = zip(*(row.texts for row in joint.table.rows), strict=True)
    return np.column_stack([_numbers(column) for column in columns])


def of_rows(
    joint: Joint,
    settings: DriversSettings,
    count: int,
    progress: Any = None,
    run_options: Mapping[str, Any] | None = None,
) -> Evaluate:
    """Return the function that runs the file's scenario and then each row, whatever values it is given."""

    def evaluate(values: Values) -> Responses:
        scenarios = [joint.source.scenario, *joint.scenarios][: len(values)]
        ready = ready_engine(joint.source.scenario, settings.engine)
        how = (settings.strategies, count, settings.seed, ready, progress, run_options)
        tables = run_points(scenarios, *how)
        if any(len(table.stock_outs) < count for table in tables[0].values()):
            raise KeyboardInterrupt
        points = [{name: table.measures for name, table in point.items()} for point in tables]
        names = points[0]
        return Responses(
            {name: {m: np.array([at[name][m] for at in points]) for m in names[name]} for name in names}
        )

    return evaluate


def watched(evaluate: Evaluate, into: list[Responses]) -> Evaluate:
    """Return a function that keeps what another gives."""

    def call(values: Values) -> Responses:
        into.append(evaluate(values))
        return into[-1]

    return call


def ranks(
    joint: Joint, answers: Responses, confidence: float
) -> dict[str, dict[str, tuple[RankCorrelation, ...]]]:
    """Return by strategy and measure how each column goes with the mean of each row, the strongest first."""
    values = values_of(joint)[: answers.points - 1]
    return {
        name: {measure: _ranked(joint, values, table[1:], confidence) for measure, table in found.items()}
        for name, found in answers.by_strategy.items()
    }


def _ranked(joint: Joint, values: Values, table: Table, confidence: float) -> tuple[RankCorrelation, ...]:
    """Return Spearman's rank correlations; none where nothing varies, or with few rows.

    Intervals: Fisher's z with the standard error of Bonett and Wright (Psychometrika 65 (2000) 23-28, from
    memory).
    """
    means = table.mean(axis=1)
    if len(means) < FEWEST_RANKED or np.ptp(means) == 0:
        return ()
    from scipy.stats import spearmanr  # 30 MB and most of a second, which all else does without

    found = []
    for path, column in zip(joint.table.paths, values.T, strict=True):
        if np.ptp(column) == 0:
            continue
        r = float(np.clip(spearmanr(column, means).statistic, -1 + 1e-9, 1 - 1e-9))
        half = float(ndtri((1 + confidence) / 2)) * ((1 + r * r / 2) / (len(means) - 3)) ** 0.5
        low, high = np.tanh(np.arctanh(r) + np.array([-half, half]))
        found.append(RankCorrelation(path, r, float(low), float(high)))
    return tuple(sorted(found, key=lambda each: -abs(each.estimate)))


def _item(joint: Joint, path: str, texts: Sequence[str]) -> Uncertain:
    numbers = _numbers(texts)
    least, most = texts[int(numbers.argmin())], texts[int(numbers.argmax())]
    said = stated(joint.source, path, joint.source.scenario.strategies[0]) or "as by default"
    ends = (float(numbers.min()), float(np.median(numbers)), float(numbers.max()))
    return Uncertain(path, (least, said, most), ends, "", ends, False, (path,))


def _numbers(texts: Sequence[str]) -> Values:
    """Return a column as numbers in one unit; as ranks of first appearance where one is no number."""
    parts = [quantity(text) for text in texts]
    known = [part for part in parts if part is not None]
    if len(known) == len(texts) and len({unit for _, unit in known}) == 1:
        return np.array([float(number) for number, _ in known])
    for kind in get_args(units.Kind):
        try:
            return np.array([units.read(text, kind) for text in texts], dtype=np.float64)
        except QuantityError:
            continue
    order = list(dict.fromkeys(texts))
    return np.array([order.index(text) for text in texts], dtype=np.float64)
