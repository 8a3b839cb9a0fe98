"""What is read of whole workbooks: values, dates, classes, cautions; the template; CSV files of the same names."""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import fields, replace

import pytest
from made_books import PATIENT, WHOLE, D, T, book, patient

import o2sim
from o2sim.records.books import BOOKS, LISTS, Records
from o2sim.records.columns import columns_of
from o2sim.records.dates import iso
from o2sim.records.findings import RecordsError
from o2sim.records.reading import read_records, survey
from o2sim.records.rows import Place, Stay
from o2sim.records.supply_rows import JobCard, OnPatient, Thought, Unit
from o2sim.records.template import EXAMPLE_ROW, HEAD_ROW, template

P = "Patients on oxygen"


@pytest.fixture
def read(tmp_path):
    """Return a function that reads a workbook of rows."""

    def of(rows, **how):
        path = tmp_path / "records.xlsx"
        path.write_bytes(book(rows, **how))
        return read_records(path)

    return of


def test_a_whole_workbook_is_read(read):
    """Every sheet has its rows, in internal units where a field says so; clocks only where they are written."""
    found = read(WHOLE)
    assert found.stays == (
        Stay(
            14,
            D(2026, 3, 2),
            dt.time(14, 5),
            "children",
            86.0,
            D(2026, 3, 2),
            1500.0,
            D(2026, 3, 7),
            None,
            "ended",
        ),
        Stay(15, class_="adults", begun=T(2026, 12, 30, 9, 15), still_on=True),
    )
    assert found.stays[0].arrived == T(2026, 3, 2, 14, 5)
    assert found.units == (Unit(14, 1, D(2025, 5, 20), 12.0, 8200.0, True), Unit(15, 2, D(2025, 5, 20)))
    assert found.job_cards == (JobCard(14, 2, D(2026, 3, 2), 6420.0, D(2026, 4, 2)),)
    assert found.on_patients == (OnPatient(14, "adults", 5000.0, None, 8000.0, "cylinder"),)
    assert found.thoughts == (Thought(14, "resupply.lead_time.median", "3 days", "5 days", "14 days", "asked"),)
    assert (found.cuts[0].off_at, found.cuts[0].planned) == (T(2026, 3, 2, 18, 20), False)
    assert (found.months[0].month, found.months[0].patient_days) == (D(2026, 3, 1), 61.5)
    assert all(len(getattr(found, each.field)) == len(WHOLE[each.name]) for each in BOOKS if each is not LISTS)
    assert found.cautions == ()
    assert o2sim.read_records is read_records


def test_how_a_book_was_kept_is_asked_of_its_own_row_first(read):
    """A row of Place about a sheet goes before that about all; missing pages are those of the sheet."""
    found = read(WHOLE)
    assert found.place(P) == Place(14, None, P, D(2026, 1, 1), D(2026, 12, 31))
    assert found.place("Orders") == Place(15, "Reed Bank", None, D(2026, 1, 1), D(2026, 12, 31))
    assert found.missing("Stock card") == ((D(2026, 6, 1), D(2026, 6, 7)),)
    assert found.missing(P) == ()


def test_each_sheet_has_its_field():
    """The table of sheets and the record of all of them name the same fields."""
    assert [book.field for book in BOOKS if book is not LISTS] == [
        each.name for each in fields(Records) if each.name not in ("file", "hash", "classes", "cautions")
    ]


def test_the_template_is_empty_and_reads_as_such(tmp_path):
    """It is in order as written, its bytes are the same each time, and its examples are not read."""
    path = tmp_path / "template.xlsx"
    path.write_bytes(template())
    found = survey(path)
    assert (set(found.rows.values()), found.errors, found.cautions) == ({0}, (), ())
    assert found.records is not None
    assert found.records.classes == ("newborns", "children", "adults")
    assert template() == path.read_bytes()


def test_the_examples_of_the_template_are_read_as_rows_of_their_own(tmp_path):
    """Put below the heads, every example is a good cell; columns that exclude each other one at a time."""
    from openpyxl import load_workbook

    path = tmp_path / "records.xlsx"
    filled = load_workbook(io.BytesIO(template()))
    for each in BOOKS:
        sheet = filled[each.name]
        for place, column in enumerate(each.columns, 1):
            assert sheet.cell(HEAD_ROW, place).value == column.head
            left_out = column.name in ("still_on", "written_off")
            sheet.cell(HEAD_ROW + 1, place).value = None if left_out else sheet.cell(EXAMPLE_ROW, place).value
    filled.save(path)
    assert survey(path).errors == ()
    assert {name for name, rows in survey(path).rows.items() if rows != 1} == set()


def test_the_template_offers_its_lists_and_shows_dates_as_dates():
    """Words are offered, classes from the sheet Lists, and whole columns are shown as dates."""
    from openpyxl import load_workbook

    made = load_workbook(io.BytesIO(template()))
    sheet = made[P]
    offered = {str(each.sqref): each.formula1 for each in sheet.data_validations.dataValidation}
    assert offered["C4:C20000"] == "Lists!$A$4:$A$15"
    assert offered["I4:I20000"] == '"ended,sent on,moved"'
    assert sheet.column_dimensions["A"].number_format == "yyyy-mm-dd hh:mm"
    names = made["Place"].data_validations.dataValidation
    (area,) = [each.formula1 for each in names if str(each.sqref) == "B4:B20000"]
    first, last = (int(part.split("$")[-1]) for part in area.split(":"))
    listed = [made["Help"].cell(row, 1).value for row in range(first, last + 1)]
    assert listed == [each.name for each in BOOKS if each.name not in ("Place", "Lists")]


