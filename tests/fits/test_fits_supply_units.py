"""Concentrators: failures by meters or days, repairs, units written off, how many there are."""

import numpy as np
import pytest
from published_lives import FANS
from scipy.optimize import minimize_scalar
from supply_books import D, books, cards, day, loads, the_part, units, written

from o2sim.fits.covered import covered
from o2sim.fits.supply.lives import lives
from o2sim.fits.supply.units import CLOCK, COUNT, FAILURE, NEVER, REPAIR, repair_spells, unit_parts
from o2sim.fits.thoughts import law_values
from o2sim.records.rows import Place
from o2sim.records.supply_rows import JobCard, Unit
from o2sim.statistics.fitting.maximum import fit_law


def fans():
    """Return 70 fans as units: those that failed have a job card and were written off."""
    rows = [(hours, failed) for hours, failed, count in FANS for _ in range(count)]
    made = tuple(
        Unit(row, row, D(2020, 1, 1), 0, hours, not failed) for row, (hours, failed) in enumerate(rows, 1)
    )
    failed = tuple(
        JobCard(row, row, D(2020, 1, 1 + row % 28), hours, None, True)
        for row, (hours, over) in enumerate(rows, 1)
        if over
    )
    return books(first=None, last=None, units=made, job_cards=failed)


def lives_of(records):
    """Return the lives of the units of records."""
    return lives(records, covered(records, "Job cards", [unit.in_use_from for unit in records.units]))


def test_fans_of_diesel_generators_against_nelson_1969():
    """12 of 70 failed in 344,440 h: mean 28,703 h, exponential kept (likelihood ratio 0.05), range as by chi2.

    Nelson, Journal of Quality Technology 1969;1:27-52: 28,700 h; 17,716 to 49,744 h by chi squared (Nelson 1982).
    """
    part = the_part(unit_parts(fans(), 1), FAILURE)
    assert (part.used, part.rows) == (70, 70)
    assert part.said.startswith(
        "12 failures in 344440 running h of 70 units, exponential (Akaike 2.0 before weibull)"
    )
    seen = lives_of(fans())
    assert fit_law(seen.spells, "exponential").law.parameters == pytest.approx((28_703.33,), rel=1e-6)
    assert fit_law(seen.spells, "weibull").law.parameters == pytest.approx((1.05845, 26_296.8), rel=1e-3)
    low, high = np.quantile(law_values(part.wholes[0].draws, "mean"), [0.05, 0.95])
    assert [low, high] == pytest.approx([17_716, 49_744], rel=0.25)
    assert loads(part).concentrators.failure_clock == "running"


def test_a_few_failures_under_a_weak_prior():
    """3 in 41,000 h with a prior worth 2 in 12,000 h: 5, 50 and 95 % points 5,790, 11,347 and 26,902 h (Gamma).

    Closed form: the rate is Gamma(5, 53,000 h).
    """
    records = books(
        units=units([9_000, 8_000, 12_000, 12_000]),
        job_cards=cards([(1, 50, 2_000, 60), (1, 200, 6_000, 220), (2, 100, 3_000, 130)]),
    )
    part = the_part(unit_parts(records, 1), FAILURE)
    assert (
        "3 failures in 41000 running h of 4 units, exponential, with a weak prior worth 2 failures in 12,000 h"
        in part.said
    )
    draws = law_values(part.wholes[0].draws, "mean")
    assert np.quantile(draws, [0.05, 0.5, 0.95]) == pytest.approx([5_790, 11_347, 26_902], rel=0.2)
    assert "likely: 11347 h" in written(part, FAILURE)


def test_units_that_never_failed_count():
    """No failure of 5 units in 30,000 h writes a law by the prior: rate Gamma(2, 42,000 h), median 25,000 h."""
    part = the_part(unit_parts(books(units=units([6_000] * 5)), 1), FAILURE)
    assert "0 failures in 30000 running h of 5 units" in part.said
    assert "likely: 25025 h" in written(part, FAILURE)  # 42,000 / 1.6783, the median of Gamma(2, 1)
    assert "a weak prior" in part.cautions[-1]


