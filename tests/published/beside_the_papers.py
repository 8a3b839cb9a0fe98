"""The table of README.md: o2sim's figure over the ranges beside the paper's. Run it to print the table anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import published_figures as papers
from over_ranges import Figure, Over, bought, over_ranges, per_litre, ratio

FOLDER = Path(__file__).parent
BEHIND = "concentrators with cylinders behind"
A_QUARTER = 1.25
IN, NEAR, ALLOWED = "in the range", "within a quarter", "the bound allows it"
ABOVE, BELOW = "**missed**, above", "**missed**, below"
HEAD = """| comparison | paper | likely | range | cheapest to dearest corner | the paper's is | most moved by |
|---|---|---|---|---|---|---|"""


@dataclass(frozen=True)
class Row:
    """One published figure, and the figure of o2sim that is to stand beside it."""

    name: str
    file: str
    unit: str
    paper: float
    key: str  # of the figure: rows may share it
    figure: Figure
    at_least: bool = False

    def verdict(self, over: Over) -> str:
        """Return where the paper's figure lies, as "How" in README.md has it."""
        if self.at_least:
            return ALLOWED if over.high >= self.paper else ABOVE
        if over.low <= self.paper <= over.high:
            return IN
        if over.low / A_QUARTER <= self.paper <= over.high * A_QUARTER:
            return NEAR
        return ABOVE if self.paper > over.high else BELOW

    def line(self, over: Over) -> str:
        """Return the row of the table."""
        least = "at least " if self.at_least else ""
        low, high, cheapest, dearest = map(shown, (over.low, over.high, over.cheapest, over.dearest))
        cells = (
            f"{self.name}, {self.unit}", f"{least}{shown(self.paper)}", shown(over.likely), f"{low} to {high}",
            f"{cheapest} to {dearest}", self.verdict(over), f"`{over.moved_most_by.rpartition('costs.')[2]}`",
        )  # fmt: skip
        return f"| {' | '.join(cells)} |"


def shown(value: float) -> str:
    """Return a figure as the table has it: two decimals, thousands whole."""
    return f"{value:.2f}" if value < 1_000 else f"{value:,.0f}"


def _rows() -> Iterator[Row]:
    for each in papers.TOTALS:
        unit = "US c/L" if each.file == papers.HOWIE else "toea/L"
        figure = per_litre(each.strategy)
        yield Row(each.row, each.file, unit, each.cents_per_litre, each.strategy, figure, each.at_least)
    for strategy, usd in papers.CAPITAL.items():
        key = f"capital, {strategy}"
        yield Row(key, papers.HOWIE, "USD", usd, key, bought(strategy))
    yield Row("concentrators over cylinders", papers.FIJI, "ratio", papers.FIJI_RATIO, "ratio",
              ratio(BEHIND, "cylinders"))  # fmt: skip


FILES = (papers.HOWIE, papers.PROVINCIAL, papers.DISTRICT, papers.FIJI)
ROWS = tuple(sorted(_rows(), key=lambda row: FILES.index(row.file)))


@cache
def found(file: str) -> dict[str, Over]:
    """Return the figures of a file over its ranges, by the key of their rows; run once a process."""
    return over_ranges(FOLDER / f"{file}.yaml", {row.key: row.figure for row in ROWS if row.file == file})


def lines(file: str) -> list[str]:
    """Return the rows of a file as they stand in the table."""
    return [row.line(found(file)[row.key]) for row in ROWS if row.file == file]


def what_moves_cylinders() -> str:
    """Return the words of README.md for what moves the cost of cylinders from one end to the other."""
    moves = found(papers.HOWIE)["cylinders"].swings
    refill, trip, leak = (
        moves[path] for path in ("costs.cylinders.refill", "costs.transport.trip", "cylinders.leak")
    )
    return f"refill moves it by {shown(refill)} US c/L, the trip by {shown(trip)}, the leak by {shown(leak)}"


if __name__ == "__main__":
    print(HEAD, *(line for file in FILES for line in lines(file)), sep="\n")
