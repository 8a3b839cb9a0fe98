"""How a notebook and a data frame show it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.looks.frames import ENDS, chosen, ended, numbers
from o2sim.measures.names import CHANCE, COST, HOURS
from o2sim.measures.table import unit_in_head
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.compare.shown import _measures
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from o2sim.looks import (
    doubt,
    words,
)
from o2sim.looks.blocks import Table
from o2sim.looks.notebook import Block, page, run_line
from o2sim.questions.choose import (
    text as decision_text,
)
from o2sim.questions.compare import (
    headline,
)
from o2sim.shown import html


@frame.register(Comparison)
def _comparison_frame(result: Comparison, of: str = "options") -> pd.DataFrame:
    return chosen(of, {
        "options": lambda: _options_frame(result),
        "differences": lambda: _differences(result.summary),
        "measures": lambda: _measures(result.summary),
    })  # fmt: skip


def _options_frame(result: Comparison) -> pd.DataFrame:
    decision, strategies = result.decision, result.summary["strategies"]
    keys = list(dict.fromkeys(key for fact in decision["options"].values() for key in fact["choices"]))
    money = decision["currency"]
    heads = [
        "name", *keys, *ended(CHANCE), *ended(HOURS, unit_in_head(HOURS)), "fill_rate",
        *ended(COST, f" ({money}/year)"), f"first_year_capital ({money})", "dominated_by", "chosen",
    ]  # fmt: skip
    rows = []
    for name, fact in decision["options"].items():
        item = strategies[name]
        cells = [name, *(fact["choices"].get(key, "") for key in keys)]
        cells += [*numbers(item[CHANCE]), *numbers(item[HOURS]), fact["fill_rate"], *numbers(item[COST])]
        rows.append([*cells, fact["first_year_capital"], fact["dominated_by"] or "", name == decision["chosen"]])
    frame = tabular.data_frame(heads, rows)
    return frame if money else frame[[head for head in heads if not head.endswith((" ()", " (/year)"))]]


def _differences(summary: Mapping[str, Any]) -> pd.DataFrame:
    units = summary["units"]
    rows = [
        (each["from"], each["to"], each["measure"], *numbers(each), units.get(each["measure"], ""))
        for each in summary["differences"]
    ]
    return tabular.data_frame(("from", "to", "measure", "difference", *ENDS, "unit"), rows)


MOST_OPTIONS = 40  # rows; to_frame has all


@html.register
def _comparison_html(result: Comparison) -> str:
    decision, summary, study = result.decision, result.summary, result.study
    told = decision_text.sentences(decision, summary["replications"], summary["horizon_days"])
    of_options = any(fact["choices"] for fact in decision["options"].values())
    first: list[Block] = (
        [" ".join(told)] if of_options else [headline.answer(summary, decision["currency"]), *told]
    )
    steps = decision_text.steps(decision)
    blocks: list[Block] = [*first, _options_html(result), *([decision_text.MORE_MONEY, steps] if steps else [])]
    blocks += decision_text.cheque_sentences(decision)
    if not of_options:
        best = headline.leading_strategy(summary)
        for heading, said in words.differences(summary, best):
            blocks += [f"{heading}, {doubt.SAME_LUCK}", said]
    return page(f"{study.scenario.name}: which to buy", blocks, run_line(study))


def _options_html(result: Comparison) -> Table:
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
