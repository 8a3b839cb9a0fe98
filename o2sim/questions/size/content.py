"""How much is enough, as blocks: the answer, the curve, the rules of thumb beside it."""

from __future__ import annotations

from o2sim.looks.blocks import Block
from o2sim.looks.words import Summary
from o2sim.questions.size import text


def content(result: Summary) -> list[Block]:
    """Return what is to be said of a sizing."""
    return [*text.answer_lines(result), *text.tables(result)]


def done(result: Summary) -> str:
    """Return how many replications were run, for the provenance."""
    return f"{result['replications']:,} replications" + ("" if result["complete"] else " asked for, not all done")
