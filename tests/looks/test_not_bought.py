"""Poverty never looks cheap: what was needed and not bought stands wherever a cost of it is shown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from poor_ward import POOR, RICH, SAID, study

from o2sim.looks import unbought
from o2sim.looks.blocks import Lines, Points, Strong, Table
from o2sim.measures.measures import summarise
from o2sim.money.unbought import Unbought
from o2sim.questions.choose import first_sentence, text
from o2sim.questions.choose.charts import frontier
from o2sim.questions.choose.money_steps import money_steps
from o2sim.questions.choose.options import decide
from o2sim.questions.choose.result import Limits
from o2sim.questions.choose.screen import decision_sheets
from o2sim.questions.compare import brief, costing_text, headline, short_answer, tables
from o2sim.questions.report import charts
from o2sim.questions.report.chosen import about
from o2sim.questions.report.sheets import sheets
from o2sim.questions.report.text import key_tables

FOUND = Unbought(720.0, 120.0, None)
CELL = "120 of 720"


def words(blocks: object) -> Iterator[str]:
    """Yield every text of blocks."""
    if isinstance(blocks, str):
        yield blocks
    elif isinstance(blocks, Table):
        yield from words([*blocks.columns, *blocks.rows, blocks.note])
    elif isinstance(blocks, Points | Lines):
        yield from blocks.texts
    elif isinstance(blocks, Strong):
        yield blocks.text
    elif isinstance(blocks, list | tuple):
        for each in blocks:
            yield from words(each)


def decision(limits: Limits = Limits()):  # noqa: B008
    """Return what is chosen of the two."""
    return decide(study(), limits)


def alone():
    """Return the study of the poor strategy alone."""
    whole = study()
    return replace(whole, outcomes={POOR: whole.outcomes[POOR]})


SUMMARY = summarise(study())
SHOWN = {  # what shows a cost, by where it stands
    "table to decide by": lambda: brief.to_decide_by(SUMMARY, 600, "USD"),
    "all measures": lambda: tables.main_tables(SUMMARY, "USD"),
    "cost a year, per patient, per 1,000 L": lambda: tables.cost_tables(SUMMARY, "USD"),
    "costing": lambda: costing_text.blocks(SUMMARY),
    "answer": lambda: headline.answer(SUMMARY, "USD"),
    "key tables of the report": lambda: key_tables(SUMMARY, "USD"),
    "options": lambda: text.options_table(decision()),
    "picks": lambda: text.sentences(decision(Limits(budget=decision().options[POOR].annual_cost)), 40, 365.0),
    "steps": lambda: text.steps(decision()),
    "costs drawn": lambda: charts.costs(SUMMARY, "USD").note,
    "money against hours drawn": lambda: charts.trade(SUMMARY, "USD").note,
    "frontier drawn": lambda: frontier(decision()).alt,
    "steps of money": lambda: [each.not_bought for each in money_steps(alone())],
}  # fmt: skip


@pytest.mark.parametrize("where", SHOWN)
def test_each_cost_of_the_poor_says_what_was_not_bought(where):
    """The cheap strategy could not pay for 120 of the 720 cylinders needed, and each place says so."""
    said = " ".join(words(SHOWN[where]()))
    assert (SAID in said or CELL in said) is True


def test_the_poor_strategy_is_the_cheaper_one():
    """Otherwise the tests above would show nothing."""
    options = decision().options
    assert options[POOR].annual_cost < options[RICH].annual_cost


@pytest.mark.parametrize("limits", [Limits(budget=1.0e9), Limits(budget=None)])
def test_the_cheque_and_first_sentence_of_a_poor_choice_say_it(limits):
    """Chosen alone: cheque, its table, the first page's sentence and the workbook."""
    poor = decide(alone(), limits)
    assert SAID in " ".join(text.cheque_sentences(poor))
    assert SAID in text.cheque_tables(poor)[0].note
    assert SAID in first_sentence.first_sentence(poor, 365.0)
    rows = [row for sheet in decision_sheets(poor) for row in sheet.rows]
    assert any(SAID in map(str, row) for row in rows)


def test_the_workbook_has_both_numbers_beside_the_costs():
    """Numbers, not words: 720 needed, 120 not bought, in the sheets of costs and of strategies."""
    found = {sheet.name: sheet for sheet in sheets(about(study(), SUMMARY), [], None)}
    rows = [row for row in found["Costs"].rows if row[0] == POOR]
    assert [row[2] for row in rows if str(row[1]).startswith("no money")] == [720.0, 120.0]
    assert "cylinders needed a year" in found["Strategies"].heads


def test_short_answer_says_it_within_its_words():
    """The cost comes with what was not bought, or not at all."""
    poor = {**SUMMARY, "strategies": {POOR: SUMMARY["strategies"][POOR]}, "differences": []}
    second = short_answer.short_answer(poor)[1]
    assert "120 of 720 cylinders not bought" in second
    assert len(second.split()) <= short_answer.MOST_WORDS


def test_without_funds_nothing_is_said_and_no_column_more():
    """The same outcomes in a hospital without a purse: no word of money lacking, no measure, no key in JSON."""
    plain = study(False)
    summary, found = summarise(plain), decide(plain)
    said = " ".join(
        words([*tables.all_tables(summary, "USD"), headline.answer(summary), text.options_table(found)])
    )
    assert ("not bought" in said, unbought.any_in(summary)) == (False, False)
    assert [option.unbought for option in found.options.values()] == [None, None]
    assert text.columns(found) == [name for name in text.columns(found) if "bought" not in name]


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (None, ""),
        (Unbought(0.0, 0.0, None), ""),
        (Unbought(720.0, 0.0, None), "every cylinder needed was bought"),
        (FOUND, SAID),
        (Unbought(None, None, 5_000.0), "units stood broken for 5,000 hours a year with no repair under way"),
    ],
)
def test_the_clause(found, said):
    """One place makes the words."""
    assert unbought.clause(found) == said


def test_two_sides_of_a_difference_are_named_only_where_money_lacked():
    """A step to an option that could pay is no mere saving."""
    assert unbought.differ(FOUND, Unbought(720.0, 0.0, None)) == (
        "what money lacked: 120 of 720 not bought, then 0 of 720 not bought"
    )
    assert unbought.differ(Unbought(720.0, 0.0, None), None) == ""
