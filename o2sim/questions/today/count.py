"""Where the count comes from: a record, a mapping or a text given by hand, else the scenario's own section."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from o2sim.errors import O2simError
from o2sim.questions.today.moment import NOTHING_COUNTED, begun_from
from o2sim.scenario.types.hospital import Scenario
from o2sim.scenario.types.now import Now


def counted_scenario(scenario: Scenario, now: Now | Mapping[str, Any] | str | None) -> Scenario:
    """Return a scenario that begins from a count. Raises O2simError where there is none."""
    if isinstance(now, Now):
        return begun_from(scenario, now)
    if now is not None:
        raise O2simError(f"now: found {type(now).__name__}; allowed: a count")
    if any(each.now is None for each in scenario.hospitals.values()):
        raise O2simError(NOTHING_COUNTED)
    return scenario


def counted_at(scenario: Scenario, text: str | None, records: Path | None) -> Scenario:
    """Return a scenario that begins from the count of --count or --records, else from its own."""
    if text is not None and records is not None:
        raise O2simError("count: found --count and --records; allowed: one of them")
    if text is None and records is None:
        return counted_scenario(scenario, None)
    return counted_scenario(scenario, text)
