"""What a costing counts beside purchases and the run: whose costs, staff, training, other lines; the keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from o2sim.scenario.keys.field import COMMON, DAY_S, YEAR_DAYS
from o2sim.scenario.keys.record import key, time_key, whole_key

OWN, SERVICE, DONOR, FAMILIES = PAYERS = ("own", "health service", "donor", "families")
PERSPECTIVES = ("health service", "hospital", "society")  # whose costs are counted; the first unless stated


def years(seconds: int) -> float:
    """Return a time in years of 365 days."""
    return seconds / (YEAR_DAYS * DAY_S)


def paid_by(help_: str = "who pays it") -> Any:
    """Return the key that says who pays."""
    return key("word", help_, OWN, words=PAYERS)


@dataclass(frozen=True)
class StaffTime:
    """What the time of staff costs: hours by task from the run, or a share of a post."""

    wage_per_year: float = key(
        "money a year", "pay of one post with allowances, as 300 USD/month", name="wage", required=True
    )
    hours_a_year_s: int = time_key("what one post works in a year, leave taken off", "1800 h", COMMON, "100 h")
    posts: float | None = key(
        "number", "posts that oxygen takes, as 0.5, in place of the times of tasks", most="1000",
        otherwise="hours by task from the run",
    )  # fmt: skip
    look_s: int | None = time_key("one look at a gauge", least="1 s", otherwise="not counted")
    connect_s: int | None = time_key(
        "to connect one patient, once each", least="1 s", otherwise="staff.connect_time by day, else not counted"
    )
    fetch_s: int | None = time_key(
        "to bring a full cylinder to the bed and take the empty one away", least="1 s", otherwise="not counted"
    )
    filter_s: int | None = time_key(
        "to clean the filters of one concentrator", least="1 s", otherwise="not counted"
    )
    filter_every_s: int = time_key("between two cleanings of the filters of a unit", "7 days", COMMON, "1 h")
    paid_by: str = paid_by("who pays the staff")


@dataclass(frozen=True)
class Training:
    """What it costs to train those who handle oxygen, again after some years."""

    price: float = key("money", "to train one person, travel and allowances included", required=True)
    persons: int = whole_key("how many are trained each time", least=1, most=10_000, required=True)
    every_years: float = time_key(
        "how long it holds, until it is given again", "2 years", "assumed", "1 year", name="every", turned=years
    )
    paid_by: str = paid_by()


@dataclass(frozen=True)
class OtherCost:
    """A line that nothing else here names: so much a year, or once for so many years."""

    name: str
    yearly: float = key("money a year", "what it costs a year", "0", "")
    once: float = key("money", "what it costs to begin with, in place of yearly", "0", "")
    life_years: float = time_key(
        "years that `once` lasts", "10 years", COMMON, "1 year", name="life", turned=years
    )
    paid_by: str = paid_by()
