"""How long reading a large workbook takes: reported, never asserted."""

from __future__ import annotations

import datetime as dt
import time

import pytest
from made_books import PATIENT, book

from o2sim.records.reading import read_records

ROWS = 10_000


@pytest.mark.benchmark
def test_ten_thousand_patients_are_read(tmp_path):
    """All rows come back; the seconds are printed."""
    begun = [dt.datetime(2017, 1, 1) + dt.timedelta(hours=7 * n, minutes=n % 60) for n in range(ROWS)]
    rows = [
        PATIENT | {"Came on": each.date(), "At": each.time(), "Oxygen begun": each,
                   "Oxygen ended": each + dt.timedelta(days=3)}
        for each in begun
    ]  # fmt: skip
    path = tmp_path / "records.xlsx"
    path.write_bytes(book({"Patients on oxygen": rows}))
    began_s = time.perf_counter()
    found = read_records(path)
    print(f"\n{ROWS:,} patients read in {time.perf_counter() - began_s:.1f} s")
    assert len(found.stays) == ROWS
