"""Broken workbooks: each is refused at its cell, with what was found, what is allowed and what to write."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import pytest
from made_books import KEPT, PATIENT, STOCK, D, T, book, patient, with_part

from o2sim.records.findings import RecordsError
from o2sim.records.reading import read_records

P = "Patients on oxygen"
STAY = PATIENT | {"At": None}


def one(sheet, **cells):
    """Return a workbook of one row."""
    return {sheet: [{name.replace("_", " "): value for name, value in cells.items()}]}


def two(sheet, first, **changed):
    """Return a workbook of two rows that differ in some cells."""
    return {sheet: [first, first | {name.replace("_", " "): value for name, value in changed.items()}]}


def share(value):
    """Return a workbook of one reading of the oximeter."""
    return {P: [PATIENT | {"SpO2 %": value}]}


def flow(value):
    """Return a workbook of one first flow."""
    return {P: [PATIENT | {"Flow at first L/min": value}]}


def think(number, *amounts):
    """Return a workbook of one row of What we think."""
    return {
        "What we think": [
            dict(zip(("Number", "Lowest", "Most likely", "Highest"), (number, *amounts), strict=True))
        ]
    }


CASES = [
    # Cells: numbers.
    (flow("2,5"), f'{P}, F14 (Flow at first): found "2,5"; allowed: 2.5 or 2.5 L/min - did you mean 2.5?'),
    (flow("1,500"), 'F14 (Flow at first): found "1,500"; allowed: 1.500 or 1.500 L/min - did you mean 1.500 or '
     '1500?'),
    (flow("fast"), "F14 (Flow at first): found a text of 4 characters; allowed: 1.5 or 1.5 L/min"),
    (flow(True), "F14 (Flow at first): found true or false; allowed: 1.5 or 1.5 L/min"),
    (flow("2 kPa"), 'F14 (Flow at first): found "2 kPa"; allowed: 1.5 or 1.5 L/min'),
    (flow(0), "F14 (Flow at first): found 0; allowed: 0.01 to 100 L/min"),
    (flow(2000), "F14 (Flow at first): found 2000; allowed: 0.01 to 100 L/min"),
    (flow(dt.time(2, 30)), "F14 (Flow at first): found 02:30; allowed: 1.5 or 1.5 L/min"),
    (share(0.88), f"{P}, D14 (SpO2 %): found 0.88; taken as a share? allowed: 50 to 100 - write 88"),
    (share(8.8), "D14 (SpO2 %): found 8.8; allowed: 50 to 100 %"),
    (share("88 per cent"), "D14 (SpO2 %): found a text of 11 characters; allowed: 50 to 100 %, or with its unit"),
    (one("Month totals", Month="2026-03", Put_on_oxygen=2.5),
     "Month totals, C14 (Put on oxygen): found 2.5; allowed: a whole number from 0"),
    (one("Month totals", Month="2026-03", Days_shelf_bare=32), "F14 (Days shelf bare): found 32; allowed: 0 to "
     "31"),
    (one("Month totals", Month="2026-03", Put_on_oxygen=-1), "C14 (Put on oxygen): found -1; allowed: a whole "
     "number"),
    (one("Power hours", Date=D(2026, 3, 2), Hours_with_power=25), "B14 (Hours with power): found 25; allowed: 0 "
     "to 24 h"),
    (one("On patients", Class="adults", Gauge=80),
     "D14 (Gauge): found 80, without its unit; allowed: a pressure with its unit, as 80 bar"),
    (one("On patients", Class="adults", Gauge="900 bar"), 'D14 (Gauge): found "900 bar"; allowed: a smaller one'),
    # Cells: dates and times.
    ({P: [STAY | {"Came on": "04/03/2026", "Oxygen begun": None, "Oxygen ended": None}]},
     f'{P}, A14 (Came on): found the text "04/03/2026"; it may be 4 March or 3 April - set the cell to a date, or '
     "write 2026-03-04 (or Place, Dates as written: day/month/year)"),
    (patient(Came_on="25/03/2026"), 'A14 (Came on): found the text "25/03/2026"; it may be 25 March - set the '
     'cell'),
    (patient(Came_on="31/02/2026"), 'A14 (Came on): found "31/02/2026": no such day'),
    ({"Place": [{"Sheet": P, "Dates as written": "day/month/year"}], **patient(Came_on="31.13.2026")},
     'A14 (Came on): found "31.13.2026": no such day or time; allowed: a date'),
    ({"Place": [{"Sheet": P, "Dates as written": "year-month-day"}], **patient(Came_on="04/03/2026")},
     "or write 2026-03-04 (Place says that dates are written year-month-day)"),
    (patient(Came_on="04/03/26"), 'A14 (Came on): found "04/03/26", a year of two digits; allowed: a date'),
    (patient(Came_on="2026-02-30"), 'A14 (Came on): found "2026-02-30": no such day or time; allowed: a date'),
    (patient(Came_on=46085), "A14 (Came on): found the number 46085; allowed: a date, as 2027-03-04 or "
     "2027-03-04 14:05"
     " - let the spreadsheet show the cell as a date"),
    (patient(Came_on="Monday"), "A14 (Came on): found a text of 6 characters; allowed: a date"),
    (patient(Came_on=D(1926, 3, 2)), "A14 (Came on): found 1926-03-02; allowed: years 1990 to 2100"),
    (patient(At="25:00"), 'B14 (At): found "25:00"; allowed: a time of day, as 14:05'),
    (patient(At=14), "B14 (At): found 14; allowed: a time of day, as 14:05"),
    (one("Counts at midnight", Date=T(2026, 3, 2, 7, 30)),
     "A14 (Date): found 2026-03-02 07:30, which has a time of day; allowed: a date, as 2027-03-04 - write "
     "2026-03-02"),
    (one("Power cuts", Off_at="2026-03-02"), 'A14 (Off at): found "2026-03-02", which has no time of day; '
     'allowed: a '
     "date and a time, as 2027-03-04 18:20 - write 2026-03-02 00:00 where it was midnight"),
    (one("Month totals", Month="March"), "A14 (Month): found a text of 5 characters; allowed: a month, as "
     "2027-03"),
    (one("Month totals", Month="2026-13"), 'A14 (Month): found "2026-13"; allowed: a date'),
    # Cells: words, formulas, errors, joined cells.
    (patient(Class="Mary Hill"), "C14 (Class): found a text of 9 characters; allowed: newborns, children or "
     "adults - "
     "add it to the sheet Lists if it is a class of patients"),
    (patient(Left_how="dead"), "I14 (Left how): found a text of 4 characters; allowed: ended, sent on or moved"),
    (patient(Still_on="y", Oxygen_ended=None), "H14 (Still on): found a text of 1 character; allowed: x"),
    (one("Power today", On="maybe"), "A14 (On): found a text of 5 characters; allowed: yes or no"),
    (one("Place", Sheet="Registers"), "Place, B14 (Sheet): found a text of 9 characters; allowed: Patients on "
     "oxygen"),
    (one("Lists", Class="Mary 0712345678"), "Lists, A14 (Class): found a text of 15 characters; allowed: one "
     "word or"),
    (flow("=1+1"), "F14 (Flow at first): the cell holds a formula; allowed: a value - write the value itself"),
    (flow("#N/A"), "F14 (Flow at first): the cell holds the error #N/A; allowed: a value - open and save the "
     "workbook, "
     "or write the value"),
    # Several cells of a row.
    (patient(Oxygen_begun=D(2026, 3, 3), Oxygen_ended=D(2026, 3, 2)),
     f"{P}, G14: ends on 2 March, before it begins on 3 March (E14)"),
    (patient(Oxygen_begun=T(2026, 3, 3, 9), Oxygen_ended=T(2026, 3, 3, 8, 30)),
     "G14: ends on 2026-03-03 08:30, before it begins on 2026-03-03 09:00 (E14)"),
    (patient(Oxygen_begun=D(2026, 3, 1)), "E14: oxygen is begun on 1 March, before the patient came on 2 March "
     "(A14)"),
    (patient(Still_on="x"), "G14: both Oxygen ended and Still on (H14) are written; allowed: one of them"),
    (one("All admissions", Month="2026-03", Admitted=9, SpO2_written=11),
     "D14 (SpO2 written): found 11; allowed: at most 9, the Admitted (C14)"),
    (one("Counts at midnight", Date=D(2026, 3, 2), On_oxygen=2, On_cylinders=5),
     "C14 (On cylinders): found 5; allowed: at most 2, the On oxygen (B14)"),
    (one("Place", Sheet=P, Pages_missing_from=D(2026, 3, 2)),
     "F14 (Pages missing to): found nothing; allowed: a date beside Pages missing from (E14)"),
    (one("Power hours", Date=D(2026, 3, 2)), "B14 (Hours with power): found nothing; allowed: such as 19.5"),
    (think("resupply.lead_tim.median", "3 days", "5 days", "9 days"), "A14 (Number): found a text of 24 "
     "characters, no "
     "such key; allowed: a key of the scenario that holds a number, as resupply.lead_time.median - did you mean "
     "resupply.lead_time.median?"),
    (think("resupply.lead_time.median", 3, "5 days", "9 days"), "B14 (Lowest): found 3; allowed: a duration"),
    (think("resupply.lead_time.median", "3 days", "2 days", "9 days"),
     "C14 (Most likely): found 2 days; allowed: at least 3 days, the Lowest (B14)"),
    # Several rows.
    (two(P, PATIENT), f"{P}, rows 14 and 15: are the same patient, time and flow: counted once? - mark one with x "
     "under Twice"),
    (two("Counts at midnight", {"Date": D(2026, 3, 2), "On oxygen": 2}),
     "Counts at midnight, rows 14 and 15 (Date): found the same in both; allowed: one row for each"),
    (two("Place", KEPT), "Place, rows 14 and 15 (Sheet and Book kept from): found the same in both"),
    (two("Today", {"Counted at": T(2026, 3, 2, 7), "Full": 1, "Empty": 2}), "Today, row 15: found one row more; "
     "allowed: 1 at most"),
    ({"Place": [KEPT], **patient(Oxygen_ended=D(2027, 1, 4))}, "G14 (Oxygen ended): found 2027-01-04; allowed: "
     "days up "
     "to 2026-12-31, the last that the book covers (Place, row 14) - mend the date, or Book kept to"),
    ({"Power cuts": [{"Off at": T(2026, 3, 2, 8), "On at": T(2026, 3, 2, 12)}, {"Off at": T(2026, 3, 2, 10)}]},
     "Power cuts, A15 (Off at): found 2026-03-02 10:00; allowed: a time after the cut of row 14, which lasts "
     "until "
     "2026-03-02 12:00"),
    ({"Units": [{"Unit": "A"}], "Job cards": [{"Unit": n, "Went down": D(2026, 3, 2)} for n in "BCDA"]},
     "Units: 3 units on job cards are not on the list of units (see Job cards, row 14) - list all units; those "
     "that "
     "never failed must be there too"),
    # Heads and sheets.
    (patient(First_name="Mary Hill"), f"{P}, K13: column K says who a person is (name); allowed: the columns "
     f"of the "
     "template, and nothing of who anybody is - remove this column"),
    (patient(Date_of_birth=D(2020, 1, 1)), "K13: column K says who a person is (birth)"),
    ({"Stock crad": [STOCK]}, "sheet 1: its name is almost that of a sheet of the template; allowed: Stock card "
     "- write "
     "the name so, or remove the sheet"),
]  # fmt: skip


def refused(path):
    """Return the message of a refusal, in one line."""
    with pytest.raises(RecordsError) as error:
        read_records(path)
    return " ".join(str(error.value).split())


@pytest.mark.parametrize(("rows", "words"), CASES, ids=range(len(CASES)))
def test_a_broken_workbook_is_refused_at_its_cell(tmp_path, rows, words):
    """The message has file, sheet, cell, column, what was found and is allowed, what to write; one slip is one."""
    path = tmp_path / "records.xlsx"
    path.write_bytes(book(rows))
    said = refused(path)
    assert words in said
    assert said.startswith("1 problem in the records records.xlsx, ")


def test_cells_that_are_joined_are_refused(tmp_path):
    """Two cells joined below the heads are named with what to do; above the heads they are no matter."""
    path = tmp_path / "records.xlsx"
    rows = {P: [PATIENT, PATIENT | {"At": None, "Class": None}]}
    path.write_bytes(book(rows, joined={P: "C14:C15"}))
    assert (
        "C14 (Class): joined with C15; allowed: cells on their own - part them, and write the class in both"
        in (refused(path))
    )
    path.write_bytes(book(rows, joined={P: "A1:H1"}))
    assert len(read_records(path).stays) == 2


def heads_changed(tmp_path, old, new):
    """Return the refusal of a CSV folder of one patient with one head replaced."""
    heads = "Came on,Class,Oxygen begun,Oxygen ended\n".replace(old, new)
    (tmp_path / "Patients on oxygen.csv").write_text(f"{heads}2026-03-02,children,2026-03-02,2026-03-05\n")
    return refused(tmp_path)


def test_heads_that_are_wrong_are_refused(tmp_path):
    """A slip of the pen, a column that stands twice, and a sheet without any head of ours are named."""
    assert "C1: the head is almost Oxygen begun; allowed: Oxygen begun - write Oxygen begun, or remove" in (
        heads_changed(tmp_path, "begun", "begn")
    )
    assert "B1 (Came on): the column stands twice; allowed: each column once - remove one" in (
        heads_changed(tmp_path, "Class", "came  ON")
    )
    assert "Patients on oxygen: found no head of a column in its first rows; allowed: Came on, At, Class" in (
        heads_changed(tmp_path, "Came on,Class,Oxygen begun,Oxygen ended", "w,x,y,z")
    )
    (tmp_path / "Orders.csv").write_text("Cylinders came\n3\n")
    assert "Orders, row 1 (Ordered on): found no such column; allowed: Ordered on - copy the heads" in refused(
        tmp_path
    )


def zipped(parts):
    """Return an archive of parts by name."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, part in parts.items():
            made.writestr(name, part)
    return out.getvalue()


