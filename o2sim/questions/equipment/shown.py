"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.notebook import page, run_line
from o2sim.questions.equipment.result import LISTS
from o2sim.questions.equipment.text import content
from o2sim.questions.equipment.to_buy import ToBuy
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("strategy", "list", "group", "item", "quantity", "unit", "highest", "limited", "basis", "why")


@frame.register(ToBuy)
def _to_buy_frame(result: ToBuy) -> pd.DataFrame:
    rows = [
        [name, listed, each.group, each.item.strip(), each.quantity, each.unit, each.highest, each.limited,
         each.basis, each.why]
        for name, lists in result.needed.strategies.items()
        for listed in LISTS
        for each in getattr(lists, listed)
    ]  # fmt: skip
    return tabular.data_frame(COLUMNS, rows)


@html.register
def _to_buy_html(result: ToBuy) -> str:
    title = f"{result.needed.where_from.of.scenario}: what to buy"
    return page(title, content(result.needed), run_line(result.study))
