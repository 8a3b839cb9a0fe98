"""Books without a list of patients: month totals, counts at midnight, all admissions alone."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest
from patient_books import FIRST, MEAN_H, Truth, drawn, months, nights, records

from o2sim.fits.found import COUNTS, TOTALS
from o2sim.fits.patients.comings import from_totals
from o2sim.fits.patients.pace import paces
from o2sim.fits.patients.parts import patient_parts
from o2sim.fits.patients.totals import little_error
from o2sim.records.rows import Admissions, Midnight, MonthTotal, Place
from o2sim.statistics.fitting.crowd import little

ONE = ("children",)


def means(parts, tier, name="children"):
    """Return the draws of the mean stay (h) of a class by a tier."""
    key = f"patients.{name}.duration"
    (whole,) = [whole for part in parts if part.tier == tier for whole in part.wholes if whole.key == key]
    return np.array([float(re.search(r"mean: ([0-9.]+) h", text)[1]) for text in whole.draws])


def drawn_numbers(parts):
    """Return the draws of each number by its key."""
    return {number.key: number.draws for part in parts for number in part.numbers}


def within(draws, truth):
    """Return whether a truth lies within the 90 % range of draws."""
    return bool(np.quantile(draws, 0.05) <= truth <= np.quantile(draws, 0.95))


def test_month_totals_alone():
    """Twelve month totals of 730 patients: rate, season and mean stay within their ranges, tier totals."""
    came = drawn(Truth(ratio=1.8), 1)
    parts = patient_parts(records(months=months(came)), 1)
    keys = {key for part in parts for key in part.keys}
    assert {part.tier for part in parts} == {TOTALS}
    assert within(drawn_numbers(parts)["patients.children.admissions"], 2)
    assert within(means(parts, TOTALS), MEAN_H)
    assert {"patients.children.season", "patients.children.overdispersion", "patients.children.hypoxaemic"} < keys
    assert "patients.children.flow" not in keys


def test_a_year_of_totals_against_a_closed_form():
    """31 in 12 months: Jeffreys' Gamma(31.5, 1 year) has 5, 50 and 95 % points 22.9, 31.2 and 41.3 a year."""
    counts = [3, 2, 3, 2, 3, 2, 3, 3, 2, 3, 2, 3]
    rows = tuple(
        MonthTotal(14, dt.date(2026, month, 1), "children", put_on_oxygen=count)
        for month, count in enumerate(counts, 1)
    )
    found = paces(from_totals(records(months=rows)), 1, "months")["children"]
    points = np.quantile(found.rates * 365, [0.05, 0.5, 0.95])
    assert found.dispersion == 1
    assert found.rate * 365 == pytest.approx(31, rel=1e-9)
    assert points == pytest.approx((22.871, 31.167, 41.264), abs=3 * 0.9)  # 200 draws: sd of the outer points


@pytest.mark.parametrize(("stated", "days"), [(True, 3.0), (False, 4.0)])
def test_both_end_days_counted(stated, days):
    """Patient-days that hold the day of the end are one too many for each stay: 40 in 10 are 3 days."""
    rows = (MonthTotal(14, dt.date(2026, 3, 1), "children", put_on_oxygen=10, patient_days=40.0),)
    place = Place(15, sheet="Month totals", end_day_counted=stated)
    of = records(months=rows)
    parts = patient_parts(replace(of, places=(*of.places, place)), 1)
    assert f"mean {days:g} days" in next(part.said for part in parts if "stay" in part.name)


def test_who_was_there_at_either_end():
    """With one class, counts at midnight before and after mend the mean: 60 days of 20 begun, 2 then 6 there."""
    rows = (MonthTotal(14, dt.date(2026, 3, 1), "children", put_on_oxygen=20, patient_days=60.0),)
    counts = (Midnight(14, dt.date(2026, 2, 28), on_oxygen=2), Midnight(14, dt.date(2026, 3, 31), on_oxygen=6))
    of = replace(records(months=rows, midnights=counts), classes=ONE)
    assert "mean 3.333 days" in next(
        part.said for part in patient_parts(of, 1) if part.tier == TOTALS and "stay" in part.name
    )


def test_error_of_littles_law_against_drawn_books():
    """The standard error of a mean stay by totals is that of 300 drawn books, within a tenth."""
    books = [months(drawn(Truth(rate=1, days=90), seed), days=90) for seed in range(300)]
    found = [little([row.patient_days for row in book], [row.put_on_oxygen for row in book]) for book in books]
    assert np.std(found) / np.mean(found) == pytest.approx(
        little_error(MEAN_H / 24, 90, 90, edges_known=False), rel=0.12
    )


