"""The result of a search for drivers in, the terminal's text out."""

from __future__ import annotations

from o2sim.looks import cautions
from o2sim.looks.blocks import Table
from o2sim.looks.screen import Screen
from o2sim.questions.drivers import tables as drivers_tables
from o2sim.questions.drivers import text as drivers_text
from o2sim.questions.drivers.text import Result

TABLES = {
    "one-at-a-time": drivers_tables.tornado_tables,
    "nested": drivers_tables.nested_tables,
    "morris": drivers_tables.index_tables,
    "sobol": drivers_tables.index_tables,
}
NOT_TOLD = (
    "A range is only as good as who gave it; numbers that are not marked as uncertain count as known. They are "
    "taken "
    "to be independent of each other: where two go together, the answer is less sure than this."
)


def print_drivers(result: Result) -> None:
    """Print what was asked, what matters in words, the tables, cautions and provenance."""
    screen = Screen()
    screen.paragraph(drivers_text.asked(result))
    for said in drivers_text.sentences(result):
        screen.paragraph(said)
    screen.tables(tables_of(result))
    screen.paragraph(NOT_TOLD)
    screen.paragraph(cautions.NOT_COMPARED, *cautions.SHORT[:3])
    screen.paragraph(provenance(result))


def tables_of(result: Result) -> list[Table]:
    """Return the tables of a result, by its method."""
    return TABLES[result["method"]](result)


def provenance(result: Result) -> str:
    """Return the line that says how to get the same result again."""
    points = f"{result['draws']:,} draws, " if result["method"] == "nested" else ""
    return (
        f"o2sim {result['version']} | scenario {result['scenario_hash']} | seed {result['seed']} | "
        f"{result['method']}, {points}{result['replications']:,} replications a point | engine {result['engine']}"
    )
