"""What if, as blocks: what was asked, every point, where the best strategy changes."""

from __future__ import annotations

from o2sim.looks.blocks import Block
from o2sim.looks.words import Summary
from o2sim.questions.whatif import text


def content(result: Summary) -> list[Block]:
    """Return what is to be said of a what-if, what was asked first."""
    return [
        text.asked(result),
        *text.best_tables(result),
        text.no_break_even(result),
        *text.break_even_tables(result),
    ]


def done(result: Summary) -> str:
    """Return how many replications were run, for the provenance."""
    return f"{result['replications']:,} replications a point"
