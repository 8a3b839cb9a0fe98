"""What `o2sim compare` prints."""

from __future__ import annotations

from o2sim.looks import cautions
from o2sim.looks import doubt as precision
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.questions.compare import headline, next_steps
from o2sim.questions.compare.content import content
from o2sim.runs.study import Study


def print_study(study: Study, summary: Summary) -> None:
    """Print the answer, the tables, the differences, what was not compared, cautions and provenance."""
    screen = Screen()
    screen.show(content(study, summary))
    best = headline.leading_strategy(summary)
    screen.next(next_steps.on_screen(summary, best, study.scenario.hospitals[best], study.scenario.file))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT)
    screen.paragraph(provenance(study.scenario, study.seed, precision.done(study), study.engine))
