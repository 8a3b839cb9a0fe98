"""What is typed into the form of today, kept as it is typed; that of another day is forgotten."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from o2sim.desk.desk import Desk
from o2sim.desk.history import Draft
from o2sim.desk.today_fields import (
    BEGINS,
    counted_strategies,
    fields_of,
    has_manifold,
    has_sizes,
    parts,
    problem_of,
)
from o2sim.desk.words import say
from o2sim.scenario.types.hospital import Scenario

LONGEST = 40  # letters of a field
DAY = f"{BEGINS}day"  # that the drafts are of


def why_none(scenario: Scenario) -> str:
    """Return why nothing can be counted here, "" where it can."""
    if not counted_strategies(scenario):
        return say("today_no_cylinders", name=scenario.name)
    if has_sizes(scenario):
        return say("today_sizes", name=scenario.name)
    return say("today_manifold", name=scenario.name) if has_manifold(scenario) else ""


def typed_today(desk: Desk, file: str) -> dict[str, str]:
    """Return what was typed today, by field."""
    drafts = desk.history.drafts(file)
    if drafts.get(DAY, Draft()).typed != desk.today().isoformat():
        return {}
    return {name: draft.typed for name, draft in drafts.items() if name.startswith(BEGINS)}


def keep_typed(desk: Desk, file: str, typed: Mapping[str, str]) -> None:
    """Keep what was typed; what is of another day is forgotten."""
    day, drafts = desk.today().isoformat(), desk.history.drafts(file)
    if drafts.get(DAY, Draft()).typed != day:
        desk.history.drop_drafts(file, [name for name in drafts if name.startswith(BEGINS)])
    for name, text in {DAY: day, **typed}.items():
        desk.history.keep_draft(file, name, Draft("", text))


def moment(desk: Desk) -> dt.datetime:
    """Return the date and time at the desk."""
    return dt.datetime.combine(desk.today(), desk.clock())


def checked(desk: Desk, name: str, text: str) -> str | None:
    """Keep what was typed into a field, and return what is wrong with it; None where there is no such field."""
    here = desk.read()
    if here is None or here.scenario is None or why_none(here.scenario):
        return None
    fields = fields_of(parts(here.scenario))
    if name not in fields:
        return None
    text = text.strip()[:LONGEST]
    keep_typed(desk, here.file, {name: text})
    return problem_of(fields[name][1], text, moment(desk))
