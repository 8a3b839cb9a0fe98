"""One A4 sheet to hang up: oxygen today."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from o2sim.looks import cautions as own_figures
from o2sim.looks.cautions import LONG
from o2sim.looks.files import write_text
from o2sim.looks.sheet_page import big, cautions, heading, listed, page, paragraph, sign, table
from o2sim.looks.words import number, percent
from o2sim.questions.today.moment import in_words
from o2sim.questions.today.result import DayAhead, TodayResult
from o2sim.questions.today.text import counted, delivery_words, lead, night_words
from o2sim.scenario.types.hospital import OURS

DAYS_SHOWN = 8
TITLE = "Oxygen today"


def write_sheet(path: Path, said: TodayResult) -> None:
    """Write the sheet. Raises OutputError where it cannot be written."""
    write_text(path, sheet(said))


def sheet(said: TodayResult) -> str:
    """Return the page; while not all figures are the hospital's own it shows no number to act by."""
    ran, ours = said.ran, said.figures == OURS
    footer = (
        f"{said.of.scenario}, “{said.strategy}”, counted {said.counted}. o2sim {ran.version}, scenario "
        f"{said.of.scenario_hash}, seed {ran.seed}, {ran.replications:,} replications, engine {ran.engine}; "
        f"{'for this day alone: count again tomorrow' if ours else 'an example'}."
    )
    blocks = _blocks(said)
    example = ""
    if not ours:
        blocks = [blocks[0], *(own_figures.without_numbers(each) for each in blocks[1:])]
        example = f"{own_figures.OWN} {own_figures.NO_NUMBER}"
    return page(TITLE, blocks, footer, example)


def _blocks(said: TodayResult) -> list[str]:
    day = in_words(dt.date.fromisoformat(said.on))
    blocks: list[str] = [paragraph(f"{said.of.scenario}. {day}", "for")]
    if said.unknown:
        blocks.append(listed(said.unknown))
    if figures := _figures(said):
        blocks.append(big(figures))
    blocks += [paragraph(lead(said), "rule"), paragraph(counted(said))]
    if said.night is not None:
        blocks.append(paragraph(night_words(said.night)))
    blocks += [heading("The days ahead"), _days(said.by_day), paragraph(delivery_words(said.next_delivery))]
    if said.cover.first_dry_hours is not None:
        blocks.append(
            paragraph(
                f"If nothing changes and nothing comes, the first bedside is dry after "
                f"{number(said.cover.first_dry_hours)} h."
            )
        )
    blocks += [
        sign("counted by", "ordered by", "supplier's telephone"),
        cautions((*LONG["Cylinders"][:3], LONG["Fire"][0], LONG["What this is"][0], LONG["What this is"][3])),
    ]
    return blocks


def _figures(said: TodayResult) -> list[tuple[str, str]]:
    found = []
    if said.ordering is not None:
        found.append((f"{said.ordering.least}", "cylinders to order today, at least"))
    if said.phone is not None:
        found.append(("YES" if said.phone else "NO", "phone the supplier today"))
    if said.night is not None:
        found.append(
            (f"{min(said.night.bring, said.night.there)}", "cylinders to bring to the wards until the morning")
        )
    return found


def _days(days: Sequence[DayAhead]) -> str:
    heads = ("by the end of", "shelf bare", "somebody without, for want of supply", "lorry came", "full cylinders")
    rows = [
        (
            in_words(dt.date.fromisoformat(each.day)),
            percent(round(each.bare.estimate, 3)),
            percent(round(each.without_supply.estimate, 3)),
            percent(round(each.delivered, 3)),
            f"{each.full.p50:g} ({each.full.p5:g} to {each.full.p95:g})",
        )
        for each in days[:DAYS_SHOWN]
    ]
    return table(heads, rows, "tight")
