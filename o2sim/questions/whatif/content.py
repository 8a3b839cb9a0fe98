"""What if, as blocks: what was asked, every point, where the best strategy changes."""

from __future__ import annotations

from o2sim.looks import cautions
from o2sim.looks.blocks import Block
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.questions.whatif import text
from o2sim.scenario.types.hospital import Scenario


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


def print_whatif(scenario: Scenario, result: Summary) -> None:
    """Print every point, where the best strategy changes, cautions and provenance."""
    screen = Screen()
    screen.show(content(result))
    screen.next(text.next_steps(result))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT[:3])
    screen.paragraph(provenance(scenario, result["seed"], done(result), result["engine"]))
