"""Sum up the outcomes of a facility under one strategy, one by one, whatever the order in which they come.

Nothing is kept of an outcome but exact sums: whole numbers, and money as fractions, so that a sum does not depend
on the order of its terms. Memory is the same for ten replications and for a million.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from math import log, sqrt

from scipy.special import stdtrit

from o2sim.money.unbought import Lacking, Unbought, lacking_of, unbought
from o2sim.outcome import Outcome, supply_unserved_s
from o2sim.questions.facilities.result import Figures
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.intervals import ROUNDING, clopper_pearson

HOUR_S = 3_600


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
    delivered: float = 0  # these three: as money/unbought.py has them
    unfunded_gas: float = 0
    broken_s: float = 0

    def add(self, outcome: Outcome, cost: float | None) -> None:
        """Take one replication, with its money a year (None without prices)."""
        self.replications += 1
        self.with_stock_out += outcome.stock_outs > 0
        self.with_interruption += sum(outcome.interruptions) > 0
        self.unserved_s.add(sum(outcome.unserved_s))
        self.unserved_supply_s.add(supply_unserved_s(outcome))
        self.stock_outs.add(outcome.stock_outs)
        self.cost.add(cost or 0)
        lacking = lacking_of(outcome)
        self.delivered += lacking.delivered
        self.unfunded_gas += lacking.unfunded_gas
        self.broken_s += lacking.broken_s

    def merge(self, other: Tally) -> None:
        """Take all the replications of another."""
        for each in fields(self):
            mine, more = getattr(self, each.name), getattr(other, each.name)
            if isinstance(mine, Moments):
                mine.merge(more)
            else:
                setattr(self, each.name, mine + more)

    def unbought(self, hospital: Hospital) -> Unbought | None:
        """Return what was needed and not bought under a strategy's hospital; None where nobody counts money."""
        return unbought(hospital, Lacking(self.delivered, self.unfunded_gas, self.broken_s), self.replications)

    def figures(self, horizon_s: int, priced: bool, confidence: float) -> Figures:
        """Return the figures: chances within the horizon, the rest scaled to 365 days."""
        n, per_year = self.replications, YEAR_DAYS * DAY_S / horizon_s
        hours = per_year / HOUR_S
        stock_outs = self.stock_outs.interval(n, per_year, confidence)
        if self.stock_outs.total == 0:  # none seen: the high bound is Poisson's, as in Estimator.count
            stock_outs = replace(stock_outs, low=0.0, high=-log((1 - confidence) / 2) / n * per_year)
        stock_out, interruption = (
            Probability(found.estimate, found.low, found.high, confidence)
            for found in (
                clopper_pearson(count, n, confidence) for count in (self.with_stock_out, self.with_interruption)
            )
        )
        return Figures(
            replications=n,
            stock_out_probability=stock_out,
            interruption_probability=interruption,
            stock_outs_per_year=stock_outs,
            unserved_patient_hours=self.unserved_s.interval(n, hours, confidence),
            unserved_supply_patient_hours=self.unserved_supply_s.interval(n, hours, confidence),
            annual_cost=self.cost.interval(n, 1.0, confidence, least=None) if priced else None,
        )
