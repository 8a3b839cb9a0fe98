"""All admissions beside the register: shares that add up, blanks, caps, pooled rates, weekdays, years."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from patient_books import DAY, FIRST, Truth, drawn, records, shown

from o2sim.fits.patients.comings import Counted, from_register, register_days
from o2sim.fits.patients.pace import paces
from o2sim.fits.patients.sharing import Readings, admitted, below_draws, groups, readings, share_in_need
from o2sim.fits.patients.who_come import part_of_class
from o2sim.records.rows import Admissions, Stay
from o2sim.statistics.fitting.season import season, season_draws

YEAR = 365


def book(counts, name="children", spo2=None):
    """Return records of a register with so many on each day, all with one reading."""
    stays = [
        Stay(14, class_=name, begun=FIRST.date() + DAY * day, spo2_percent=spo2)
        for day, count in enumerate(counts)
        for _ in range(count)
    ]
    return records(stays, len(counts))


def months_of(admitted_, written, below, name="children"):
    """Return twelve equal months of all admissions."""
    return tuple(Admissions(14, dt.date(2026, k, 1), name, admitted_, written, below) for k in range(1, 13))


def found(of, read=None):
    """Return the four groups of the children of records."""
    pace = paces(from_register(of, register_days(of)), 1, "register")["children"]
    return groups(pace, admitted(of)["children"], read or readings(of, "children"), 1, "children")


def test_blanks_against_a_published_bound():
    """24 of 200 readings, 40 blank: the worst cases, 10 and 26.7 %, are near the ends of the draws, 12 % between.

    Bounds: Manski 2003 (from memory). Without blanks the range is Jeffreys', near the exact 8.4 to 16.5 %.
    """
    of = records(admissions=(Admissions(14, dt.date(2026, 1, 1), "children", 240, 200, 24),))
    draws = share_in_need(admitted(of)["children"], 1, "x")
    low, middle, high = np.quantile(draws, [0.05, 0.5, 0.95])
    assert middle == pytest.approx(0.12, abs=0.01)
    assert 0.1 <= low < 0.11
    assert 0.22 < high <= 24 / 240 + 40 / 240
    whole = records(admissions=(Admissions(14, dt.date(2026, 1, 1), "children", 200, 200, 24),))
    ends = np.quantile(share_in_need(admitted(whole)["children"], 1, "x"), [0.05, 0.95])
    assert ends == pytest.approx((0.0841, 0.1646), abs=0.012)


def test_all_of_a_kind_read():
    """Without blanks those below 90 % are as many as were counted, in every draw."""
    of = records(admissions=months_of(100, 100, 20))
    assert np.unique(below_draws(admitted(of)["children"], 1, "x")).tolist() == [240]


def test_groups_add_up():
    """2 a day on oxygen of 100 in need a month of 1,000: the groups are rates, their sum the admissions."""
    of = replace(book([2] * YEAR, spo2=85), admissions=months_of(1_000, 1_000, 100))
    got = found(of)
    assert got.in_need_on.likely == pytest.approx(2)
    assert got.in_need.likely == pytest.approx(1_200 / YEAR)
    assert got.all.likely == pytest.approx(12_000 / YEAR)
    assert got.in_need_on.over(got.in_need).likely == pytest.approx(2 * YEAR / 1_200)
    assert np.mean(got.in_need_on.over(got.in_need).draws) == pytest.approx(2 * YEAR / 1_200, rel=0.02)


def test_share_found_has_a_binomials_width():
    """Of 1,200 in need 730 on oxygen: the share found has the binomial's deviation, not that of a ratio."""
    rng = np.random.default_rng(3)
    of = replace(book(rng.poisson(2, YEAR), spo2=85), admissions=months_of(1_000, 1_000, 100))
    share = found(of).in_need_on
    drawn_shares = share.over(found(of).in_need).draws
    p = float(np.mean(drawn_shares))
    assert np.std(drawn_shares) == pytest.approx(np.sqrt(p * (1 - p) / 1_200), rel=0.25)


def test_oxygen_without_need():
    """A fifth of those put on oxygen had 90 % or more: they are given it without need, the rest are in need."""
    stays = [
        replace(stay, spo2_percent=95 if row % 5 == 0 else 85) for row, stay in enumerate(book([2] * YEAR).stays)
    ]
    of = replace(records(stays), admissions=months_of(1_000, 1_000, 100))
    got = found(of)
    assert got.without_on.likely == pytest.approx(0.4)
    assert got.in_need_on.likely == pytest.approx(1.6)
    assert (got.in_need_on + got.without_on).draws == pytest.approx(
        paces(from_register(of, register_days(of)), 1, "register")["children"].rates
    )


def test_more_on_oxygen_than_below_90():
    """730 on oxygen where 240 were below 90 %: all are found, the share in need follows, and it is said."""
    got = found(replace(book([2] * YEAR, spo2=85), admissions=months_of(1_000, 1_000, 20)))
    assert got.in_need_on.over(got.in_need).likely == 1
    assert got.in_need.over(got.all).likely == pytest.approx(730 / 12_000)
    assert np.all(got.in_need.over(got.all).draws <= 1)
    assert any("730 were put on oxygen in need where 240" in caution for caution in got.cautions)


def test_more_on_oxygen_than_admitted():
    """More on oxygen than were admitted: no share passes 100 %, and the product is still the register's rate."""
    of = replace(book([2] * YEAR, spo2=85), admissions=months_of(10, 10, 10))
    got = found(of)
    shares = got.in_need.over(got.all), got.in_need_on.over(got.in_need)
    assert all(share.likely <= 1 and np.all(share.draws <= 1) for share in shares)
    assert got.all.likely * shares[0].likely * shares[1].likely == pytest.approx(2)


