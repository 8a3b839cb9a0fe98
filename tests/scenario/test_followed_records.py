"""What messages about records propose, followed to the letter: it loads, and means what was meant."""

from __future__ import annotations

import re

from test_record_periods import KEPT, TEXT, loaded, refused

from o2sim.scenario.checks.checks import warnings

SHORT = TEXT.replace("horizon: 20 days", "horizon: 19 days")


def test_the_days_proposed_for_a_period_are_taken(tmp_path) -> None:
    """Of each register and of the cuts the days of the first and the last row, as the message writes them."""
    hints = {field: hint for field, said, hint in refused(tmp_path, kept="") if said == "this key is missing"}
    found = {field: re.findall(r"`(\w+: [-\d]+)`", hint)[0] for field, hint in hints.items()}
    text = SHORT
    for section in ("patients.adults.register", "patients.children.register", "power.grid"):
        text = text.replace("KEPT", ", ".join(found[f"{section}.{key}"] for key in ("from", "to")), 1)
    adults = loaded(tmp_path, text=text).hospitals["concentrators only"].patients[0].recorded
    assert (adults.first_day, adults.days, adults.stated) == (-2, 21, True)


def test_the_remedies_of_a_horizon_that_is_not_covered_are_taken(tmp_path) -> None:
    """A shorter run, days drawn at random, and from a whole year on repeated by year."""
    long = TEXT.replace("horizon: 20 days", "horizon: 400 days")
    assert refused(tmp_path, text=long)
    assert loaded(tmp_path).hospitals
    assert loaded(tmp_path, f"use: resample, {KEPT}", long).hospitals
    assert loaded(tmp_path, "use: repeat by year, from: 2027-01-01, to: 2027-12-31", long).hospitals


def test_the_remedies_of_a_repeat_of_less_than_a_year_are_taken(tmp_path) -> None:
    """Days drawn at random, or a replay within the days there are."""
    assert refused(tmp_path, kept=f"use: repeat by year, {KEPT}")
    assert loaded(tmp_path, f"use: resample, {KEPT}").hospitals
    assert loaded(tmp_path, f"use: replay, {KEPT}").hospitals


def test_the_remedies_of_what_is_doubtful_in_a_record_are_taken(tmp_path) -> None:
    """No warm-up before the book begins; the days of the book where none are stated; no scale without a file."""
    late = TEXT.replace("horizon: 20 days", "horizon: 10 days\nwarm_up: 30 h")
    cold = late.replace("warm_up: 30 h", "warm_up: 0 days")
    for kept, text, mended in (
        (KEPT, late, (KEPT, cold)),
        ("use: resample", TEXT, (f"use: resample, {KEPT}", TEXT)),
    ):
        doubted = [each for each in warnings(loaded(tmp_path, kept, text)) if "write" in each.hint]
        left = {each.field for each in warnings(loaded(tmp_path, *mended))}
        assert doubted
        assert not left & {each.field for each in doubted if "register" in each.field or "grid" in each.field}
    scaled = TEXT.replace("file: c.csv, KEPT", "up: 10 h, down: 1 h, scale: 2")
    assert refused(tmp_path, text=scaled)[0][2] == "delete it, or write file"
    assert loaded(tmp_path, text=scaled.replace(", scale: 2", "")).hospitals
