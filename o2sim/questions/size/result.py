"""What a sizing gives: the object that `o2sim size --json` prints, declared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from o2sim.money.unbought import Unbought
from o2sim.outcome import CAUSE_LABELS
from o2sim.planning.delivery_time import DeliveryTime
from o2sim.runs.identity import DrawnFrom, Origin, Ran
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER
from o2sim.scenario.types.hospital import Figures
from o2sim.statistics import doubt
from o2sim.statistics.estimates import Mean, Probability
from o2sim.typed import Count, Currency, Inside, Share, item

MISSING = "share of the litres needed that were not delivered, those of patients sent on included"
WRITTEN = "field of the scenario: its value as written"
Values = Mapping[str, str]  # the same
Label = Annotated[str, (("enum", tuple(CAUSE_LABELS.values())),)]
ONE_BATCH, SEARCH, IN_TURN = "one batch", "search", "from the largest down"  # methods
MISSING_LITRES = "too many litres missing"  # statuses of a point
TOO_OFTEN, NOT_SHOWN, PASSED, CONFIRMED, NOT_CONFIRMED, CURVE, DEARER, ENOUGH = (
    "fails too often",
    "not shown to be enough",
    "passed the scan",
    "confirmed",
    "not confirmed",
    "for the curve",
    "dearer, not tried",
    "enough in the simulation",
)
DAYS = "days that the cylinders are to last from the telephone call on"
MOST_USED = "19 of 20 replications never used more in so many days"
UNBOUGHT = "what was needed and not bought for want of money; only where money is counted"
LEFT = "full cylinders left at which to phone; may be more than there ever are"


@dataclass(frozen=True)
class Cost:
    """What a candidate costs a year, on average; null without prices."""

    annual_cost: float | None
    unbought: Unbought | None = item(UNBOUGHT, default=None, sometimes=True)


@dataclass(frozen=True)
class Point:
    """A candidate on the curve; a search knows its cost as well."""

    values: Values = item(WRITTEN)
    replications: Count = item()
    failures: Count = item()
    estimate: Share = item()
    low: Share = item()
    high: Share = item()
    status: str = item()
    cost: Cost | None = item(default=None, flat=True)

    @property
    def annual_cost(self) -> float | None:
        """Return what it costs a year; None without prices, or where no search was made."""
        return None if self.cost is None else self.cost.annual_cost

    @property
    def unbought(self) -> Unbought | None:
        """Return what was needed and not bought; None where nobody counts money, or no search was made."""
        return None if self.cost is None else self.cost.unbought


@dataclass(frozen=True)
class Answer:
    """The candidate that is enough; after a search by its fresh replications."""

    point: Point = item(flat=True)
    at_most: Share = item("bound that the chance is shown to be below, in the simulation")
    attempts: Count | None = item(sometimes=True)
    to_write: Values = item("all that the answer sets under the strategy")


@dataclass(frozen=True)
class Sides:
    """The points one step less and one step more than the answer; null where there is none."""

    one_less: Point | None = None
    one_more: Point | None = None


@dataclass(frozen=True)
class Neighbours:
    """The points beside the answer; of several fields by field, the others as in the answer."""

    sides: Sides = item(flat=True)
    by_field: Mapping[str, Sides] | None = item(default=None, sometimes=True)


@dataclass(frozen=True)
class NextOne:
    """What the step from the answer to the next candidate buys."""

    to: Values
    lowers_the_chance_by: float
    cost_a_year: float | None
    first_that_lowers: Values | None = None
    which_lowers_by: float | None = None


@dataclass(frozen=True)
class MoreReplications:
    """Which values so many replications would show to be enough, by what those that were run make likely."""

    replications: Count
    values: Values | None = item("the likeliest answer; null for none of those tried")
    least: Values | None = item("the answer lies below in fewer than 1 in 40 cases; null: none is likely at all")
    most: Values | None = item("it lies above in fewer than 1 in 40 cases; null: it may be none of those tried")


@dataclass(frozen=True)
class PhoneSeason:
    """When to phone in some months of the year; the months are those of the telephone call.

    Where no simulated day lies in them, most_used is that of all days.
    """

    months: tuple[Count, ...] = item("1-12, of the calls")
    days: Count = item(DAYS)
    most_used: float | None = item(f"{MOST_USED}, of days on end that begin in these months")
    phone_at: Count = item(LEFT)

    def by_most_used(self, cautious: float) -> bool:
        """Return True if the telephone goes by what the simulated years used, which was more than cautious."""
        return self.most_used is not None and self.most_used > cautious * self.days

    def rate(self, cautious: float) -> float:
        """Return the cylinders a day behind the number to phone at."""
        return max(cautious, (self.most_used or 0.0) / self.days)


@dataclass(frozen=True)
class Card:
    """What a reorder card needs: uses in full cylinders a day, times in whole days.

    Times are those of the delivery that the telephone brings: an emergency one where the scenario has such a rule.
    """

    concentrators_help: bool
    seasonal: bool = item("whether unaided is that of a peak")
    usual: float | None = item("mean use of the replications")
    unaided: float | None = item("all patients on cylinders at the season's peak mean need")
    cautious: float = item("the greater of usual and unaided")
    delivery: DeliveryTime = item()
    emergency_delivery: DeliveryTime | None = item()
    phone_days: Count = item(f"{DAYS}, in the season of phone_at")
    most_used: float | None = item(f"{MOST_USED}, in that season")
    phone_at: Count = item(f"{LEFT}; the greatest of phone_by_season")
    phone_by_season: tuple[PhoneSeason, ...] = item(
        "months in which closed roads make for a greater number, then the others; else one of all months"
    )
    without_shocks: bool | None = item(
        "true: times of delivery leave the scenario's shocks out", default=None, sometimes=True
    )

    @property
    def hardest(self) -> PhoneSeason:
        """Return the season with the greatest number to phone at."""
        return max(self.phone_by_season, key=lambda each: each.phone_at)


@dataclass(frozen=True)
class Measured:
    """What else happens at a candidate: the answer, else the best of those that failed."""

    values: Values = item(WRITTEN)
    first_replication: Count = item()
    replications: Count = item()
    chance_by_named_causes: Probability = item()
    chance_of_a_stock_out: Probability = item()
    chance_by_cause: Mapping[str, Share] = item()
    litres_missing: Mean = item(MISSING)
    annual_cost: float | None = item()
    cylinders_emptied_a_day: float = item()
    deliveries_a_year: float = item()
    card: Card | None = item()
    unbought: Unbought | None = item(UNBOUGHT, default=None, sometimes=True)


@dataclass(frozen=True)
class WithHandling:
    """What the same candidate gives with handling as in the file, in the same replications as `measured`."""

    values: Values = item(WRITTEN)
    first_replication: Count = item()
    replications: Count = item()
    chance_by_named_causes: Probability = item()
    chance_of_a_stock_out: Probability = item()
    chance_of_any_interruption: Probability = item()
    short_patient_hours: float = item("given nothing, or less than is enough; per 365 days")
    litres_missing: Mean = item(MISSING)


@dataclass(frozen=True)
class AtEnough:
    """The answer where this share of the prescribed flow, or more, counts as served."""

    enough: Share
    as_in_file: bool
    shared: bool = item("true where no run of its own was needed: how much is enough changes nothing here")
    values: Values | None = item("null where no value is shown to be enough")
    at_most: Share | None = item("as of the answer")


@dataclass(frozen=True)
class Run:
    """What a pair of levels gives, with supply alone, in the replications in which two are compared."""

    levels: str = item("reorder point / order-up-to level")
    failures: Count = item("replications in which somebody went without because of the causes")
    litres_missing: Mean = item(MISSING)
    deliveries_a_year: float = item()
    annual_cost: float | None = item("null without prices")
    unbought: Unbought | None = item(UNBOUGHT, default=None, sometimes=True)


@dataclass(frozen=True)
class BetterRule:
    """What other levels of the reorder rule give with the cylinders there are, beside those of the file.

    Both in the same replications, which took no part in choosing the pair.
    """

    fleet: Count = item("cylinders, as in the file")
    first_replication: Count = item()
    replications: Count = item()
    present: Run = item()
    other: Run = item()
    only_present_fails: Count = item("replications in which only the present levels fail")
    only_other_fails: Count = item("replications in which only the others fail")
    by_luck: Share = item("how often luck alone shows so clear a difference: McNemar's exact test, one-sided")
    is_better: bool = item("whether that is at most 1 - confidence")
    is_enough: bool = item("whether the other levels surely meet the target and the limit of missing litres")
    to_write: Values = item("what the other levels set under the strategy")


@dataclass(frozen=True)
class RuleOfThumb:
    """What a rule of thumb says of the field that is sized, and the chance there by the curve."""

    rule: str
    level: float
    figures: str
    value: int
    estimate: Share | None


@dataclass(frozen=True)
class Sized:
    """A field that is sized."""

    field: str
    unit: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class Method:
    """By which method, and why not by one batch."""

    name: str
    why: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """The question, and which scenario it is about."""

    of: Origin = item(flat=True)
    figures: Figures = item("whose the figures of the scenario are")
    ran: Ran = item(flat=True)
    horizon_days: float = item("length of a replication")
    strategy: str = item()
    target: Inside = item()
    confidence: Inside = item()
    interval_holds: doubt.HeldOfEither = item(doubt.SAID)
    causes: tuple[Label, ...] = item()
    currency: Currency | None = item("of the prices; null without prices")
    vary: tuple[Sized, ...] = item()
    levels_moved: tuple[str, ...] = item()
    refused: tuple[str, ...] = item()
    method: Method = item()
    sized_on: Literal["supply alone"] = item("the run whose curve and answer these are: perfect handling")
    enough: Share = item("of the prescribed flow that counts as served, by the file")
    most_missing: Inside = item("share of the litres needed that may at most be missing")


@dataclass(frozen=True)
class ByRow:
    """The least that is enough within single rows of joint draws, by so many replications of each."""

    replications_of_a_row: Count
    low: Values | None = item(
        "enough in 5 % of the rows; the least tried where less might do; null: more than the largest tried"
    )
    middle: Values | None = item("in half of them")
    high: Values | None = item("in 95 % of them")
    none_in: Share = item("share of the rows in which the largest tried is not enough")


@dataclass(frozen=True)
class Found:
    """What a method found."""

    complete: bool = item()
    replications_done: Count = item()
    answer: Answer | None = item("null where no value is shown to be enough")
    curve: tuple[Point, ...] = item()
    neighbours: Neighbours = item()
    next_one: NextOne | None = item()
    more_replications: tuple[MoreReplications, ...] | None = item()
    measured: Measured | None = item()
    rules_of_thumb: tuple[RuleOfThumb, ...] = item(key="thumb")
    with_handling: WithHandling | None = item("null where it was not run")
    by_enough: tuple[AtEnough, ...] = item("the answer by what counts as served, by rising share")
    better_rule: BetterRule | None = item(
        "to be tried before buying cylinders; null where nothing is to be bought, or no pair was compared",
        default=None,
    )
    draws: DrawnFrom | None = item("joint draws that replications met in turn", default=None, sometimes=True)
    by_row: ByRow | None = item(
        "with joint draws; not there where a row has fewer than 1 / target replications",
        default=None,
        sometimes=True,
    )


@dataclass(frozen=True)
class SizingResult(Found, Asked):
    """The question, the method and why, the answer, its curve, and what stands beside them."""

    shocks: tuple[str, ...] | None = item(
        "of the scenario, in every run; not there without any", default=None, sometimes=True
    )

    @property
    def chosen(self) -> Values | None:
        """Return the values of the answer."""
        return None if self.answer is None else self.answer.point.values

    @property
    def can_be_written(self) -> bool:
        """Return True where there is an answer, or a pair of levels surely better than those of the file."""
        rule = self.better_rule
        return self.answer is not None or (self.pairs and rule is not None and rule.is_better)

    @property
    def pairs(self) -> bool:
        """Return True where the levels of the reorder rule were tried in pairs, with the fleet as it is."""
        return self.vary[0].field == LEVELS_TOGETHER

    @property
    def in_a_row(self) -> bool:
        """Return True where one field with numbers is sized, so that the curve goes from less to more."""
        return len(self.vary) == 1 and not self.pairs

    @property
    def by_one_batch(self) -> bool:
        """Return True where one batch gave the curve, False after a search."""
        return self.method.name == ONE_BATCH