def protected():
    """Return an archive whose first part says that it has a password."""
    data = bytearray(book(patient()))
    for at, mark in ((6, b"PK\x03\x04"), (8, b"PK\x01\x02")):
        data[data.index(mark) + at] |= 1
    return bytes(data)


BOMB = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
SHEET = "xl/worksheets/sheet1.xml"
FILES = [
    (lambda: b"", "is damaged, or no workbook; allowed: a workbook as .xlsx - open it in a spreadsheet"),
    (lambda: b"Came on,Class\n", "is damaged, or no workbook"),
    (lambda: book(patient())[:-400], "is damaged, or no workbook"),
    (lambda: b"\xd0\xcf\x11\xe0" + b"\0" * 600, "has a password, or is an old workbook (.xls)"),
    (protected, "has a password; allowed: a workbook without one"),
    (lambda: zipped({"a.txt": b"x"}), "is damaged, or no workbook"),
    (lambda: zipped({f"{n}.xml": b"x" for n in range(201)}), "holds 201 parts; allowed: 200 parts"),
    (lambda: zipped({SHEET: b"0" * 41_000_000}), "unpacks to 41 MB"),
    (lambda: with_part(book(patient()), "xl/media/a.bin", b"", b"0" * 9_000_000), "times its size; allowed: 40 "
     "MB, 100"),
    (lambda: with_part(book(patient()), "xl/styles.xml", b"</styleSheet>", b" " * 1_000_001 + b"</styleSheet>"),
     "allowed: 40 MB, 100 times, large sheets only"),
    (lambda: with_part(book(patient()), SHEET, b"<worksheet", BOMB + b"<worksheet"), "is damaged, or no workbook"),
    (lambda: with_part(book(patient()), "xl/workbook.xml", b"<workbook", BOMB + b"<workbook"), "is damaged"),
    (lambda: with_part(book(patient()), SHEET, b"</sheetData>", b""), "is damaged, or no workbook"),
    (lambda: with_part(book(patient()), SHEET, b'<row r="14"', b'<row r="x"'), "is damaged, or no workbook"),
    (lambda: with_part(book({P: [], "Stock card": []}), "xl/workbook.xml", b"Stock card", P.encode()),
     f"{P}: found a sheet twice; allowed: each sheet once"),
    (lambda: book({"Register": [{"a": 1}]}), "found no sheet of the template; allowed: sheets, or CSV files, "
     "named"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "words"), FILES, ids=range(len(FILES)))
