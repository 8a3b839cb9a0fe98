"""A study of options and the decision in, the terminal's text, the files and the part of the report out."""

from __future__ import annotations

from pathlib import Path

from o2sim.looks import cautions
from o2sim.looks import doubt as precision
from o2sim.looks.blocks import Block, Part, Points, Strong
from o2sim.looks.doubt import OF_LOW_AND_HIGH
from o2sim.looks.files import write_csv
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.looks.workbook import Sheet
from o2sim.questions.choose import text as decision_text
from o2sim.questions.choose.text import Decision
from o2sim.runs.study import Study

QUESTION = "Which should be bought, for what money?"


def print_decision(study: Study, summary: Summary, decision: Decision) -> None:
    """Print which option to buy, the options, what more money buys, the cheque, the list, cautions, provenance."""
    screen = Screen()
    screen.show(_blocks(summary, decision))
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT)
    screen.paragraph(_provenance(study))


def _provenance(study: Study) -> str:
    what = f"{len(study.outcomes)} options, {precision.done(study)}"
    return provenance(study.scenario, study.seed, what, study.engine)


def _blocks(summary: Summary, decision: Decision) -> list[Block]:
    told = decision_text.sentences(decision, summary["replications"], summary["horizon_days"])
    more, bought = decision_text.steps(decision), decision_text.procurement_table(decision)
    told += precision.sentences(summary)
    blocks: list[Block] = [*told, decision_text.options_table(decision)]
    if more:
        blocks += [decision_text.MORE_MONEY, Points(tuple(more))]
    blocks += decision_text.cheque_sentences(decision)
    blocks += decision_text.cheque_tables(decision)
    return blocks if bought is None else [*blocks, bought]


def decision_part(study: Study, summary: Summary, decision: Decision, *, drawn: bool, again: str = "") -> Part:
    """Return the part of the report that says which option to buy; again: the flags it was asked for with."""
    blocks = _blocks(summary, decision)
    picks = 1 + sum(decision[limit] is not None for limit in ("within_budget", "within_target"))
    asked = blocks.pop(picks - 1)  # what fits the limits, the last of them, is what was asked for
    blocks.insert(0, Strong(asked) if isinstance(asked, str) else asked)
    if drawn and decision["frontier"]:
        from o2sim.questions.choose.chart import frontier

        blocks.insert(1, frontier(decision))
    blocks.append(_provenance(study))
    return Part("options", "Which to buy", tuple(blocks), QUESTION, again)


def decision_sheets(decision: Decision) -> list[Sheet]:
    """Return the options, the cheque and the list of what to buy as sheets of typed cells."""
    found = [
        Sheet(
            "Options",
            [*decision_text.columns(decision), OF_LOW_AND_HIGH],
            list(decision_text.csv_rows(decision)),
            (44,),
        )
    ]
    paid, bought = decision["cheque"], decision.get("procurement") or ()
    if paid is not None:
        keys = ("item", "count", "price", "amount", "life_years")
        rows = [tuple(line[key] for key in keys) for line in paid["purchases"]]
        rows += [(f"again in year {each['year']}", None, None, each["amount"]) for each in paid["replacements"]]
        rows.append(("each month after that", None, None, paid["recurrent_a_month"]["mean"]))
        heads = ("item", "number", "each", f"amount, {paid['currency']}", "lasts, years")
        found.append(Sheet("Cheque", heads, rows, (36,)))
    keys = ("item", "quantity", "unit", "rule", "basis")
    rows = [tuple(entry[key] for key in keys) for entry in bought]
    heads = ("item", "number", "unit", "why so many", "where from")
    return [*found, Sheet("To buy", heads, rows, (40, 10, 14, 80, 30))] if rows else found


def stage_decision(folder: Path, decision: Decision) -> None:
    """Write options.csv, procurement.csv and the drawing into a folder."""
    write_csv(folder / "options.csv", decision_text.columns(decision), decision_text.csv_rows(decision))
    bought = decision_text.procurement_table(decision)
    if bought is not None:
        write_csv(folder / "procurement.csv", ("item", *bought.columns[1:]), bought.rows)
    if decision["frontier"]:
        from o2sim.looks.drawing import save
        from o2sim.questions.choose.chart import frontier

        for suffix in (".png", ".svg"):
            save(frontier(decision).figure, folder / f"frontier{suffix}")
