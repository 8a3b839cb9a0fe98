"""Outcomes one by one in, the figures of a facility under one strategy out, whatever the order they came in.

Nothing is kept of an outcome but exact sums: whole numbers, and money as fractions, so that a sum does not depend
on the order of its terms. Memory is the same for ten replications and for a million.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import log, sqrt

from scipy.special import stdtrit

from o2sim.outcome import Outcome
from o2sim.runs.study import supply_unserved_s
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.intervals import ROUNDING, clopper_pearson
from o2sim.typed import Count

HOUR_S = 3_600


@dataclass(frozen=True)
class Figures:
    """What a study tells of one strategy of a facility."""

    replications: Count
    stock_out_probability: Probability
    interruption_probability: Probability
    stock_outs_per_year: Mean
    unserved_patient_hours: Mean
    unserved_supply_patient_hours: Mean
    annual_cost: Mean | None


@dataclass
class Moments:
    """The sum of values and of their squares, exact."""

    total: Fraction | int = 0
    squares: Fraction | int = 0

    def add(self, value: float) -> None:
        """Take one value, whole or not."""
        exact = value if isinstance(value, int) else Fraction(value)
        self.total += exact
        self.squares += exact * exact

    def merge(self, other: Moments) -> None:
        """Take all the values of another."""
        self.total += other.total
        self.squares += other.squares

    def interval(self, n: int, factor: float, confidence: float, least: float | None = 0.0) -> Mean:
        """Return mean and Student's interval of n values times a factor, cut at least; None for no bounds."""
        mean = float(Fraction(self.total, n))
        variance = float((self.squares - Fraction(self.total * self.total, n)) / (n - 1)) if n > 1 else 0.0
        spread = sqrt(max(variance, 0.0))
        if spread > ROUNDING * abs(mean):
            half = float(stdtrit(n - 1, (1 + confidence) / 2)) * spread / sqrt(n)
            low, high = (mean - half) * factor, (mean + half) * factor
            return Mean(mean * factor, low if least is None else max(low, least), high)
        return Mean(mean * factor, None, None)


@dataclass
class Tally:
    """The figures of some replications of one facility under one strategy."""

    replications: int = 0
    with_stock_out: int = 0
    with_interruption: int = 0
    unserved_s: Moments = field(default_factory=Moments)
    unserved_supply_s: Moments = field(default_factory=Moments)
    stock_outs: Moments = field(default_factory=Moments)
    cost: Moments = field(default_factory=Moments)  # money a year

    def add(self, outcome: Outcome, cost: float | None) -> None:
        """Take one replication, with its money a year (None without prices)."""
        self.replications += 1
        self.with_stock_out += outcome.stock_outs > 0
        self.with_interruption += sum(outcome.interruptions) > 0
        self.unserved_s.add(sum(outcome.unserved_s))
        self.unserved_supply_s.add(supply_unserved_s(outcome))
        self.stock_outs.add(outcome.stock_outs)
        self.cost.add(cost or 0)

    def merge(self, other: Tally) -> None:
        """Take all the replications of another."""
        self.replications += other.replications
        self.with_stock_out += other.with_stock_out
        self.with_interruption += other.with_interruption
        for name in ("unserved_s", "unserved_supply_s", "stock_outs", "cost"):
            getattr(self, name).merge(getattr(other, name))

    def figures(self, horizon_s: int, priced: bool, confidence: float) -> Figures:
        """Return the figures: chances within the horizon, the rest scaled to 365 days."""
        n, per_year = self.replications, YEAR_DAYS * DAY_S / horizon_s
        hours = per_year / HOUR_S
        return Figures(
            replications=n,
            stock_out_probability=_probability(self.with_stock_out, n, confidence),
            interruption_probability=_probability(self.with_interruption, n, confidence),
            stock_outs_per_year=self._stock_outs(per_year, confidence),
            unserved_patient_hours=self.unserved_s.interval(n, hours, confidence),
            unserved_supply_patient_hours=self.unserved_supply_s.interval(n, hours, confidence),
            annual_cost=self.cost.interval(n, 1.0, confidence, least=None) if priced else None,
        )

    def _stock_outs(self, per_year: float, confidence: float) -> Mean:
        """Return stock-outs a year; where none is seen the high bound is Poisson's, as in Estimator.count."""
        found = self.stock_outs.interval(self.replications, per_year, confidence)
        if self.stock_outs.total == 0:
            return replace(found, low=0.0, high=-log((1 - confidence) / 2) / self.replications * per_year)
        return found


def _probability(count: int, n: int, confidence: float) -> Probability:
    found = clopper_pearson(count, n, confidence)
    return Probability(found.estimate, found.low, found.high, confidence)
