"""What was counted, while it is turned: its moment, ages before it, and what does not fit, noted at its place."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.values import Values
from o2sim.scenario.text.nodes import Listing, Node
from o2sim.scenario.text.problems import RefusedError
from o2sim.scenario.types.hospital import Source
from o2sim.scenario.types.now_keys import NowStated

_LAYERS = ("strategies.", "options.")


@dataclass(frozen=True)
class Count:
    """A count as a strategy sees it: what is stated, with its places, and what of the hospital is built so far."""

    setting: Setting
    values: Values  # of the section
    stated: NowStated
    sources: tuple[Source, ...]  # of the strategy
    faults: list[RefusedError] = field(default_factory=list)

    def fault(self, values: Values, names: str, found: str, allowed: str = "", hint: str = "") -> None:
        """Note keys that do not fit, as Values.fault does."""
        self.faults.append(values.fault(names, found, allowed, hint))

    def fault_at(self, node: Node, found: str, allowed: str = "", hint: str = "") -> None:
        """Note what does not fit at one node."""
        self.faults.append(self.setting.problems.add(node, f"found {found}", allowed, hint))

    def age_s(self, values: Values, name: str, moment: dt.datetime | None) -> int | None:
        """Return the seconds from a time to the count, None for one unknown; a time after the count is noted."""
        if moment is None:
            return None
        at = self.stated.counted
        if moment > at:
            self.fault(values, name, f"{said(moment)}, after the count at {said(at)}", "a time up to the count")
        return int((at - moment).total_seconds())

    def whose(self, section: str, name: str, hint: str) -> str:
        """Return a hint, with the place of a number where a strategy or an option states its own."""
        path = self.setting.hospital[section].at(name).path
        return f"{hint}; this {name} is that of {path}" if self.is_own(section, name) else hint

    def is_own(self, section: str, name: str) -> bool:
        """Return True for a number that a strategy or an option states for itself."""
        path: str = self.setting.hospital[section].at(name).path
        return path.startswith(_LAYERS)

    def listed(self, name: str) -> Sequence[Values]:
        """Return the values of a list of sections, none where it is left out."""
        return self.values.data.get(name) or ()


def said(moment: dt.datetime) -> str:
    """Return a time as a file has it."""
    return f"{moment:%Y-%m-%d %H:%M:%S}" if moment.second else f"{moment:%Y-%m-%d %H:%M}"


def item_at(values: Values, name: str, place: int) -> Node:
    """Return the node of one entry of a list, counted from 0."""
    node = values.at(name)
    return node.items[place] if isinstance(node, Listing) and place < len(node.items) else node
