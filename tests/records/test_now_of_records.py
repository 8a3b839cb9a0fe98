"""Today's sheets as the count from which a run begins, and what is wrong with it at its sheet and row."""

from __future__ import annotations

import datetime as dt
from pathlib import PurePath

import pytest
from scenario_texts import SMALL, WHOLE

from o2sim.errors import CountError
from o2sim.records.books import Records
from o2sim.records.findings import RecordsError
from o2sim.records.now import now_of_records
from o2sim.records.supply_rows import OnOrder, OnPatient, PowerToday, Today, UnitToday
from o2sim.scenario import loads
from o2sim.scenario.changing.count import with_now
from o2sim.scenario.types.now import GridNow, OnOxygen, OrderUnderWay, UnitsNow

AT = dt.datetime(2027, 12, 31, 7, 30)
TODAY = Today(14, AT, 7, 20, dt.date(2028, 1, 3))
PLACE = (
    WHOLE.replace(", concentrators: {count: 3}", "")
    .replace("  count: 5\n", "  count: 6\n")
    .replace("power:\n", "power:\n  battery: {usable: 2 kWh, charge: 1 kW}\n  generator: {tank: 40 L}\n")
)
BOOKS = {
    "on_patients": (
        OnPatient(14, "children", 1_250.0, dt.date(2027, 12, 29), None, "concentrator"),
        OnPatient(15, "adults", None, dt.datetime(2027, 12, 30, 22), 8_000.0, "cylinder"),
        OnPatient(17, "newborns"),
    ),
    "on_order": (OnOrder(14, dt.date(2027, 12, 27), 10), OnOrder(15, None, 4)),
    "units_today": (
        UnitToday(14, 1, True),
        UnitToday(15, 2, True, 8_200.0),
        UnitToday(16, 3, False, 5_100.0, dt.date(2027, 12, 20)),
        UnitToday(17, 4, None, None, dt.datetime(2027, 12, 30, 7, 30)),
    ),
    "power_today": (PowerToday(14, False, dt.datetime(2027, 12, 31, 5), 80.0, 35.0),),
}


def records(today=(TODAY,), **books):
    """Return records with today's sheets."""
    return Records(PurePath("books.xlsx"), "0" * 16, today=today, **books)


def problems_with(text=SMALL, **books):
    """Return the problems of today's sheets laid over a scenario."""
    with pytest.raises(CountError) as error:
        with_now(loads(text, "f.yaml"), now_of_records(records(**books)))
    return [str(problem).partition("; allowed")[0] for problem in error.value.problems]


def test_todays_sheets_are_what_a_run_begins_from():
    """Cylinders, orders, patients, units, power and the next order day, as a section `now` would say them."""
    now = with_now(loads(PLACE), now_of_records(records(**BOOKS))).hospitals["mixed"].now
    assert (now.counted, now.cylinders.full, now.cylinders.empty, now.cylinders.part_used) == (AT, 7, 20, ())
    assert now.on_order == (OrderUnderWay(10, 4 * 86_400 + 27_000), OrderUnderWay(4))
    child, adult, newborn = now.on_oxygen
    assert child == OnOxygen(1, 1_250, 2 * 86_400 + 27_000, "concentrator")
    assert (adult.flow_ml_min, adult.age_s, adult.source, adult.gas is None) == (None, 34_200, "cylinder", False)
    assert newborn == OnOxygen(0)
    assert now.units == UnitsNow(2, (11 * 86_400 + 27_000, 86_400, None, None), (8_200 * 3_600,))
    assert (now.grid, now.battery_permille, now.fuel_ml) == (GridNow(False, 9_000), 800, 35_000)
    assert now.next_review_s == 3 * 86_400 - 27_000


def test_a_sheet_without_rows_is_unknown():
    """Today alone is enough; who is on oxygen and what works is then drawn."""
    now = with_now(loads(PLACE), now_of_records(records((Today(14, AT, 7, 20),)))).hospitals["mixed"].now
    assert (now.on_order, now.on_oxygen, now.units, now.grid) == ((), None, None, None)


@pytest.mark.parametrize(
    ("books", "expected"),
    [
        ({"today": (Today(14, AT, 7, 1),)}, ["books.xlsx: Today, row 14: found 8 counted of a fleet of 4"]),
        ({"today": (Today(14, AT, 1, 1, dt.date(2027, 12, 30)),)},
         ["books.xlsx: Today, row 14 (Next order day): found 2027-12-30, before the count on 2027-12-31"]),
        ({"on_order": (OnOrder(15, dt.date(2028, 1, 2), 1),)},
         ["books.xlsx: On order, row 15 (Ordered on): found 2028-01-02 00:00, after the count"]),
        ({"on_patients": (OnPatient(16, "adults", begun=dt.date(2028, 1, 1)),)},
         ["books.xlsx: On patients, row 16 (Class): found 'adults'",
          "books.xlsx: On patients, row 16 (Oxygen begun): found 2028-01-01 00:00, after the count"]),
        ({"on_patients": (OnPatient(16, "child", gauge_kpa=8_000.0),)},
         ["books.xlsx: On patients, row 16 (Gauge): found a gauge, but no source"]),
        ({"units_today": (UnitToday(14, 1, True),)},
         ["books.xlsx: Units today: found units counted, but no strategy has concentrators"]),
        ({"power_today": (PowerToday(14, True, None, 80.0, 5.0),)},
         ["books.xlsx: Power today, row 14 (Battery %): found a charge, but no strategy has power.battery",
          "books.xlsx: Power today, row 14 (Tank L): found fuel, but no strategy has power.generator.tank"]),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_said_at_its_sheet_and_row(books, expected):
    """The workbook, the sheet, the row and the head of the column; the scenario file is not blamed."""
    found = problems_with(**{"today": (Today(14, AT, 1, 1),), **books})
    assert [shown.startswith(said) for shown, said in zip(found, expected, strict=True)] == [True] * len(expected)


@pytest.mark.parametrize(
    ("books", "expected"),
    [
        ({"today": ()}, "books.xlsx, Today: found no row; allowed: one row with Counted at, Full and Empty"),
        ({"on_patients": (OnPatient(15, "adults", source="manifold"),)},
         "books.xlsx, On patients, row 15 (Source): found manifold; allowed: cylinder, concentrator or none"),
        ({"units_today": (UnitToday(16, 3),)},
         "books.xlsx, Units today, row 16 (Working): found nothing; allowed: yes or no"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_count_is_refused(books, expected):
    """Before any scenario is looked at."""
    with pytest.raises(RecordsError) as error:
        now_of_records(records(**books))
    assert [str(each).partition(" - ")[0] for each in error.value.errors] == [expected]


def test_nothing_of_a_single_patient_but_dates_and_numbers_is_said():
    """Errors of the count quote the dates and numbers of a row, never another row's."""
    wrong = OnPatient(16, "child", begun=dt.date(2028, 1, 1))
    (found,) = problems_with(today=(Today(14, AT, 1, 1),), on_patients=(OnPatient(14, "child", 1_111.0), wrong))
    assert "1.111" not in found
