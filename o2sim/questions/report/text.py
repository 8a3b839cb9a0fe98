"""The report as plain parts: a first page, what stands behind it, and an annex.

Whoever shows the parts (a page, Markdown, a workbook) escapes them; nothing here is markup.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from o2sim.looks import cautions, doubt, unbought, words
from o2sim.looks.blocks import Block, Part, Picture, Points, Row, Table, by_strategy, split_hours
from o2sim.looks.words import Summary, chosen_of
from o2sim.measures.table import NAMED
from o2sim.questions.compare import beside_text, brief, costing_text, headline, next_steps, tables
from o2sim.questions.report import annex
from o2sim.questions.report.chosen import About
from o2sim.questions.report.first_page import first_page
from o2sim.questions.report.varied import Varied, table
from o2sim.scenario.text.source import Source
from o2sim.scenario.types.hospital import Scenario

HOW_SURE = (
    "An interval says how far chance in the simulation may have carried a figure. It says nothing about wrong "
    "inputs: a wrong lead time or a forgotten ward moves the answer further than chance does.",
    "All strategies meet the same patients, power cuts and roads, so their differences are sharper than "
    "the figures themselves.",
)
NOT_COVERED = (
    cautions.NOT_COMPARED,
    "What the scenario file does not say is not simulated: other wards, other types of cylinder or concentrator, "
    "thefts, strikes and fires are in it only where its author put them there.",
    "The simulation follows oxygen and not illness: it turns no hours into deaths.",
    "Prices, demand and the road stay as described for the whole time; their uncertainty is not in the intervals.",
)
MOST_DIFFERENCES = 3  # strategies, of which the differences stand before the annex
MOST_BESIDE = 4  # strategies beside each other before the annex: with more only those that the answer names


def parts(
    shown: About,
    drawn: Sequence[Picture],
    source: Source | None,
    more: Sequence[Part] = (),
    varied: Varied | None = None,
) -> list[Part]:
    """Return the report in the order in which it is read; without a source no list of the assumptions.

    drawn: the first is for the first page. more: parts that go with the figures, such as which option to buy, or
    to the annex. varied: the headline with a key at other values.
    """
    rows, named = annex.every_row(source), _named(shown)
    values = [] if varied is None else table(varied, shown.chosen)
    is_of_chosen = any(shown.chosen in each.strategies for each in varied.at) if varied is not None else False
    first, others = (drawn[0], drawn[1:]) if drawn else (None, ())
    opening = first_page(shown, first, rows, [part.question for part in more if part.question])
    found = [
        *opening,
        Part("answer", "The answer", tuple(_answer(shown, named))),
        *(part for part in more if part.place == "body"),
        Part("strategies", "The strategies", tuple(_strategies(shown, named))),
        Part("drawings", "In drawings", tuple(others)),
        Part("next", "What else would help", tuple(_next(shown, named, opening))),
        Part("sure", "How sure this is", (*_how_sure(shown), *(values if is_of_chosen else ()))),
        Part("not-covered", "What was not covered", (Points(NOT_COVERED),)),
        Part("cautions", "Cautions", tuple(
            Points(each, heading) for heading, each in cautions.LONG.items() if cautions.NOT_COMPARED not in each
        )),
        *(part for part in more if part.place == "annex"),
        Part("figures", "Annex: all figures", tuple(_figures(shown)), place="annex"),
        Part("costing", "Annex: costing",
             tuple(costing_text.blocks(shown.summary, every_line=True)), place="annex"),
        Part("values", "Annex: at other values", tuple(() if is_of_chosen else values), place="annex"),
        Part("assumed", "Annex: what was assumed",
             tuple(annex.assumed(shown.run.scenario, source)), place="annex"),
        Part("provenance", "Annex: where this comes from",
             tuple(annex.provenance(shown.run, shown.summary, more)), place="annex"),
    ]  # fmt: skip
    return [part for part in found if part.blocks]


def title(scenario: Scenario) -> str:
    """Return the heading of the whole report."""
    return f"Oxygen for {scenario.name}"


def key_tables(summary: Summary, currency: str) -> list[Table]:
    """Return the few figures to decide by, with their intervals; strategies as columns."""
    runs = summary["replications"], summary["horizon_days"]

    def chance(measure: str) -> Any:
        return lambda item: f"{words.short_frequency(item[measure], *runs)}\n{words.percent_range(item[measure])}"

    def spread(measure: str, say: Any = words.number) -> Any:
        return lambda item: words.spread(item[measure], say)

    rows: list[Row] = [
        ("Supply shortfall (no source could serve)", chance("stock_out_probability")),
        ("Any interruption", chance("interruption_probability")),
        (NAMED["unserved_patient_hours"].head_a_year, spread("unserved_patient_hours")),
        ("  for lack of supply", lambda item: words.number(split_hours(item)[0])),
        ("  in handling", lambda item: words.number(split_hours(item)[1])),
        (NAMED["longest_gap_hours"].head, spread("longest_gap_hours")),
        ("Litres delivered of those needed", spread("fill_rate", words.percent)),
    ]
    if any(item["annual_cost"] for item in summary["strategies"].values()):
        cost = f"{NAMED['annual_cost'].head_a_year}, {currency}".removesuffix(", ")
        rows += [(cost, spread("annual_cost")), *unbought.rows(summary)]
    level = f"{100 * summary['confidence']:g} %"
    return by_strategy(
        "To decide by",
        summary["strategies"],
        rows,
        f"I{doubt.brackets(level)[1:]}.{unbought.note(summary)}",
        chosen_of(summary),
    )


def _named(shown: About) -> list[str]:
    """Return the strategies that the answer speaks of: the chosen one, and without a decision its rival."""
    rival = headline.rival_of(shown.summary, shown.chosen) if shown.decision is None else ""
    return [name for name in dict.fromkeys((shown.chosen, rival)) if name]


def _answer(shown: About, named: Sequence[str]) -> Iterator[Block]:
    """Yield the answer with its chances, what no staff could prevent of it, and what its words mean."""
    summary = shown.summary
    if shown.decision is None:
        yield headline.answer_and_remarks(summary, shown.currency)[0]
    alone = (summary.get("supply_alone") or {}).get("strategies", {})
    yield from filter(None, (
        headline.remarks_on(summary, named).strip(),
        *(beside_text.sentence(summary, name) for name in named if name in alone),
    ))  # fmt: skip
    yield words.stock_out_note(shown.study.scenario.hospitals[shown.chosen])


def _strategies(shown: About, named: Sequence[str]) -> Iterator[Block]:
    """Yield what to decide by; with many strategies a row for each, and the rest in the annex."""
    if _few(shown.summary):
        yield from key_tables(shown.summary, shown.currency)
        yield from beside_text.tables(shown.summary)
        return
    gap_s = shown.study.scenario.hospitals[shown.chosen].tolerated_gap_s
    yield brief.to_decide_by(shown.summary, gap_s, shown.currency)
    yield from beside_text.tables(shown.summary, named)


def _few(summary: Summary) -> bool:
    return len(summary["strategies"]) <= MOST_BESIDE


def _figures(shown: About) -> Iterator[Block]:
    """Yield every table, what has no price, and what stands before the annex for some strategies alone."""
    summary, currency, hospitals = shown.summary, shown.currency, shown.run.scenario.hospitals
    if not _few(summary):
        yield from key_tables(summary, currency)
        yield from beside_text.tables(summary)
    yield from tables.all_tables(summary, currency)
    yield from tables.without_price({name: hospitals[name] for name in shown.run.outcomes})
    if len(summary["strategies"]) > MOST_DIFFERENCES:
        yield from _differences(summary)


def _next(shown: About, named: Sequence[str], opening: Sequence[Part]) -> Iterator[Block]:
    """Yield what would help beside what the first page says."""
    summary, hospitals = shown.summary, shown.study.scenario.hospitals
    said = {text for part in opening for block in part.blocks if isinstance(block, Points) for text in block.texts}
    left = [text for name in named for text in next_steps.causes(summary, name, hospitals[name])]
    left = [text for text in left if text not in said]
    if left:
        yield Points(tuple(left))


def _how_sure(shown: About) -> Iterator[Block]:
    batch = words.runs(shown.study.replications, shown.summary["horizon_days"])
    yield (
        f"Each strategy was simulated for {batch}. Four times as many would about halve the intervals, and would "
        "cost four times the time."
    )
    yield Points(HOW_SURE if len(shown.study.outcomes) > 1 else HOW_SURE[:1])
    if shown.study.scenario.uncertain:
        yield doubt.likely_note(shown.study.scenario)
    if len(shown.summary["strategies"]) <= MOST_DIFFERENCES:
        yield from _differences(shown.summary)


def _differences(summary: Summary) -> Iterator[Block]:
    """Yield the paired differences of the chosen strategy from each other one."""
    for heading, said in words.differences(summary, chosen_of(summary)):
        yield f"{heading}, {doubt.SAME_LUCK}"
        yield Points(tuple(said))
