"""What the page of today says of an answer, in words: three figures, what does not add up, what was assumed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from o2sim.desk.words import say
from o2sim.looks.words import days_down, number

HOURS_A_DAY = 24
SURE = 0.995  # above it a whole number in 100 would say that it is certain


def day_words(day: dt.date) -> str:
    """Return a date in full: "Saturday 28 November"."""
    return f"{day:%A} {day.day} {day:%B}"


def in_100(share: float) -> str:
    """Return a chance as people count: "18 in 100"; never none or all of them, which no simulation shows."""
    if share < 1 - SURE:
        return say("today_under_1")
    return say("today_over_99") if share > SURE else say("today_in_100", count=round(100 * share))


def figures(made_of: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the three figures, each with what it is: cover, an empty shelf without an order, and with it."""
    found = [_cover(made_of)]
    bare = in_100(made_of["bare"])
    if made_of["until"] is None:
        day = day_words(dt.date.fromisoformat(made_of["day"]))
        return [*found, (bare, say("today_bare_day_said", day=day))]
    until = day_words(dt.datetime.fromisoformat(made_of["until"]).date())
    found.append((bare, say("today_bare_said", until=until)))
    if made_of["bare_with"] is not None:
        found.append((in_100(made_of["bare_with"]), say("today_bare_order_said", count=made_of["order"])))
    return found


def _cover(made_of: Mapping[str, Any]) -> tuple[str, str]:
    hours = made_of["hours"]
    if hours is None:
        return say("today_no_flow"), say("today_cover_none")
    days, flow = days_down(hours / HOURS_A_DAY), number(made_of["flow"])
    said = say("today_cover_said", hours=number(hours), flow=flow, origin=made_of["origin"])
    return say("today_cover", days=days), said


def missing(result: Mapping[str, Any]) -> list[str]:
    """Return how many cylinders nobody counted, where the question does not say so itself."""
    counts = result["counts"]
    counted, fleet = counts["accounted"], counts["fleet"]
    lacking = fleet - counted
    if lacking <= 0 or any(f"{lacking} not accounted for" in each for each in result["unknown"]):
        return []
    return [say("today_sum_missing", counted=counted, fleet=fleet, count=lacking)]


def assumed(result: Mapping[str, Any]) -> list[str]:
    """Return how full the part-used cylinders were taken to be."""
    many, gauge = result["part_used"]
    if many in ("", "0"):
        return []
    return [say("today_usual_gauge", count=many, gauge=gauge) if gauge else say("today_half_full", count=many)]
