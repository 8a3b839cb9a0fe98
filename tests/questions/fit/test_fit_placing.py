"""Thoughts stand where the base takes them, records win over them aloud, closures lie in the days of the run."""

from __future__ import annotations

import datetime as dt

import pytest
from made_books import WHOLE, book
from scenario_texts import SMALL

import o2sim
from o2sim.fits.found import ROWS, Part, Whole
from o2sim.questions.fit.fitting import base_of, fitted
from o2sim.questions.fit.placing import run_of
from o2sim.records.reading import read_records

LEAD = "resupply:\n  lead_time: {lead}\n"
CLOSED = "[{chance_per_day: 2 %, from: 2026-07-02, to: 2026-08-20, length: {exponential: {mean: 5 days}}}]"


def thought(key="resupply.lead_time.median", low="3 days", likely="5 days", high="14 days"):
    """Return the rows of a workbook in which somebody thinks of one number."""
    row = {"Number": key, "Lowest": low, "Most likely": likely, "Highest": high, "Basis": "asked"}
    return {"What we think": [row]}


def fit(tmp_path, rows, base):
    """Return the fit of a workbook of some rows over a base."""
    (tmp_path / "books.xlsx").write_bytes(book(rows))
    return o2sim.fit(tmp_path / "books.xlsx", o2sim.loads(base))


def base_with(lead):
    """Return a small scenario with a lead time."""
    assert "lead_time: 1 day\n" in SMALL
    return SMALL.replace("lead_time: 1 day\n", f"lead_time: {lead}\n")


RANGE = "{low: 3 days, likely: 5 days, high: 14 days}"


@pytest.mark.parametrize(
    ("key", "lead", "path", "text"),
    [
        ("resupply.lead_time", "5 days", "resupply.lead_time", RANGE),
        ("resupply.lead_time.mean", "5 days", "resupply.lead_time", RANGE),
        ("resupply.lead_time.median", "5 days", "resupply.lead_time", RANGE),
        ("resupply.lead_time", "{gamma: {mean: 5 days, sd: 2 days}}", "resupply.lead_time.gamma.mean", RANGE),
        ("resupply.lead_time.mean", "{gamma: {mean: 5 days, sd: 2 days}}", "resupply.lead_time.gamma.mean", RANGE),
        ("resupply.lead_time.median", "{lognormal: {median: 5 days, geometric_sd: 2}}",
         "resupply.lead_time.lognormal.median", RANGE),
        ("resupply.lead_time.mean", "{lognormal: {median: 5 days, geometric_sd: 2}}",
         "resupply.lead_time", f"{{exponential: {{mean: {RANGE}}}}}"),
    ],
)  # fmt: skip
def test_a_thought_goes_to_what_the_base_has_there(tmp_path, key, lead, path, text):
    """A constant gets a range, a law the range of its own parameter; the scenario loads with 200 draws."""
    found = fit(tmp_path, thought(key), base_with(lead))
    assert [(each.key, each.text) for each in found.values] == [(path, text)]
    assert len(found.draws) == 200
    assert (found.unused, found.scenario.uncertain != ()) == ((), True)


def test_a_median_of_a_law_without_one_is_left_out_and_said(tmp_path):
    """Nothing is put in its place silently."""
    found = fit(tmp_path, thought(), base_with("{gamma: {mean: 5 days, sd: 2 days}}"))
    assert (found.values, [each.key for each in found.unused]) == ((), ["resupply.lead_time.median"])


def test_a_thought_of_what_does_not_vary_is_said_to_be_its_range(tmp_path):
    """Whoever thought of a mean of a constant reads where it went."""
    said = fit(tmp_path, thought("resupply.lead_time.mean"), base_with("5 days")).cautions
    assert [each for each in said if "is one value in the base" in each] == [
        "What we think: resupply.lead_time is one value in the base, without a law: what is thought of its mean "
        "is its range."
    ]


def test_records_win_over_a_thought_and_by_how_much_is_said(tmp_path):
    """The key is that of the book; a caution has both ranges."""
    orders = {"Cylinders ordered": 5, "Cylinders came": 5}
    rows = [
        {"Ordered on": dt.date(2026, 1 + place % 12, 1 + place // 12),
         "Came on": dt.date(2026, 1 + place % 12, 20 + place % 8), **orders} for place in range(24)
    ]  # fmt: skip
    place = [{"Sheet": "Orders", "Book kept from": dt.date(2026, 1, 1), "Book kept to": dt.date(2026, 12, 31)}]
    found = fit(tmp_path, {"Orders": rows, "Place": place, **thought()}, base_with("5 days"))
    assert {each.part.sheet for each in found.values if each.key == "resupply.lead_time"} == {"Orders"}
    said = [each for each in found.cautions if "people think 3 days to 14 days, records say median" in each]
    assert len(said) == 1
    assert "they do not meet; the records are taken" in said[0]


def test_closures_lie_in_the_days_of_the_run(tmp_path):
    """Seasons have the year of the books; written, and in each draw, they have that of the scenario."""
    base = base_of(o2sim.loads(f"start: 2031-01-01\nwarm_up: 28 days\n{SMALL}"))
    part = Part("shut roads", "Road shut", ROWS, "5 closures", wholes=(
        Whole("resupply.road_closures", CLOSED,
              tuple(CLOSED.replace("2 %", f"{2 + k / 100} %") for k in range(20))),
    ))  # fmt: skip
    (tmp_path / "books.xlsx").write_bytes(book(WHOLE))
    found = fitted((part,), read_records(tmp_path / "books.xlsx"), base, 1)
    assert run_of(base.source.scenario) == (dt.date(2030, 12, 4), dt.date(2031, 12, 31))
    written = [each.text for each in found.values] + list(found.draws["resupply.road_closures"])
    assert len(written) == 21
    for text in written:
        assert "from: 2031-07-02, to: 2031-08-20" in text
