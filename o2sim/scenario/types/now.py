"""What was counted at one second, from which a run begins: section `now` of a file, or the sheets of today."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

RoadNow = Literal["open", "shut"]
NowSource = Literal["concentrator", "cylinder", "none"]  # none: waits


def since_midnight_s(moment: dt.datetime) -> int:
    """Return the whole seconds from midnight to a moment of the day."""
    return moment.hour * 3_600 + moment.minute * 60 + moment.second


@dataclass(frozen=True)
class CountedCylinders:
    """Where the fleet stands, without what is on patients; gas in 1/60 mL."""

    full: int
    empty: int  # at the door or away
    part_used: tuple[int, ...] = ()  # what each holds by its gauge, the one longest on the rack first


@dataclass(frozen=True)
class OrderUnderWay:
    """An order that has not come; age_s: since it was placed, None for unknown."""

    count: int
    age_s: int | None = None


@dataclass(frozen=True)
class OnOxygen:
    """One patient counted, or waiting (source none); what is None is unknown and drawn."""

    class_index: int
    flow_ml_min: int | None = None
    age_s: int | None = None  # since oxygen was begun
    source: NowSource | None = None  # None: by the strategy's order
    gas: int | None = None  # in the cylinder in use, by its gauge; 1/60 mL


@dataclass(frozen=True)
class UnitsNow:
    """Which concentrators work; each None is unknown and drawn. A strategy may add others, which are new."""

    working: int
    down_age_s: tuple[int | None, ...] = ()  # of each that does not work, since it went down
    meters_s: tuple[int, ...] = ()  # running time of those that work, in order, as far as it is known


@dataclass(frozen=True)
class GridNow:
    """Whether the grid is up, and since when; None: unknown."""

    up: bool | None = None
    age_s: int | None = None


@dataclass(frozen=True)
class Now:
    """The count. None: unknown, and drawn as theory says for what is met at a random moment.

    on_oxygen None: nobody has counted who is on oxygen; () is nobody. next_review_s is counted from the count.
    """

    counted: dt.datetime
    cylinders: CountedCylinders | None = None  # None for a strategy without any
    on_order: tuple[OrderUnderWay, ...] = ()
    on_oxygen: tuple[OnOxygen, ...] | None = None
    units: UnitsNow | None = None
    grid: GridNow | None = None
    battery_permille: int | None = None  # None: full
    fuel_ml: int | None = None  # None: as the scenario begins
    next_review_s: int | None = None  # None: as the scenario's calendar of reviews has it
    road: RoadNow | None = None

    @property
    def on_cylinders(self) -> int:
        """Return how many patients are known to be on a cylinder of their own."""
        return sum(each.source == "cylinder" for each in self.on_oxygen or ())

    @property
    def cylinders_counted(self) -> int:
        """Return all cylinders that were counted, those on patients too; what is on order is none of the fleet."""
        if self.cylinders is None:
            return 0
        return self.cylinders.full + len(self.cylinders.part_used) + self.cylinders.empty + self.on_cylinders
