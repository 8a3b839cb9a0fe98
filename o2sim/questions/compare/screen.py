"""What happened under each strategy, as blocks for terminal and notebook, and what `o2sim compare` prints."""

from __future__ import annotations

from o2sim.looks import both_doubts, cautions, doubt, words
from o2sim.looks import doubt as precision
from o2sim.looks.blocks import Block, Lines, Points
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.questions.compare import beside_text, brief, costing_text, headline, next_steps, tables
from o2sim.runs.study import Study


def print_study(study: Study, summary: Summary, full: bool = False, written: bool = False) -> None:
    """Print the answer, what to decide by, what to do next, cautions and provenance; in full, all figures.

    written: a folder of results is written as well.
    """
    screen, scenario = Screen(), study.scenario
    screen.show(content(study, summary) if full else brief.content(study, summary))
    best = headline.leading_strategy(summary)
    hospital = scenario.hospitals[best]
    screen.next(next_steps.on_screen(summary, best, hospital, scenario.file, brief=not full, written=written))
    screen.paragraph(*((cautions.NOT_COMPARED, *cautions.SHORT) if full else (cautions.IN_ONE_LINE,)))
    ran = precision.done(study) + both_doubts.done(summary.get("draws"))
    screen.paragraph(provenance(scenario, study.seed, ran, study.engine))


def content(study: Study, summary: Summary) -> list[Block]:
    """Return what is to be said of a study: the answer, the tables, the differences."""
    hospital = study.scenario.hospitals[next(iter(study.outcomes))]
    currency = hospital.costs.currency if hospital.costs else ""
    best = headline.leading_strategy(summary)
    differences = words.differences(summary, best)
    return [
        headline.answer(summary, currency),
        *filter(None, [beside_text.sentence(summary, best)]),
        Lines(tuple(precision.sentences(summary))),
        *both_doubts.blocks(summary),
        words.stock_out_note(hospital),
        *beside_text.tables(summary),
        *tables.all_tables(summary, currency),
        *costing_text.blocks(summary),
        *tables.without_price({name: study.scenario.hospitals[name] for name in study.outcomes}),
        *(Points(tuple(said), f"{heading}, {doubt.same_luck(summary)}") for heading, said in differences),
    ]
