"""What registers hide: dates alone, stays cut at both ends, lost pages, clocks filled in, blanks, rows twice."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest
from patient_books import DAY, FIRST, MEAN_H, MEDIAN_H, WIDTH, Truth, drawn, records, shown

from o2sim.fits.covered import covered
from o2sim.fits.patients.comings import from_register, register_days
from o2sim.fits.patients.pace import paces
from o2sim.fits.patients.parts import patient_parts
from o2sim.fits.patients.stays import how_kept, rows_of
from o2sim.records.rows import Place, Stay
from o2sim.statistics.fitting.laws import median, moment
from o2sim.statistics.fitting.maximum import fit_law

# Weeks in remission under 6-MP, True for those who relapsed: Freireich et al., Blood 1963;21:699-716.
REMISSION = (
    (6, True), (6, True), (6, True), (6, False), (7, True), (9, False), (10, True), (10, False), (11, False),
    (13, True), (16, True), (17, False), (19, False), (20, False), (22, True), (23, True), (25, False),
    (32, False), (32, False), (34, False), (35, False),
)  # fmt: skip


HOUR = dt.timedelta(hours=1)


def rows(of):
    """Return the durations of records as they are fitted."""
    return rows_of(of.once, how_kept(of, register_days(of)))


def law(of, kind="lognormal"):
    """Return the law fitted to the stays of records."""
    return fit_law(rows(of).spells, kind).law


def rate(of, name="children"):
    """Return the likely rate of a class by the register, 1 / day."""
    return paces(from_register(of, register_days(of)), 1, "register")[name].rate


def cautions(of):
    """Return all cautions of the parts of records."""
    return [caution for part in patient_parts(of, 1) for caution in part.cautions]


def test_dates_alone_against_a_closed_form():
    """20,000 stays by dates give median 60 h, sd 2.2; days x 24 h without the zeros would give 64.2 and 2.07."""
    of = records(shown(drawn(Truth(rate=55), 1), 365))
    spells = rows(of).spells
    days = spells.low[spells.is_over & (spells.low > 0) & (spells.entry == 0)]
    naive = np.exp(np.mean(np.log(days))), np.exp(np.std(np.log(days)))
    assert naive == pytest.approx((64.19, 2.0668), rel=0.02)
    assert np.all(spells.step == 24)
    found = law(of)
    assert (median(found), np.exp(found.parameters[1])) == pytest.approx((MEDIAN_H, WIDTH), rel=0.012)


def test_stays_still_on_against_a_closed_form():
    """A book of 30 days that begins empty: those discharged have a mean of 73.1 h, the fit has 81.9 h."""
    of = records(shown(drawn(Truth(rate=600, days=30), 2, before_days=0), 30, dates=False), 30)
    ended = [(stay.ended - stay.begun) / dt.timedelta(hours=1) for stay in of.stays if stay.ended]
    assert np.mean(ended) == pytest.approx(73.09, rel=0.03)
    assert moment(law(of)) == pytest.approx(MEAN_H, rel=0.03)


@pytest.mark.parametrize("dates", [True, False])
def test_stays_there_before_the_book(dates):
    """Who is there as the book begins stays long: with the day on which oxygen was begun the fit has 60 h."""
    came = drawn(Truth(rate=200, days=20), 3, before_days=100)
    there = [stay for stay in shown(came, 20, dates=dates) if stay.begun < (FIRST.date() if dates else FIRST)]
    of = records(there, 20)
    assert np.all(rows(of).spells.entry > 0)
    assert median(law(of)) == pytest.approx(MEDIAN_H, rel=0.15)
    assert median(fit_law(replace(rows(of).spells, entry=np.zeros(len(there))), "lognormal").law) > 90


def test_one_clock_beside_one_date():
    """Rows with a clock at one end only, either end, give the median too."""
    came = shown(drawn(Truth(rate=20), 4), 365, dates=False)
    half = [
        replace(stay, begun=stay.begun.date())
        if row % 2
        else replace(stay, ended=stay.ended and stay.ended.date())
        for row, stay in enumerate(came)
    ]
    spells = rows(records(half)).spells
    assert np.mean(spells.step == 0) > 0.9
    assert np.all((spells.low < spells.high)[spells.step == 0])
    assert median(fit_law(spells, "lognormal").law) == pytest.approx(MEDIAN_H, rel=0.03)


def test_usual_clocks_of_place():
    """Begun at 15:00 and ended at 10:00, stays are 5 h shorter than their dates say: 24 h x 3 days - 5 h."""
    stays = [
        Stay(14, class_="children", begun=dt.date(2026, 2, 1), ended=dt.date(2026, 2, 1) + dt.timedelta(days=n))
        for n in [1, 2, 2, 3, 3, 3, 3, 4, 4, 5] * 20
    ]
    clocks = Place(15, sheet="Patients on oxygen", usual_start=dt.time(15), usual_end=dt.time(10))
    plain = records(stays)
    stated = replace(plain, places=(*plain.places, clocks))
    assert moment(law(plain, "gamma")) == pytest.approx(72, abs=0.5)
    assert moment(law(stated, "gamma")) == pytest.approx(67, abs=0.5)


def test_usual_clocks_of_rows():
    """Where Place has no clocks those of rows serve: 100 rows from 15:00 to 10:00 say it of the others."""
    with_clocks = [
        Stay(14, class_="children", begun=FIRST + DAY * k + dt.timedelta(hours=15),
             ended=FIRST + DAY * (k + 1 + k % 4) + dt.timedelta(hours=10, minutes=1)) for k in range(100)
    ]  # fmt: skip
    of = records([*with_clocks, Stay(14, class_="children", begun=dt.date(2026, 3, 1), ended=dt.date(2026, 3, 3))])
    assert rows(of).spells.shift[-1] == pytest.approx(-5 / 24, abs=0.001)


def test_clocks_that_were_filled_in():
    """Half of the stays are whole days to the minute: they count by their dates, and a caution has the share."""
    came = shown(drawn(Truth(rate=1), 5), 365, dates=False)
    filled = [
        replace(stay, ended=stay.begun + DAY * max(1, round((stay.ended - stay.begun) / DAY)))
        if stay.ended and row % 2 else stay
        for row, stay in enumerate(came)
    ]  # fmt: skip
    kept = [stay for stay in filled if stay.ended is None or stay.ended < FIRST + DAY * 365]
    assert np.mean(rows(records(kept)).spells.step > 0) == pytest.approx(0.5, abs=0.02)
    how = how_kept(records(kept), register_days(records(kept)))
    assert "of stays with times are whole multiples of 24 h" in how.cautions[0]


def test_clocks_at_full_hours_are_rounded():
    """Clocks at full hours leave half an hour on either side; a stay of no time is no error."""
    stays = [
        Stay(14, class_="children", begun=FIRST + 7 * k * HOUR, ended=FIRST + (7 * k + k % 30) * HOUR)
        for k in range(200)
    ]
    spells = rows(records(stays)).spells
    assert np.unique(spells.high - spells.low).tolist() == [0.5, 1.0]
    assert spells.low.min() == 0


def test_missing_pages_are_no_empty_days():
    """With the pages of June lost, the rate is that of 335 days, and a row dated in June is in no rate."""
    came = shown(drawn(Truth(rate=3), 6), 365)
    lost = Place(15, sheet="Patients on oxygen", missing_from=dt.date(2026, 6, 1), missing_to=dt.date(2026, 6, 30))
    left = [stay for stay in came if stay.begun.month != 6 or stay.begun.year != 2026]
    stray = Stay(99, class_="children", begun=dt.date(2026, 6, 3), ended=dt.date(2026, 6, 5))
    of = records([*left, stray])
    of = replace(of, places=(*of.places, lost))
    counted = from_register(of, register_days(of))["children"]
    inside = sum(stay.begun >= FIRST.date() for stay in left)
    assert (counted.total, counted.days.sum()) == (inside, 335)
    assert any("30 days of missing pages" in caution for caution in cautions(of))


def test_rate_by_covered_days_against_chance():
    """10 in 91 days: by the span of rows the rate is 23 % too high; by the days of Place, or mended, it is not."""
    rng = np.random.default_rng(1)
    ratios = []
    for _ in range(2_000):
        days = np.floor(rng.random(10) * 91)
        stays = [Stay(14, class_="children", begun=FIRST.date() + DAY * int(day)) for day in days]
        unstated = replace(records(stays, 91), places=())
        span = covered(unstated, "Patients on oxygen", [stay.begun for stay in stays]).days
        counted = from_register(unstated, register_days(unstated))["children"]
        ratios.append((10 / span, counted.total / counted.days.sum()))
    naive, mended = np.mean(ratios, axis=0) / (10 / 91)
    assert naive == pytest.approx(1.233, abs=0.02)
    assert mended == pytest.approx(1, abs=0.02)


def test_rows_without_what_is_needed_are_said():
    """Stays without an end and x, without a beginning, or ended before the book: each left out and counted."""
    good = shown(drawn(Truth(rate=0.5), 7), 365)[:90]
    odd = [
        *(replace(stay, ended=None) for stay in good[:12] if stay.begun >= FIRST.date()),
        Stay(14, class_="children", ended=dt.date(2026, 5, 1)),
        Stay(14, class_="children", begun=dt.date(2025, 5, 1), ended=dt.date(2025, 5, 3)),
        Stay(14, class_="children", came_on=dt.date(2026, 5, 1), ended=dt.date(2026, 5, 3)),
    ]
    found = rows(records([*good, *odd]))
    assert len(found.spells) == len(good) + 1
    assert [caution.split(" stays ")[1][:20] for caution in found.cautions] == [
        "have no end and no x", "have no day on which", "ended before the boo", "have no day on which",
    ]  # fmt: skip
    assert found.cautions[1].startswith("under 5 of ")


def test_rows_twice_and_without_a_class():
    """A row marked x counts once; rows without a class are shared out, so that all of them are in the rates."""
    came = shown(drawn(Truth(rate=1), 8), 365)
    inside = sum(stay.begun >= FIRST.date() for stay in came)
    twice = [*came, replace(came[50], twice="x"), replace(came[60], twice="x")]
    nameless = [replace(stay, class_=None) if row % 4 == 0 else stay for row, stay in enumerate(came)]
    assert rate(records(twice)) == rate(records(came)) == pytest.approx(inside / 365, rel=0.02)
    assert rate(records(nameless)) == pytest.approx(rate(records(came)), rel=0.02)
    assert any("stays have no class" in caution for caution in cautions(records(nameless)))


def test_an_empty_end_is_said():
    """A book whose last 60 days are empty at one a day says so."""
    came = [stay for stay in shown(drawn(Truth(rate=1), 9), 365) if stay.begun < dt.date(2026, 11, 1)]
    of = records(came)
    assert any("the last 6" in caution for caution in how_kept(of, register_days(of)).cautions)


def test_published_lives_as_a_register():
    """Remission under 6-MP as stays: Weibull 1.35373 and 33.7652 weeks, as R's survreg has them (from memory)."""
    last = FIRST + DAY * 365
    stays = [
        Stay(14, class_="children", begun=FIRST + DAY * 9, ended=FIRST + DAY * (9 + 7 * weeks)) if over
        else Stay(14, class_="children", begun=last - DAY * 7 * weeks, still_on=True)
        for weeks, over in REMISSION
    ]  # fmt: skip
    of = records(stays)
    how = replace(how_kept(of, register_days(of)), full_hours=False, whole_days=False)
    shape, scale = fit_law(rows_of(of.once, how).spells, "weibull").law.parameters
    assert (shape, scale / 24 / 7) == pytest.approx((1.35373, 33.7652), rel=1e-3)


