"""How a notebook and a data frame show it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.errors import O2simError
from o2sim.looks import doubt, unbought, words
from o2sim.looks.blocks import Table
from o2sim.looks.frames import ENDS, chosen, ended, numbers
from o2sim.looks.notebook import Block, page, run_line
from o2sim.measures import supply_alone
from o2sim.measures.names import CHANCE, COST, HOURS
from o2sim.measures.table import unit_in_head
from o2sim.questions.choose import text
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.compare import beside_text, headline
from o2sim.questions.compare.shown import _measures
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd

MOST_OPTIONS = 40  # rows of a table; to_frame has all


@frame.register(Comparison)
def _comparison_frame(result: Comparison, of: str = "options") -> pd.DataFrame:
    return chosen(of, {
        "options": lambda: _options_frame(result),
        "differences": lambda: _differences(result.summary),
        "measures": lambda: _measures(result.summary),
        "supply alone": lambda: _beside(result),
    })  # fmt: skip


def _options_frame(result: Comparison) -> pd.DataFrame:
    decision, strategies = result.decided, result.summary["strategies"]
    keys = list(dict.fromkeys(key for option in decision.options.values() for key in option.choices))
    money, per = decision.currency, unit_in_head(COST, decision.currency)
    priced = [*ended(COST, per), f"first_year_capital ({money})"]
    lacking = unbought.columns(option.unbought for option in decision.options.values())
    heads = ["name", *keys, *ended(CHANCE), *ended(HOURS, unit_in_head(HOURS)), "fill_rate", *priced]
    rows = []
    for name, option in decision.options.items():
        item = strategies[name]
        cells: list[Any] = [name, *(option.choices.get(key, "") for key in keys)]
        cells += [*numbers(item[CHANCE]), *numbers(item[HOURS]), option.fill_rate, *numbers(item[COST])]
        beside = (getattr(option.unbought, part, None) for part in lacking.values())
        marks = (option.dominated_by or "", name == decision.chosen)
        rows.append([*cells, option.first_year_capital, *beside, *marks])
    frame = tabular.data_frame([*heads, *lacking, "dominated_by", "chosen"], rows)
    return frame if money else frame.drop(columns=priced)


def _differences(summary: Mapping[str, Any]) -> pd.DataFrame:
    units = summary["units"]
    rows = [
        (each["from"], each["to"], each["measure"], *numbers(each), units.get(each["measure"], ""))
        for each in summary["differences"]
    ]
    return tabular.data_frame(("from", "to", "measure", "difference", *ENDS, "unit"), rows)


def _beside(result: Comparison) -> pd.DataFrame:
    """Return what no staff could prevent as a long table."""
    found, units = result.summary.get("supply_alone"), result.summary["units"]
    if found is None:
        raise O2simError("to_frame: the companion run was not made; allowed: compare(..., supply_alone=True)")
    rows = [(*row, units.get(str(row[2]), "")) for row in supply_alone.rows(found)]
    return tabular.data_frame((*supply_alone.ROW_HEADS, "unit"), rows)


@html.register
def _comparison_html(result: Comparison) -> str:
    if result.study.joint is not None:  # over draws nothing is chosen: the strategies side by side
        return html(result.study)
    decision, summary, study = result.decided, result.summary, result.study
    said = text.sentences(decision, summary["replications"], summary["horizon_days"])
    of_options, more = any(option.choices for option in decision.options.values()), text.steps(decision)
    blocks: list[Block] = [" ".join(said)] if of_options else [headline.answer(summary, decision.currency), *said]
    blocks += [
        *filter(None, [beside_text.sentence(summary, decision.chosen)]),
        _options_table(result),
        *beside_text.tables(summary, text.to_show_beside(decision)),
        *text.yard(decision),
        *((text.MORE_MONEY, more) if more else ()),
        *text.cheque_sentences(decision),
    ]
    if not of_options:
        for heading, differ in words.differences(summary, headline.leading_strategy(summary)):
            blocks += [f"{heading}, {doubt.SAME_LUCK}", differ]
    return page(f"{study.scenario.name}: which to buy", blocks, run_line(study))


def _options_table(result: Comparison) -> Table:
    """Return options or strategies with intervals, those of the frontier and the chosen one first, by cost."""
    decision, summary = result.decided, result.summary
    options, first = decision.options, {*decision.frontier, decision.chosen}
    by_cost = sorted(options, key=lambda name: (name not in first, *options[name].rank(decision.measure)[:2]))
    shown, left = by_cost[:MOST_OPTIONS], max(0, len(options) - MOST_OPTIONS)
    heads = ["Strategy or option", "supply shortfall", "unserved patient-hours a year"]
    money = decision.currency
    heads += [f"cost a year, {money}", f"purchases, {money}"] if money else []
    rows = []
    for name in shown:
        item, runs = summary["strategies"][name], (summary["replications"], summary["horizon_days"])
        seen = f"{words.percent_range(item[CHANCE])}\n{words.short_frequency(item[CHANCE], *runs)}"
        cells = [text.described(decision, name), seen, words.spread(item[HOURS])]
        if money:
            cost = words.spread(item[COST]) + unbought.below(options[name].unbought)
            cells += [cost, words.number(options[name].first_year_capital or 0.0)]
        rows.append((*cells, decision.marks(name)))
    note = f"Each by itself, {doubt.brackets(words.percent(result.confidence))}."
    note += f" {left} more are not shown: to_frame() has them all." if left else ""
    note += f" {unbought.NOTE}" if text.counts_money(decision) else ""
    grey = tuple(at for at, name in enumerate(shown) if options[name].dominated_by is not None)
    return Table((*heads, "place"), tuple(rows), note, grey)
