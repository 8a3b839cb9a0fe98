"""What a message about records says to write is written here, and the workbook then is in order."""

from __future__ import annotations

import datetime as dt

import pytest
from made_books import PATIENT, WHOLE, D, T, book, patient
from proposal_scan import proposals

from o2sim.records.reading import survey

P = "Patients on oxygen"
DAYS = {"Sheet": P, "Book kept from": D(2026, 1, 1), "Book kept to": D(2026, 12, 31)}
AS_WRITTEN = {"Place": [{"Sheet": P, "Dates as written": "day/month/year"}]}
SLASHES = {"Came on": "04/03/2026", "Class": "children", "Oxygen ended": D(2026, 3, 9)}
WHOLE_DAYS = [
    {"Oxygen begun": T(2026, 1, 1 + n, 9), "Oxygen ended": T(2026, 1, 4 + n, 9)} for n in range(20)
]  # as written, and as the advice has them
DATES_ALONE = [{name: when.date() for name, when in row.items()} for row in WHOLE_DAYS]
THOUGHT = WHOLE["What we think"][0]


def stay(**changed):
    """Return a workbook of one patient with cells changed, the book's days beside it."""
    return {"Place": [DAYS], **patient(**changed)}


# The text as in the sources: (workbook, what is said, the workbooks that follow it, each in order).
FOLLOWED = {
    "write no under Working, or empty this cell": (
        {"Units today": [{"Unit": "A", "Working": "yes", "Down since": D(2026, 3, 1)}]}, "write no under Working",
        [{"Units today": [{"Unit": "A", "Working": "no", "Down since": D(2026, 3, 1)}]},
         {"Units today": [{"Unit": "A", "Working": "yes"}]}]),
    "set the cell to a date, or write {}{}": (
        {P: [SLASHES]}, "or write 2026-03-04 (or Place, Dates as written: day/month/year)",
        [{P: [SLASHES | {"Came on": D(2026, 3, 4)}]}, {P: [SLASHES | {"Came on": "2026-03-04"}]},
         {**AS_WRITTEN, P: [SLASHES]}]),
    "write the year with four digits": (
        {**AS_WRITTEN, P: [SLASHES | {"Came on": "04/03/26"}]}, "write the year with four digits",
        [{**AS_WRITTEN, P: [SLASHES]}]),
    "let the spreadsheet show the cell as a date": (
        {P: [SLASHES | {"Came on": 46085}]}, "let the spreadsheet show the cell as a date",
        [{P: [SLASHES | {"Came on": T(2026, 3, 4)}]}]),
    "write {}": (  # of a date with a clock, and of a share
        {"Counts at midnight": [{"Date": T(2026, 3, 2, 7, 30), "On oxygen": 2}]}, "write 2026-03-02",
        [{"Counts at midnight": [{"Date": "2026-03-02", "On oxygen": 2}]}]),
    "write 88": (
        {P: [PATIENT | {"SpO2 %": 0.88}]}, "write 88", [{P: [PATIENT | {"SpO2 %": 88}]}]),
    "write {} 00:00 where it was midnight": (
        {"Power cuts": [{"Off at": "2026-03-02"}]}, "write 2026-03-02 00:00",
        [{"Power cuts": [{"Off at": "2026-03-02 00:00"}]}]),
    "if times were filled in later: on Place, write dates only under Clock or dates only": (
        {"Place": [DAYS], P: WHOLE_DAYS}, "on Place, write dates only under Clock or dates only",
        [{"Place": [DAYS | {"Clock or dates only": "dates only", "Book kept to": D(2026, 1, 21)}], P: WHOLE_DAYS},
         {"Place": [DAYS | {"Book kept to": D(2026, 1, 21)}], P: DATES_ALONE}]),
    "write Book kept from and Book kept to: without them only the days between its rows are known": (
        patient(), "write Book kept from and Book kept to", [stay()]),
    "mend Book kept to where it ended earlier": (
        {"Place": [DAYS], P: DATES_ALONE}, "mend Book kept to",
        [{"Place": [DAYS | {"Book kept to": D(2026, 1, 21)}], P: DATES_ALONE}]),
    "write {}, say": (
        {"On patients": [{"Class": "adults", "Gauge": 80}]}, "write 80 bar, say",
        [{"On patients": [{"Class": "adults", "Gauge": "80 bar"}]}]),
    "did you mean {}?": (
        stay(Flow_at_first_L_min=None, At=None) | {"What we "
        "think": [THOUGHT | {"Number": "resupply.lead_tim.median"}]},
        "did you mean resupply.lead_time.median?", [stay() | {"What we think": [THOUGHT]}]),
    "write the name so, or remove the sheet": (
        {**stay(), "Power hour": [{"a": 1}]}, "allowed: Power hours - write the name so, or remove the sheet",
        [{**stay(), "Power hours": [{"Date": D(2026, 3, 2), "Hours with power": 9}]}, stay()]),
    "open and save the workbook, or write the value": (
        stay(At="#REF!"), "open and save the workbook, or write the value", [stay(At="14:05")]),
    "write the value itself": (stay(At="=B3"), "write the value itself", [stay(At="14:05")]),
    "write it, or clear the row": (
        {"On order": [{"Ordered on": D(2026, 3, 2)}]}, "Cylinders): found nothing; allowed: such as 10",
        [{"On order": [{"Ordered on": D(2026, 3, 2), "Cylinders": 10}]}, {"On order": [{}]}]),
    "write the key under Number": (
        {"What we think": [{name: cell for name, cell in THOUGHT.items() if name != "Number"}]},
        "write the key under Number", [{"What we think": [THOUGHT]}]),
    "mark one with x under Twice, or with no where they are two patients": (
        {"Place": [DAYS], P: [PATIENT] * 2}, "mark one with x under Twice",
        [{"Place": [DAYS], P: [PATIENT, PATIENT | {"Twice": word}]} for word in ("x", "no")]),
    "list all units; those that never failed must be there too": (
        {"Job cards": [{"Unit": "A", "Went down": D(2026, 3, 2)}]}, "1 unit on job cards is not on the list of "
        "units",
        [{"Units": [{"Unit": "A"}, {"Unit": "B"}], "Job cards": [{"Unit": "A", "Went down": D(2026, 3, 2)}]}]),
    "add it to the sheet Lists if it is a class of patients": (
        stay(Class="mothers"), "add it to the sheet Lists", [{"Lists": [{"Class": "mothers"}],
         **stay(Class="mothers")}]),
    "remove this column": (stay(Surname="x"), "remove this column", [stay()]),
}  # fmt: skip
ELSEWHERE = {  # followed in test_broken_records.py, or no proposal
    "write {}, or remove this column", "part them, and write the {} in {}",
}  # fmt: skip