def test_a_class_with_few_rows_borrows():
    """Four newborns borrow from children and adults: rate above none, the median between, a law of two numbers."""
    few = shown(drawn(Truth(rate=4 / 365, median_h=200), 11, "newborns", 0), 365)
    of = records(
        [*shown(drawn(Truth(rate=0.3), 12), 365), *shown(drawn(Truth(rate=0.3), 13, "adults"), 365), *few]
    )
    parts = {part.name: part for part in patient_parts(of, 1)}
    stay = parts["how long newborns stay on oxygen"]
    alone = median(fit_law(rows(replace(of, stays=tuple(few))).spells, "exponential").law)
    middle = float(re.search(r"{lognormal: {median: .*?likely: ([0-9.]+) h", stay.wholes[0].text)[1])
    assert 50 < middle < alone
    assert any("borrows from children and adults" in caution for caution in stay.cautions)
    came = parts["how often newborns come and are put on oxygen"]
    assert any("the rate borrows from the other classes" in caution for caution in came.cautions)


def test_nothing_has_ended():
    """A class of which all are still on has a rate and no law of stays, and says so."""
    stays = [Stay(14, class_="children", begun=dt.date(2026, 12, day), still_on=True) for day in range(1, 9)]
    parts = patient_parts(records(stays), 1)
    keys = [key for part in parts for key in part.keys]
    assert "patients.children.admissions" in keys
    assert "patients.children.duration" not in keys
    assert any("too few have ended" in caution for part in parts for caution in part.cautions)


def test_no_books_give_no_parts():
    """Records without a row have no part."""
    assert patient_parts(records(), 1) == ()
