"""How a notebook and a data frame show it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from o2sim import tabular
from o2sim.looks.frames import ENDS, chosen, ended, numbers, value_of
from o2sim.measures.names import CHANCE
from o2sim.measures.table import unit_in_head
from o2sim.questions.whatif.whatif import WhatIf
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from o2sim.looks import (
    words,
)
from o2sim.looks.notebook import page, result_line
from o2sim.questions.whatif.content import content, done
from o2sim.shown import html


@frame.register(WhatIf)
def _whatif_frame(result: WhatIf, of: str = "points") -> pd.DataFrame:
    return chosen(of, {
        "points": lambda: _points_frame(result),
        "measures": lambda: tabular.data_frame(result.columns, result.rows()),
        "break-evens": lambda: _break_evens(result),
    })  # fmt: skip


def _points_frame(result: WhatIf) -> pd.DataFrame:
    said = result.result
    measures = [name for name in said["units"] if any(
        each[name] is not None for point in said["points"] for each in point["strategies"].values())]  # fmt: skip
    heads = [*(each.heading for each in result.levers), "strategy"]
    for name in measures:
        heads += ended(name, unit_in_head(name, said["currency"]))
    rows = []
    for point in said["points"]:
        where = [value_of(each, point["values"][each.path]) for each in result.levers]
        for strategy, item in point["strategies"].items():
            rows.append([*where, strategy, *(cell for name in measures for cell in numbers(item[name]))])
    return tabular.data_frame(heads, rows)


def _break_evens(result: WhatIf) -> pd.DataFrame:
    heads = ("field", "unit", "at", "value", *ENDS, "by", "from", "to", "seen_in")
    rows = []
    for each in result.result["break_evens"]:
        at = ", ".join(f"{path} = {text}" for path, text in each["at"].items())
        rows.append([each.get(head) if head != "at" else at for head in heads])
    return tabular.data_frame(heads, rows)


@html.register
def _whatif_html(result: WhatIf) -> str:
    said = result.result
    asked, *rest = content(said)
    return page(f"{said['scenario']}: what if?", [asked, *_best(said), *rest], result_line(said, done(said)))


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