def test_no_readings_in_all_admissions():
    """Admitted patients without readings: recognised is 100 %, hypoxaemic the share put on oxygen; it is said."""
    of = replace(book([2] * YEAR), admissions=months_of(100, None, None))
    pace = paces(from_register(of, register_days(of)), 1, "register")["children"]
    part = part_of_class("children", pace, "rows", admitted(of)["children"], Readings(0, 0), 1)
    wholes = {whole.key.split(".")[-1]: whole.text for whole in part.wholes}
    assert (wholes["recognised"], wholes["given_without_need"]) == ("100 %", "0 %")
    assert {number.key: number.likely for number in part.numbers}["patients.children.hypoxaemic"] == pytest.approx(
        100 * 730 / 1200
    )
    assert any("have no oximeter readings" in caution for caution in part.cautions)


def test_another_year():
    """All admissions of another year are other patients: the share found is less sure, and a caution says why."""
    same = replace(book([2] * YEAR, spo2=85), admissions=months_of(1_000, 1_000, 100))
    before = tuple(replace(row, month=row.month.replace(year=2024)) for row in same.admissions)
    there, away = found(same), found(replace(same, admissions=before, places=()))
    widths = [np.std(each.in_need_on.over(each.in_need).draws) for each in (there, away)]
    assert widths[1] > 1.3 * widths[0]
    assert any("of another time" in caution for caution in away.cautions)


def test_without_all_admissions_only_the_product():
    """The register alone: admissions are those put on oxygen, shares 100 %, and what is not known is said."""
    of = book([2] * YEAR, spo2=95)
    pace = paces(from_register(of, register_days(of)), 1, "register")["children"]
    part = part_of_class("children", pace, "rows", None, readings(of, "children"), 1)
    assert part.numbers[0].likely == pytest.approx(2)
    assert [whole.text for whole in part.wholes[:3]] == ["100 %", "100 %", "0 %"]
    assert any(
        "100 % of those with a reading before oxygen had 90 % or more" in caution for caution in part.cautions
    )


def test_weekdays_are_said():
    """Half as many on Sundays: a caution has the day, its share of the mean, and that no key takes it."""
    days = [FIRST + DAY * k for k in range(YEAR)]
    counts = [1 if day.weekday() == 6 else 2 + day.day % 2 for day in days]
    of = book(counts)
    said = paces(from_register(of, register_days(of)), 1, "register")["children"].cautions
    (caution,) = [each for each in said if each.startswith("weekdays differ")]
    assert f"on Sundays {100 / np.mean(counts):.0f} % of the mean" in caution


def test_years_that_differ():
    """Three years of 300, 600 and 900: their spread is in the range of the rate, and is no unevenness of days."""
    rng = np.random.default_rng(4)
    counts = np.concatenate(
        [rng.poisson(mean / 365.25, 366 if year == 1 else 365) for year, mean in enumerate((300, 600, 900))]
    )
    of = book(counts)
    pace = paces(from_register(of, register_days(of)), 1, "register")["children"]
    assert pace.dispersion < 1.15
    assert pace.year_cv == pytest.approx(0.5, abs=0.06)
    assert np.std(pace.rates) / np.mean(pace.rates) == pytest.approx(pace.year_cv * np.sqrt(4 / 3), rel=0.2)
    assert any(caution.startswith("years differ by") for caution in pace.cautions)


def test_months_of_the_season_are_no_year():
    """Half a year says nothing of a season, and its rate is said to be that of those months."""
    of = book([2] * 182)
    pace = paces(from_register(of, register_days(of)), 1, "register")["children"]
    assert pace.season is None
    assert "tell of no season" in pace.cautions[0]


def test_lost_months_are_weighed_by_the_season():
    """With the pages of the peak lost, rows over days say too few a day; weighed by the season it is 2."""
    days = np.arange(YEAR)
    mean = 2 * (1 + 0.5 * np.cos(2 * np.pi * (days - 195) / 365.25))
    rng = np.random.default_rng(5)
    counts = rng.poisson(mean * 20) / 20
    keep = (days < 181) | (days > 211)
    of = Counted(counts[keep] * 20, np.full(keep.sum(), 1.0), days[keep] + 0.5, FIRST.date(), "", True)
    pace = paces({"children": of}, 1, "register")["children"]
    naive = of.counts.sum() / of.days.sum() / 20
    assert naive == pytest.approx(float(mean[keep].mean()), rel=0.02)
    assert pace.rate / 20 == pytest.approx(2, rel=0.02)
    assert abs(naive / 2 - 1) > 0.03


def test_draws_of_a_season_against_its_range():
    """Ratios drawn have the range of the season as their 5 and 95 % points; peaks the sd sqrt(2 D / N) / A."""
    rng = np.random.default_rng(6)
    days = np.arange(3 * YEAR) + 0.5
    got = season(rng.poisson(2 * np.exp(0.4 * np.cos(2 * np.pi * (days - 195) / 365.25))), days)
    ratios, peaks = season_draws(got, 4_000, 1, "x")
    assert np.quantile(ratios, [0.05, 0.95]) == pytest.approx((got.low, got.high), rel=0.02)
    turn = 365.25 / (2 * np.pi)
    assert np.std(peaks) == pytest.approx(np.sqrt(2 / (2 * 3 * YEAR)) / 0.4 * turn, rel=0.15)


def test_a_register_of_one_class_by_its_columns():
    """The register's drawn rows of two classes are counted apart."""
    of = records([*shown(drawn(Truth(rate=1), 1), 365), *shown(drawn(Truth(rate=2), 2, "adults"), 365)])
    got = from_register(of, register_days(of))
    assert list(got) == ["children", "adults"]
    assert got["adults"].total / got["children"].total == pytest.approx(2, rel=0.2)
