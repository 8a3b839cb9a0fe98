"""Drawn books are read as they were written, and agree with each other and with the history."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from drawn_hospital import FIELDS, USUAL, WHOLE, Thin, drawn_history, drawn_records, records_of
from small_ward import WARD
from written_books import workbook

from o2sim.outcome import DAILY_COLUMNS
from o2sim.records.reading import read_records

DISTRICT = Path(__file__).parents[2] / "scenarios" / "district_hospital.yaml"


@pytest.fixture(scope="module")
def history():
    """A year of the district hospital."""
    return drawn_history(DISTRICT, "mixed", 365, 1)


@pytest.mark.parametrize("thin", [WHOLE, USUAL, Thin(clock=False)], ids=["whole", "usual", "dates only"])
def test_a_workbook_is_read_as_it_was_written(history, thin, tmp_path):
    """Every row of every book comes back."""
    drawn = records_of(history, thin, "Invented")
    path = tmp_path / "drawn.xlsx"
    path.write_bytes(workbook(drawn))
    found = read_records(path)
    assert replace(found, file=drawn.file, hash=drawn.hash, cautions=()) == drawn


def test_whole_books_raise_no_doubt_and_thin_ones_those_that_were_made(history, tmp_path):
    """No caution but the stays without an end, and those filled in later."""
    said = {}
    for name, thin in (("whole", WHOLE), ("usual", USUAL)):
        path = tmp_path / f"{name}.xlsx"
        path.write_bytes(workbook(records_of(history, thin)))
        said[name] = [each.found for each in read_records(path).cautions]
    assert said["whole"] == []
    assert [text.partition(" of ")[2].split(" ", 1)[1] for text in said["usual"]] == [
        "without an end and without x under Still on",
        "with times are whole multiples of 24 h",
    ]


def test_totals_and_midnights_are_those_of_the_register(history):
    """Month totals add up to the register, and patient-days to the counts at midnight."""
    drawn = records_of(history)
    assert sum(row.put_on_oxygen or 0 for row in drawn.months) == len(drawn.stays)
    last_day = sum(stay.still_on is True for stay in drawn.stays)
    counted = sum(row.on_oxygen + row.waiting for row in drawn.midnights)
    assert sum(row.patient_days or 0 for row in drawn.months) == counted + last_day


def test_the_stock_card_is_that_of_the_store(history):
    """Every line holds the whole fleet, and the card adds up from line to line."""
    lines = records_of(history).stock
    fleet = {each.full + each.part_used + each.on_patients + each.empty for each in lines}
    assert fleet == {history.hospital.cylinders.fleet}
    for one, other in pairwise(lines):
        change = other.part_used + other.on_patients - one.part_used - one.on_patients
        assert one.full + other.received - other.full - change == other.emptied


def test_midnights_are_those_of_the_engine(history):
    """Where nobody is kept on oxygen beyond the need, those on oxygen and waiting are the engine's patients."""
    patients = history.daily(DAILY_COLUMNS.index("patients"))[1:]
    assert [row.on_oxygen + row.waiting for row in records_of(history).midnights] == patients.tolist()


def test_what_is_still_under_way_has_no_end():
    """At the end of a short book: stays, orders, cuts and repairs without an end, and today's count of them."""
    drawn = drawn_records(WARD, "mixed", days=45, seed=3)
    assert sum(stay.ended is None for stay in drawn.stays) == len(drawn.on_patients)
    assert sum(order.came is None for order in drawn.orders) == len(drawn.on_order)
    assert len(drawn.units_today) == len(drawn.units) == 2
    assert drawn.today[0].counted == dt.datetime(2027, 2, 15)


def test_the_books_are_the_same_again_and_other_books_with_another_seed():
    """Records are a pure function of scenario, strategy, days, seed and what is amiss."""
    first = drawn_records(WARD, days=30, seed=5, thin=USUAL)
    assert drawn_records(WARD, days=30, seed=5, thin=USUAL) == first
    assert drawn_records(WARD, days=30, seed=6, thin=USUAL) != first


def test_lost_pages_and_left_out_books_are_not_there(history):
    """No row on a missing page; a book that is not kept has none."""
    thin = Thin(missing=((10, 40),), books=("stays", "cuts"))
    drawn = records_of(history, thin)
    gap = [history.first + dt.timedelta(days=day) for day in (10, 40)]
    assert drawn.missing("Patients on oxygen") == (tuple(gap),)
    assert [stay for stay in drawn.stays if gap[0] <= stay.came_on <= gap[1]] == []
    assert {name for name in FIELDS if getattr(drawn, name)} == {"stays", "cuts"}
