"""The demo workbook is what its script makes, is read without an error, and has the gaps that were meant."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from heron_point import WORKBOOK, heron_point

from o2sim.records.reading import read_records


@pytest.fixture(scope="module")
def found():
    """What the shipped workbook says."""
    return read_records(WORKBOOK)


def test_the_demo_workbook_is_what_its_script_makes(found):
    """Row by row; after a change of draws: python tests/records/heron_point.py."""
    made = heron_point()
    assert replace(found, file=made.file, hash=made.hash, cautions=()) == made


def test_the_demo_workbook_is_small():
    """Under 200 kB, so that it goes by mail."""
    assert WORKBOOK.stat().st_size < 200_000


def test_its_gaps_are_those_that_were_meant(found):
    """Stays without an end, ends filled in later, weeks without a count of the stock; and nothing else."""
    said = [re.sub(r"\d+", "n", each.found) for each in found.cautions]
    assert [text for text in said if "no count from" not in text] == [
        "n of n without an end and without x under Still on",
        "n % of stays with times are whole multiples of n h",
    ]
    assert "no count from" in said[-1]


def test_blank_cells_lost_pages_and_units_that_never_failed_are_in_it(found):
    """What a fit has to cope with beyond the cautions."""
    assert any(stay.spo2_percent is None for stay in found.stays)
    assert any(stay.twice == "x" for stay in found.stays)
    assert found.missing("Patients on oxygen") != ()
    assert {unit.unit for unit in found.units} >= {card.unit for card in found.job_cards}
