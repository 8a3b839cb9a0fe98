"""What `o2sim compare` prints."""

from __future__ import annotations

from o2sim.looks import (
    cautions,
    doubt,
    words,
)
from o2sim.looks import precision_text as precision
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.questions.compare import (
    class_table,
    headline,
    next_steps,
    tables,
)
from o2sim.runs.study import Study


def print_study(study: Study, summary: Summary) -> None:
    """Print the answer, the tables, the differences, what was not compared, cautions and provenance."""
    screen = Screen()
    hospital = study.scenario.hospitals[next(iter(study.outcomes))]
    currency = hospital.costs.currency if hospital.costs else ""
    screen.paragraph(headline.answer(summary, currency))
    screen.paragraph(*precision.sentences(summary))
    screen.paragraph(words.stock_out_note(hospital.tolerated_gap_s))
    screen.tables(tables.main_tables(summary, currency))
    screen.tables(tables.cause_tables(summary))
    screen.tables(class_table.class_tables(summary))
    screen.tables(class_table.ward_tables(summary))
    screen.tables(tables.cost_tables(summary, currency))
    for heading, said in words.differences(summary, headline.leading_strategy(summary)):
        lines = [f"  - {text}" for text in said]
        screen.paragraph(f"{heading}, {doubt.SAME_LUCK}", *lines)
    best = headline.leading_strategy(summary)
    screen.next(next_steps.on_screen(summary, best, study.scenario.hospitals[best], study.scenario.file))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT)
    screen.paragraph(provenance(study.scenario, study.seed, precision.done(study), study.engine))