def test_a_weibull_law_only_where_it_is_preferred():
    """60 units that wear out (shape 4) get a Weibull law with the truth in its range."""
    rng = np.random.default_rng(5)
    life = 5_000 * rng.weibull(4, 60)
    records = books(
        units=units(np.minimum(life, 6_000) + 0.0),
        job_cards=tuple(
            JobCard(k, k + 1, day(k), float(each), None, True) for k, each in enumerate(life) if each < 6_000
        ),
    )
    part = the_part(unit_parts(records, 1), FAILURE)
    assert written(part, FAILURE).startswith("{weibull:")
    low, high = np.quantile(law_values(part.wholes[0].draws, "shape"), [0.05, 0.95])
    assert low < 4 < high


def test_a_meter_that_a_job_card_lacks():
    """It is put between its neighbours: leaving the unit out would leave failures out, not hours alone."""
    records = books(
        units=units([8_000, 8_000]),
        job_cards=cards([(1, 10, 2_000, 20), (1, 100, None, 110), (1, 200, 6_000, 210), (2, 5, 1_000, 9),
                         (2, 9, 2_000, 12)]),
    )  # fmt: skip
    seen = lives_of(records)
    assert (seen.clock, seen.filled, seen.failures, seen.hours) == ("running", 1, 5, 16_000)
    assert [span.hours for span in seen.spans if span.unit == 1] == [2_000, 2_000, 2_000, 2_000]


def test_without_meters_failures_go_by_days():
    """Without most meters the calendar is the clock: from in use, or back, to down, or to the end of the book."""
    first = [Unit(k, k, day(0), in_use_now=True) for k in (1, 2)]
    made = (*first, Unit(3, 3, day(0), in_use_now=False), Unit(4, 4))
    records = books(units=made, job_cards=cards([(1, 100, None, 130), (2, 200, None, None)]))
    seen = lives_of(records)
    assert (seen.clock, seen.left_out) == ("calendar", 1)
    assert [(span.unit, span.hours / 24, span.is_over) for span in seen.spans] == [
        (1, 100, True), (1, 235, False), (2, 200, True),
    ]  # fmt: skip
    assert written(the_part(unit_parts(records, 1), CLOCK), CLOCK) == "calendar"


def test_what_ran_before_the_job_cards_begin_does_not_count():
    """Job cards from 2026 on, a unit in use since mid 2024 with 9,120 h: the hours of 2026 alone, by days."""
    records = books(units=(Unit(1, 1, D(2024, 7, 2), 0, 9_130, True),))
    seen = lives_of(records)
    assert (seen.later, seen.hours) == (1, pytest.approx(3_650))  # 365 of 913 days
    older = books(units=records.units, job_cards=(JobCard(1, 1, D(2025, 1, 1), 1_000, D(2025, 2, 1)),))
    assert lives_of(older).hours == pytest.approx(9_130)  # a card from before: they are complete


def test_repairs_not_over():
    """14, 30, 45 and 60 days over, 90 and 20 not: exponential mean near 259 / 4 days, and exactly that by dates.

    By dates n days have the chance G(n+1) - 2 G(n) + G(n-1), open in day c 1 - G(c) + G(c-1).
    """
    records = books(
        units=units([1_000] * 6),
        job_cards=cards([(1, 10, 1, 24), (2, 20, 1, 50), (3, 30, 1, 75), (4, 40, 1, 100), (5, 275, 1, None),
                         (6, 345, 1, None)]),
    )  # fmt: skip
    rows = repair_spells(records, covered(records, "Job cards", []))
    assert rows.low.tolist() == [14, 30, 45, 60, 90, 20]
    assert rows.is_over.tolist() == [True] * 4 + [False] * 2

    def loss(mean):
        def integral(x):
            return x - mean * (1 - np.exp(-x / mean))

        ended = sum(np.log(integral(n + 1) - 2 * integral(n) + integral(n - 1)) for n in (14, 30, 45, 60))
        return -ended - sum(np.log(1 - integral(c) + integral(c - 1)) for c in (90, 20))

    exact = minimize_scalar(loss, bounds=(20, 200), method="bounded", options={"xatol": 1e-8}).x
    found = fit_law(rows, "exponential").law.parameters[0]
    assert found == pytest.approx(exact, rel=1e-5)
    assert found == pytest.approx(64.75, rel=0.01)
    part = the_part(unit_parts(records, 1), REPAIR)
    assert part.cautions[0] == "repairs: 2 of 6 are not over, and count as no shorter"
    assert loads(part).concentrators.repair_s.kind == "exponential"


