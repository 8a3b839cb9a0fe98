"""The table of all sheets, in the order of the workbook, and what reading them gives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath

from o2sim.records import rows, supply_rows
from o2sim.records.columns import Column, columns_of
from o2sim.records.findings import Finding

CLASSES = ("newborns", "children", "adults")  # where the sheet Lists names none


@dataclass(frozen=True)
class Book:
    """A sheet: its name, the record of its rows, the field of Records that holds them, and what they give.

    most: how many rows it may have at most, 0 for no limit of its own. patients: its rows are patients.
    dated: the columns of which none may lie after the last day of the book.
    """

    name: str
    record: type
    field: str
    gives: str
    most: int = 0
    patients: bool = False
    dated: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[Column, ...]:
        """Return its columns."""
        return columns_of(self.record)


PLACE = Book("Place", rows.Place, "places", "which days each book covers, and how to read it")
LISTS = Book(
    "Lists", supply_rows.ClassName, "classes", "the classes of patients that the other sheets may name", 12
)
BOOKS = (
    PLACE,
    Book(
        "Patients on oxygen", rows.Stay, "stays", "admissions, shares, flows and how long oxygen is needed",
        patients=True, dated=("came_on", "begun", "ended"),
    ),
    Book("All admissions", rows.Admissions, "admissions", "the share of patients who need oxygen", patients=True),
    Book("Month totals", rows.MonthTotal, "months", "admissions, stays and use without a list of patients"),
    Book("Counts at midnight", rows.Midnight, "midnights", "how many are on oxygen at once, and for how long",
         dated=("date",)),
    Book("Power cuts", rows.Cut, "cuts", "how often the power fails and for how long", dated=("off_at", "on_at")),
    Book("Power hours", rows.PowerDay, "power_days", "the same from hours a day", dated=("date",)),
    Book("Voltage", rows.Voltage, "voltages", "the same from a logger", dated=("at",)),
    Book("Orders", supply_rows.Order, "orders", "lead times", dated=("ordered", "came")),
    Book("Road shut", supply_rows.RoadShut, "roads_shut", "closures, apart from lead times", dated=("begin",)),
    Book("Units", supply_rows.Unit, "units", "failures of concentrators: list those that never failed too"),
    Book("Job cards", supply_rows.JobCard, "job_cards", "failures and repairs", dated=("down", "back")),
    Book("Stock card", supply_rows.Stock, "stock", "use of cylinders, and what is not accounted for",
         dated=("date",)),
    Book("Today", supply_rows.Today, "today", "the stock that the coming weeks start from", 1),
    Book("On patients", supply_rows.OnPatient, "on_patients", "who is on oxygen today", patients=True),
    Book("On order", supply_rows.OnOrder, "on_order", "what is on the way today"),
    Book("Units today", supply_rows.UnitToday, "units_today", "which concentrators work today"),
    Book("Power today", supply_rows.PowerToday, "power_today", "power, battery and fuel today", 1),
    Book("What we think", supply_rows.Thought, "thoughts", "ranges for numbers that no book gives"),
    LISTS,
)  # fmt: skip
BY_NAME = {book.name: book for book in BOOKS}
KEPT = tuple(book.name for book in BOOKS if book not in (PLACE, LISTS))  # what a row of Place may be about


@dataclass(frozen=True)
class Records:
    """What the books say, row by row; a book that is not there has no rows.

    file: its name; hash: of its bytes, 16 hexadecimal digits; classes: words that `class_` may be, in the order of
    the sheet Lists; cautions: what is doubtful and was read as it stands. Rows marked as repeating another are
    there too (`twice`): use `once`.
    """

    file: PurePath
    hash: str
    classes: tuple[str, ...] = CLASSES
    places: tuple[rows.Place, ...] = ()
    stays: tuple[rows.Stay, ...] = ()
    admissions: tuple[rows.Admissions, ...] = ()
    months: tuple[rows.MonthTotal, ...] = ()
    midnights: tuple[rows.Midnight, ...] = ()
    cuts: tuple[rows.Cut, ...] = ()
    power_days: tuple[rows.PowerDay, ...] = ()
    voltages: tuple[rows.Voltage, ...] = ()
    orders: tuple[supply_rows.Order, ...] = ()
    roads_shut: tuple[supply_rows.RoadShut, ...] = ()
    units: tuple[supply_rows.Unit, ...] = ()
    job_cards: tuple[supply_rows.JobCard, ...] = ()
    stock: tuple[supply_rows.Stock, ...] = ()
    today: tuple[supply_rows.Today, ...] = ()
    on_patients: tuple[supply_rows.OnPatient, ...] = ()
    on_order: tuple[supply_rows.OnOrder, ...] = ()
    units_today: tuple[supply_rows.UnitToday, ...] = ()
    power_today: tuple[supply_rows.PowerToday, ...] = ()
    thoughts: tuple[supply_rows.Thought, ...] = ()
    cautions: tuple[Finding, ...] = ()

    @property
    def once(self) -> tuple[rows.Stay, ...]:
        """Return the stays without the rows that repeat another."""
        return tuple(stay for stay in self.stays if stay.twice != rows.TWICE)

    def place(self, sheet: str) -> rows.Place | None:
        """Return how a book was kept: its own row of Place, else that for all; None where there is none."""
        return kept(self.places, sheet)

    def missing(self, sheet: str) -> tuple[tuple[rows.When, rows.When], ...]:
        """Return the first and last day of each run of missing pages of a book."""
        return tuple(
            (row.missing_from, row.missing_to)
            for row in self.places
            if row.sheet in (None, sheet) and row.missing_from is not None and row.missing_to is not None
        )


def kept(places: Iterable[rows.Place], sheet: str, what: str = "kept_from") -> rows.Place | None:
    """Return the row of Place that says something of a book: its own, else that for all; None where none does."""
    said = [row for row in places if getattr(row, what) is not None]
    own = [row for row in said if row.sheet == sheet]
    return next(iter(own + [row for row in said if row.sheet is None]), None)
