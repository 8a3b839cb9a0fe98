"""The section `now` of a file as it is stated; what it means for a run is worked out in building/now.py."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from o2sim.scenario.keys.record import key, part, permille, several, whole_key
from o2sim.scenario.types.now import NowSource, RoadNow

UNKNOWN = "unknown"  # may stand wherever a time may
DRAWN = "unknown: drawn from its law"
SOURCES: tuple[NowSource, ...] = ("concentrator", "cylinder", "none")
MOST_LISTED = "1000"  # entries of a list


def _moment(help_: str, otherwise: str = DRAWN) -> dt.datetime | None:
    """Return a key that is a time on the calendar, 00:00 where no clock is written; None for unknown."""
    found: dt.datetime | None = key("date or time", help_, words=UNKNOWN, value=None, otherwise=otherwise)
    return found


@dataclass(frozen=True, kw_only=True)
class CylindersStated:
    """Where the cylinders stand that are not with a patient."""

    full: int = whole_key("full ones, wherever they stand", required=True)
    part_used_kpa: tuple[float, ...] = key(
        "list of pressures", "the gauge of each begun one that is with nobody, the one longest on the rack first",
        otherwise="none", most="40 MPa", value=(),
    )  # fmt: skip
    empty: int = whole_key("empty ones, at the door or away to be filled", required=True)


@dataclass(frozen=True, kw_only=True)
class OrderStated:
    """An order of cylinders that has not come."""

    ordered: dt.datetime | None = _moment("when it was placed; a date alone means 00:00")
    count: int = whole_key("cylinders ordered", None, 1, required=True)


@dataclass(frozen=True, kw_only=True)
class OnOxygenStated:
    """One patient, or several of whom the same is known."""

    class_: str = key("text", "the class of patients", name="class", required=True)
    count: int = whole_key("so many patients of whom the same is known", "1", 1, 1_000)
    flow_ml_min: int | None = key("flow", "the flow now", least="0.01 L/min", otherwise=DRAWN)
    begun: dt.datetime | None = _moment("when oxygen was begun, or the wait for it; a date alone means 00:00")
    source: NowSource | None = key(
        "word", "where it comes from now; none: waits for it", words=SOURCES,
        otherwise="unknown: by the strategy's order",
    )  # fmt: skip
    gauge_kpa: float | None = key("pressure", "of the cylinder in use; with source: cylinder", otherwise=DRAWN)


@dataclass(frozen=True, kw_only=True)
class DownStated:
    """A unit that does not work."""

    since: dt.datetime | None = _moment("when it went down; a date alone means 00:00")


@dataclass(frozen=True, kw_only=True)
class UnitsStated:
    """Which concentrators work."""

    working: int | None = whole_key("units that work", None, 0, 1_000, otherwise="all but those down")
    down: tuple[DownStated, ...] = several(
        DownStated, "those that do not work, as far as it is known since when", "unknown: drawn"
    )
    meters_s: tuple[int, ...] = key(
        "list of durations", "hour meters of units that work, as far as they are known", most="100 years",
        otherwise=DRAWN, value=(),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class GridStated:
    """Whether the grid is up."""

    up: bool | None = key(
        "word", "whether there is power from the grid", words={"true": True, "false": False, UNKNOWN: None},
        otherwise=DRAWN,
    )  # fmt: skip
    since: dt.datetime | None = _moment("since when it is so")


@dataclass(frozen=True, kw_only=True)
class NowStated:
    """What was counted at one moment."""

    counted: dt.datetime = key("date and time", "when it was counted; the run begins then", required=True)
    cylinders: CylindersStated | None = part(
        CylindersStated, "cylinders that are not with a patient", "needed where a strategy has cylinders"
    )
    on_order: tuple[OrderStated, ...] = several(
        OrderStated, "orders that have not come; no part of the fleet", "nothing is on the way"
    )
    on_oxygen: tuple[OnOxygenStated, ...] | None = key(
        "list of sections", "who is on oxygen, or waits for it; [] is nobody", of=OnOxygenStated,
        otherwise="unknown: drawn", most=MOST_LISTED, value=None,
    )  # fmt: skip
    concentrators: UnitsStated | None = part(UnitsStated, "which units work", "unknown: drawn")
    grid: GridStated | None = part(GridStated, "the power", "unknown: drawn")
    road: RoadNow | None = key(
        "word", "whether deliveries can come now", words={"open": "open", "shut": "shut", UNKNOWN: None},
        otherwise=DRAWN,
    )  # fmt: skip
    battery_permille: int | None = key(
        "share", "charge of the battery", name="battery", otherwise="full", turned=permille
    )
    fuel_ml: int | None = key(
        "volume", "fuel in the generator's tank", most="1000000 L", otherwise="full", turned=round
    )
    next_review: dt.datetime | None = _moment(
        "when the stock is next reviewed; a date alone means 00:00",
        "the next multiple of `review` from midnight of `start`; one of the same day is due at once",
    )
