"""What of a study over joint draws is due to unknown inputs, and what to luck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from o2sim.measures.names import CHANCE, COST, HOURS
from o2sim.measures.replications import Replications
from o2sim.runs.identity import DrawnFrom, drawn_from
from o2sim.scenario.changing.joint import Joint
from o2sim.statistics.clusters import split
from o2sim.statistics.estimator import Column
from o2sim.typed import Share, item

FEWEST_SEEN = 10  # replications with, and without, a shortfall: of fewer a split says nothing (assumption)


@dataclass(frozen=True)
class Parts:
    """The variance of one replication's value: between rows of the draws, and by luck within one."""

    by_inputs: float = item("variance between rows, free of luck")
    by_luck: float = item("variance between replications of one row")
    inputs_share: Share = item("of both together")
    low: Share = item("of the share: bootstrap of rows")
    high: Share = item()


@dataclass(frozen=True)
class BothDoubts:
    """The draws, and by strategy and measure how the variance splits; null where that cannot be told.

    The chance of a shortfall is left out where it was seen, or was not, in fewer than ten replications.
    """

    of: DrawnFrom = item(flat=True)
    split: Mapping[str, Mapping[str, Parts]] | None = item(
        "null with fewer than two replications of a row: unknown inputs and luck cannot be told apart"
    )


def both_doubts(joint: Joint, tables: Mapping[str, Replications], confidence: float) -> BothDoubts:
    """Return the draws and the split of the chance (0 or 1 a replication), hours and cost a year, by strategy."""
    replications = min(len(each.stock_out) for each in tables.values())
    found = {name: _parts(table, joint.rows, confidence) for name, table in tables.items()}
    return BothDoubts(drawn_from(joint, replications), found if all(found.values()) else None)


def _parts(table: Replications, rows: int, confidence: float) -> dict[str, Parts]:
    """Return the split of each measure; empty where no row was met twice."""
    chance: Column = table.stock_out.astype(np.float64)
    seen = min(int(chance.sum()), len(chance) - int(chance.sum()))
    columns = {
        CHANCE: chance if seen >= FEWEST_SEEN else None,
        HOURS: table.values[HOURS],
        COST: table.cost,
    }
    made = {name: split(each, rows, confidence) for name, each in columns.items() if each is not None}
    return {n: Parts(s.inputs, s.luck, s.share, s.low, s.high) for n, s in made.items() if s is not None}
