"""A row of each book that a hospital keeps of its patients, power and places, with the columns of its sheet.

Every record has `row`, the row of the sheet it came from. A field is None where its cell is empty. A time is a
datetime where a clock was written and a date where none was; both are local.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from o2sim.records.columns import column

When = dt.date  # or the datetime that it may be: a datetime is a date with a clock
YEAR_FIRST, DAY_FIRST = ORDERS = ("year-month-day", "day/month/year")
CLOCK, DATES_ONLY = CLOCKS = ("clock", "dates only")
ENDED, SENT_ON, MOVED = LEFT_HOW = ("ended", "sent on", "moved")
TWICE, NOT_TWICE = ("x", "no")
DAY = dt.date(2027, 3, 4)  # of the examples, which are invented


@dataclass(frozen=True)
class Place:
    """How a book was kept: one row for each sheet, and one for each run of missing pages."""

    row: int
    hospital: str | None = column("Hospital", "text", "its name or a number; stays in this file", "Reed Bank")
    sheet: str | None = column("Sheet", "sheet", "which book the row is about; empty: all", "Patients on oxygen")
    kept_from: dt.date | None = column(
        "Book kept from", "date", "first day that the book covers", dt.date(2027, 1, 1)
    )
    kept_to: dt.date | None = column(
        "Book kept to", "date", "last day that it covers, to its end", dt.date(2027, 12, 31)
    )
    missing_from: dt.date | None = column(
        "Pages missing from", "date", "first day of missing pages", dt.date(2027, 6, 10)
    )
    missing_to: dt.date | None = column("Pages missing to", "date", "last day of them", dt.date(2027, 6, 16))
    clock: str | None = column("Clock or dates only", "word", "are times of day written?", CLOCK, words=CLOCKS)
    usual_start: dt.time | None = column(
        "Usual clock of starting", "clock", "when oxygen is usually begun, where no times are written", dt.time(15)
    )
    usual_end: dt.time | None = column("Usual clock of ending", "clock", "when it is usually ended", dt.time(10))
    dates: str | None = column(
        "Dates as written", "word", "how dates that are texts are to be read", YEAR_FIRST, words=ORDERS
    )
    end_day_counted: bool | None = column(
        "End day counted", "yes", "does a count of patient-days hold the day of the end?", "no"
    )


@dataclass(frozen=True)
class Stay:
    """A patient given oxygen. `sent on` and `moved` end the stay here."""

    row: int
    came_on: When | None = column("Came on", "moment", "the day of arrival", DAY)
    at: dt.time | None = column("At", "clock", "the time of day of arrival, where written", dt.time(14, 5))
    class_: str | None = column(
        "Class", "class", "newborns, children, adults; more on the sheet Lists", "children"
    )
    spo2_percent: float | None = column(
        "SpO2 %", "number", "oximeter reading before oxygen", 86, low=50, high=100, unit="%"
    )
    begun: When | None = column("Oxygen begun", "moment", "the day, with a time where written", DAY)
    flow_ml_min: float | None = column(
        "Flow at first L/min", "quantity", "the first flow set", 1.5, low=0.01, high=100, unit="L/min", of="flow"
    )
    ended: When | None = column(
        "Oxygen ended", "moment", "the day, with a time where written", dt.date(2027, 3, 7)
    )
    still_on: bool | None = column("Still on", "mark", "x where still on oxygen when the book ends", "x")
    left_how: str | None = column("Left how", "word", "how the stay on oxygen ended", ENDED, words=LEFT_HOW)
    twice: str | None = column(
        "Twice", "word", "x: the row repeats another; no: it only looks so", TWICE, words=(TWICE, NOT_TWICE)
    )

    @property
    def arrived(self) -> When | None:
        """Return when the patient came: with a clock where one is written in either column."""
        if self.came_on is None or self.at is None or isinstance(self.came_on, dt.datetime):
            return self.came_on
        return dt.datetime.combine(self.came_on, self.at)


@dataclass(frozen=True)
class Admissions:
    """All admissions of a class in a month, oxygen or not."""

    row: int
    month: dt.date | None = column("Month", "month", "any day of it, or 2027-03", "2027-03", needed=True)
    class_: str | None = column("Class", "class", "as on the sheet Lists; empty: all", "children")
    admitted: int | None = column("Admitted", "count", "all who were admitted", 112)
    spo2_written: int | None = column("SpO2 written", "count", "of them, with an oximeter reading", 95)
    below_90: int | None = column("Below 90 %", "count", "of those, below 90 %", 21)


@dataclass(frozen=True)
class MonthTotal:
    """Totals of a class in a month."""

    row: int
    month: dt.date | None = column("Month", "month", "any day of it, or 2027-03", "2027-03", needed=True)
    class_: str | None = column("Class", "class", "as on the sheet Lists; empty: all", "children")
    put_on_oxygen: int | None = column("Put on oxygen", "count", "patients begun on oxygen in the month", 18)
    patient_days: float | None = column(
        "Patient-days on oxygen", "number", "sum over the midnights that end its days", 61
    )
    cylinders_emptied: int | None = column("Cylinders emptied", "count", "used up in the month", 34)
    days_shelf_bare: int | None = column(
        "Days shelf bare", "count", "days with no full cylinder at some time", 2, high=31
    )


@dataclass(frozen=True)
class Midnight:
    """A count of patients at the midnight that ends the date."""

    row: int
    date: dt.date | None = column("Date", "date", "the day that this midnight ends", DAY, needed=True)
    on_oxygen: int | None = column("On oxygen", "count", "patients on oxygen, from any source", 7)
    on_cylinders: int | None = column("On cylinders", "count", "of them, from cylinders", 2)
    waiting: int | None = column("Waiting", "count", "who should be on oxygen and are not", 0)


@dataclass(frozen=True)
class Cut:
    """A power cut."""

    row: int
    off_at: dt.datetime | None = column(
        "Off at", "instant", "day and time", dt.datetime(2027, 3, 4, 18, 20), needed=True
    )
    on_at: dt.datetime | None = column("On at", "instant", "day and time", dt.datetime(2027, 3, 4, 21, 0))
    planned: bool | None = column("Planned", "yes", "was it announced?", "no")


@dataclass(frozen=True)
class PowerDay:
    """How long the grid was up on a day."""

    row: int
    date: dt.date | None = column("Date", "date", "the day", DAY, needed=True)
    hours: float | None = column(
        "Hours with power", "number", "from 0 to 24", 19.5, high=24, unit="h", needed=True
    )


@dataclass(frozen=True)
class Voltage:
    """What a logger or a voltmeter showed."""

    row: int
    at: dt.datetime | None = column("At", "instant", "day and time", dt.datetime(2027, 3, 4, 18, 30), needed=True)
    volts: float | None = column(
        "Volts", "number", "0 where the power is off", 231, high=1000, unit="V", needed=True
    )