def test_csv_files_of_the_same_names_give_the_same_records(tmp_path):
    """A folder with a file for each sheet, commas or semicolons, is read as the workbook is, but for the rows."""
    (tmp_path / "books").mkdir()
    for number, (name, rows) in enumerate(WHOLE.items()):
        heads = list(dict.fromkeys(head for row in rows for head in row))
        with (tmp_path / "books" / f"{name}.csv").open("w", newline="", encoding="utf-8-sig") as file:
            writer = csv.writer(file, delimiter=",;"[number % 2])
            cells = [[row.get(head, "") for head in heads] for row in rows]
            writer.writerows(
                [heads, *([iso(v) if isinstance(v, dt.date | dt.time) else v for v in r] for r in cells)]
            )
    (tmp_path / "records.xlsx").write_bytes(book(WHOLE, head=1))
    one, other = read_records(tmp_path / "records.xlsx"), read_records(tmp_path / "books")
    assert other == replace(one, file=other.file, hash=other.hash)


def test_dates_that_are_texts_are_read_as_place_says(read):
    """day/month/year for one sheet holds for it alone; a date with its year first is read in any."""
    place = [{"Sheet": P, "Dates as written": "day/month/year"}]
    found = read({"Place": place, **patient(Came_on="04/03/2026", Oxygen_begun="2026-03-05 9:30", At=None)})
    assert (found.stays[0].came_on, found.stays[0].begun) == (D(2026, 3, 4), T(2026, 3, 5, 9, 30))
    with pytest.raises(RecordsError, match="it may be 4 March or 3 April"):
        read({"Place": place, "Orders": [{"Ordered on": "04/03/2026"}]})


def test_classes_are_those_of_the_sheet_lists(read):
    """A class of one's own is read where Lists has it, in any letters; the three of ours are then not known."""
    found = read({"Lists": [{"Class": "mothers"}, {"Class": "children"}], **patient(Class="Children")})
    assert (found.classes, found.stays[0].class_) == (("mothers", "children"), "children")
    with pytest.raises(RecordsError, match="allowed: mothers or children - add it to the sheet Lists"):
        read({"Lists": [{"Class": "mothers"}, {"Class": "children"}], **patient(Class="adults")})


def test_a_row_marked_twice_is_there_and_not_counted(read):
    """x leaves a row out of `once`; no says that two patients only look alike."""
    for mark, count in (("x", 1), ("no", 2)):
        found = read({P: [PATIENT, PATIENT | {"Twice": mark}]})
        assert (len(found.stays), len(found.once)) == (2, count)


def cautions(found):
    """Return cautions as texts, without the file and what every book without Place says."""
    said = [str(each).removeprefix("records.xlsx, ") for each in found.cautions]
    return [each for each in said if "Place does not" not in each]


def stays(count, **changed):
    """Return patients a day apart from 1 January, with clocks."""
    begun = [T(2026, 1, 1, 9) + dt.timedelta(days=n) for n in range(count)]
    return [{"Oxygen begun": each, "Oxygen ended": each + dt.timedelta(days=2, minutes=n)} | changed
            for n, each in enumerate(begun)]  # fmt: skip


def test_cautions_of_a_book_of_patients(read):
    """Stays without an end, stays of whole days, an empty end of the book; a few are not counted out."""
    rows = stays(40)
    for row in rows[:17]:
        del row["Oxygen ended"]
    for row in rows[17:22]:
        row["Oxygen ended"] = row["Oxygen begun"] + dt.timedelta(days=3)
    kept = [{"Sheet": P, "Book kept from": D(2026, 1, 1), "Book kept to": D(2026, 2, 18)}]
    assert cautions(read({"Place": kept, P: rows})) == [
        f"{P}: 17 of 40 without an end and without x under Still on",
        f"{P}: 22 % of stays with times are whole multiples of 24 h - if times were filled in later: on Place, "
        f"write "
        "dates only under Clock or dates only",
        f"{P}: the last 9 days of the book are empty - mend Book kept to where it ended earlier",
    ]
    rows = stays(40)
    del rows[3]["Oxygen ended"]
    kept[0]["Book kept to"] = D(2026, 2, 13)  # 4 empty days at one patient a day: a chance of exp(-4), 2 %
    assert cautions(read({"Place": kept, P: rows})) == [
        f"{P}: under 5 of 40 without an end and without x under Still on"
    ]


