"""What a what-if gives: the object that `o2sim whatif --json` prints, declared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.runs.identity import Origin, Ran
from o2sim.scenario.changing.fleet_levels import Levels
from o2sim.statistics import doubt
from o2sim.statistics.estimates import Mean, Probability
from o2sim.typed import Count, Currency, Inside, Share, item

OF_FUNDS = "only where money is counted"
Values = Mapping[str, str]  # field of the scenario: its value as written


@dataclass(frozen=True)
class Varied:
    """A field with the values that it takes."""

    field: str
    unit: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class PointMeasures:
    """What a strategy did at one point."""

    stock_out_probability: Probability
    interruption_probability: Probability
    stock_outs_per_year: Mean
    unserved_hours_for_want_of_supply: Mean
    unserved_patient_hours: Mean
    fill_rate: Mean | None
    annual_cost: Mean | None
    cylinders_needed: Mean | None = item(OF_FUNDS, default=None, sometimes=True)
    cylinders_needed_and_not_bought: Mean | None = item(OF_FUNDS, default=None, sometimes=True)
    unit_hours_broken_without_repair: Mean | None = item(OF_FUNDS, default=None, sometimes=True)


@dataclass(frozen=True)
class Point:
    """All strategies at one combination of the values."""

    values: Values
    scenario_hash: str
    strategies: Mapping[str, PointMeasures]


@dataclass(frozen=True)
class Change:
    """A change of the best strategy along a field, the others held where `at` says."""

    field: str
    unit: str
    at: Values
    by: str
    begins: str | None = item(key="from")
    ends: str | None = item(key="to")
    value: float = item()
    between: tuple[float, float] = item()
    low: float | None = item()
    high: float | None = item()
    seen_in: Share = item()


@dataclass(frozen=True)
class Leader:
    """The strategy with the least, and those that are not clearly different from it."""

    strategy: str
    no_clear_difference: tuple[str, ...]


@dataclass(frozen=True)
class PointLeaders:
    """Who leads at a point, by measure."""

    values: Values
    by: Mapping[str, Leader]


@dataclass(frozen=True)
class Joined:
    """The values of a field in groups, by one measure of one strategy, the other fields held where `at` says."""

    field: str
    at: Values
    strategy: str
    measure: str
    groups: tuple[tuple[str, ...], ...] = item("in a group no two values are clearly different; luck may be all")


@dataclass(frozen=True)
class Clear:
    """What is clearly different and what luck alone may separate, compared replication by replication."""

    confidence: Inside = item("with which all that is called clearly different is so, of each kind together")
    strategy_comparisons: Count = item("among which the allowed error is shared")
    value_comparisons: Count = item("among which the allowed error is shared")
    leaders: tuple[PointLeaders, ...] = item("empty for one strategy")
    joined: tuple[Joined, ...] = item()


@dataclass(frozen=True)
class Answers:
    """All points of a what-if."""

    of: Origin = item(flat=True)
    ran: Ran = item(flat=True)
    complete: bool = item()
    horizon_days: float = item("length of a replication")
    target: Inside = item()
    budget: float | None = item()
    confidence: Inside = item()
    interval_holds: doubt.Held = item(doubt.SAID)
    currency: Currency | None = item("of the prices; null without prices")
    units: Mapping[str, str] = item()
    vary: tuple[Varied, ...] = item()
    strategies: tuple[str, ...] = item()
    points: tuple[Point, ...] = item()
    points_asked_for: Count = item()
    refused: tuple[str, ...] = item("points left out, since the levels that moved make no scenario")
    levels: Levels = item(flat=True)
    break_evens: tuple[Change, ...] = item("where the best strategy changes")
    clear: Clear = item("what is clearly different")
