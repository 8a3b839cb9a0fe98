"""What happened under each strategy, as blocks: the answer, the tables, the differences."""

from __future__ import annotations

from o2sim.looks import doubt, words
from o2sim.looks import doubt as precision
from o2sim.looks.blocks import Block, Lines, Points
from o2sim.looks.words import Summary
from o2sim.questions.compare import class_table, headline, tables
from o2sim.runs.study import Study


def content(study: Study, summary: Summary) -> list[Block]:
    """Return what is to be said of a study."""
    hospital = study.scenario.hospitals[next(iter(study.outcomes))]
    currency = hospital.costs.currency if hospital.costs else ""
    return [
        headline.answer(summary, currency),
        Lines(tuple(precision.sentences(summary))),
        words.stock_out_note(hospital.tolerated_gap_s),
        *tables.main_tables(summary, currency),
        *tables.cause_tables(summary),
        *class_table.class_tables(summary),
        *class_table.ward_tables(summary),
        *tables.cost_tables(summary, currency),
        *(
            Points(tuple(said), f"{heading}, {doubt.SAME_LUCK}")
            for heading, said in words.differences(summary, headline.leading_strategy(summary))
        ),
    ]
