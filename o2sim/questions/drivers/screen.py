"""What `o2sim drivers` prints."""

from __future__ import annotations

from o2sim.looks import cautions
from o2sim.looks.screen import Screen
from o2sim.questions.drivers.content import content, provenance
from o2sim.questions.drivers.text import Result


def print_drivers(result: Result) -> None:
    """Print what was asked, what matters in words, the tables, cautions and provenance."""
    screen = Screen()
    screen.show(content(result))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT[:3])
    screen.paragraph(provenance(result))
