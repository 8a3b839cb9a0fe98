"""A result in, the HTML by which a notebook shows it out: statement, tables with intervals, provenance.

It holds no script and loads nothing; all text is escaped. Colours are set, so that a dark notebook stays legible.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from o2sim.looks import (
    cautions,
    doubt,
    words,
)
from o2sim.looks.inline_svg import inline_svg
from o2sim.looks.report_html import escape
from o2sim.looks.screen import provenance
from o2sim.looks.words import Summary
from o2sim.measures.measures import summarise
from o2sim.planning.figures import planning_figures
from o2sim.questions.check import (
    rules_in_words as field,
)
from o2sim.questions.check import (
    text as planner,
)
from o2sim.questions.choose import (
    text as decision_text,
)
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.choose.options import CHANCE, HOURS
from o2sim.questions.compare import (
    headline,
    tables,
)
from o2sim.questions.compare import (
    precision_text as precision,
)
from o2sim.questions.compare.tables import Table
from o2sim.questions.drivers import (
    screen as drivers_screen,
)
from o2sim.questions.drivers import (
    text as drivers_text,
)
from o2sim.questions.drivers.drivers import Drivers
from o2sim.questions.equipment import (
    text as equipment,
)
from o2sim.questions.equipment.to_buy import ToBuy
from o2sim.questions.facilities import (
    tables as facility_table,
)
from o2sim.questions.facilities.many_facilities import FacilityStudy
from o2sim.questions.report.charts import Picture
from o2sim.questions.size import (
    text as sizing,
)
from o2sim.questions.size.sizing import Sizing
from o2sim.questions.trace import (
    timeline,
)
from o2sim.questions.trace.tracing import Trace
from o2sim.questions.whatif import (
    text as whatif,
)
from o2sim.questions.whatif.whatif import WhatIf
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import Scenario
from o2sim.shown import html
from o2sim.version import __version__

STRONG = ' class="strong"'
MOST_OPTIONS = 40  # rows; to_frame has all
Block = str | Table | Sequence[str]  # a paragraph, a table, points

STYLE = """
.o2sim-result { color: #111; background: #fff; font: 14px/1.45 Arial, Helvetica, sans-serif; padding: .6rem .8rem;
  max-width: 60rem; overflow-x: auto; }