def test_cautions_of_the_stock_card(read):
    """A gap is not taken as no use; lines that do not add up say by how much, less what moved to patients."""
    day = D(2026, 6, 1)
    lines = [
        {"Date": day, "Full": 14},
        {"Date": day + dt.timedelta(1), "Full": 9, "Received": 22, "Emptied": 21},
        {"Date": day + dt.timedelta(2), "Full": 5, "Emptied": 4, "Part-used": 1, "On patients": 2},
        {"Date": day + dt.timedelta(3), "Full": 2, "Emptied": 1, "Part-used": 2, "On patients": 3},
        {"Date": day + dt.timedelta(4), "Full": 2, "Emptied": 1, "Part-used": 1, "On patients": 3},
        {"Date": day + dt.timedelta(5), "Full": 1, "Emptied": 0, "Part-used": 1, "On patients": 1},
        {"Date": day + dt.timedelta(20), "Full": 9, "Emptied": 0},
    ]
    assert cautions(read({"Stock card": lines})) == [
        "Stock card, row 15: 14 full + 22 received - 9 full = 27 emptied, but 21 are written (6 not accounted "
        "for, or "
        "the change of part-used and on-patient cylinders, which are not written)",
        "Stock card, row 19: 2 full + 0 received - 1 full + 2 fewer part-used or on patients = 3 emptied, but 0 "
        "are "
        "written (3 not accounted for)",
        "Stock card, row 20: no count from 6 to 21 June 2026: 15 days taken as not known, not as no use",
    ]


def test_a_book_without_place_is_doubtful(read):
    """Without the days that a book covers its exposure is not known: said once for each such book."""
    said = [str(each) for each in read(patient()).cautions]
    assert said == [
        f"records.xlsx, {P}: Place does not say from when to when this book was kept - write Book kept from and "
        "Book kept to: without them only the days between its rows are known"
    ]


def test_rows_alike_without_a_clock_are_a_caution(read):
    """Two children of one day with the same flow may well be two: they are taken so, and named."""
    rows = [PATIENT | {"At": None}] * 2
    del rows[0]["At"]
    assert cautions(read({P: rows}))[0].startswith(
        f"{P}, rows 14 and 15: agree in all that is written: taken as two"
    )


def test_columns_may_stand_in_any_order(tmp_path):
    """What we think needs its key before its amounts, wherever they stand; blank rows between are no matter."""
    (tmp_path / "What we think.csv").write_text(
        "Highest,Most likely,Lowest,Number\n\n14 days,5 days,3 days,resupply.lead_time.median\n", encoding="utf-8"
    )
    (found,) = read_records(tmp_path).thoughts
    assert (found.row, found.lowest, found.highest) == (3, "3 days", "14 days")


def test_every_column_has_help_and_an_example():
    """The template can say of each what to write."""
    columns = [column for each in BOOKS for column in columns_of(each.record)]
    assert [column.head for column in columns if not column.help or column.example is None] == []


def test_rows_with_foreign_cells_alone_are_blank(read):
    """A remark beside an empty line is passed over with its column."""
    found = read({**patient(), "Stock card": [{"Remarks": "x"}, {"Date": D(2026, 3, 2), "Full": 3}]})
    assert [row.row for row in found.stock] == [15]
    assert "Stock card: 1 column is not of the template: passed over, not read and not kept" in cautions(found)


def test_without_defusedxml_no_workbook_is_read(read, monkeypatch):
    """It is a dependency; where somebody has removed it, or switched it off, nothing is read unsafely."""
    monkeypatch.setattr("openpyxl.DEFUSEDXML", False)
    with pytest.raises(
        RecordsError, match="cannot be read safely: defusedxml is missing - pip install defusedxml"
    ):
        read(WHOLE)


FOLDERS = [
    (
        {"Orders.csv": b"Ordered on\n2026-03-04\n", " orders.csv": b""},
        "Orders: found a sheet twice; allowed: each",
    ),
    ({"Orders.csv": b"Ordered on\n#REF!\n"}, "Orders, A2 (Ordered on): the cell holds the error #REF!"),
    ({"Orders.csv": b"Ordered on\n=B2\n"}, "Orders, A2 (Ordered on): the cell holds a formula"),
    ({"Orders.csv": "Ordered on\n2026-03-04\n".encode("utf-16")}, "Orders: is UTF-16 or a binary file"),
    (
        {"Orders.csv": b"Ordered on\n\xe9\n"},
        "Orders: line 2 is not UTF-8 text; allowed: a CSV file in UTF-8 - save it",
    ),
    (
        {"Orders.csv": b'Ordered on\n"a"b\n'},
        "Orders: line 2 is not CSV; allowed: a CSV file in UTF-8 - look at the",
    ),
    ({f"{n}.csv": b"" for n in range(201)}, "holds 201 CSV files; allowed: 200 - name a folder of records alone"),
    (
        {"Order.csv": b"Ordered on\n"},
        "sheet 1: its name is almost that of a sheet of the template; allowed: Orders",
    ),
]


@pytest.mark.parametrize(("files", "words"), FOLDERS, ids=range(len(FOLDERS)))
def test_a_folder_that_cannot_be_read_is_refused(tmp_path, files, words):
    """Files of one name, cells without a value, other encodings and broken quotes are named with what to do."""
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    with pytest.raises(RecordsError) as error:
        read_records(tmp_path)
    assert words in str(error.value)
