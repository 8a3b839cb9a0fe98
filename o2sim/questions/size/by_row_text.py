"""A sizing over joint draws in words: over which rows it holds, and what single rows would need."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.looks import both_doubts
from o2sim.looks.words import number, percent
from o2sim.questions.size.phrases import in_words
from o2sim.questions.size.result import ByRow, SizingResult, Values
from o2sim.typed import as_json

NO_OTHER_LEVELS = "Other levels of the reorder rule are not tried over draws: `o2sim size` without them does so."


def over_draws(result: SizingResult) -> Iterator[str]:
    """Yield which rows were met, and the range of what single rows need; nothing without draws."""
    if result.draws is None:
        return
    yield " ".join(both_doubts.rows_met(as_json(result.draws), result.ran.replications))
    if result.by_row is None:
        least = -(-result.draws.rows // result.target)
        yield (
            "What single rows need cannot be said: that takes one over the target replications of each, "
            f"{number(least)} in all."
        )
    else:
        yield _range(result, result.by_row)
    yield NO_OTHER_LEVELS


def _range(result: SizingResult, found: ByRow) -> str:
    """Return the answers of single rows: in 5, 50 and 95 % of them."""
    none, least = "", result.curve[0].values
    if found.none_in:
        none = f" In {percent(found.none_in)} of the rows even the largest tried is not."
    return (
        f"Were the inputs known, row by row: {_said(found.low, least)} would be enough in 5 % of the rows, "
        f"{_said(found.middle, least)} in half of them, {_said(found.high, least)} in 95 %.{none} These are "
        f"estimates from "
        f"{found.replications_of_a_row:,} replications of each row, so luck spreads them too; they guarantee "
        f"nothing for {percent(result.target)}."
    )


def _said(values: Values | None, least: Values) -> str:
    if values is None:
        return "more than the largest tried"
    return f"{in_words(values)}{' or less (the least tried)' if values == least else ''}"
