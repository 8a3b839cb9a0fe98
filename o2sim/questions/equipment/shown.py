"""How a notebook and a data frame show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.questions.equipment import text as equipment
from o2sim.questions.equipment.to_buy import ToBuy
from o2sim.shown import frame

if TYPE_CHECKING:
    import pandas as pd

from collections.abc import Sequence

from o2sim.looks import (
    words,
)
from o2sim.looks.notebook import Block, page, run_line
from o2sim.shown import html


@frame.register(ToBuy)
def _to_buy_frame(result: ToBuy) -> pd.DataFrame:
    heads = ("strategy", "list", "group", "item", "quantity", "unit", "highest", "limited", "basis", "why")
    rows = []
    for strategy, item in result.result["strategies"].items():
        for name in equipment.LISTS:
            for entry in item[name]:
                why = "; ".join(text for text in (entry["rule"], entry["figures"]) if text)
                told = [entry[key] for key in ("quantity", "unit", "highest", "limited", "basis")]
                rows.append([strategy, name, entry["group"], entry["item"].strip(), *told, why])
    return tabular.data_frame(heads, rows)


@html.register
def _to_buy_html(result: ToBuy) -> str:
    said = result.result
    years = words.runs(said["replications"], said["horizon_days"])
    first = (
        f"What each strategy of {said['scenario']} needs. Numbers at once are enough for "
        f"{100 * said['share_of_time']:g} % of the time, simulated over {years}; in brackets the highest "
        "seen: what to buy where nobody may go without."
    )
    blocks: list[Block] = [first, *equipment.equipment_tables(said), *_points(equipment.running_hours(said))]
    blocks += ["Where the numbers come from:", list(equipment.sources(said))]
    return page(
        f"{said['scenario']}: what to buy", [*blocks, *equipment.cautions_for(said)], run_line(result.study)
    )


def _points(lines: Sequence[str]) -> list[Block]:
    head, *rest = lines or [""]
    return [head, [line.strip().removeprefix("- ") for line in rest]] if head else []
