"""What `o2sim size` prints."""

from __future__ import annotations

from o2sim.looks import (
    cautions,
)
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.questions.compare import (
    next_steps,
)
from o2sim.questions.size import (
    text as sizing,
)
from o2sim.scenario.types.hospital import Scenario


def print_sizing(scenario: Scenario, result: Summary, answer: next_steps.Answer | None) -> None:
    """Print how much is enough, the curve, the rules of thumb beside it, cautions and provenance."""
    screen = Screen()
    for line in sizing.answer_lines(result):
        screen.paragraph(line)
    screen.tables(sizing.tables(result))
    screen.next([] if answer is None else next_steps.after_sizing(result, answer))
    screen.paragraph(*cautions.SHORT[:3])
    done = f"{result['replications']:,} replications" + ("" if result["complete"] else " asked for, not all done")
    screen.paragraph(provenance(scenario, result["seed"], done, result["engine"]))
