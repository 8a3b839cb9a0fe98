"""Mutated workbooks and CSV files: each is read or refused in RecordsError, in nothing else, and none hangs."""

from __future__ import annotations

import csv
import io
import random
import signal
import zipfile

import pytest
from made_books import WHOLE, book

from o2sim.records.findings import RecordsError
from o2sim.records.reading import read_records

CASES_A_BLOCK = 100
HANGS_S = 5.0  # of the processor: a guard against what never ends
NASTY = [
    "", "0", "-1", "1e999", "nan", "2,5", "9**9", "=A1", "#N/A", "04/03/2026", "2026-02-30", "2026-03-04 25:61",
     "x",
    "yes", "\x00", "\u202e", "\ud7ff", "é" * 300, "9" * 400, "1900-01-01", "24:00", "<c/>", "&lt;", "&#0;", "&a;",
    "<row r='99999999'><c r='ZZZ9'/></row>", "<row><c t='s'><v>99999</v></c></row>", "<!DOCTYPE a>", "t='d'",
    "t='inlineStr'", "s='9999'", "<mergeCell ref='A1:XFD1048576'/>", "<f>A1</f>", "\n\n", ";;;;", '"', "\r",
     "sep=;\n",
    "children", "Came on", "Patient name",
]  # fmt: skip


@pytest.fixture(scope="module")
def whole():
    """Return a workbook of all sheets, as bytes."""
    return book(WHOLE, head=1)


def cut_or_put(text: bytes, luck: random.Random) -> bytes:
    """Return a text with a span cut, doubled or replaced, or something nasty put in."""
    at = luck.randrange(len(text) + 1)
    to = min(len(text), at + luck.choice([0, 1, 1, 3, 10, 60]))
    new = luck.choice([luck.choice(NASTY).encode(), text[at:to] * luck.choice([0, 2, 300])])
    return text[:at] + new + text[to:]


def mutated_bytes(data: bytes, luck: random.Random) -> bytes:
    """Return an archive with some of its bytes changed."""
    return cut_or_put(data, luck)


def mutated_part(data: bytes, luck: random.Random) -> bytes:
    """Return an archive with one of its parts changed a few times."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        which = luck.choice(given.namelist())
        for name in given.namelist():
            part = given.read(name)
            for _ in range(luck.randrange(1, 4) if name == which else 0):
                part = cut_or_put(part, luck)
            made.writestr(name, part)
    return out.getvalue()


def mutated_cells(_: bytes, luck: random.Random) -> bytes:
    """Return a workbook of a sheet whose cells are exchanged for nasty ones or those of others."""
    name = luck.choice(list(WHOLE))
    every = [value for rows in WHOLE.values() for row in rows for value in row.values()]
    printable = [text for text in NASTY if text.isprintable()]
    row = dict(luck.choice(WHOLE[name]))
    for head in luck.sample(list(row), luck.randrange(1, len(row) + 1)):
        row[head] = luck.choice([*every, *printable, -5, 1e300, 0.5, True, 46085])
    return book({name: [row, *WHOLE[name]]})


def mutated_csv(folder, luck: random.Random) -> None:
    """Write a folder of one CSV file, changed a few times."""
    name = luck.choice(list(WHOLE))
    text = io.StringIO()
    writer = csv.DictWriter(text, list(dict.fromkeys(head for row in WHOLE[name] for head in row)))
    writer.writeheader()
    writer.writerows(WHOLE[name])
    data = text.getvalue().encode()
    for _ in range(luck.randrange(1, 4)):
        data = cut_or_put(data, luck)
    (folder / f"{name}.csv").write_bytes(data)


def outcome(path) -> str:
    """Return whether records are read or refused; anything else is raised, a hang too."""

    def hangs(*_):
        raise AssertionError(f"longer than {HANGS_S} s of the processor")

    before = signal.signal(signal.SIGVTALRM, hangs)
    signal.setitimer(signal.ITIMER_VIRTUAL, HANGS_S)
    try:
        read_records(path)
    except RecordsError as error:
        return "refused" if error.errors else "refused without a reason"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
    return "read"


def fuzz(whole, tmp_path, block):
    """Read the mutants of one block; return what came of them."""
    found = []
    for case in range(CASES_A_BLOCK):
        luck = random.Random(f"{block} {case}")
        place = tmp_path / f"{case}"
        ways = [mutated_bytes, mutated_part, mutated_part, mutated_cells, mutated_csv]
        way = luck.choice(ways)
        if way is mutated_csv:
            place.mkdir()
            way(place, luck)
        else:
            place = place.with_suffix(".xlsx")
            place.write_bytes(way(whole, luck))
        found.append(outcome(place))
    return found


@pytest.mark.parametrize("block", range(2))
def test_a_mutated_workbook_is_read_or_refused(whole, tmp_path, block):
    """Neither a traceback nor a hang; both outcomes come up, or the mutants would be too wild or too mild."""
    found = fuzz(whole, tmp_path, block)
    assert min(found.count("read"), found.count("refused")) > 5


@pytest.mark.slow
@pytest.mark.parametrize("block", range(2, 22))
def test_many_mutated_workbooks_are_read_or_refused(whole, tmp_path, block):
    """The same of 2,000 others."""
    found = fuzz(whole, tmp_path, block)
    assert min(found.count("read"), found.count("refused")) > 5
