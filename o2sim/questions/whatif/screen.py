"""What `o2sim whatif` prints."""

from __future__ import annotations

from o2sim.looks import (
    cautions,
)
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.questions.whatif import (
    text as whatif,
)
from o2sim.questions.whatif.content import content, done
from o2sim.scenario.types.hospital import Scenario


def print_whatif(scenario: Scenario, result: Summary) -> None:
    """Print every point, where the best strategy changes, cautions and provenance."""
    screen = Screen()
    screen.show(content(result))
    screen.next(whatif.next_steps(result))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT[:3])
    screen.paragraph(provenance(scenario, result["seed"], done(result), result["engine"]))
