"""What of a study over joint draws is due to unknown inputs, and what to luck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.measures.names import CHANCE, COST, HOURS
from o2sim.measures.replications import Replications
from o2sim.runs.identity import DrawnFrom, drawn_from
from o2sim.scenario.changing.joint import Joint
from o2sim.statistics.clusters import split
from o2sim.statistics.estimator import Column
from o2sim.typed import Share, item

SPLIT = (CHANCE, HOURS, COST)


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
    """The draws, and by strategy and measure how the variance splits; null where that cannot be told."""

    of: DrawnFrom = item(flat=True)
    split: Mapping[str, Mapping[str, Parts]] | None = item(
        "null with fewer than two replications of a row: unknown inputs and luck cannot be told apart"
    )


def both_doubts(joint: Joint, tables: Mapping[str, Replications], confidence: float) -> BothDoubts:
    """Return the draws and the split of the chance (0 or 1 a replication), hours and cost a year, by strategy."""
    replications = min(len(each.stock_out) for each in tables.values())
    found = {name: _parts(table, joint.rows, confidence) for name, table in tables.items()}
    can_tell = all(found.values())
    return BothDoubts(drawn_from(joint, replications), found if can_tell else None)


def _parts(table: Replications, rows: int, confidence: float) -> dict[str, Parts]:
    """Return the split of each measure; empty where no row was met twice."""
    columns: dict[str, Column | None] = {
        CHANCE: table.stock_out.astype(float), HOURS: table.values[HOURS], COST: table.cost
    }  # fmt: skip
    made = {name: split(columns[name], rows, confidence) for name in SPLIT if columns[name] is not None}
    return {n: Parts(s.inputs, s.luck, s.share, s.low, s.high) for n, s in made.items() if s is not None}