def test_a_file_that_is_no_workbook_is_refused_whole(tmp_path, data, words):
    """Damaged, protected and hostile files are refused in one message that quotes nothing of them."""
    path = tmp_path / "records.xlsx"
    path.write_bytes(data())
    said = refused(path)
    assert said.startswith("1 problem in the records records.xlsx")
    assert words in said


def test_what_is_not_there_or_too_long_is_refused(tmp_path, monkeypatch):
    """No file, an empty folder, too many bytes and too many rows each have their message."""
    assert "found no such file; allowed: a workbook as .xlsx, or a folder of CSV files" in refused(
        tmp_path / "x.xlsx"
    )
    assert "found no sheet of the template" in refused(tmp_path)
    path = tmp_path / "records.xlsx"
    path.write_bytes(book({"Power hours": [{"Date": D(2026, 3, n), "Hours with power": 9} for n in range(1, 7)]}))
    monkeypatch.setattr("o2sim.records.raw.MOST_ROWS", 6)
    assert "Power hours: found too many rows; allowed: 6 rows - take fewer years at once" in refused(path)
    monkeypatch.setattr("o2sim.records.reading.MOST_BYTES", 1_000)
    assert "has 0 MB; allowed: 0 MB" in refused(path)


def test_all_that_is_wrong_is_listed_at_once(tmp_path):
    """Errors of several sheets stand together; of one column the first 20, and how many more there are."""
    path = tmp_path / "records.xlsx"
    rows = [PATIENT | {"SpO2 %": 8, "Flow at first L/min": "2,5"} for _ in range(23)]
    path.write_bytes(book({P: rows, "Power today": [{"On": "maybe"}], "Stock card": [STOCK | {"Full": "many"}]}))
    said = refused(path)
    assert said.startswith("44 problems in the records")
    assert said.count("(Flow at first): found") == 20
    assert "Patients on oxygen (Flow at first): 3 more like these, not listed" in said
    assert "Power today, A14 (On)" in said
    assert "Stock card, B14 (Full): found a text of 4 characters" in said
