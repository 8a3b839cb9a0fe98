"""A row of each book of supply and equipment, of today's count, and of what people think; as in rows.py."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from o2sim.records.columns import column
from o2sim.records.rows import DAY, When

SOURCES = ("cylinder", "concentrator", "manifold", "none")
BASES = ("counted", "asked", "published", "guess")
NOW = dt.datetime(2027, 12, 31, 7, 30)


@dataclass(frozen=True)
class Order:
    """An order of cylinders, and what came of it."""

    row: int
    ordered: When | None = column("Ordered on", "moment", "the day", DAY, needed=True)
    cylinders_ordered: int | None = column("Cylinders ordered", "count", "how many were asked for", 20)
    came: When | None = column("Came on", "moment", "empty where still on the way", dt.date(2027, 3, 11))
    cylinders_came: int | None = column("Cylinders came", "count", "how many full ones came", 18)
    empties_taken: int | None = column("Empties taken", "count", "how many empty ones went away", 18)
    shut: bool | None = column(
        "Road or supplier shut", "yes", "was it held up by a road or supplier that was shut?", "no"
    )


@dataclass(frozen=True)
class RoadShut:
    """Days without any delivery; a row without an end is still shut."""

    row: int
    begin: dt.date | None = column("From", "date", "first day", dt.date(2027, 7, 2), needed=True)
    end: dt.date | None = column("To", "date", "last day", dt.date(2027, 7, 9))


@dataclass(frozen=True)
class Unit:
    """A concentrator, those that never failed too. unit: its number here, by the order of the sheet."""

    row: int
    unit: int | None = column("Unit", "unit", "a label of yours, such as 3; it is not kept", "3", needed=True)
    in_use_from: dt.date | None = column("Put in use", "date", "the day", dt.date(2025, 5, 20))
    meter_then_h: float | None = column("Meter then", "number", "its hour meter on that day", 12, unit="h")
    meter_now_h: float | None = column("Meter now", "number", "its hour meter as the book ends", 8200, unit="h")
    in_use_now: bool | None = column("In use now", "yes", "as the book ends", "yes")


@dataclass(frozen=True)
class JobCard:
    """A failure and its repair. unit: the number of a Unit."""

    row: int
    unit: int | None = column("Unit", "unit", "as on the sheet Units", "3", needed=True)
    down: When | None = column("Went down", "moment", "the day", DAY, needed=True)
    meter_h: float | None = column("Meter", "number", "its hour meter then", 6420, unit="h")
    back: When | None = column("Back", "moment", "empty where still away", dt.date(2027, 4, 2))
    written_off: bool | None = column("Written off", "mark", "x where it will not come back", "x")


@dataclass(frozen=True)
class Stock:
    """A line of the stock card. received, emptied: since the line before."""

    row: int
    date: dt.date | None = column("Date", "date", "the day of the count", DAY, needed=True)
    full: int | None = column("Full", "count", "full cylinders on the shelf", 14)
    part_used: int | None = column("Part-used", "count", "begun, and not with a patient", 1)
    on_patients: int | None = column("On patients", "count", "with a patient", 2)
    empty: int | None = column("Empty", "count", "empty, at the door or away", 9)
    received: int | None = column("Received", "count", "full ones come since the line before; empty: none", 0)
    emptied: int | None = column("Emptied", "count", "used up since the line before", 3)


@dataclass(frozen=True)
class Today:
    """Today's count of cylinders."""

    row: int
    counted: dt.datetime | None = column("Counted at", "instant", "day and time", NOW, needed=True)
    full: int | None = column("Full", "count", "full cylinders", 7, needed=True)
    empty: int | None = column("Empty", "count", "empty, at the door or away", 12, needed=True)
    next_order: dt.date | None = column("Next order day", "date", "the day", dt.date(2028, 1, 3))


@dataclass(frozen=True)
class OnPatient:
    """A patient on oxygen, or waiting for it (source none), at today's count."""

    row: int
    class_: str | None = column("Class", "class", "as on the sheet Lists", "children", needed=True)
    flow_ml_min: float | None = column(
        "Flow", "quantity", "the flow now, in L/min", 1, low=0.01, high=100, unit="L/min", of="flow"
    )
    begun: When | None = column(
        "Oxygen begun", "moment", "the day, with a time where known", dt.date(2027, 12, 29)
    )
    gauge_kpa: float | None = column(
        "Gauge", "quantity", "of the cylinder, with its unit", "80 bar", high=40_000, of="pressure"
    )
    source: str | None = column("Source", "word", "none: the patient waits", SOURCES[0], words=SOURCES)


@dataclass(frozen=True)
class OnOrder:
    """An order on the way at today's count; ordered None: nobody knows when."""

    row: int
    ordered: When | None = column("Ordered on", "moment", "the day; empty: not known", dt.date(2027, 12, 27))
    cylinders: int | None = column("Cylinders", "count", "how many", 10, needed=True)


@dataclass(frozen=True)
class UnitToday:
    """A concentrator at today's count."""

    row: int
    unit: int | None = column("Unit", "unit", "as on the sheet Units", "3", needed=True)
    working: bool | None = column("Working", "yes", "now", "no")
    meter_h: float | None = column("Meter", "number", "its hour meter", 8200, unit="h")
    down_since: When | None = column("Down since", "moment", "the day", dt.date(2027, 12, 20))


@dataclass(frozen=True)
class PowerToday:
    """The power at today's count."""

    row: int
    on: bool | None = column("On", "yes", "is the grid up?", "yes", needed=True)
    since: dt.datetime | None = column("Since", "instant", "day and time", dt.datetime(2027, 12, 30, 22, 15))
    battery_percent: float | None = column("Battery %", "number", "its charge", 80, high=100, unit="%")
    tank_l: float | None = column("Tank L", "number", "fuel in the tank", 35, unit="L")


@dataclass(frozen=True)
class Thought:
    """What people think a number of the scenario is; the amounts as texts with their units."""

    row: int
    number: str | None = column(
        "Number", "key", "a key of the scenario, with dots", "resupply.lead_time.median", needed=True
    )
    lowest: str | None = column("Lowest", "amount", "with its unit", "3 days", needed=True)
    likely: str | None = column("Most likely", "amount", "with its unit", "5 days", needed=True)
    highest: str | None = column("Highest", "amount", "with its unit", "14 days", needed=True)
    basis: str | None = column("Basis", "word", "where it comes from", "asked", words=BASES)


@dataclass(frozen=True)
class ClassName:
    """A class of patients that the other sheets may name."""

    row: int
    name: str | None = column("Class", "class name", "one word or two for a class of patients", "children")