@pytest.mark.no_cover
def test_units_that_were_written_off():
    """2 of 9 failures with an outcome were written off, 1 is open: 23.3 % by Jeffreys; they are no repairs."""
    rows = [JobCard(k, k, day(10 * k), 100, day(10 * k + 20)) for k in range(1, 8)]
    rows += [
        JobCard(8, 8, day(90), 100, None, True),
        JobCard(9, 9, day(90), 100, None, True),
        JobCard(10, 10, day(99), 100),
    ]
    records = books(units=units([5_000] * 10), job_cards=tuple(rows))
    part = the_part(unit_parts(records, 1), NEVER)
    assert part.used == 9
    assert part.numbers[0].likely == pytest.approx(23.2879, abs=1e-4)  # the median of Beta(2.5, 7.5), by scipy
    assert len(repair_spells(records, covered(records, "Job cards", []))) == 8
    assert loads(part).concentrators.never_repaired == pytest.approx(0.232879, abs=1e-5)
    few = books(units=units([5_000] * 10), job_cards=tuple(rows[:3]))
    assert not any(NEVER in one.keys for one in unit_parts(few, 1))


def test_how_many_units_there_are():
    """In use and away for repair count, written off does not; of one that nobody says is said."""
    made = (Unit(1, 1, in_use_now=True), Unit(2, 2, in_use_now=False), Unit(3, 3, in_use_now=False), Unit(4, 4))
    records = books(units=made, job_cards=(JobCard(1, 2, day(300), 5), JobCard(2, 3, day(300), 5, None, True)))
    part = the_part(unit_parts(records, 1), COUNT)
    assert written(part, COUNT) == "3"
    assert part.said == "2 of 4 units in use now, and 1 away for repair"
    assert "of 1 nobody says" in part.cautions[0]
    assert loads(part).concentrators.count == 3


def test_job_cards_kept_as_place_says():
    """A meter that went back is left out and said; without days and meters nothing is known of failures."""
    records = books(units=units([1_000, 1_000]), job_cards=cards([(1, 10, 1_500, 20)]))
    assert "1 times between failures are left out" in " ".join(the_part(unit_parts(records, 1), FAILURE).cautions)
    blank = books(units=(Unit(1, 1),))
    assert [part.keys for part in unit_parts(blank, 1)] == [(COUNT,), ()]
    assert unit_parts(books(), 1) == ()
    bare = books(first=None, last=None, units=(Unit(1, 1),))
    assert [part.keys for part in unit_parts(bare, 1)] == [(COUNT,)]
    assert Place(1).kept_from is None


def test_what_is_doubtful_of_units_is_said():
    """Units or job cards without meters, cards from a day on, days for want of meters, no Place."""
    some = (*units([8_000] * 8), Unit(9, 9, day(0)), Unit(10, 10, D(2025, 1, 1), 0, 9_000, True))
    rows = cards([(1, 10, 2_000, 20), (1, 100, None, 110), (2, 50, 900, 60), (3, 5, 90, 6), (4, 5, 90, 6)])
    text = " ".join(the_part(unit_parts(books(units=some, job_cards=rows), 1), FAILURE).cautions)
    assert "1 without their meters are left out" in text
    assert "1 job card without a meter" in text
    assert "job cards begin on 2026-01-01; what 1 units ran before does not count" in text
    bare = books(
        first=None, last=None, units=(Unit(1, 1, day(0)), Unit(2, 2)), job_cards=cards([(1, 9, None, None)])
    )
    text = " ".join(the_part(unit_parts(bare, 1), FAILURE).cautions)
    assert "1 without their day of first use are left out" in text
    assert "go by the calendar" in text
    assert "Place does not say to when" in text
    assert "in use now: counted" in " ".join(
        the_part(
            unit_parts(books(units=units([9]), job_cards=(JobCard(1, 1, day(3), 5, None, True),)), 1), COUNT
        ).cautions
    )
