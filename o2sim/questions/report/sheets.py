"""The sheets of the report's workbook: figures as numbers, never as formulas."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import astuple

from o2sim.looks import unbought
from o2sim.looks.blocks import Block, Figures, Lines, Part, Points, Strong, mean_of
from o2sim.looks.doubt import OF_LOW_AND_HIGH
from o2sim.looks.frames import numbers
from o2sim.looks.words import Summary
from o2sim.looks.workbook import Cell, Sheet
from o2sim.measures import costing, supply_alone
from o2sim.measures.names import ANY, CHANCE, COST, FILL, HOURS, STOCK_OUTS
from o2sim.measures.result_rows import replication_columns, replication_rows, summary_rows
from o2sim.measures.table import NAMED
from o2sim.questions.report.annex import assumption_rows, provenance_rows
from o2sim.questions.report.chosen import About
from o2sim.scenario.text.source import Source

WORDS = (  # parts that are prose
    "question", "decision", "three", "monday", "answer", "options", "next", "sure", "not-covered", "cautions",
)  # fmt: skip
CHANCES = (CHANCE, ANY)
ENDS = ("", ", low", ", high")
NARROW = 10  # characters: so all columns of a strategy fit on paper
ONE_PAGE = 40  # rows on paper of what is for the screen: every measure, every replication
MEASURES = (STOCK_OUTS, HOURS, "longest_gap_hours", FILL, COST)  # of the sheet of strategies, beside the chances


def sheets(shown: About, parts: Sequence[Part], source: Source | None) -> list[Sheet]:
    """Return the sheets: the words, strategies, causes, costs, every measure, every replication, assumptions."""
    study, summary = shown.study, shown.summary
    currency = f", {summary['currency']}" if summary["currency"] else ""
    counted = measured(summary)
    measures = [(name, NAMED[name].head_a_year) for name in counted]
    heads = [f"{head[0].lower()}{head[1:]}{currency if name == COST else ''}" for name, head in measures]
    cause_heads = ("strategy", "cause", "unserved patient-hours a year", "low", "high", "chance of one by it")
    found = [
        Sheet("Answer", ("part", "text"), list(_words(parts)), (20, 120)),
        Sheet("Strategies",
              ("strategy", "chosen", *(f"{head}{end}" for head in heads for end in ENDS), OF_LOW_AND_HIGH),
              list(_strategies(shown)), (28, *[NARROW] * (1 + 3 * len(heads)))),
        Sheet("Causes", (*cause_heads, OF_LOW_AND_HIGH), list(_causes(summary)), (28, 28)),
        Sheet("Costs", ("strategy", "item", f"a year, {summary['currency']}"), list(_costs(summary)), (28, 28)),
        Sheet("Cost lines", (*costing.HEADS, *costing.YEARS),
              list(costing.line_rows(summary["costing"])), (28, 32, 20, 16)),
        Sheet("Costing", costing.TOTAL_HEADS, list(costing.total_rows(summary["costing"])), (28, 24, 40)),
        Sheet("All measures",
              ("strategy", "measure", "part", "estimate", "low", "high", "note", OF_LOW_AND_HIGH),
              list(summary_rows(summary)), (28, 30, 28), ONE_PAGE),
        Sheet("No staff could prevent",
              (*supply_alone.ROW_HEADS, OF_LOW_AND_HIGH), list(_beside(summary)), (28, 16, 30)),
        Sheet("Replications", replication_columns(study), list(replication_rows(study)), (28,), ONE_PAGE),
        Sheet("Assumptions", ("key", "value", "where it comes from", "what it means"),
              list(map(astuple, assumption_rows(source))), (40, 30, 40, 60)),
        Sheet("Where from", ("what", "which"), provenance_rows(shown.run, summary), (26, 60)),
    ]  # fmt: skip
    return [sheet for sheet in found if sheet.rows]


def measured(summary: Summary) -> tuple[str, ...]:
    """Return the measures of the sheet of strategies, with what was not bought where money is counted."""
    return (*CHANCES, *MEASURES, *unbought.columns(map(unbought.of_item, summary["strategies"].values())))


def _beside(summary: Summary) -> Iterator[tuple[Cell, ...]]:
    if "supply_alone" in summary:
        yield from supply_alone.rows(summary["supply_alone"])


def _words(parts: Sequence[Part]) -> Iterator[tuple[str, str]]:
    for part in parts:
        if part.name in WORDS:
            yield from ((part.title, text) for block in part.blocks for text in _texts(block))


def _texts(block: Block) -> tuple[str, ...]:
    if isinstance(block, Points):
        return tuple(f"{block.heading}: {text}" if block.heading else text for text in block.texts)
    if isinstance(block, Figures):
        return tuple(f"{figure} {what} ({sure})" for figure, what, sure in block.shown)
    if isinstance(block, Lines):
        return tuple(filter(None, block.texts))
    if isinstance(block, Strong):
        return (block.text,)
    return (block,) if isinstance(block, str) else ()


def _strategies(shown: About) -> Iterator[list[Cell]]:
    for name, item in shown.summary["strategies"].items():
        figures = (cell for measure in measured(shown.summary) for cell in numbers(item[measure]))
        yield [name, "chosen" if name == shown.chosen else "", *figures]


def _causes(summary: Summary) -> Iterator[tuple[Cell, ...]]:
    for name, item in summary["strategies"].items():
        for cause, hours in item["unserved_hours_by_cause"].items():
            chance = item["probability_by_cause"][cause]["estimate"]
            if hours["mean"] or chance:
                yield name, cause, hours["mean"], hours["low"], hours["high"], chance


def _costs(summary: Summary) -> Iterator[tuple[Cell, ...]]:
    for name, item in summary["strategies"].items():
        yield from ((name, what, mean_of(value)) for what, value in item["cost_by_item"].items())
        if item["annual_cost"]:
            yield name, "in all", mean_of(item["annual_cost"])
        found = unbought.of_item(item)
        for measure, part in unbought.columns([found]).items():
            if (value := getattr(found, part)) is not None:
                yield name, f"no money: {NAMED[measure].head_a_year.lower()}", value
