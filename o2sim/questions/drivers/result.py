"""What a search for drivers gives: the object that `o2sim drivers --json` prints, a class for each method."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from o2sim.measures.names import CHANCE, SUPPLY_HOURS
from o2sim.questions.drivers.settings import LawName
from o2sim.runs.identity import DrawnFrom, Origin, Ran
from o2sim.scenario.changing.fleet_levels import Levels
from o2sim.statistics import doubt
from o2sim.statistics.estimates import Mean, Probability
from o2sim.typed import Count, Share, item

MEASURED = (("required", (CHANCE, SUPPLY_HOURS)),)  # cost stands there only where the scenario states prices
HELD = "which doubt low and high, or half-widths, hold; those of best_guess always chance alone"


@dataclass(frozen=True)
class Range:
    """An uncertain number as the file, or --vary, has it."""

    field: str
    low: str
    likely: str
    high: str
    places: tuple[str, ...]


@dataclass(frozen=True)
class Answers:
    """What every method gives."""

    of: Origin = item(flat=True)
    ran: Ran = item(flat=True)
    complete: bool = item("false where Ctrl-C cut it short")
    horizon_days: float = item("length of a replication")
    target: Share = item()
    budget: float | None = item()
    worth: float | None = item()
    confidence: Share = item()
    interval_holds: str = item(HELD)
    currency: str | None = item()
    units: Mapping[str, str] = item()
    method: str = item()
    uncertain: tuple[Range, ...] = item()
    levels: Levels = item(flat=True)

    def likely(self, field: str) -> str:
        """Return the best guess of an uncertain number, as it is written."""
        return next(each.likely for each in self.uncertain if each.field == field)


@dataclass(frozen=True)
class End:
    """A measure at one end of a number: a chance has an estimate, hours and money have a mean."""

    value: str
    estimate: Share | None = item(default=None, sometimes=True)
    mean: float | None = item(default=None, sometimes=True)
    low: float | None = None
    high: float | None = None
    confidence: Share | None = item(default=None, sometimes=True)
    note: str | None = item(default=None, sometimes=True)

    @property
    def middle(self) -> float:
        """Return the estimate, or the mean."""
        return float(self.mean or 0.0) if self.estimate is None else self.estimate


@dataclass(frozen=True)
class Bar:
    """What one number does to one measure: its two ends, and high less low over the same replications."""

    field: str
    low: End
    high: End
    swing: float
    difference: Mean
    beyond_luck: bool
    bends: bool


@dataclass(frozen=True)
class Tornado:
    """One strategy at the best guess, and by measure its bars, the widest first."""

    best_guess: Annotated[Mapping[str, Probability | Mean], MEASURED]
    bars: Annotated[Mapping[str, tuple[Bar, ...]], MEASURED]


@dataclass(frozen=True)
class OneAtATime(Answers):
    """Every number at its two ends, by itself."""

    interval_holds: doubt.Held = item(HELD)
    method: Literal["one-at-a-time"] = item()
    strategies: Mapping[str, Tornado] = item()


@dataclass(frozen=True)
class Estimate:
    """A figure over the draws with its interval."""

    estimate: float
    low: float
    high: float

    @property
    def middle(self) -> float:
        """Return the figure, by the name that all estimates have for it."""
        return self.estimate


@dataclass(frozen=True)
class OverDraws:
    """One measure of one strategy: at the best guess, over what is not known, and how the two compare."""

    best_guess: Probability | Mean
    mean: Estimate
    range_low: Estimate
    range_high: Estimate
    not_known_sd: Estimate
    chance_sd: float
    not_known_share: Share
    meets_target_in: Share | None = item("of chances", sometimes=True)


@dataclass(frozen=True)
class Perfect(Estimate):
    """The value of perfect information, with the two ends of its bracket."""

    at_least: float
    at_most: float


@dataclass(frozen=True)
class OneNumber:
    """The value of knowing one number alone, and what a number without any bearing would seem to be worth."""

    field: str
    estimate: float
    by_luck: float


@dataclass(frozen=True)
class ByLoss:
    """A choice by the least mean loss: of chance, or of money."""

    by: str
    unit: Literal["share", "money"]
    left_out: tuple[str, ...] | None = item("over the budget", sometimes=True)
    best_now: str = item()
    best_in: Mapping[str, Share] = item("share of the draws")
    regret: Mapping[str, Estimate] = item()
    perfect_information: Perfect = item()
    one_number: tuple[OneNumber, ...] = item()


@dataclass(frozen=True)
class ByCost:
    """A choice of the cheapest that meets the target; it has no loss, since missing a target has no price."""

    by: str
    unit: Literal["share", "money"]
    best_now: str
    best_in: Mapping[str, Share] = item("share of the draws")
    misses_target_in: Mapping[str, Share] = item()
    dearer_where_it_meets: Mapping[str, float | None] = item()
    none_meets_in: Share = item()


@dataclass(frozen=True)
class Row:
    """The chance (mean, range_low, range_high) and the worth of knowing all, at so many draws and replications."""

    draws: Count
    replications: Count
    strategies: Mapping[str, Mapping[str, float]]
    perfect_information: Mapping[str, float]


@dataclass(frozen=True)
class RankCorrelation:
    """How a column of joint draws goes with the mean of each row: Spearman's, from -1 to 1."""

    field: str
    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class Nested(Answers):
    """Draws of all numbers together, replications inside each."""

    interval_holds: doubt.HeldOfInputs = item(HELD)
    method: Literal["nested"] = item()
    law: LawName | None = item("null where the draws are the rows of a table")
    samples: Count = item()
    draws: Count = item()
    range: Share = item()
    strategies: Mapping[str, Annotated[Mapping[str, OverDraws], MEASURED]] = item()
    decisions: tuple[ByLoss | ByCost, ...] = item()
    convergence: tuple[Row, ...] = item()
    drawn_from: DrawnFrom | None = item("the table of joint draws", default=None, sometimes=True)
    rank_correlations: Mapping[str, Mapping[str, tuple[RankCorrelation, ...]]] | None = item(
        "of joint draws, by strategy and measure, the strongest first", default=None, sometimes=True
    )


@dataclass(frozen=True)
class MorrisIndex:
    """What moving one number across its range does: mean size of the effect, its sign, how much it varies."""

    field: str
    mu_star: float
    mu_star_half_width: float
    mu: float
    sigma: float


@dataclass(frozen=True)
class SobolIndex:
    """The share of the variance that one number makes by itself, and with all it does together with others."""

    field: str
    s1: float
    s1_half_width: float
    st: float
    st_half_width: float


Index = MorrisIndex | SobolIndex


@dataclass(frozen=True)
class Screened(Answers):
    """Indices by strategy and measure, the weightiest number first; null where nothing varies."""

    interval_holds: doubt.HeldOfPoints = item(HELD)
    method: Literal["morris", "sobol"] = item()
    law: LawName = item()
    samples: Count = item()
    points: Count = item()
    strategies: Mapping[str, Annotated[Mapping[str, tuple[Index, ...] | None], MEASURED]] = item()


Found = OneAtATime | Nested | Screened
