"""One measure: its name in JSON, its unit, what it means, how it comes from outcomes and how it is summarised."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from o2sim.runs.outcomes import Outcomes
from o2sim.statistics.estimator import Column

HOUR_S = 3_600
GAS_PER_LITRE = 60_000  # gas is counted in 1/60 mL
A_YEAR = "per 365 days"
MONEY = "{money}"  # stands in a unit for the currency
Needs = Literal[
    "", "cylinders", "concentrators", "manifold", "prices", "wards", "shortfall", "sending", "backup", "shocks",
    "shocks and shortfall", "fade", "funds", "sizes",
]  # fmt: skip
How = Literal[
    "chance",  # share of replications with any, Clopper and Pearson
    "count",  # mean of rare events: bounded above even where none was seen
    "mean",  # of the replications, Student's t
    "ratio",  # sum over sum
    "money",  # a mean that may be negative, exact where chance plays no part
    "chance by cause",
    "mean by cause",
    "mean by part",
    "count by length",
    "money by item",
    "cover",  # a mean by part, over the replications that have one
    "by ward",
    "by size",
    "by class",
]
Made = Callable[[Outcomes, float], Column]  # outcomes and horizons in 365 days: a value a replication


@dataclass(frozen=True)
class Measure:
    """One measure. `of` is a field of Outcome, or a function where it takes several; "" where `how` says it all.

    one: what one of the measure is in the field's unit. yearly: scaled to 365 days. needs: what a hospital must
    have, else the measure is None (by item: empty). head: how a table heads it. inside: the measures of each
    ward, class or size of cylinder. parts: the keys, where they are known beforehand.
    """

    name: str
    unit: str
    meaning: str
    how: How
    of: str | Made = ""
    one: int = 1
    yearly: bool = True
    needs: Needs = ""
    head: str = ""
    inside: tuple[Measure, ...] = ()
    parts: tuple[str, ...] = ()

    def unit_in(self, currency: str | None) -> str:
        """Return the unit, with the currency where it is one of money."""
        return self.unit.replace(MONEY, currency or "money")

    @property
    def head_a_year(self) -> str:
        """Return the head for a table whose other columns are not all of a year."""
        return f"{self.head} a year" if self.unit.endswith(A_YEAR) else self.head

    def column(self, outcomes: Outcomes, per_year: float) -> Column:
        """Return one value a replication, shape (n,), or (n, parts) for a field by ward or class."""
        if not isinstance(self.of, str):
            return self.of(outcomes, per_year)
        factor = (per_year if self.yearly else 1) / self.one
        column: Column = outcomes.column(self.of).astype(np.float64) * factor
        return column


def share_of_new(outcomes: Outcomes, _: float) -> Column:
    """Return what the battery gives at the end, as a share of what it gave when new."""
    found: Column = outcomes.column("battery_usable_ws") / np.maximum(outcomes.column("battery_new_ws"), 1)
    return found


def litres_of(*fields: str) -> Made:
    """Return the maker of litres a year of several fields of gas together."""

    def made(outcomes: Outcomes, per_year: float) -> Column:
        gas = [outcomes.column(field).astype(np.float64) for field in fields]
        total: Column = sum((column * per_year for column in gas), start=np.zeros(len(outcomes))) / GAS_PER_LITRE
        return total

    return made


def unserved_hours(outcomes: Outcomes, per_year: float) -> Column:
    """Return patient-hours a year unserved, whatever the cause."""
    found: Column = outcomes.column("unserved_s").sum(axis=1) * (per_year / HOUR_S)
    return found


def short_hours(outcomes: Outcomes, per_year: float) -> Column:
    """Return patient-hours a year short of oxygen, whatever would have helped."""
    found: Column = outcomes.column("short_s").sum(axis=1) * (per_year / HOUR_S)
    return found
