"""Show which to buy: on the terminal, in files, as a part and sheets of the report."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from o2sim.looks import cautions, unbought, words
from o2sim.looks import doubt as precision
from o2sim.looks.blocks import Block, Lines, Part, Points, Strong
from o2sim.looks.doubt import OF_LOW_AND_HIGH
from o2sim.looks.files import write_csv
from o2sim.looks.screen import Screen, provenance
from o2sim.looks.words import Summary
from o2sim.looks.workbook import Sheet
from o2sim.questions.choose import text
from o2sim.questions.choose.result import Cheque, Decision
from o2sim.questions.compare import beside_text
from o2sim.questions.equipment.result import Entry
from o2sim.runs.study import Study

NARROW = 10  # characters, of a column of numbers in a sheet
QUESTION = "Which should be bought, for what money?"


def print_decision(study: Study, summary: Summary, decision: Decision) -> None:
    """Print which option to buy, the options, what more money buys, the cheque, the list, cautions, provenance."""
    note = words.stock_out_note(next(iter(study.scenario.hospitals.values())))
    beside = Lines((note, cautions.NOT_COMPARED, *cautions.SHORT))
    Screen().show([*_blocks(summary, decision), beside, _provenance(study)])


def _provenance(study: Study) -> str:
    what = f"{len(study.outcomes)} options, {precision.done(study)}"
    return provenance(study.scenario, study.seed, what, study.engine)


def _blocks(summary: Summary, decision: Decision) -> list[Block]:
    more, bought = text.steps(decision), text.procurement_table(decision)
    return [
        *text.sentences(decision, summary["replications"], summary["horizon_days"]),
        *precision.sentences(summary),
        *filter(None, [beside_text.sentence(summary, decision.chosen)]),
        text.options_table(decision),
        *beside_text.tables(summary, text.to_show_beside(decision)),
        *text.yard(decision),
        *((text.MORE_MONEY, Points(tuple(more))) if more else ()),
        *text.cheque_sentences(decision),
        *text.cheque_tables(decision),
        *(() if bought is None else (bought,)),
    ]


def decision_part(study: Study, summary: Summary, decision: Decision, *, again: str = "") -> Part:
    """Return the part of the report that says which option to buy; again: the flags it was asked for with.

    The drawing stands on the first page, and what to buy, item by item, in the annex.
    """
    listed = text.procurement_table(decision)
    blocks = [block for block in _blocks(summary, decision) if block != listed]
    picks = 1 + sum(limit is not None for limit in (decision.within_budget, decision.within_target))
    asked = blocks.pop(picks - 1)  # what fits the limits, the last of them, is what was asked for
    blocks.insert(0, Strong(asked) if isinstance(asked, str) else asked)
    return Part("options", "Which to buy", (*blocks, _provenance(study)), QUESTION, again)


def decision_annex(decision: Decision) -> list[Part]:
    """Return the part of the annex that lists what to buy; nothing where it was not looked for."""
    listed = text.procurement_table(decision)
    return [] if listed is None else [Part("to-buy", "Annex: what to buy", (listed,), place="annex")]


def decision_sheets(decision: Decision) -> list[Sheet]:
    """Return the options, the cheque and the list of what to buy as sheets of typed cells."""
    heads = [*text.columns(decision), OF_LOW_AND_HIGH]
    found, paid = (
        [Sheet("Options", heads, list(text.csv_rows(decision)), (44, *[NARROW] * (len(heads) - 1)))],
        decision.cheque,
    )
    if paid is not None:
        found.append(_cheque_sheet(paid, unbought.clause(decision.options[decision.chosen].unbought)))
    return [*found, _to_buy_sheet(decision.procurement)] if decision.procurement else found


def _cheque_sheet(paid: Cheque, lacking: str) -> Sheet:
    """Return the cheque: what is bought, in all, what comes later, and by name what is in no total.

    lacking: what was needed and not bought, in words.
    """
    rows: list[tuple[Any, ...]] = [
        (each.item, each.count, each.price, each.amount, each.life_years, each.there) for each in paid.purchases
    ]
    rows.append(("in all, to begin with", None, None, paid.first_year_capital))
    rows += [(f"again in year {each.year}", None, None, each.amount) for each in paid.replacements]
    rows.append(("each month after that", None, None, paid.recurrent_a_month.mean))
    rows += [(f"no price, in no total: {item}",) for item in paid.unpriced]
    rows += [
        (f"to begin with, paid by {each.payer}", None, None, each.amount)
        for each in paid.first_year_by_payer or ()
    ]
    if lacking:
        rows.append((lacking,))
    heads = ("item", "number", "each", f"amount, {paid.currency}", "lasts, years", "there already")
    return Sheet("Cheque", heads, rows, (36,))


def _to_buy_sheet(listed: Sequence[Entry]) -> Sheet:
    """Return the list of what to buy; where anything is there, how many that leaves."""
    shared = any(each.there for each in listed)
    rows = [(each.item, *text.counts(each, shared=shared), each.unit, each.rule, each.basis) for each in listed]
    numbers = ("in all", "there", "to buy") if shared else ("number",)
    heads = ("item", *numbers, "unit", "why so many", "where from")
    return Sheet("To buy", heads, rows, (40, *[NARROW] * len(numbers), 14, 80, 30))


def stage_decision(folder: Path, decision: Decision) -> None:
    """Write options.csv, procurement.csv and the drawing into a folder."""
    write_csv(folder / "options.csv", text.columns(decision), text.csv_rows(decision))
    bought = text.procurement_table(decision)
    if bought is not None:
        write_csv(folder / "procurement.csv", ("item", *bought.columns[1:]), bought.rows)
    if decision.frontier:
        from o2sim.looks.drawing import save
        from o2sim.questions.choose.charts import frontier

        for suffix in (".png", ".svg"):
            save(frontier(decision).figure, folder / f"frontier{suffix}")
