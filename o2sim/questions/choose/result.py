"""Which to buy: the part `decision` of what `o2sim compare --json` prints, declared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from o2sim import typed
from o2sim.measures.names import CHANCE
from o2sim.money.payers import PaidBy
from o2sim.money.unbought import Unbought
from o2sim.questions.equipment.result import Entry
from o2sim.statistics.estimates import Mean
from o2sim.typed import Count, Inside, Share, item

UNBOUGHT = "what was needed and not bought for want of money; only where money is counted"
Compared = Literal["stock_out_probability", "unserved_patient_hours"]


@dataclass(frozen=True)
class Limits:
    """What a buyer can pay and wants: money a year, money in the first year, the highest chance of a stock-out."""

    budget: float | None = None
    capital: float | None = None
    target: float | None = None


@dataclass(frozen=True)
class Ends:
    """An interval; None where the replications show no spread."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class Intervals:
    """The intervals of an option, each by itself."""

    annual_cost: Ends | None
    stock_out_probability: Ends
    unserved_patient_hours: Ends


@dataclass(frozen=True)
class Option:
    """What one option chooses, costs and does, and its mark: on the frontier, or dominated by another."""

    choices: Mapping[str, str] = item("field: what was chosen")
    annual_cost: float | None = item()
    dear_year: float | None = item("one year in twenty costs more")
    first_year_capital: float | None = item()
    stock_out_probability: Share = item()
    upper_bound: Share = item("of the chance, all options allowed for")
    unserved_patient_hours: float = item()
    fill_rate: Share = item()
    intervals: Intervals = item()
    dominated_by: str | None = None
    sure: bool | None = item("whether its mark is, all sure ones together; null without prices", default=None)
    unbought: Unbought | None = item(UNBOUGHT, default=None, sometimes=True)

    def rank(self, measure: str) -> tuple[float, float, float]:
        """Return (cost, measure, hours), less being better in each; without prices all cost the same."""
        return self.annual_cost or 0.0, getattr(self, measure), self.unserved_patient_hours


@dataclass(frozen=True)
class Step:
    """What the next option of the frontier costs more, and what it saves; with paired intervals."""

    begins: str = item(key="from")
    ends: str = item(key="to")
    cost_more: Mean = item()
    hours_saved: Mean = item()
    chance_less: float = item()
    cost_per_hour_saved: float | None = item()


@dataclass(frozen=True)
class Pick:
    """The option picked, and those not clearly different from it; None, and why, where none will do."""

    name: str | None
    among: Count
    not_told_apart: tuple[str, ...] = ()
    within: float | None = 0.0
    why: str = ""


@dataclass(frozen=True)
class Purchase:
    """One line of the first year's purchases."""

    item: str
    count: Count
    price: float
    life_years: float | None
    salvage: float
    amount: float
    there: Count | None = typed.item("of the item, those there already", default=None, sometimes=True)
    due: Count | None = typed.item("of these, those bought again at once", default=None, sometimes=True)


@dataclass(frozen=True)
class Replacement:
    """What is bought again in a later year."""

    year: Count
    items: Mapping[str, float]
    amount: float


@dataclass(frozen=True)
class Cheque:
    """What is paid when; low and high are the cheap and the dear year."""

    currency: str
    first_year_capital: float
    purchases: tuple[Purchase, ...]
    recurrent_a_year: Mean
    recurrent_a_month: Mean
    first_year_in_all: float
    replacements: tuple[Replacement, ...]
    not_counted: tuple[str, ...] = item("in no cost, in words", default=())
    unpriced: tuple[str, ...] = item("what is to be bought and has no price: in no total", default=())
    first_year_by_payer: tuple[PaidBy, ...] | None = item(
        "what is bought to begin with by who pays it; only where others than the hospital pay for some",
        default=None,
        sometimes=True,
    )


@dataclass(frozen=True)
class InYard:
    """So many of an item that are there already, and how old they are."""

    item: str
    count: Count
    age_years: float


@dataclass(frozen=True)
class BusierYear:
    """What becomes of an option with more patients; money is None without prices."""

    annual_cost: float | None
    recurrent_a_year: Mean | None
    stock_out_probability: Share
    unserved_patient_hours: float
    unbought: Unbought | None = item(UNBOUGHT, default=None, sometimes=True)


@dataclass(frozen=True)
class MoreDemand:
    """Admissions times a factor: the busier year, or why it is not known."""

    factor: float
    complete: bool = item("false where Ctrl-C cut that run short")
    why_not: str | None = item(default=None, sometimes=True)
    found: BusierYear | None = item(default=None, flat=True)


@dataclass(frozen=True)
class Decision:
    """Which to buy: the options, the frontier by rising cost, the picks, and the one chosen to go on with."""

    measure: Compared
    confidence: Inside
    currency: str
    limits: Limits
    options: Mapping[str, Option]
    frontier: tuple[str, ...]
    steps: tuple[Step, ...]
    best: Pick
    within_budget: Pick | None
    within_target: Pick | None
    chosen: str
    cheque: Cheque | None
    procurement: tuple[Entry, ...] = ()
    more_demand: MoreDemand | None = None
    owned: tuple[InYard, ...] | None = item("already in the yard", default=None, sometimes=True)

    @property
    def by_chance(self) -> bool:
        """Return True where options are compared by the chance of a supply shortfall, False where by hours."""
        return self.measure == CHANCE

    def value(self, name: str) -> float:
        """Return the measure by which options are compared."""
        return float(getattr(self.options[name], self.measure))

    def picked(self) -> list[str]:
        """Return the names of the picks that were made."""
        picks = (self.best, self.within_budget, self.within_target)
        return [pick.name for pick in picks if pick is not None and pick.name is not None]

    def marks(self, name: str, *, sure: bool = False) -> str:
        """Return whether an option is chosen, on the frontier or dominated; sure: with whether that is sure."""
        option, places = self.options[name], {each: place for place, each in enumerate(self.frontier, 1)}
        tail, by = " (sure)" if sure and option.sure else "", option.dominated_by
        found = ["chosen"] if name == self.chosen else []
        found += [f"frontier {places[name]}{tail}"] if name in places else []
        return "; ".join([*found, f"dominated by {places[by]}{tail}"] if by is not None else found)