def said(tmp_path, rows):
    """Return all that is wrong or doubtful, but that Place is missing where only one sheet is looked at."""
    path = tmp_path / "records.xlsx"
    path.write_bytes(book(rows))
    found = survey(path)
    keep_place = list(rows) == [P] and "SpO2 %" in rows[P][0]
    every = [str(each) for each in (*found.errors, *found.cautions)]
    return [each for each in every if keep_place or "Place does not say" not in each]


def test_every_proposal_about_records_has_a_case():
    """A message that proposes something new fails here until it is followed."""
    listed = {text for module, text in proposals("records") if module != "records.help_text"}
    assert listed - set(FOLLOWED) == ELSEWHERE


@pytest.mark.parametrize("text", FOLLOWED)
def test_what_a_message_about_records_proposes_is_accepted(tmp_path, text):
    """The words come up; followed, nothing is left to say."""
    broken, words, mended = FOLLOWED[text]
    assert any(words in each for each in said(tmp_path, broken))
    assert [each for rows in mended for each in said(tmp_path, rows) if words in each or "Place" not in each] == []


def test_joined_cells_parted_as_proposed_are_in_order(tmp_path):
    """The class is written in both cells, and nothing is left to say of them."""
    rows = [PATIENT, PATIENT | {"SpO2 %": 84}]
    path = tmp_path / "records.xlsx"
    path.write_bytes(book({"Place": [DAYS], P: [rows[0], {**rows[1], "Class": None}]}, joined={P: "C14:C15"}))
    assert "write the class in both" in str(survey(path).errors[0])
    path.write_bytes(book({"Place": [DAYS], P: rows}))
    assert (survey(path).errors, survey(path).cautions) == ((), ())


def test_a_length_of_time_is_no_clock(tmp_path):
    """A cell of more than 24 hours is said to be one, not turned into a time of day."""
    assert "B14 (At): found a length of time; allowed: a time of day" in said(
        tmp_path, stay(At=dt.timedelta(hours=30))
    )[0]  # fmt: skip
