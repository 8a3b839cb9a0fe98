"""Sizing one size of several, with its levels; its sheets; what cannot be sized says why."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from click.testing import CliRunner
from sized_texts import SIZED

from o2sim import cli
from o2sim.errors import O2simError
from o2sim.questions.size.sheets import COUNT_SHEET, REORDER_CARD, acts_by, sheets
from o2sim.questions.size.sheets_by_size import page_names, phone_words
from o2sim.questions.size.sizing import size
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.types.hospital import Emergency, Law

OURS = SIZED.replace("horizon: 60 days", "figures: ours\nhorizon: 20 days")
LARGE, SMALL = "cylinders.sizes.large.fleet", "cylinders.sizes.small.fleet"


@pytest.fixture(scope="module")
def done():
    """Return a sizing of the large ones, of so little that any number is enough."""
    return size(
        original_of(OURS),
        "mixed",
        vary=f"{LARGE} = 10, 12",
        target=0.5,
        replications=8,
        engine="reference",
        workers=1,
    )


@pytest.fixture(scope="module")
def pages(done):
    """Return its pages."""
    return sheets(done.hospital, done.record)


def test_the_levels_of_a_size_move_with_it(done):
    """The small ones stay."""
    assert done.record.levels_moved == ("resupply.sizes.large.reorder_point", "resupply.sizes.large.order_up_to")
    fleet = int(done.answer[LARGE])
    assert done.hospital.resupply.levels == ((fleet - 4, fleet - 1), (8, 12))


def test_all_together_is_refused_with_what_to_write():
    """The fleet and both levels; each size is named."""
    for vary in ("cylinders.fleet", "resupply.levels"):
        with pytest.raises(O2simError, match=r"cylinders\.sizes\.large\.fleet or cylinders\.sizes\.small\.fleet"):
            size(original_of(OURS), "mixed", vary=vary, engine="reference")


def test_too_few_of_a_size_for_no_bed_show_in_all_supply():
    """Large ones are for patients, so that a bare shelf is asked; small ones are for back-ups and the way."""
    found = {}
    for path in (LARGE, SMALL):
        asked = size(
            original_of(OURS),
            "mixed",
            vary=f"{path} = 12",
            target=0.5,
            replications=5,
            engine="reference",
            workers=1,
        )
        found[path] = asked.record.causes
    assert found[LARGE] == ("no cylinder",)
    assert "concentrator down" in found[SMALL]


def test_of_names_a_size_for_the_command(tmp_path):
    """It goes without --vary."""
    file = tmp_path / "two.yaml"
    file.write_text(OURS, encoding="utf-8")
    asked = ["size", str(file), "--strategy", "mixed", "--of", "tiny", "--engine", "reference"]
    assert "cylinders.sizes.tiny" in CliRunner().invoke(cli.main, asked).output
    both = [*asked, "--vary", "concentrators.count"]
    assert "--of names the size" in CliRunner().invoke(cli.main, both).output


def test_sheets_show_the_levels_of_each_size(done, pages):
    """Order numbers, a page at dusk for each, no number to phone at."""
    assert sorted(pages) == [
        "count-sheet.html",
        "dusk-page-large.html",
        "dusk-page-small.html",
        "reorder-card.html",
    ]
    (large, _), (small, _) = done.hospital.resupply.levels
    for name in (COUNT_SHEET, REORDER_CARD):
        cells = re.findall(r"<t[dh][^>]*>([^<]*)</t[dh]>", pages[name])
        assert [f"{large}" in cells, f"{small}" in cells, "12" in cells] == [True, True, True]
    assert "A number to phone at is not worked out by size" in pages[REORDER_CARD]
    assert acts_by(done.hospital, done.record)[COUNT_SHEET] == f"large {large}, small {small}"


def test_a_lorry_with_spaces_is_said(pages):
    """What each takes, and which is loaded first."""
    assert "One lorry has 60 spaces (large takes 6 and small takes 1)" in pages[COUNT_SHEET]


def test_the_page_at_dusk_is_of_its_size(pages):
    """The name above, the water capacity on the shoulder below."""
    assert "Small cylinders, for the night from" in pages["dusk-page-small.html"]
    assert "47 L stamped" in pages["dusk-page-large.html"]
    assert "4.7 L stamped" in pages["dusk-page-small.html"]


def test_an_example_has_no_number_to_order_by():
    """Neither sheet."""
    found = size(
        original_of(OURS.replace("figures: ours", "figures: example")), "mixed", vary=f"{LARGE} = 12", target=0.5,
        replications=8, engine="reference", workers=1,
    )  # fmt: skip
    text = sheets(found.hospital, found.record)[REORDER_CARD]
    assert "8, full" not in text
    assert "EXAMPLE" in text


def test_an_emergency_below_a_count_is_shared_by_the_fleets():
    """Of 22 in all 10 are large: fewer than 5 large or 6 small ones."""
    hospital = loads(OURS).hospitals["mixed"]
    rule = Emergency(below=11, up_to=12, lead_time_s=Law("constant", (3_600.0,)))
    resupply = replace(hospital.resupply, emergency=rule)
    assert "fewer than 5 large or 6 small ones" in phone_words(hospital.cylinders, resupply)


def test_names_of_sizes_make_names_of_files():
    """Letters and figures alone; where two would be the same, or nothing is left, the place in the file."""
    stock = loads(OURS).hospitals["mixed"].cylinders
    odd = replace(
        stock,
        sizes=tuple(replace(each, name=name) for each, name in zip(stock.sizes, ("A/1", "a 1"), strict=True)),
    )
    assert page_names(odd, "dusk-page.html") == {0: "dusk-page-a-1.html", 1: "dusk-page-2.html"}
