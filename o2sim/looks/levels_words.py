"""What became of the levels of the reorder rule beside a fleet that varies in, the words for it out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks.words import joined


def moved_along(levels: Sequence[str]) -> str:
    """Return that levels move with the fleet, an empty text where none does."""
    if not levels:
        return ""
    verb, them = ("moves", "it") if len(levels) == 1 else ("move", "them")
    return f"{joined(levels)} {verb} with the fleet by the same number (--hold-levels keeps {them})."


def beside_fleet(result: Mapping[str, Any]) -> str:
    """Return in a sentence or two which levels moved with a fleet that varies, which not; empty without one."""
    if result["levels"] is None:
        return ""
    varied = result["levels_varied"]
    own = f"{joined(varied)} {'is varied itself' if len(varied) == 1 else 'are varied themselves'}"
    if result["levels"] == "moved":
        return f"{moved_along(result['levels_moved'])}{f' {own}, so held beside it.' if varied else ''}"
    rest = f"; {own}" if varied else ""
    return f"The levels of the reorder rule are held while the fleet changes{rest}."


def under_title(result: Mapping[str, Any]) -> list[str]:
    """Return the same as a line under the title of a drawing, none where no fleet varies beside levels."""
    said = {"moved": "levels of the reorder rule moved with the fleet", "held": "levels of the reorder rule held"}
    return [said[result["levels"]]] if result["levels"] else []
