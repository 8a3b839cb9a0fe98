"""How long it takes to read and fit books: recorded as times and as ratios, never asserted."""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from light_books import light_books, truth_of
from written_books import workbook

from o2sim.fits.patients.parts import patient_parts
from o2sim.records.reading import read_records

ROWS = 10_000
HERON_POINT = Path(__file__).parents[2] / "scenarios" / "heron_point_records.xlsx"
COMMAND = """
import resource, sys, time
from pathlib import Path
began_s = time.process_time()
from o2sim.questions.fit.files import write_fit
from o2sim.questions.fit.fitting import fit
from o2sim.records.reading import read_records
loaded_s = time.process_time()
read_records(sys.argv[1])
read_s = time.process_time()
found = fit(sys.argv[1])
fitted_s = time.process_time()
write_fit(found, Path(sys.argv[2]), True)
peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(loaded_s - began_s, read_s - loaded_s, fitted_s - read_s, time.process_time() - fitted_s, peak_mb)
"""


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
    ratio = f"fitting takes {(cpu_s - read_s) / read_s:.1f} times as long as reading"
    print(f"\n{len(found.stays):,} patients: read in {read_s:.1f} s, {both}; {ratio}")
    assert "patients.children.duration" in {key for part in parts for key in part.keys}


@pytest.mark.benchmark
def test_the_demo_workbook_is_fitted_and_drawn(tmp_path):
    """`o2sim fit` of the demo records: each step as a multiple of reading them, and memory; 300 MB are allowed."""
    words = [sys.executable, "-c", COMMAND, str(HERON_POINT), str(tmp_path / "fitted.yaml")]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    load_s, read_s, fit_s, write_s, peak_mb = map(float, done.stdout.split())
    times = ", ".join(f"{name} {value / read_s:.1f}" for name, value in
                      (("loading", load_s), ("reading and fitting", fit_s), ("drawing", write_s)))  # fmt: skip
    print(f"\ndemo records: read in {read_s:.2f} s; times that: {times}; {peak_mb:.0f} MB at most")
    assert (tmp_path / "fitted-fits.html").exists()
