"""What drives the answer, as blocks: what was asked, what matters in words, the tables."""

from __future__ import annotations

from o2sim.looks.blocks import Block
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


def content(result: Result) -> list[Block]:
    """Return what is to be said of a search for drivers."""
    said = [drivers_text.asked(result), *drivers_text.sentences(result)]
    return [*said, *TABLES[result["method"]](result), NOT_TOLD]


def provenance(result: Result) -> str:
    """Return the line that says how to get the same result again."""
    points = f"{result['draws']:,} draws, " if result["method"] == "nested" else ""
    return (
        f"o2sim {result['version']} | scenario {result['scenario_hash']} | seed {result['seed']} | "
        f"{result['method']}, {points}{result['replications']:,} replications a point | engine {result['engine']}"
    )