def test_counts_at_midnight_alone():
    """A year of counts of one class: mean stay and rate within their ranges, their product the mean count."""
    came = drawn(Truth(rate=3), 4)
    counts = nights(came, 365)
    of = replace(records(midnights=counts), classes=ONE)
    parts = patient_parts(of, 1)
    (part,) = parts
    rates = drawn_numbers(parts)["patients.children.admissions"]
    mean = np.mean([row.on_oxygen for row in counts])
    assert part.tier == COUNTS
    assert within(means(parts, COUNTS), MEAN_H)
    assert within(rates, 3)
    assert part.numbers[0].likely * np.median(means(parts, COUNTS)) / 24 == pytest.approx(mean, rel=0.15)
    assert {"patients.children.hypoxaemic", "patients.children.recognised"} < set(part.keys)


def test_counts_of_several_classes():
    """Counts that do not say classes give all one law of stays and no rate, and say so."""
    (part,) = patient_parts(records(midnights=nights(drawn(Truth(rate=3), 5), 365)), 1)
    assert part.numbers == ()
    assert {key for key in part.keys if key.endswith("duration")} == set(part.keys)
    assert len(part.keys) == 3
    assert any("do not say classes" in caution for caution in part.cautions)


def test_counts_beside_a_rate():
    """Where totals have the rate, the mean stay by counts is the mean count over it."""
    came = drawn(Truth(rate=2), 6)
    without_days = tuple(replace(row, patient_days=None) for row in months(came))
    parts = patient_parts(records(midnights=nights(came, 365), months=without_days), 1)
    counts = [row.on_oxygen for row in nights(came, 365)]
    rate = sum(row.put_on_oxygen for row in without_days) / 365
    said = next(part.said for part in parts if part.tier == COUNTS)
    assert float(re.search(r"mean ([0-9.]+) days", said)[1]) == pytest.approx(np.mean(counts) / rate, rel=1e-3)
    assert within(means(parts, COUNTS), MEAN_H)


@pytest.mark.parametrize("counts", [[3] * 40, list(range(20))])
def test_counts_that_say_nothing(counts):
    """Nights all alike, or under 28, give no law, and say why."""
    rows = tuple(Midnight(14, (FIRST + dt.timedelta(days=k)).date(), on_oxygen=n) for k, n in enumerate(counts))
    (part,) = patient_parts(records(midnights=rows, days=len(counts)), 1)
    assert part.keys == ()
    assert "at least 28" in part.cautions[0]


def test_all_admissions_alone():
    """Without any book of those put on oxygen: admissions and the share in need are given, recognised is not."""
    rows = tuple(
        Admissions(14, dt.date(2026, month, 1), "children", 100, 90, 10 + month % 2) for month in range(1, 13)
    )
    (part,) = patient_parts(records(admissions=rows), 1)
    numbers = {number.key: number for number in part.numbers}
    assert numbers["patients.children.admissions"].likely == pytest.approx(1200 / 365)
    assert numbers["patients.children.hypoxaemic"].likely == pytest.approx(100 * 126 / 1080)
    assert "patients.children.recognised" not in part.keys
    assert "recognised stays that of the base" in part.cautions[0]


def test_totals_without_a_class():
    """Totals that name no class serve where there is one class; of several they say that they are not used."""
    rows = tuple(
        MonthTotal(14, dt.date(2026, k, 1), None, put_on_oxygen=9, patient_days=20.0) for k in range(1, 13)
    )
    of = records(months=rows)
    (part,) = patient_parts(of, 1)
    assert part.keys == ()
    assert "12 of 12 rows name no class, and there are 3 classes" in part.cautions[0]
    assert "patients.children.duration" in {
        key for each in patient_parts(replace(of, classes=ONE), 1) for key in each.keys
    }


def test_cylinders_of_months_are_no_flow():
    """27 cylinders in 61 patient-days are said as 0.44 each, with what it takes to make a flow of it; no key."""
    rows = (MonthTotal(14, dt.date(2026, 3, 1), None, 20, 61.0, 27, 3),)
    parts = patient_parts(replace(records(months=rows), classes=ONE), 1)
    said = [caution for part in parts for caution in part.cautions]
    assert any(caution.startswith("0.4426 cylinders were emptied for each patient-day") for caution in said)
    assert any("bare on 3 days" in caution for caution in said)


def test_totals_that_give_no_stay():
    """Fewer patient-days than stays, with both ends counted, are named instead of a law."""
    rows = (MonthTotal(14, dt.date(2026, 3, 1), "children", put_on_oxygen=20, patient_days=15.0),)
    of = records(months=rows)
    of = replace(of, places=(*of.places, Place(15, sheet="Month totals", end_day_counted=True)))
    assert any("give no stay" in caution for part in patient_parts(of, 1) for caution in part.cautions)
