"""How a notebook and a data frame show the question of today."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.looks.frames import chosen, ended
from o2sim.looks.notebook import page
from o2sim.questions.today.result import TodayResult
from o2sim.questions.today.text import content, first, line, small_print, title
from o2sim.questions.today.today import Today
from o2sim.shown import frame, html

if TYPE_CHECKING:
    import pandas as pd

CHANCES = ("bare", "without", "without_supply")
PERCENTS = ("p5", "p25", "p50", "p75", "p95")
COLUMNS = (
    "day",
    *(column for name in CHANCES for column in ended(name)),
    "delivered",
    *(f"full_{each}" for each in PERCENTS),
)
ORDER_COLUMNS = ("order", "replications", *ended("without_supply"), "least", "rule")


def rows(said: TodayResult) -> Iterator[list[str | float]]:
    """Yield the days as rows, columns as in COLUMNS."""
    for each in said.by_day:
        chances = [getattr(each, name) for name in CHANCES]
        ends = [end for found in chances for end in (found.estimate, found.low, found.high)]
        yield [each.day, *ends, each.delivered, *(getattr(each.full, name) for name in PERCENTS)]


@frame.register(Today)
def _frame(result: Today, of: str = "days") -> pd.DataFrame:
    said = result.record
    return chosen(of, {
        "days": lambda: tabular.data_frame(COLUMNS, list(rows(said))),
        "orders": lambda: tabular.data_frame(ORDER_COLUMNS, list(_orders(said))),
    })  # fmt: skip


def _orders(said: TodayResult) -> Iterator[list[object]]:
    found = said.ordering
    for each in () if found is None else found.tried:
        assert found is not None
        chance = each.without_supply
        ends = (chance.estimate, chance.low, chance.high)
        yield [each.order, each.replications, *ends, each.order == found.least, each.order == found.rule.order]


@html.register
def _html(result: Today) -> str:
    said = result.record
    return page(title(said), [*first(said), *content(said), small_print(said)], line(said))
