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
from o2sim.questions.size.content import content, done
from o2sim.scenario.types.hospital import Scenario


def print_sizing(scenario: Scenario, result: Summary, answer: next_steps.Answer | None) -> None:
    """Print how much is enough, the curve, the rules of thumb beside it, cautions and provenance."""
    screen = Screen()
    screen.show(content(result))
    screen.next([] if answer is None else next_steps.after_sizing(result, answer))
    screen.paragraph(*cautions.SHORT[:3])
    screen.paragraph(provenance(scenario, result["seed"], done(result), result["engine"]))
