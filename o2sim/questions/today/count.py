"""Where the count comes from: a text, a mapping, records, a record of Python; else the scenario's own section."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from o2sim.errors import O2simError
from o2sim.questions.today.moment import NOTHING_COUNTED, begun_from, read_day
from o2sim.records.books import Records
from o2sim.records.now import now_of_records
from o2sim.records.reading import read_records
from o2sim.scenario.changing.count import Counted, with_now
from o2sim.scenario.changing.count_text import count_of_text
from o2sim.scenario.types.hospital import Scenario
from o2sim.scenario.types.now import Now

Given = Now | Counted | Records | Mapping[str, Any] | str


def counted_scenario(
    scenario: Scenario, now: Given | None, on: str | None = None, clock: dt.datetime | None = None
) -> Scenario:
    """Return a scenario that begins from a count, whatever it says itself.

    on: today's date where it was asked for, and clock the computer's time: when a text was counted that does not
    say. Raises ScenarioError or RecordsError where the count cannot be used, O2simError where there is none.
    """
    if now is None:
        if any(each.now is None for each in scenario.hospitals.values()):
            raise O2simError(NOTHING_COUNTED)
        return scenario
    if isinstance(now, Now):
        return begun_from(scenario, now)
    if isinstance(now, str):
        return with_now(scenario, count_of_text(now, _when(scenario, on, clock or dt.datetime.now())))
    if isinstance(now, Records):
        return with_now(scenario, now_of_records(now))
    if isinstance(now, Counted | Mapping):
        return with_now(scenario, now)
    raise O2simError(
        f"now: found {type(now).__name__}; allowed: a text such as that of --count, a mapping as the section now, "
        "what read_records gave"
    )


def _when(scenario: Scenario, on: str | None, clock: dt.datetime) -> dt.datetime:
    """Return when a text was counted that does not say: now, or on the day asked for as the day's staff begin."""
    if on is None:
        return clock.replace(second=0, microsecond=0)
    begins_s = next(iter(scenario.hospitals.values())).day_hours.from_s
    return dt.datetime.combine(read_day(on), dt.time()) + dt.timedelta(seconds=begins_s)


def given(text: str | None, records: Path | None) -> Given | None:
    """Return the count of the options --count and --records; None without either."""
    if text is not None and records is not None:
        raise O2simError("count: found --count and --records; allowed: one of them")
    return text if records is None else read_records(records)
