"""The reorder rule, the supplier and the road as frozen dataclasses in the units used inside, with their keys."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar

from o2sim.scenario.keys.field import COMMON
from o2sim.scenario.keys.record import NEEDED, key, lasting, part_or_none, permille, several, time_key, whole_key
from o2sim.scenario.types.cylinder_size import MOST_SIZES
from o2sim.scenario.types.laws import Law


@dataclass(frozen=True)
class RoadClosure:
    """Days on which no delivery arrives.

    start and end are dates (end inclusive), or None for the whole run. Without chance_per_day the whole spell is
    closed; with it a closure starts on each of its days with that chance and lasts length_s.
    """

    start: dt.date | None = key(
        "date", "first day", name="from", otherwise="the first day of the run, where there is a chance",
        value=NEEDED,
    )  # fmt: skip
    end: dt.date | None = key(
        "date", "last day, inclusive", name="to", otherwise="the last day of the run, where there is a chance",
        value=NEEDED,
    )  # fmt: skip
    chance_per_day: float | None = key(
        "share", "chance that a closure starts on a day", otherwise="closed on all the days", needs="length"
    )
    length_s: Law | None = lasting(
        "how long a drawn closure lasts", least="", otherwise="needed with chance_per_day"
    )

    def covers(self, day: dt.date) -> bool:
        """Return True if a day is one of those on which a closure may hold, or begin."""
        return (self.start or day) <= day <= (self.end or day)


@dataclass(frozen=True)
class PartDelivery:
    """With this chance the supplier brings only a share (0-1, drawn) of an order; the rest is cancelled."""

    chance: float = key("share", "that an order is not delivered whole", required=True)
    share: Law = key("law of share", "what comes of such an order, at least one cylinder", required=True)


@dataclass(frozen=True)
class Emergency:
    """An order outside the rule, placed when the stock is low; exactly one of the three triggers is set.

    below: full, part-used and in an emergency order; cover_s: how long the shelf lasts at the present flow;
    days_of_cover_s: how long all on hand lasts at the greater of the last 7 days' use and the season's mean need.
    """

    instead: ClassVar = (
        ("below", ("cover", "days_of_cover")),
        ("cover", ("below", "days_of_cover")),
        ("days_of_cover", ("below", "cover")),
    )
    below: int | None = whole_key(
        "ordered when full, part-used and in an emergency order are fewer", None, 1, otherwise="cover instead",
        kw_only=True,
    )  # fmt: skip
    cover_s: int | None = time_key(
        "or when the shelf lasts a shorter time at the present flow", otherwise="below instead", least="1 min",
        kw_only=True,
    )  # fmt: skip
    days_of_cover_s: int | None = time_key(
        "or when what is on hand, in use too, lasts a shorter time at the greater of the last 7 days' use and the "
        "season's mean need",
        otherwise="below instead", least="1 min", kw_only=True,
    )  # fmt: skip
    up_to: int = whole_key(  # level of full cylinders
        "level of full ones that an emergency order restores", None, 1,
        otherwise="reorder_point, at least `below`", value=NEEDED,
    )  # fmt: skip
    lead_time_s: Law = lasting("from emergency order to delivery on open roads", least="0 s", required=True)
    vehicle_capacity: int | None = whole_key(
        "cylinders one emergency trip can carry", None, 1, words="none", otherwise="no limit"
    )
    minimum_order: int = whole_key("no emergency order is placed for fewer", "1", 1)
    vehicle_space: int | None = whole_key(
        "spaces of one emergency trip, where cylinders of several sizes take several", None, 1, words="none",
        otherwise="no limit",
    )  # fmt: skip


@dataclass(frozen=True)
class SizeLevels:
    """The levels of the reorder rule for cylinders of one size."""

    reorder_point: int = whole_key(
        "order when full and on order of this size are at or below this", otherwise="order_up_to - 1", value=NEEDED
    )
    order_up_to: int = whole_key(
        "level that an order restores", otherwise="fleet of cylinders of this size", value=NEEDED
    )
    name: str = ""  # of the size


@dataclass(frozen=True)
class Resupply:
    """The reorder rule, the supplier and the road. review_s is None where review is continuous.

    With several sizes of cylinders reorder_point and order_up_to are the sums of their levels.
    """

    review_s: int | None = time_key(
        "time between reviews of the stock, or `continuous`", "7 days", COMMON, "1 min", words="continuous",
        value=NEEDED,
    )  # fmt: skip
    reorder_point: int = whole_key(
        "order when full and on order are at or below this", otherwise="order_up_to - 1", value=NEEDED
    )
    order_up_to: int = whole_key("level that an order restores", otherwise="fleet of cylinders", value=NEEDED)
    lead_time_s: Law = lasting("from order to delivery on open roads", least="0 s", required=True)
    vehicle_capacity: int | None = whole_key(
        "cylinders one trip can carry", None, 1, words="none", otherwise="no limit"
    )
    minimum_order: int = whole_key("no order is placed for fewer", "1", 1)
    overtaking: bool = key(
        "word", "whether a later order may arrive before an earlier one", "not allowed", COMMON,
        words={"allowed": True, "not allowed": False, "true": True, "false": False},
    )  # fmt: skip
    road_closures: tuple[RoadClosure, ...] = several(
        RoadClosure, "days without deliveries, dated or drawn", "roads always open"
    )
    own_cylinders: bool = key(  # empties leave with the order and come back filled; else exchanged at the door
        "word", "full for empty at the door, or the place's own cylinders sent to be filled", "exchange", COMMON,
        name="mode", words={"exchange": False, "own cylinders": True},
    )  # fmt: skip
    part_delivery: PartDelivery | None = part_or_none(
        PartDelivery, "the supplier brings a part of an order, the rest is cancelled", "orders come whole"
    )
    supplier_outages: tuple[RoadClosure, ...] = several(  # spells in which no order is taken up
        RoadClosure, "days on which no order is taken up, dated or drawn", "the supplier always delivers"
    )
    no_delivery: tuple[int, ...] = key(  # Monday 0
        "weekdays", "days of the week without deliveries", otherwise="any day", value=()
    )
    emergency: Emergency | None = part_or_none(
        Emergency, "an order outside the rule when the shelf is low", "no emergency orders"
    )
    position_counts_above_permille: int | None = key(  # None: full and on order alone
        "share", "part-used cylinders with more than this share of the usable gas of a full one count as one in "
        "the stock that reorder_point and order_up_to look at",
        name="position_counts_above", words="never", otherwise="never", turned=permille,
    )  # fmt: skip
    sizes: tuple[SizeLevels, ...] = key(  # in the order of the cylinders; empty where these are of one type
        "named sections", "levels of each size of the cylinders, in place of reorder_point and order_up_to",
        of=SizeLevels, most=str(MOST_SIZES), otherwise="cylinders are of one type", value=(),
    )  # fmt: skip
    vehicle_space: int | None = whole_key(
        "spaces of one trip, where cylinders of several sizes take several", None, 1, words="none",
        otherwise="no limit",
    )  # fmt: skip

    @property
    def levels(self) -> tuple[tuple[int, int], ...]:
        """Return reorder point and order-up-to level of each size, one pair where the cylinders are alike."""
        by_size = tuple((each.reorder_point, each.order_up_to) for each in self.sizes)
        return by_size or ((self.reorder_point, self.order_up_to),)
