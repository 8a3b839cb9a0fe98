"""Finds the heads of a sheet, and which columns are ours; any other column is passed over unread and unnamed."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from itertools import chain

from o2sim.records.books import Book
from o2sim.records.columns import Column, cell_at, letters
from o2sim.records.findings import Findings
from o2sim.records.raw import Cells, RawSheet
from o2sim.scenario.building.persons import person_word

DEEPEST = 10  # rows that are not blank, among which the heads are looked for; the template's stand in its third
ALMOST = 0.8  # how alike two names are, of 1, to be taken for a slip of the pen
_UNITS = re.compile(r"\s*(?:\(.*\)|%|l/min)\s*$")


def plain_head(text: str) -> str:
    """Return a head for comparison: small letters, without its unit, what stands in brackets, or a subscript."""
    short = " ".join(text.split()).casefold().replace("₂", "2")
    return _UNITS.sub("", short) or short


def almost(name: str, known: Iterable[str]) -> str:
    """Return the known name of which another is a slip of the pen, empty where there is none."""
    close = difflib.get_close_matches(name[:60], list(known), n=1, cutoff=ALMOST)
    return close[0] if close else ""


def headed(book: Book, raw: RawSheet, findings: Findings) -> tuple[dict[int, Column], Iterator[tuple[int, Cells]]]:
    """Return our columns by their place, and the rows below the heads; nothing where the sheet is empty.

    Notes a head that names a person, stands twice or is almost one of ours, and a sheet without heads. What stands
    above the heads (notes, the examples of the template) is passed over.
    """
    known = {plain_head(column.head): column for column in book.columns}
    top = [row for _, row in zip(range(DEEPEST), raw.rows, strict=False)]
    if not top:
        return {}, iter(())
    scores = [
        len({plain_head(text) for text in cells.values() if isinstance(text, str)} & set(known))
        for _, cells in top
    ]
    best = scores.index(max(scores))
    if not scores[best]:
        heads = ", ".join(column.head for column in book.columns)
        _refuse_persons(book, top[0][0], top[0][1], findings)
        findings.wrong(
            book.name,
            "",
            "",
            "found no head of a column in its first rows",
            heads,
            "copy the heads of the template",
        )
        return {}, iter(())
    number, cells = top[best]
    return _ours(book, number, cells, known, findings), chain(top[best + 1 :], raw.rows)


def _ours(
    book: Book, number: int, cells: Cells, known: dict[str, Column], findings: Findings
) -> dict[int, Column]:
    """Return our columns by their place; note what is wrong with the heads."""
    ours: dict[int, Column] = {}
    others: Cells = {}
    for place, text in cells.items():
        column = known.get(plain_head(text)) if isinstance(text, str) else None
        if column is None:
            others[place] = text
        elif column in ours.values():
            findings.wrong(
                book.name,
                cell_at(place, number),
                column.head,
                "the column stands twice",
                "each column once",
                "remove one",
            )
        else:
            ours[place] = column
    persons = _refuse_persons(book, number, others, findings)
    lacking = {plain_head(column.head): column for column in book.columns if column not in ours.values()}
    for place, text in others.items():
        near = almost(plain_head(text), lacking) if isinstance(text, str) and place not in persons else ""
        if near:
            head = lacking[near].head
            findings.wrong(
                book.name,
                cell_at(place, number),
                "",
                f"the head is almost {head}",
                head,
                f"write {head}, or remove this column",
            )
    passed = len(others) - len(persons)
    if passed:
        what = f"{passed} column{'s are' if passed > 1 else ' is'} not of the template"
        findings.doubt(book.name, "", "", f"{what}: passed over, not read and not kept")
    for column in lacking.values():
        if column.needed:
            findings.wrong(
                book.name,
                f"row {number}",
                column.head,
                "found no such column",
                column.head,
                "copy the heads of the template",
            )
    return {place: column for column in book.columns for place, own in ours.items() if own is column}


def _refuse_persons(book: Book, number: int, cells: Cells, findings: Findings) -> set[int]:
    """Note each head that says who a patient is; no cell under it is read. Return their places."""
    persons = set()
    for place, text in cells.items():
        word = person_word(text) if isinstance(text, str) else ""
        if word:
            persons.add(place)
            findings.wrong(
                book.name, cell_at(place, number), "", f"column {letters(place)} says who a person is ({word})",
                "the columns of the template, and nothing of who anybody is", "remove this column",
            )  # fmt: skip
    return persons
