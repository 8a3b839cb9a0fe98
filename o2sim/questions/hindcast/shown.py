"""How a notebook and a data frame show a hindcast."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.frames import chosen
from o2sim.looks.notebook import page
from o2sim.questions.hindcast.hindcast import Hindcast
from o2sim.questions.hindcast.result import Hindcasted, Interval, Range
from o2sim.questions.hindcast.text import content, lead, line, small_print, title
from o2sim.shown import frame, html
from o2sim.typed import as_json, key_of

if TYPE_CHECKING:
    import pandas as pd

ENDS = tuple(each.name for each in fields(Range))
COLUMNS = tuple(
    column
    for each in fields(Interval)
    for column in (
        [f"{each.name}_{end}" for end in ENDS]
        if each.name in ("full_forecast", "used_forecast")
        else [key_of(each)]
    )
)


def stock_rows(said: Hindcasted) -> list[list[object]]:
    """Return the stock card as rows, columns as in COLUMNS."""
    rows = []
    for each in said.stock:
        cells = as_json(each)
        rows.append(
            [cell for value in cells.values() for cell in (value.values() if isinstance(value, dict) else [value])]
        )
    return rows


@frame.register(Hindcast)
def _hindcast_frame(result: Hindcast, of: str = "stock") -> pd.DataFrame:
    said = result.record
    return chosen(of, {
        "stock": lambda: tabular.data_frame(COLUMNS, stock_rows(said)),
        "series": lambda: _records(said.series),
        "numbers": lambda: _records(said.numbers),
    })  # fmt: skip


def _records(found: tuple[object, ...]) -> pd.DataFrame:
    rows = [as_json(each) for each in found]
    heads = list(rows[0]) if rows else []
    return tabular.data_frame(
        heads, [[str(v) if isinstance(v, list | dict) else v for v in row.values()] for row in rows]
    )


@html.register
def _hindcast_html(result: Hindcast) -> str:
    said = result.record
    return page(title(said), [lead(said), *content(said), small_print(said)], line(said))
