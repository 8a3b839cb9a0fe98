"""How a sizing names values, causes and chances: phrases that its words and sheets share."""

from __future__ import annotations

from o2sim.looks.words import is_year, joined, number, quoted, span
from o2sim.outcome import SUPPLY_CAUSES, Cause
from o2sim.questions.size.result import SizingResult, Values


def in_words(values: Values) -> str:
    """Return values as `cylinders.fleet 44 and concentrators.count 5`."""
    return joined([f"{path} {text}" for path, text in values.items()])


def runs_of(share: float, days: float) -> str:
    """Return a share as `5 in 100 years`, or of runs of the horizon."""
    size = 100 if share >= 0.01 else 1_000
    return f"{number(share * size)} in {size:,} " + ("years" if is_year(days) else f"runs of {span(days)}")


def named_causes(result: SizingResult) -> str:
    """Return the causes that the target counts: by name, unless they are all, or all of supply."""
    causes = set(result.causes)
    if causes == {cause.label for cause in Cause}:
        return "any cause"
    if causes == {cause.label for cause in SUPPLY_CAUSES}:
        return "any cause of a supply shortfall"
    return quoted(result.causes)
