"""One line of the equipment list, and the words for where its number comes from."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.questions.equipment.occupancy import Peak
from o2sim.typed import item as told  # an entry has an `item` of its own

PEAK, YEAR = "simulated peak", "simulated year"
SCENARIO, COMMON, ASSUMED = "scenario", "common practice", "assumption"
EACH, EACH_YEAR = "each", "each a year"


@dataclass(frozen=True)
class Entry:
    """One line of the list; quantity is None where it is not known.

    basis is where the number comes from, in a word; rule says how, for any strategy, and figures adds this one's.
    highest is the highest seen at once, or in a year. limited: the scenario has no more, and all were in use for
    over 1 % of the time.
    """

    group: str
    item: str
    quantity: float | None = told("null where it is not known")
    unit: str = told()
    basis: str = told("where the number comes from")
    rule: str = told()
    figures: str = ""
    highest: float | None = None
    limited: bool = told("the scenario has no more, and all were in use", default=False)


def peak_entry(group: str, item: str, found: Peak, rule: str, figures: str = "", most: int | None = None) -> Entry:
    """Return a line for what is in use at once, of which the scenario has no more than `most`."""
    limited = most is not None and found.enough >= most
    return Entry(group, item, found.enough, EACH, PEAK, rule, figures, found.highest, limited)
