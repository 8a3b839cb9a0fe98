"""What a list of equipment gives: the object that `o2sim equipment --json` prints, declared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.questions.equipment.entries import Entry
from o2sim.runs.identity import Provenance
from o2sim.scenario.types.hospital import Figures
from o2sim.typed import Share, item


@dataclass(frozen=True)
class Lists:
    """What one strategy needs; running hours are a year's, of each unit from the first on."""

    equipment: tuple[Entry, ...]
    workshop: tuple[Entry, ...]
    running_hours_by_unit: tuple[float, ...]


@dataclass(frozen=True)
class Needed:
    """What each strategy needs at its peak and in the workshop's year."""

    where_from: Provenance = item(flat=True)
    figures: Figures = item("whose the figures of the scenario are")
    share_of_time: Share = item()
    strategies: Mapping[str, Lists] = item()


@dataclass(frozen=True)
class NeededWithCautions:
    """The same as the command prints it."""

    needed: Needed = item(flat=True)
    cautions: tuple[str, ...] = item()
