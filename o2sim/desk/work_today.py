"""Today as plain data: two sentences, three figures, a drawing, tables, the sheet, a line of the stock card."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.desk.engine_child import Progress
from o2sim.desk.shown_blocks import data_of, without_keys
from o2sim.desk.stock_card import lines_there, without_day
from o2sim.scenario.changing.count import with_now
from o2sim.scenario.types.hospital import Scenario
from o2sim.typed import as_json

if TYPE_CHECKING:
    from o2sim.questions.today.result import TodayResult
    from o2sim.questions.today.today import Today

ROUNDS = 4  # runs with all replications that are reckoned with, for the bar


def of_today(scenario: Scenario, given: Mapping[str, Any], progress: Progress, seed: int) -> dict[str, Any]:
    """Return what today's count leads to. Raises O2simError, and KeyboardInterrupt where nothing was done."""
    from o2sim.questions.today.settings import TodaySettings
    from o2sim.questions.today.today import today

    usual = TodaySettings()
    many = int(given.get("replications", usual.replications))
    of = ROUNDS * many
    asked = TodaySettings(strategy=given["strategy"], on=given["on"], replications=many, seed=seed)
    counted = with_now(scenario, given["values"])
    found = today(counted, settings=asked, progress=lambda done: progress(min(done, of), of))
    return {**_kept(found.record), **_lines(found, Path(given["card"])), **_asked(given), "of": many}


def _asked(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was asked, so that it can be gone on with, and said as a command."""
    return {name: given[name] for name in ("values", "strategy", "on", "card", "part_used")}


def _kept(said: TodayResult) -> dict[str, Any]:
    from o2sim.questions.today.text import content, counted, lead, line

    shown = replace(
        said, cover=replace(said.cover, bedsides=())
    )  # no gauge at a bed is asked for: all are assumed
    blocks = without_keys(content(shown, every_day=False), {})
    first = (
        len(blocks) - (said.night is not None) - bool(said.if_so)
    )  # tonight and what else may happen stand last
    return {
        "complete": said.complete,
        "done": said.ran.replications,
        "said": list(said.advice) or [lead(said)],
        "short": said.advice[0].partition(":")[0] if said.advice else lead(said),
        "unknown": list(said.unknown),
        "counted": said.counted,
        "counted_said": counted(said),
        "counts": as_json(said.counts),
        "figures": _figures(said),
        "picture": data_of([_picture(said)]),
        "tables": data_of(blocks[:first]),
        "tonight": data_of(blocks[first:]),
        "notes": list(said.notes),
        "line": line(said),
        "sheet": _sheet(said),
    }


def _figures(said: TodayResult) -> dict[str, Any]:
    """Return what the three figures are made of: cover; how often the shelf is bare, without an order and with."""
    cover, ordering = said.cover, said.ordering
    found: dict[str, Any] = {"hours": cover.hours, "flow": cover.flow_l_min, "origin": cover.flow_from}
    if ordering is None:
        day = next((each for each in said.by_day if each.day == said.next_delivery.likely), said.by_day[-1])
        return {**found, "bare": day.bare.estimate, "day": day.day, "until": None}
    bare = {each.order: each.bare.estimate for each in ordering.tried}
    with_order = bare[ordering.least] if ordering.least else None
    return {**found, "bare": bare[0], "until": ordering.until, "order": ordering.least, "bare_with": with_order}


def _picture(said: TodayResult) -> Any:
    from o2sim.looks.drawing import NARROW_IN
    from o2sim.questions.today.charts import fan

    return fan(said, NARROW_IN)


def _sheet(said: TodayResult) -> str:
    from o2sim.questions.today.sheet import sheet

    return sheet(said)


def _lines(found: Today, card: Path) -> dict[str, Any]:
    """Return the line of the stock card, and how good the forecasts of its counts were, with this one in it."""
    from o2sim.questions.today.log import entries_of, line_of
    from o2sim.questions.today.review import content, review

    line = line_of(found.record, found.full)
    entries, skipped = entries_of([*without_day(lines_there(card), line), line], card.name)
    return {"card_line": line, "review": data_of(content(review(entries, skipped)))}
