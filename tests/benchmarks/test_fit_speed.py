"""How long reading and fitting a book of 10,000 patients takes: recorded, never asserted."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from light_books import light_books, truth_of
from written_books import workbook

from o2sim.fits.patients.parts import patient_parts
from o2sim.records.reading import read_records

ROWS = 10_000


@pytest.mark.benchmark
@pytest.mark.parametrize("clock", [True, False], ids=["clocks", "dates only"])
def test_ten_thousand_patients_are_read_and_fitted(clock, tmp_path):
    """A workbook of 10,000 stays to parts with 200 joint draws; wanted are 10 s of one processor."""
    path = tmp_path / "records.xlsx"
    books = light_books(replace(truth_of(1, ROWS), clock=clock, orders=52))
    path.write_bytes(workbook(replace(books, cuts=(), orders=())))
    began_s, began_cpu_s = time.perf_counter(), time.process_time()
    found = read_records(path)
    read_s = time.process_time() - began_cpu_s
    parts = patient_parts(found, 1)
    cpu_s, took_s = time.process_time() - began_cpu_s, time.perf_counter() - began_s
    both = f"read and fitted in {cpu_s:.1f} s of a processor, {took_s:.1f} s by the clock"
    print(f"\n{len(found.stays):,} patients: read in {read_s:.1f} s, {both}")
    assert "patients.children.duration" in {key for part in parts for key in part.keys}
