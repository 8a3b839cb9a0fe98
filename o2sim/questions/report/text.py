"""The report as plain parts: headings, prose, points, tables, drawings.

Whoever shows the parts (a page, Markdown, a workbook) escapes them; nothing here is markup.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from o2sim.looks import cautions, doubt, words
from o2sim.looks.assumptions import Assumption, assumptions, changes
from o2sim.looks.blocks import Block, Code, Part, Picture, Points, Row, Strong, Table, by_strategy, split_hours
from o2sim.looks.words import Summary
from o2sim.measures.table import NAMED
from o2sim.planning.figures import planning_figures
from o2sim.questions.check import rules_in_words as field
from o2sim.questions.check import text as planner
from o2sim.questions.compare import beside_text, headline, next_steps, tables
from o2sim.runs.study import Study
from o2sim.scenario import warnings
from o2sim.scenario.text.source import Source
from o2sim.scenario.types.hospital import Scenario

QUESTION = (
    "How often would someone here who needs oxygen go without, why, and what does each way to supply it cost?"
)
HOW_SURE = (
    "An interval says how far chance in the simulation may have carried a figure. It says nothing about wrong "
    "inputs: a wrong lead time or a forgotten ward moves the answer further than chance does.",
    "All strategies meet the same patients, power cuts and roads, so the differences below are sharper than the "
    "figures themselves.",
)
NOT_COVERED = (
    cautions.NOT_COMPARED,
    "What the scenario file does not say is not simulated: other wards, other types of cylinder or concentrator, "
    "thefts, strikes and fires are in it only where its author put them there.",
    "The simulation follows oxygen and not illness: it turns no hours into deaths.",
    "Prices, demand and the road stay as described for the whole time; their uncertainty is not in the intervals.",
)
KEYS_NOTE = "What a file leaves out stands here with the default or the rule that takes its place."


def parts(
    study: Study,
    summary: Summary,
    drawn: Sequence[Picture],
    source: Source | None,
    more: Sequence[Part] = (),
    extra: Sequence[Block] = (),
) -> list[Part]:
    """Return the report in the order in which it is read; without a source no list of the assumptions.

    more: parts that go with the figures, such as which option to buy. extra: what else is said of how sure it is.
    """
    scenario, currency = study.scenario, str(summary["currency"] or "")
    first = next(iter(scenario.hospitals.values()))
    said, remarks = headline.answer_and_remarks(summary, currency)
    hospitals = {name: scenario.hospitals[name] for name in study.outcomes}
    best = headline.leading_strategy(summary)
    compared = [name for name in (best, headline.rival_of(summary, best)) if name]
    stopped = (
        f"The run was stopped after {study.replications:,} of {study.requested:,} replications; this report holds "
        "only those."
    )
    question = (scenario.about, QUESTION, *(part.question for part in more), _who(study))
    found = [
        Part("question", "The question", (*filter(None, question), cautions.whose_figures(scenario.figures))),
        Part("answer", "The answer", (
            *([] if study.complete else [Strong(stopped)]),
            Strong(said),
            *filter(None, (remarks.strip(), *(beside_text.sentence(summary, name) for name in compared))),
            words.stock_out_note(first),
        )),
        *more,
        Part("strategies", "The strategies", (*key_tables(summary, currency), *beside_text.tables(summary))),
        Part("drawings", "In drawings", tuple(drawn)),
        Part("next", "What to do next", (Points(tuple(next_steps.steps(summary, compared, _rows(source)))),)),
        Part("sure", "How sure this is", (*_how_sure(study, summary, best), *extra)),
        Part("not-covered", "What was not covered", (Points(NOT_COVERED),)),
        Part("cautions", "Cautions", tuple(
            Points(each, heading) for heading, each in cautions.LONG.items() if cautions.NOT_COMPARED not in each
        )),
        Part("figures", "All figures", (*tables.all_tables(summary, currency), *tables.without_price(hospitals))),
        Part("assumed", "What was assumed", tuple(_assumed(scenario, source))),
        Part("provenance", "Where this comes from", tuple(_provenance(study, summary, more))),
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
        rows.append((cost, spread("annual_cost")))
    level = f"{100 * summary['confidence']:g} %"
    return by_strategy("To decide by", summary["strategies"], rows, f"I{doubt.brackets(level)[1:]}.")


def provenance_rows(study: Study, summary: Summary) -> list[tuple[str, str | int | float]]:
    """Return what is needed to get the same figures again."""
    file = Path(study.scenario.file).name
    return [
        ("o2sim", str(summary["version"])),
        ("scenario", study.scenario.name),
        ("scenario file", file),
        ("scenario hash", study.scenario.hash),
        *([("companion run", summary["supply_alone"]["scenario_hash"])] if "supply_alone" in summary else []),
        ("strategies", ", ".join(study.outcomes)),
        ("seed", study.seed),
        ("replications", study.replications),
        ("replications asked for", study.requested),
        ("horizon, days", summary["horizon_days"]),
        ("engine", study.engine),
        ("confidence", summary["confidence"]),
        ("the intervals hold", doubt.held(summary)),
    ]


def assumption_rows(source: Source | None) -> list[Assumption]:
    """Return every assumption of a file, those of its strategies last; headings of sections left out."""
    return [row for row in _rows(source) if not row.is_heading]


def _rows(source: Source | None) -> list[Assumption]:
    if source is None:
        return []
    return [row for part in (*assumptions(source).values(), *changes(source).values()) for row in part]


def _who(study: Study) -> str:
    names = words.quoted(list(study.outcomes))
    kind = "One strategy was simulated" if len(study.outcomes) == 1 else f"{len(study.outcomes)} were compared"
    return f"{kind}: {names}."


def _how_sure(study: Study, summary: Summary, best: str) -> Iterator[Block]:
    batch = words.runs(study.replications, summary["horizon_days"])
    yield (
        f"Each strategy was simulated for {batch}. Four times as many would about halve the intervals, and would "
        "cost four times the time."
    )
    yield Points(HOW_SURE if len(study.outcomes) > 1 else HOW_SURE[:1])
    if study.scenario.uncertain:
        yield doubt.likely_note(study.scenario)
    for heading, said in words.differences(summary, best):
        yield f"{heading}, {doubt.SAME_LUCK}"
        yield Points(tuple(said))


def _assumed(scenario: Scenario, source: Source | None) -> Iterator[Block]:
    figures = {name: planning_figures(hospital) for name, hospital in scenario.hospitals.items()}
    yield "What the assumptions amount to:"
    yield Points(tuple(said for said in planner.sentences(figures) if said))
    rules = field.sentences(scenario)
    if rules:
        yield "Rules that are switched on:"
        yield Points(tuple(rules))
    doubts = [f"{each.field}: {each.found}" if each.field else str(each.found) for each in warnings(scenario)]
    if doubts:
        yield "Doubtful in the file:"
        yield Points(tuple(doubts))
    if scenario.uncertain:
        yield Table(doubt.UNCERTAIN_HEADS, tuple(doubt.uncertain_rows(scenario)))
    if source is None:
        yield "The file could not be read again, so its keys are not listed."
        return
    yield f"Every key follows with its value and where that comes from. {KEYS_NOTE}"
    for part, rows in assumptions(source).items():
        yield from _keys(part or "whole facility", rows)
    for name, rows in changes(source).items():
        yield from _keys(f"strategy {name}", rows, cut=f"strategies.{name}.")


def _keys(part: str, rows: Sequence[Assumption], cut: str = "") -> Iterator[Table]:
    cells = [
        (row.path.removeprefix(cut), row.value, row.origin, row.meaning) for row in rows if not row.is_heading
    ]
    if cells:
        yield Table((part, "value", "where it comes from", "what it means"), tuple(cells))


def _provenance(study: Study, summary: Summary, more: Sequence[Part]) -> Iterator[Block]:
    rows = tuple((key, str(value)) for key, value in provenance_rows(study, summary))
    yield Table(("what", "which"), rows)
    yield "The same figures come out again with:"
    name = shlex.quote(" ".join(Path(study.scenario.file).name.split()))
    chosen = "".join(f" --strategy {shlex.quote(each)}" for each in study.outcomes)
    some = chosen if len(study.outcomes) < len(study.scenario.hospitals) else ""
    yield Code(
        f"o2sim report {name}{some} --replications {study.requested} --seed {study.seed} --engine {study.engine}"
        + "".join(f" {part.again}" for part in more if part.again)
    )
    yield "`o2sim describe` sets out every rule of the model."
