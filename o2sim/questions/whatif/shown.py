"""How a notebook and a data frame show it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.looks.frames import ENDS, chosen, ended, numbers, value_of
from o2sim.looks.notebook import page, result_line
from o2sim.looks.words import frequency, out_of
from o2sim.measures.names import CHANCE
from o2sim.measures.table import unit_in_head
from o2sim.questions.whatif.text import content, done
from o2sim.questions.whatif.whatif import WhatIf
from o2sim.scenario.changing.levers import stated
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd


@frame.register(WhatIf)
def _whatif_frame(result: WhatIf, of: str = "points") -> pd.DataFrame:
    return chosen(of, {
        "points": lambda: _points_frame(result),
        "measures": lambda: tabular.data_frame(result.columns, result.rows()),
        "break-evens": lambda: _break_evens(result),
        "leaders": lambda: _leaders(result),
        "joined": lambda: _joined(result),
    })  # fmt: skip


def _points_frame(result: WhatIf) -> pd.DataFrame:
    said = result.result
    every = [each for point in said["points"] for each in point["strategies"].values()]
    measures = [name for name in said["units"] if any(each.get(name) is not None for each in every)]
    heads = [*(each.heading for each in result.levers), "strategy"]
    for name in measures:
        heads += ended(name, unit_in_head(name, said["currency"]))
    rows = []
    for point in said["points"]:
        where = [value_of(each, point["values"][each.path]) for each in result.levers]
        for strategy, item in point["strategies"].items():
            rows.append([*where, strategy, *(cell for name in measures for cell in numbers(item.get(name)))])
    return tabular.data_frame(heads, rows)


def _break_evens(result: WhatIf) -> pd.DataFrame:
    heads = ("field", "unit", "at", "value", *ENDS, "by", "from", "to", "seen_in")
    changes = [{**each, "at": stated(each["at"])} for each in result.result["break_evens"]]
    rows = [[each[head] for head in heads] for each in changes]
    return tabular.data_frame(heads, rows)


def _leaders(result: WhatIf) -> pd.DataFrame:
    paths = [each.path for each in result.levers]
    rows = [
        [*(point["values"][path] for path in paths), measure, by["strategy"], ", ".join(by["no_clear_difference"])]
        for point in result.result["clear"]["leaders"]
        for measure, by in point["by"].items()
    ]
    return tabular.data_frame([*paths, "measure", "least", "no_clear_difference"], rows)


def _joined(result: WhatIf) -> pd.DataFrame:
    rows = [
        [each["field"], stated(each["at"]), each["strategy"], each["measure"], place, ", ".join(group)]
        for each in result.result["clear"]["joined"]
        for place, group in enumerate(each["groups"], 1)
    ]
    return tabular.data_frame(["field", "at", "strategy", "measure", "group", "no_clear_difference"], rows)


@html.register
def _whatif_html(result: WhatIf) -> str:
    said = result.result
    asked, *rest = content(said)
    return page(f"{said['scenario']}: what if?", [asked, *_best(said), *rest], result_line(said, done(said)))


def _best(said: Mapping[str, Any]) -> Iterator[str]:
    """Yield, as natural frequencies, between which points each strategy's chance of a supply shortfall lies."""
    for name in said["strategies"]:
        chances = [
            (point["strategies"][name][CHANCE], ", ".join(f"{k} = {v}" for k, v in point["values"].items()))
            for point in said["points"]
        ]
        (low, low_at), (high, high_at) = (
            pick(chances, key=lambda each: each[0]["estimate"]) for pick in (min, max)
        )
        how = said["replications"], said["horizon_days"], max(out_of(low), out_of(high))
        if low["estimate"] == high["estimate"]:
            yield f"“{name}”: {frequency(low, *how)} at every point."
        else:
            ends = f"from {frequency(low, *how)} at {low_at}, to {frequency(high, *how)} at {high_at}"
            yield f"“{name}”: a supply shortfall {ends}."
