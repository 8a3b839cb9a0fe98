"""Figures over joint draws in words: which rows were met, and what is due to unknown inputs rather than luck."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from o2sim.looks.blocks import Block, Lines, Table
from o2sim.looks.words import joined, number, percent
from o2sim.measures.names import CHANCE, COST, HOURS
from o2sim.measures.table import head_of
from o2sim.scenario.changing.joint import Joint

MOST_NAMED = 4  # keys in a sentence
MEASURES = (CHANCE, HOURS, COST)


def notes(joint: Joint) -> Iterator[str]:
    """Yield what is to be known of joint draws before they are run."""
    if joint.likely:
        count = len(joint.likely)
        values = "1 uncertain value has" if count == 1 else f"{count} uncertain values have"
        yield (
            f"{values} no column in {joint.table.file}; this takes the likely one{'s' if count > 1 else ''}: "
            f"{_named(joint.likely)}."
        )


def blocks(summary: Mapping[str, Any]) -> list[Block]:
    """Return what is to be said of the draws of a summary; nothing without any."""
    drawn = summary.get("draws")
    if drawn is None:
        return []
    lines = Lines((" ".join(rows_met(drawn, summary["replications"])), *([] if drawn["split"] else [CANNOT_TELL])))
    return [lines, *([_split(summary, drawn["split"])] if drawn["split"] else [])]


CANNOT_TELL = (
    "Intervals hold both doubts. How much of them is due to unknown inputs and how much to luck cannot be told "
    "with "
    "fewer than two replications of a row: ask for at least twice as many replications as there are rows."
)


def rows_met(drawn: Mapping[str, Any], replications: int) -> Iterator[str]:
    """Yield which rows were met how often, sentence by sentence."""
    rows, columns = drawn["rows"], drawn["columns"]
    yield (
        f"Over {rows:,} joint draws of {_named(columns)} (rows of {drawn['file']}, in turn; each strategy meets "
        f"the "
        "same row with the same luck)."
    )
    if replications < rows:
        yield (
            f"Only the first {replications:,} rows were met: where rows stand in some order this is a biased "
            f"part of "
            f"them; ask for {rows:,} replications or a multiple."
        )
    elif replications % rows:
        yield (
            f"{replications:,} is no multiple of {rows:,}: the first {replications % rows:,} rows were met once "
            f"more "
            "than the others."
        )


def _split(summary: Mapping[str, Any], found: Mapping[str, Any]) -> Table:
    """Return how the variance of one replication splits, a row for each strategy."""
    measures = [name for name in MEASURES if any(name in each for each in found.values())]
    rows = tuple((name, *(_share(each.get(m)) for m in measures)) for name, each in found.items())
    heads = ("Due to unknown inputs, of the variance", *(head_of(name) for name in measures))
    level = percent(summary["confidence"])
    note = (
        "The rest is luck. Of the variance of a single replication, which holds both; more replications shrink "
        "what "
        f"luck does to an interval, never what unknown inputs do. In brackets the {level} interval, from "
        f"resampled "
        "rows."
    )
    return Table(heads, rows, note)


def _share(parts: Mapping[str, Any] | None) -> str:
    """Return "23 % (12–35)", "-" where nothing varies."""
    if parts is None or parts["by_inputs"] + parts["by_luck"] <= 0:
        return "-"
    low, high = (number(100 * parts[end]) for end in ("low", "high"))
    return f"{percent(parts['inputs_share'])} ({low}–{high})"


def _named(keys: Any) -> str:
    """Return keys in a sentence, the first few of many."""
    named = list(keys[:MOST_NAMED])
    left = len(keys) - len(named)
    return joined([*named, *([f"{left} more"] if left else [])])


def done(drawn: Mapping[str, Any] | None) -> str:
    """Return the draws for the line of provenance: their hash and number of rows; "" without any."""
    return "" if drawn is None else f", draws {drawn['file_hash']} ({drawn['rows']:,} rows)"