.o2sim-result p { margin: 0 0 .6rem; color: #111; }
.o2sim-result p.strong { border-left: 6px solid #0072B2; background: #eef5fa; padding: .5rem .8rem; font-size:
15px; } .o2sim-result p.note { font-size: 12.5px; color: #444; } .o2sim-result ul { margin: 0 0 .6rem;
padding-left: 1.3rem; color: #111; } .o2sim-result table { border-collapse: collapse; margin: 0 0 .6rem;
font-variant-numeric: tabular-nums;
  color: #111; background: #fff; border: 0; font-size: 13px; }
.o2sim-result caption { text-align: left; font-weight: bold; padding: .3rem 0; color: #111; }
.o2sim-result th, .o2sim-result td { border: 0; border-bottom: 1px solid #999; padding: .25rem .5rem;
  text-align: left; vertical-align: top; white-space: pre-line; background: #fff; color: #111; max-width: 28rem; }
.o2sim-result thead th, .o2sim-result thead td { background: #e6e6e6; vertical-align: bottom; }
.o2sim-result tbody th { font-weight: normal; }
.o2sim-result tr.sub th { padding-left: 1.6rem; }
.o2sim-result svg { display: block; width: 100%; height: auto; }
.o2sim-result svg * { stroke-linejoin: round; stroke-linecap: butt; }
figure.o2sim-result { margin: 0; }
.o2sim-result tr.grey th, .o2sim-result tr.grey td { color: #595959; }
"""
IN_PYTHON = (  # what texts name for the command line, and what it is here; of the rest the hyphens go
    (r"--hold-levels keeps", "hold_levels=True keeps"),
    (r"give a lower --range", "give lower values in vary"),
    (r"--csv has them", "to_frame() has them"),
    (r"all [\d,]+ are in --csv and --json", "to_frame() has all"),
    (r"--full lists", "to_frame() lists"),
    (r"--([a-z]+)\b", r"\1"),
)


@html.register
def _scenario(result: Scenario) -> str:
    figures = {name: planning_figures(hospital) for name, hospital in result.hospitals.items()}
    blocks: list[Block] = [result.about, *planner.sentences(figures), *field.sentences(result)]
    blocks += [*planner.need_tables(figures), *planner.supply_tables(figures), *planner.duration_tables(figures)]
    told = f"o2sim {__version__} | scenario {result.hash} | strategies: {', '.join(result.strategies)}"
    return page(result.name, blocks, told, strong=False)


@html.register
def _study(result: Study) -> str:
    summary = summarise(result)
    return page(f"{result.scenario.name}: what happened", _happened(result, summary), _run(result))


def _happened(study: Study, summary: Summary) -> list[Block]:
    hospital = study.scenario.hospitals[next(iter(study.outcomes))]
    currency = str(summary["currency"] or "")
    return [
        headline.answer(summary, currency),
        *precision.sentences(summary),
        words.stock_out_note(hospital.tolerated_gap_s),
        *tables.main_tables(summary, currency),
        *tables.cause_tables(summary),
    ]


def _run(study: Study) -> str:
    stopped = "" if study.complete else f" of {study.requested:,} (stopped)"
    return provenance(study.scenario, study.seed, precision.done(study) + stopped, study.engine)


@html.register
def _comparison(result: Comparison) -> str:
    decision, summary, study = result.decision, result.summary, result.study
    told = decision_text.sentences(decision, summary["replications"], summary["horizon_days"])
    of_options = any(fact["choices"] for fact in decision["options"].values())
    first: list[Block] = (
        [" ".join(told)] if of_options else [headline.answer(summary, decision["currency"]), *told]
    )
    steps = decision_text.steps(decision)
    blocks: list[Block] = [*first, _options(result), *([decision_text.MORE_MONEY, steps] if steps else [])]
    blocks += decision_text.cheque_sentences(decision)
    if not of_options:
        best = headline.leading_strategy(summary)
        for heading, said in words.differences(summary, best):
            blocks += [f"{heading}, {doubt.SAME_LUCK}", said]
    return page(f"{study.scenario.name}: which to buy", blocks, _run(study))


def _options(result: Comparison) -> Table:
    """Return options or strategies with intervals, those of the frontier and the chosen one first, by cost."""
    decision, summary = result.decision, result.summary
    options, frontier, chosen = decision["options"], decision["frontier"], decision["chosen"]

    def place(name: str) -> tuple[bool, float, float]:
        fact = options[name]
        return name not in frontier and name != chosen, fact["annual_cost"] or 0.0, fact[decision["measure"]]

    shown = sorted(options, key=place)[:MOST_OPTIONS]
    priced, money = bool(decision["currency"]), decision["currency"]
    heads = ["Strategy or option", "stock-out", "unserved patient-hours a year"]
    heads += [f"cost a year, {money}", f"purchases, {money}"] if priced else []
    rows = []
    for name in shown:
        item, fact = summary["strategies"][name], options[name]
        seen = words.short_frequency(item[CHANCE], summary["replications"], summary["horizon_days"])
        cells = [
            decision_text.described(decision, name), f"{words.percent_range(item[CHANCE])}\n{seen}",
            words.spread(item[HOURS]),
        ]  # fmt: skip
        if priced:
            cells += [words.spread(item["annual_cost"]), words.number(fact["first_year_capital"])]
        rows.append((*cells, _mark(decision, name)))
    left = len(options) - len(shown)
    note = f"Each by itself, {doubt.brackets(words.percent(result.confidence))}."
    note += f" {left} more are not shown: to_frame() has them all." if left else ""
    grey = tuple(at for at, name in enumerate(shown) if options[name]["dominated_by"] is not None)
    return Table((*heads, "place"), tuple(rows), note, grey)


def _mark(decision: Mapping[str, Any], name: str) -> str:
    frontier, by = decision["frontier"], decision["options"][name]["dominated_by"]
    marks = ["chosen"] if name == decision["chosen"] else []
    marks += [f"frontier {frontier.index(name) + 1}"] if name in frontier else []
    return "; ".join([*marks, f"dominated by {frontier.index(by) + 1}"] if by is not None else marks)


@html.register
def _sizing(result: Sizing) -> str:
    said = result.result
    done = f"{said['replications']:,} replications" + ("" if said["complete"] else " asked for, not all done")
    blocks: list[Block] = [*sizing.answer_lines(said), *sizing.tables(said)]
    return page(f"{said['scenario']}: how much is enough?", blocks, _line(said, done))


@html.register
def _whatif(result: WhatIf) -> str:
    said = result.result
    blocks: list[Block] = [whatif.asked(said), *_best(said), *whatif.best_tables(said), whatif.no_break_even(said)]
    blocks += whatif.break_even_tables(said)
    return page(
        f"{said['scenario']}: what if?", blocks, _line(said, f"{said['replications']:,} replications a point")
    )


@html.register
def _drivers(result: Drivers) -> str:
    said = result.result
    blocks: list[Block] = [drivers_text.asked(said), *drivers_text.sentences(said)]
    blocks += [*drivers_screen.tables_of(said), drivers_screen.NOT_TOLD]
    title = f"{said['scenario']}: what drives the answer?"
    return page(title, blocks, drivers_screen.provenance(said))


def _best(said: Mapping[str, Any]) -> Iterator[str]:
    """Yield, as natural frequencies, between which points each strategy's chance of a stock-out lies."""
    for name in said["strategies"]:
        chances = [
            (point["strategies"][name][CHANCE], ", ".join(f"{k} = {v}" for k, v in point["values"].items()))
            for point in said["points"]
        ]
        low = min(chances, key=lambda each: each[0]["estimate"])
        high = max(chances, key=lambda each: each[0]["estimate"])
        size = max(words.out_of(low[0]), words.out_of(high[0]))
        runs = said["replications"], said["horizon_days"], size
        if low[0]["estimate"] == high[0]["estimate"]:
            yield f"“{name}”: {words.frequency(low[0], *runs)} at every point."
        else:
            yield (
                f"“{name}”: a stock-out from {words.frequency(low[0], *runs)} at {low[1]}, to "
                f"{words.frequency(high[0], *runs)} at {high[1]}."
            )


def _line(said: Mapping[str, Any], what: str) -> str:
    return (
        f"o2sim {said['version']} | scenario {said['scenario_hash']} | seed {said['seed']} | {what} | "
        f"engine {said['engine']}"
    )


@html.register
def _to_buy(result: ToBuy) -> str:
    said = result.result
    years = words.runs(said["replications"], said["horizon_days"])
    first = (
        f"What each strategy of {said['scenario']} needs. Numbers at once are enough for "
        f"{100 * said['share_of_time']:g} % of the time, simulated over {years}; in brackets the highest "
        "seen: what to buy where nobody may go without."
    )
    blocks: list[Block] = [first, *equipment.equipment_tables(said), *_points(equipment.running_hours(said))]
    blocks += ["Where the numbers come from:", list(equipment.sources(said))]
    return page(f"{said['scenario']}: what to buy", [*blocks, *equipment.cautions_for(said)], _run(result.study))


def _points(lines: Sequence[str]) -> list[Block]:
    head, *rest = lines or [""]
    return [head, [line.strip().removeprefix("- ") for line in rest]] if head else []


@html.register
def _facilities(result: FacilityStudy) -> str:
    said = result.result
    found = said["facilities"]
    first = (
        f"{len(found):,} of {said['facilities_requested']:,} facilities, {said['replications']:,} replications "
        "each; all strategies of a facility meet the same patients, power cuts and roads."
    )
    blocks: list[Block] = [first]
    if result.left_out:
        blocks += ["Left out:", [str(problem) for problem in result.left_out[:20]]]
    blocks += [*facility_table.band_tables(found), *facility_table.total_tables(found)]
    blocks.append(facility_table.facility_table(found))
    return page("Facilities", blocks, facility_table.provenance(said))


@html.register
def _trace(result: Trace) -> str:
    story = timeline.story(result.scenario.hospitals[result.strategy], result.outcome.log)
    episodes: list[list[str]] = [[]]
    for line in story:
        if line.strip():
            episodes[-1].append(line.strip())
        elif episodes[-1]:
            episodes.append([])
    blocks: list[Block] = []
    for head, *steps in filter(None, episodes):
        blocks += [head, steps] if steps else [head]
    what = f"{result.strategy}, replication {result.replication}"
    told = provenance(result.scenario, result.seed, what, result.engine)
    return page(f"{result.scenario.name}: why somebody went without", blocks, told, strong=False)


@html.register
def _picture(result: Picture) -> str:
    told = f"{result.title}\n{result.alt}\n{result.note}".encode()
    name = f"{result.name}-{hashlib.sha256(told).hexdigest()[:8]}"  # ids of several drawings on one page
    drawing = inline_svg(result.figure, name, result.title, result.alt)
    width = f"max-width: {result.figure.get_figwidth():.1f}in"
    return (
        f'<figure class="o2sim-result" lang="en">\n<style>{STYLE}</style>\n'
        f'<div style="{width}">{drawing}</div>\n'
        f'<figcaption class="note">{_text(result.note)}</figcaption>\n</figure>'
    )


def page(title: str, blocks: Iterable[Block], told: str, *, strong: bool = True) -> str:
    """Return a result's HTML: its title as a label, the first paragraph set off, the caution, the provenance."""
    parts = []
    for block in blocks:
        if isinstance(block, Table):
            parts.append(_table(block))
        elif isinstance(block, str):
            first, strong = strong and bool(block), strong and not block
            parts.append(f"<p{STRONG if first else ''}>{_text(block)}</p>" if block else "")
        else:
            parts.append(f"<ul>{''.join(f'<li>{_text(point)}</li>' for point in block)}</ul>" if block else "")
    inside = "\n".join(part for part in parts if part)
    caution = escape(cautions.SHORT[0])
    return (
        f'<section class="o2sim-result" lang="en" aria-label="{escape(title)}">\n<style>{STYLE}</style>\n'
        f"<p><b>{escape(title)}</b></p>\n{inside}\n"
        f'<p class="note">{caution}</p>\n<p class="note">{escape(told)}</p>\n</section>'
    )


def _text(text: str) -> str:
    for flag, here in IN_PYTHON:
        text = re.sub(rf"(?<![\w-]){flag}", here, text)
    return escape(text)


def _table(table: Table) -> str:
    heads = "".join(
        f'<th scope="col">{escape(column)}</th>' if column else "<td></td>" for column in table.columns
    )
    rows = "".join(_row(row, grey=place in table.grey) for place, row in enumerate(table.rows))
    note = f'<p class="note">{_text(table.note)}</p>' if table.note else ""
    return f"<table><thead><tr>{heads}</tr></thead>\n<tbody>{rows}</tbody></table>\n{note}"


def _row(row: Sequence[str], *, grey: bool) -> str:
    head, *cells = row
    told = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
    looks = ' class="grey"' if grey else ' class="sub"' if head.startswith(" ") else ""
    return f'<tr{looks}><th scope="row">{escape(head.strip())}</th>{told}</tr>\n'
