"""A scenario with uncertain numbers in, the sentence that tells which values were taken, and their table, out."""

from __future__ import annotations

from o2sim.scenario.types.hospital import Scenario

HEADS = ("uncertain", "low", "likely", "high")


def likely_note(scenario: Scenario) -> str:
    """Return that the likely values are taken, an empty text where nothing is uncertain."""
    count = len(scenario.uncertain)
    if not count:
        return ""
    values = "1 value is uncertain; this takes the likely one" if count == 1 else (
        f"{count} values are uncertain; this takes the likely ones"
    )  # fmt: skip
    what = "it does" if count == 1 else "they do"
    return f"{values}. `o2sim drivers` shows what {what}."


def rows(scenario: Scenario) -> list[tuple[str, ...]]:
    """Return path, low, likely and high of each uncertain number, in the order of the file."""
    return [(item.path, *item.texts) for item in scenario.uncertain]
