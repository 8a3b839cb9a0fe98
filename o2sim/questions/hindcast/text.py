"""What a hindcast says: two sentences, a table of series, the numbers beside the records, what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from o2sim.looks import cautions
from o2sim.looks.blocks import Block, Part, Points, Strong, Table
from o2sim.looks.screen import Screen
from o2sim.looks.words import number
from o2sim.questions.hindcast.inputs import Check
from o2sim.questions.hindcast.result import Hindcasted, Range, Scored, Total
from o2sim.questions.hindcast.verdict import whole_percent

HOLDS_PATIENTS = "The records hold dates of patients: keep them as you keep the books."
SCORES = (
    "Score: how far a forecast is from the count on average, its doubt included (continuous ranked probability "
    "score; 0 is the best). Beside it that of a forecast by up to 26 earlier counts, and by the count before."
)
RANKS = (
    "Even, p: where a count falls within its forecast is even luck if the scenario is right; p under 1 % "
    "says that it is not."
)


def lead(said: Hindcasted) -> str:
    """Return the two sentences."""
    return " ".join(said.verdict)


def content(said: Hindcasted) -> list[Block]:
    """Return what is to be said below the two sentences."""
    blocks: list[Block] = [_series(said.series), _scores(said.series)]
    if said.totals:
        blocks.append(_totals(said.totals))
    if said.numbers:
        blocks.append(_numbers(said.numbers))
    blocks.append(Points((_chosen(said), *said.as_recorded), "What was put in:"))
    return blocks


def small_print(said: Hindcasted) -> Points:
    """Return what limits it."""
    return Points((*said.cautions, RANKS), "What this does not know:")


def _chosen(said: Hindcasted) -> str:
    return f"The strategy is “{said.strategy}” ({said.why_strategy}); --strategy names another."


def _series(series: Sequence[Scored]) -> Table:
    heads = ("Counts", "compared", "recorded", "forecast (90 %)", "within 50 %", "within 90 %", "even, p")
    rows = tuple(
        (each.name, f"{each.counts:,}", number(each.recorded), spread(each.forecast),
         whole_percent(each.inside_50 / each.counts), whole_percent(each.inside_90 / each.counts),
         "-" if each.ranks_even_by_luck is None else whole_percent(each.ranks_even_by_luck))
        for each in series
    )  # fmt: skip
    out = [f"{each.left_out:,} of {each.name}" for each in series if each.left_out]
    note = f"Left out, on days not in all books or not in order: {', '.join(out)}." if out else ""
    judged = [f"{each.judged:,} of {each.name}" for each in series if each.judged < each.counts]
    if judged:
        note += f" Even is by counts in whose forecast the shelf is hardly bare: {', '.join(judged)}."
    return Table(heads, rows, note.strip())


def _scores(series: Sequence[Scored]) -> Table:
    shown = [each for each in series if each.crps_of_these is not None] or list(series)
    rows = tuple(
        (each.name, number(each.crps if each.crps_of_these is None else each.crps_of_these),
         _or_dash(each.crps_of_earlier_counts), _or_dash(each.crps_of_last_count))
        for each in shown
    )  # fmt: skip
    return Table(("Score", "scenario", "earlier counts", "count before"), rows, SCORES)


def _or_dash(value: float | None) -> str:
    return "-" if value is None else number(value)


def _totals(totals: Sequence[Total]) -> Table:
    rows = tuple((each.name, f"{each.days:,}", f"{each.recorded:,}", spread(each.forecast)) for each in totals)
    return Table(("Days", "compared", "recorded", "forecast (90 % range)"), rows)


def spread(found: Range) -> str:
    """Return "48.1 (44–53)"."""
    low, high = number(round(found.low_90, 2)), number(round(found.high_90, 2))
    return f"{number(found.mean)} ({low}–{high})" if low != high else number(found.mean)


def _numbers(numbers: Sequence[Check]) -> Table:
    rows = tuple(
        (f"{each.name}, {each.unit}", number(each.scenario), number(each.recorded), f"{each.rows:,}",
         "doubt it" if each.doubted else "")
        for each in numbers
    )  # fmt: skip
    note = "Doubted: over 1.2 times apart, and by luck in under 1 % of true scenarios, all these numbers together."
    return Table(("The scenario's own numbers", "scenario", "records", "rows", ""), rows, note)


def line(said: Hindcasted) -> str:
    """Return what says how to get the same again."""
    ran = said.ran
    return (
        f"o2sim {ran.version} | scenario {said.of.scenario_hash} | records {said.records_hash} | seed {ran.seed} "
        f"| {ran.replications:,} replications | engine {ran.engine}"
    )


def title(said: Hindcasted) -> str:
    """Return what a page is called."""
    return f"{said.of.scenario}: does it match what was recorded?"


def parts(said: Hindcasted, pictures: Sequence[Block]) -> list[Part]:
    """Return the parts of the page."""
    return [
        Part("match", "Does it match?", (Strong(lead(said)), *pictures), place="first"),
        Part("figures", "The figures", tuple(content(said))),
        Part("limits", "What this does not know", (Points((*said.cautions, RANKS)), HOLDS_PATIENTS, line(said))),
        Part("cautions", "Cautions", tuple(cautions.SHORT)),
    ]


def print_hindcast(said: Hindcasted, folder: Path | None) -> None:
    """Print the two sentences, the tables, the limits, and what to do next."""
    screen = Screen()
    screen.show([Strong(lead(said)), *content(said), small_print(said)])
    if folder is None:
        screen.next(["For the pictures and the stock card count by count: add --out FOLDER"])
    screen.paragraph(HOLDS_PATIENTS, cautions.SHORT[0])
    screen.paragraph(line(said))
