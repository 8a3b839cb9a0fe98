"""Small workbooks of records, whole and broken, for the tests of their reading."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from typing import Any

from openpyxl import Workbook

from o2sim.records.books import BY_NAME

D = dt.date
T = dt.datetime
HEAD = 13  # row of the heads, so that rows stand where a message says
PATIENT: dict[str, Any] = {
    "Came on": D(2026, 3, 2), "At": dt.time(14, 5), "Class": "children", "SpO2 %": 86, "Oxygen begun": D(2026, 3,
     2),
    "Flow at first L/min": 1.5, "Oxygen ended": D(2026, 3, 7), "Left how": "ended",
}  # fmt: skip
KEPT = {"Sheet": "Patients on oxygen", "Book kept from": D(2026, 1, 1), "Book kept to": D(2026, 12, 31)}
STOCK = {
    "Date": D(2026, 3, 2),
    "Full": 14,
    "Part-used": 1,
    "On patients": 2,
    "Empty": 9,
    "Received": 0,
    "Emptied": 3,
}
WHOLE: dict[str, list[dict[str, Any]]] = {
    "Place": [
        KEPT, {"Hospital": "Reed Bank", "Book kept from": D(2026, 1, 1), "Book kept to": D(2026, 12, 31)},
        {"Sheet": "Stock card", "Pages missing from": D(2026, 6, 1), "Pages missing to": D(2026, 6, 7)},
    ],
    "Patients on oxygen": [PATIENT, {"Oxygen begun": T(2026, 12, 30, 9, 15), "Class": "adults", "Still on": "x"}],
    "All admissions": [{"Month": D(2026, 3, 1), "Class": "children", "Admitted": 112, "SpO2 written": 95,
     "Below 90 %": 21}],
    "Month totals": [{"Month": "2026-03", "Put on oxygen": 18, "Patient-days on oxygen": 61.5, "Days shelf "
     "bare": 2}],
    "Counts at midnight": [{"Date": D(2026, 3, 2), "On oxygen": 7, "On cylinders": 2, "Waiting": 0}],
    "Power cuts": [{"Off at": T(2026, 3, 2, 18, 20), "On at": T(2026, 3, 2, 21, 0), "Planned": "no"}],
    "Power hours": [{"Date": D(2026, 3, 2), "Hours with power": 19.5}],
    "Voltage": [{"At": T(2026, 3, 2, 18, 30), "Volts": 231}],
    "Orders": [{"Ordered on": D(2026, 3, 2), "Cylinders ordered": 20, "Came on": D(2026, 3, 9), "Cylinders "
     "came": 18,
                "Empties taken": 18, "Road or supplier shut": "no"}],
    "Road shut": [{"From": D(2026, 7, 2), "To": D(2026, 7, 9)}],
    "Units": [{"Unit": "A", "Put in use": D(2025, 5, 20), "Meter then": 12, "Meter now": 8200, "In use "
     "now": "yes"},
              {"Unit": "B", "Put in use": D(2025, 5, 20)}],
    "Job cards": [{"Unit": "b", "Went down": D(2026, 3, 2), "Meter": "6420 h", "Back": D(2026, 4, 2)}],
    "Stock card": [STOCK, {"Date": D(2026, 3, 3), "Full": 11, "Part-used": 1, "On patients": 2, "Emptied": 3}],
    "Today": [{"Counted at": T(2026, 12, 31, 7, 30), "Full": 7, "Empty": 12, "Next order day": D(2027, 1, 4)}],
    "On patients": [{"Class": "adults", "Flow": "5 L/min", "Gauge": "80 bar", "Source": "cylinder"}],
    "On order": [{"Ordered on": D(2026, 12, 29), "Cylinders": 10}],
    "Units today": [{"Unit": "A", "Working": "no", "Meter": 8200, "Down since": D(2026, 12, 20)}],
    "Power today": [{"On": "yes", "Since": T(2026, 12, 30, 22, 15), "Battery %": 80, "Tank L": 35}],
    "What we think": [{"Number": "resupply.lead_time.median", "Lowest": "3 days", "Most likely": "5 days",
                       "Highest": "14 days", "Basis": "asked"}],
}  # fmt: skip


def book(rows: dict[str, list[dict[str, Any]]], joined: dict[str, str] | None = None, head: int = HEAD) -> bytes:
    """Return a workbook with rows of cells by head; heads that are not of the template stand to the right."""
    made = Workbook()
    made.remove(made.active)
    for name, lines in rows.items():
        sheet = made.create_sheet(name)
        heads = [column.head for column in BY_NAME[name].columns] if name in BY_NAME else []
        heads += [each for line in lines for each in line if each not in heads]
        for place, text in enumerate(dict.fromkeys(heads), 1):
            sheet.cell(head, place, text)
        for number, line in enumerate(lines, head + 1):
            for text, value in line.items():
                sheet.cell(number, heads.index(text) + 1, value)
        if joined and name in joined:
            sheet.merge_cells(joined[name])
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def patient(**changed: Any) -> dict[str, list[dict[str, Any]]]:
    """Return a workbook of one patient with cells changed; underscores stand for spaces, None empties a cell."""
    row = {**PATIENT, **{name.replace("_", " "): value for name, value in changed.items()}}
    return {"Patients on oxygen": [{name: value for name, value in row.items() if value is not None}]}


def with_part(data: bytes, name: str, old: bytes, new: bytes) -> bytes:
    """Return a workbook with a text of one of its parts replaced; a part that is not there is put in whole."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for each in given.namelist():
            part = given.read(each)
            if each == name:
                assert old in part
                part = part.replace(old, new, 1)
            made.writestr(each, part)
        if name not in given.namelist():
            made.writestr(name, new)
    return out.getvalue()
