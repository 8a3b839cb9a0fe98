"""How many cylinders to keep, as plain data: what is said of it, what lies beside it, sheets, what to write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from o2sim.desk.engine_child import Progress
from o2sim.desk.shown_blocks import data_of, without_keys
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.types.hospital import OURS, Scenario

LEVELS = {  # where a text names both
    "resupply.reorder_point": "the number left at which you order",
    "resupply.order_up_to": "the number you fill up to",
}


def kept(scenario: Scenario, given: Mapping[str, Any], progress: Progress, seed: int) -> dict[str, Any]:
    """Return how many cylinders are enough, what lies beside that, its sheets, and what to write."""
    from o2sim.questions.size.content import content
    from o2sim.questions.size.settings import SizeSettings
    from o2sim.questions.size.sheets import acts_by, sheets
    from o2sim.questions.size.short_sizing import near, runs_word, short_sizing
    from o2sim.questions.size.sizing import size
    from o2sim.scenario.keys.questions import QUESTIONS

    asked = SizeSettings(target=given["target"], seed=seed, replications=given.get("replications"))
    found = size(scenario, given["strategy"], settings=asked, progress=progress)
    record, there = found.record, _fleet_there(scenario, given["strategy"])
    answer = None if record.answer is None else dict(record.answer.to_write)
    words = {key: each.short for each in QUESTIONS for key in each.keys} | LEVELS
    short = short_sizing(record, found.hospital, there)
    return {
        "complete": record.complete,
        "target": given["target"],
        "strategy": given["strategy"],
        "to_write": answer,
        "fleet": None if record.chosen is None else record.chosen[FLEET],
        "short": short[0] if answer is None or len(short) < 4 else short[1],
        "said": short,
        "near": [asdict(each) for each in near(record, there)],
        "runs": runs_word(record),
        "more": data_of(without_keys(content(record), words)),
        "is_example": record.figures != OURS,
        "acts_by": acts_by(found.hospital, record),
        "sheets": sheets(found.hospital, record) if record.answer is not None else None,
        "text": found.scenario_text() if record.can_be_written else None,
    }


def _fleet_there(scenario: Scenario, strategy: str) -> int | None:
    """Return how many cylinders there are, None where the file has a range of that."""
    cylinders = scenario.hospitals[strategy].cylinders
    unknown = {place for each in scenario.uncertain for place in each.places}
    is_known = not any(place.endswith(FLEET) for place in unknown)
    return cylinders.fleet if cylinders is not None and is_known else None
