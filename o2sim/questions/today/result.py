"""What the question of today gives: the object that `o2sim today --json` prints, declared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from o2sim.runs.identity import Origin, Ran
from o2sim.scenario.types.hospital import Figures
from o2sim.statistics.estimates import Probability
from o2sim.typed import Count, Share, item

Day = Annotated[str, (("format", "date"),)]  # as 2027-05-03
Moment = Annotated[str, (("pattern", "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}"),)]  # local, as counted


@dataclass(frozen=True)
class Counts:
    """What was counted."""

    full: Count = item("full cylinders")
    part_used: Count = item("part-used ones that stand by")
    empty: Count = item("at the door or away")
    on_patients: Count | None = item("cylinders in use; null where nobody has counted who is on oxygen")
    on_order: Count = item("cylinders in orders that have not come")
    on_oxygen: dict[str, Count] | None = item("patients by class; null where nobody has counted them")
    accounted: Count = item("cylinders counted in all")
    fleet: Count = item("cylinders there should be")


@dataclass(frozen=True)
class Bedside:
    """A cylinder in use."""

    of_class: str = item("class of its patient", key="class")
    flow_l_min: float = item("drawn from it, leak included")
    hours: float = item("that it lasts at this flow")
    assumed: bool = item("flow or gauge was not counted: the mean of the class, half a cylinder")


@dataclass(frozen=True)
class Cover:
    """How long what is there lasts if nothing changes: arithmetic, no forecast."""

    litres: float = item("that can still be given, in cylinders on the shelf and in use", unit="L")
    litres_in_use: float = item("of it, in cylinders in use", unit="L")
    flow_l_min: float | None = item("drawn from cylinders now, leaks included", unit="L/min")
    flow_from: str = item("counted, in part assumed, or mean of the forecast at the first midnight")
    hours: float | None = item("that all of it lasts, were it one vessel; null where nothing flows", unit="h")
    bedsides: tuple[Bedside, ...] = item("cylinders in use")
    changes_until_dry: Count = item("spare cylinders used up before the first bedside is dry")
    first_dry_hours: float | None = item("until a bedside has no cylinder, spares given out in turn", unit="h")
    first_dry_class: str = item("of its patient; empty where no bedside is known")
    stranded_litres: float = item("that the other bedsides' cylinders still hold then", unit="L")
    battery_hours: float | None = item("that the battery carries the units in use; null without one", unit="h")
    cut_outlasts_battery: Share | None = item("chance that the cut, or one that began now, lasts longer")


@dataclass(frozen=True)
class Fan:
    """Of the replications, the values that 5, 25, 50, 75 and 95 % of them do not exceed."""

    p5: float
    p25: float
    p50: float
    p75: float
    p95: float


@dataclass(frozen=True)
class DayAhead:
    """What may have happened by the midnight that ends a day."""

    day: Day
    bare: Probability = item("no full and no usable part-used cylinder at some time since the count")
    without: Probability = item("somebody went without for longer than the tolerated gap, for any cause")
    without_supply: Probability = item("the same for want of supply")
    delivered: Share = item("of the replications, those in which the next delivery had come")
    full: Fan = item("full cylinders at that midnight")


@dataclass(frozen=True)
class Delivery:
    """When the next delivery comes."""

    likely: Day | None = item("by the end of which it has come in half of the replications; null where in fewer")
    late: Day | None = item("the same for 95 %")
    within: Share = item("that come within the days looked at")


@dataclass(frozen=True)
class Rule:
    """What the reorder rule of the scenario says today."""

    order: Count = item("cylinders")
    position: int = item("full and on order")
    reorder_point: int = item()
    order_up_to: int = item()
    is_order_day: bool = item()
    next_order_day: Day = item("the first after today")
    why: tuple[str, ...] = item("why it is no more, or nothing")


@dataclass(frozen=True)
class Tried:
    """An order today, and what follows from it."""

    order: Count = item("cylinders")
    replications: Count = item()
    without_supply: Probability = item("somebody goes without for want of supply before `until`")
    bare: Probability = item("the shelf is bare at some time before `until`")


@dataclass(frozen=True)
class Ordering:
    """What to order today."""

    least: Count = item("cylinders; the fewest that keep the chance within the target, else the best there is")
    reached: bool = item("false where no order keeps the chance within the target")
    most: Count = item("cylinders: empties no order waits for, as the lorry takes them")
    until: Moment = item("when the order after today's can be there, or the days looked at end")
    tried: tuple[Tried, ...] = item("orders by their number")
    even: bool = item("true where no larger order tried came out worse")
    before_delivery: Probability = item(
        "with the least order somebody goes without for want of supply before any delivery and before `until`"
    )
    delivery: Delivery = item("the next, with the least order")
    rule: Rule = item()
    why_apart: tuple[str, ...] = item("why the least order and the rule's differ; empty where they do not")
    paid_for: Count | None = item(
        "the most that the purse pays for; only where that is less than could be ordered",
        default=None,
        sometimes=True,
    )


@dataclass(frozen=True)
class Night:
    """Cylinders to bring to the wards until the morning, enough in 19 of 20 replications."""

    until: Moment = item()
    there: Count = item("full and part-used ones, as counted")
    bring: Count = item("cylinders opened by then; may be more than are there")
    bring_if_cut: Count | None = item("the same if the power fails; null where no cut is simulated")


@dataclass(frozen=True)
class IfSo:
    """What changes if something happens today."""

    what: str = item()
    until: Moment = item("until when it is looked at")
    as_it_is: Probability = item("somebody goes without, for any cause")
    if_so: Probability = item("the same if it happens")
    supply_as_it_is: Probability = item("somebody goes without for want of supply")
    supply_if_so: Probability = item("the same if it happens")


@dataclass(frozen=True)
class TodayResult:
    """Whether it lasts until the lorry comes, and what to order today."""

    of: Origin = item(flat=True)
    ran: Ran = item(flat=True)
    figures: Figures = item("whose the figures of the scenario are")
    strategy: str = item("how oxygen is given")
    why_strategy: str = item("why this one")
    counted: Moment = item("when it was counted: every run begins there")
    on: Day = item("today: what is reported begins here")
    days: Count = item("looked at, from the count on")
    target: Share = item("the highest chance asked for")
    advice: tuple[str, ...] = item("two sentences: what to order, and whether to phone; fewer where stopped early")
    phone: bool | None = item("true where an order today is not enough; null where stopped early")
    unknown: tuple[str, ...] = item("what was not counted, or does not add up")
    counts: Counts = item()
    cover: Cover = item()
    by_day: tuple[DayAhead, ...] = item()
    next_delivery: Delivery = item()
    ordering: Ordering | None = item("null without resupply, or where stopped early")
    night: Night | None = item("null where stopped early")
    if_so: tuple[IfSo, ...] = item("what else might happen today")
    searched: Count = item("replications of orders that were only tried, and of what else might happen")
    complete: bool = item("false where Ctrl-C cut it short")
    notes: tuple[str, ...] = item("how it was worked out")
    cautions: tuple[str, ...] = item()
