"""The words of a bedside table, its text for the terminal and its rows for CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from o2sim.looks import cautions
from o2sim.looks.words import joined
from o2sim.questions.bedside.table import BedsideTable, round_words
from o2sim.scenario.types.hospital import OURS

WIDTH = 100
CANNOT_SERVE = "this size cannot serve this flow between looks"
HOW_TO_OWN = (
    "Read size and pressures off the cylinders on the ward, and the range and class off their gauges; then print "
    "again with --ours."
)
LOOK_NOTE = (
    "Look every: so often the gauge has to be looked at if it is changed at the line alone; a cylinder just above "
    "the line at one look still flows at the next. Fetching and fitting another takes time too: have it at the "
    "bedside."
)


def is_example(table: BedsideTable) -> bool:
    """Return True unless its figures are the hospital's own."""
    return table.figures != OURS


def hours_colon(minutes: int) -> str:
    """Return whole minutes as `21:29`."""
    return f"{minutes // 60:,}:{minutes % 60:02d}"


def lasts_words(minutes: int) -> str:
    """Return how long a cylinder lasts; below a minute it is to be changed."""
    return hours_colon(minutes) if minutes else "now"


def change_line(table: BedsideTable) -> str:
    """Return the words on the change-over line."""
    return f"CHANGE THE CYLINDER at {table.change_at} {table.gauge_unit} or less"


def round_note(table: BedsideTable) -> str:
    """Return what the row of the round says."""
    return (
        f"At your round ({round_words(table.round_minutes)}) change a cylinder whose gauge reads less than the "
        "figure in this row: it would reach the line before the next round."
    )


def text_lines(table: BedsideTable) -> list[str]:
    """Return the table for the terminal, at most WIDTH columns."""
    flows = [flow.removesuffix(" L/min") for flow in table.flows]
    heads = [f"gauge, {table.gauge_unit}", *flows]
    rows = [
        [reading, *map(lasts_words, cells)] for reading, cells in zip(table.readings, table.minutes, strict=True)
    ]
    rounds = ["at round <", *(below or "NO" for below in table.round_below)]
    looks = ["look every", *(hours_colon(look) if look is not None else "NO" for look in served_looks(table))]
    widths = [max(len(row[place]) for row in [heads, looks, rounds, *rows]) for place in range(len(heads))]
    line = "─" * (sum(widths) + 2 * (len(widths) - 1))
    mark = wrap(f"{cautions.EXAMPLE}. {HOW_TO_OWN}", WIDTH) if is_example(table) else []
    unserved = [flow for flow, below in zip(flows, table.round_below, strict=True) if below is None]
    return [
        *mark,
        *(part for said in table.about for part in wrap(said, WIDTH)),
        "",
        "flow, L/min".rjust(len(line)),
        _aligned(heads, widths),
        line,
        *(_aligned(row, widths) for row in rows),
        line,
        *wrap(f"{change_line(table)} ({table.change_why}).", WIDTH),
        line,
        _aligned(rounds, widths),
        _aligned(looks, widths),
        line,
        *(wrap(f"NO at {joined(unserved)} L/min: {CANNOT_SERVE}.", WIDTH) if unserved else []),
        *wrap(round_note(table), WIDTH),
        *wrap(LOOK_NOTE, WIDTH),
        *([cautions.EXAMPLE] if mark else []),
    ]


def served_looks(table: BedsideTable) -> tuple[int | None, ...]:
    """Return how often to look by flow, in minutes; None where the size cannot serve it between looks."""
    return tuple(
        None if below is None else look for look, below in zip(table.look_minutes, table.round_below, strict=True)
    )


def _aligned(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "  ".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))


def csv_columns(table: BedsideTable) -> list[str]:
    """Return the columns: what the row says, the reading, by flow whole minutes, the cylinder, whose figures."""
    flows = (f"minutes at {flow}" for flow in table.flows)
    return ["row", f"gauge_{table.gauge_unit}", *flows, "cylinder", "figures"]


def csv_rows(table: BedsideTable) -> Iterator[tuple[str | int, ...]]:
    """Yield the rows: readings down to the change-over line, that line, readings of the round, looks."""
    ends = (" ".join(table.about), cautions.EXAMPLE if is_example(table) else table.figures)
    for reading, cells in zip(table.readings, table.minutes, strict=True):
        yield ("until change-over", _plain(reading), *cells, *ends)
    yield ("change at or below", _plain(table.change_at), *(0 for _ in table.flows), *ends)
    rounds = (CANNOT_SERVE if below is None else _plain(below) for below in table.round_below)
    yield (f"{round_words(table.round_minutes)}: change below this {table.gauge_unit}", "", *rounds, *ends)
    looks = (CANNOT_SERVE if look is None else look for look in served_looks(table))
    yield ("look at least every", "", *looks, *ends)


def _plain(reading: str) -> str:
    return reading.replace(",", "")
