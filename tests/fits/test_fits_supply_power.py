"""Power from cuts with clocks, from a logger and from hours a day, as far as the books of a hospital say."""

import datetime as dt

import numpy as np
import pytest
from supply_books import at, books, cuts, day, loads, the_part, written

from o2sim.fits.covered import covered
from o2sim.fits.supply.cuts import DOWN, UP, cut_parts, times
from o2sim.fits.supply.daily_hours import hours_parts
from o2sim.fits.supply.logger import corrected, logger_parts, looks
from o2sim.fits.supply.parts import supply_parts
from o2sim.fits.supply.shedding import KEY as SHEDDING
from o2sim.fits.supply.shedding import shedding
from o2sim.fits.thoughts import law_values
from o2sim.records.rows import PowerDay, Voltage
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.on_off import UpAndDown, drawn_daily_hours

YEAR_H = 365 * 24


def drawn_cuts(seed, up_h=30.0, down_h=2.0, spread=2.5, hours=YEAR_H):
    """Return (off, on) in hours of a year of power: up exponential, down lognormal by its median."""
    rng, now, found = np.random.default_rng(seed), 0.0, []
    while True:
        off = now + rng.exponential(up_h)
        now = off + down_h * spread ** rng.standard_normal()
        if off >= hours:
            return found
        found.append((off, now if now < hours else None))


def grid(pairs, **more):
    """Return the times on and off of cuts in a book."""
    records = books(cuts=cuts(pairs), **more)
    book = covered(records, "Power cuts", [])
    return times(records.cuts, book)


def between(draws, name, share=(0.05, 0.95)):
    """Return the ends of the 90 % range of a law's mean or median over draws."""
    return tuple(np.quantile(law_values(draws, name), share).tolist())


@pytest.mark.no_cover
def test_a_drawn_year_of_cuts_gives_both_laws_back():
    """Power up 30 h and down 2 h (lognormal, 2.5) for a year: the truth is within the 90 % range of the draws."""
    part = the_part(cut_parts(books(cuts=cuts(drawn_cuts(1))), 1), UP)
    low, high = between(part.wholes[0].draws, "mean")
    assert low < 30 < high
    low, high = between(part.wholes[1].draws, "median")
    assert low < 2 < high
    assert high / low < 1.35
    assert "lognormal" in written(part, DOWN)
    assert "cuts with an end, Jan to Dec 2026, 365 days; on: exponential" in part.said
    assert loads(part).grid.down_s.kind == "lognormal"


@pytest.mark.slow
def test_the_range_holds_the_truth_as_often_as_it_says():
    """Of 40 drawn half-years the 90 % range of the mean time on holds 30 h in 31 to 40 (by chance 1 in 1,000
    fewer)."""
    held = 0
    for seed in range(40):
        pairs = drawn_cuts(100 + seed, hours=181 * 24)
        part = the_part(cut_parts(books(cuts=cuts(pairs), last=dt.date(2026, 6, 30)), seed), UP)
        low, high = between(part.wholes[0].draws, "mean")
        held += low < 30 < high
    assert held >= 31


def test_the_last_cut_is_still_on():
    """A cut still on as the book ends has lasted to its last midnight at least, that of its last day."""
    seen = grid([(10, 12), (100, 103), (YEAR_H - 5, None)])
    assert seen.down.low.tolist() == pytest.approx([2, 3, 5])
    assert seen.down.is_over.tolist() == [True, True, False]


def test_the_time_before_the_first_cut_and_after_the_last():
    """With five cuts the time before the first is left out, the one after the last is not over."""
    pairs = [(100, 101), (200, 202), (300, 303), (400, 404), (500, 505)]
    seen = grid(pairs)
    assert seen.up.low.tolist() == pytest.approx([99, 98, 97, 96, YEAR_H - 505])
    assert seen.up.is_over.tolist() == [True] * 4 + [False]
    few = grid(pairs[:2])  # one number is fitted, by a law without memory: hours over cuts
    assert few.up.low.tolist() == pytest.approx([100, 99, YEAR_H - 202])
    assert few.up.is_over.tolist() == [True, True, False]


def test_a_cut_begun_before_the_book():
    """A cut that began 3 h before the book is in it because it lasted 3 h; so it counts as met, not as drawn."""
    seen = grid([(-3, 2), (100, 101)])
    assert seen.down.low.tolist() == pytest.approx([5, 1])
    assert seen.down.entry.tolist() == pytest.approx([3, 0])


def test_missing_pages_end_a_time_with_power():
    """Power on into missing pages is not over there; the first time after them has no known beginning."""
    pairs = [(100, 101), (200, 201), (300, 301), (1000, 1001), (1100, 1101)]
    seen = grid(pairs, gaps=[(day(20), day(29))])  # hours 480 to 720
    assert seen.up.low.tolist() == pytest.approx([99, 99, 480 - 301, 99, YEAR_H - 1101])
    assert seen.up.is_over.tolist() == [True, True, False, True, False]


def test_clocks_to_the_half_hour_are_steps():
    """A book in which all times are half hours is fitted as such; one odd time is taken as it is."""
    pairs = [(24.0 * k + 7, 24.0 * k + 7 + 0.5 * (k % 4)) for k in range(12)] + [(500.1, 501.35)]
    seen = grid(pairs)
    assert seen.down.step.tolist() == [0.5] * 12 + [0]
    assert seen.down.low.tolist()[:4] == pytest.approx([0, 0.5, 1, 1.5])
    assert seen.down.low[12] == pytest.approx(1.25)


def test_announced_cuts_are_windows():
    """Announced cuts from 18:00 to 21:00 on working days become the others stay cuts of the grid."""
    planned = [(24 * k + 18, 24 * k + 21) for k in range(365) if day(k).weekday() < 5]
    others = [(off, on) for off, on in drawn_cuts(3, up_h=200) if on is not None and not 16 < off % 24 < 22]
    rows = (*cuts(planned, planned=True), *cuts(others))
    rows = tuple(row.__class__(place, row.off_at, row.on_at, row.planned) for place, row in enumerate(rows))
    parts = cut_parts(books(cuts=rows), 1)
    shed = the_part(parts, SHEDDING)
    assert written(shed, SHEDDING) == '[{from: "18:00", to: "21:00", days: [mon, tue, wed, thu, fri]}]'
    assert the_part(parts, UP).used == len(others)
    assert len(loads(shed).power.load_shedding[0].days) == 5


def test_the_test_finds_cuts_that_nobody_announced():
    """Cuts that begin around 19:00 each day, nearly to the minute, are found by Rayleigh's test."""
    rng = np.random.default_rng(4)
    pairs = [(24 * k + 19 + 0.1 * rng.standard_normal(), 24 * k + 21.5) for k in range(60)]
    parts = cut_parts(books(cuts=cuts(pairs), last=day(59)), 1)
    shed = the_part(parts, SHEDDING)
    assert written(shed, SHEDDING) == '[{from: "19:00", to: "21:30"}]'
    assert "p = 0.0001" in shed.cautions[0]


def test_starts_of_cuts_by_chance_against_the_rayleigh_test():
    """Of 400 books of 20 even starts one in 20 is called uneven (critical length 0.387); R = 0.5 is said."""
    rng = np.random.default_rng(5)
    called = 0
    for _ in range(400):
        offs = np.sort(rng.random(20) * YEAR_H)
        part = cut_parts_cautions([(off, off + 0.2) for off in offs.tolist()])
        called += bool(part)
    assert 8 <= called <= 34  # 20 expected, sd 4.4
    uneven = [24 * k + (12 if k % 2 else 24 * k / 20) for k in range(20)]
    assert "no hour is dark" in cut_parts_cautions([(off, off + 0.2) for off in sorted(uneven)])


def cut_parts_cautions(pairs):
    """Return the caution about times of day of cuts, empty for none."""
    records = books(cuts=cuts(pairs))
    found = shedding(records.cuts, covered(records, "Power cuts", []))
    return " ".join(found.cautions)


def test_no_cut_at_all():
    """A book without a cut says how rare they are at least, and writes nothing; no book says nothing."""
    (part,) = cut_parts(books(), 1)
    assert part.keys == ()
    assert (
        "no power cut in 365 days (Jan to Dec 2026): with 95 % certainty there is less than one in 122 days"
        in (part.cautions[0])
    )
    assert cut_parts(books(first=None, last=None), 1) == ()


def test_hours_with_power_give_both_means_back():
    """A year of hours a day from 20 h on and 3 h off holds both in its ranges; 13 days give none."""
    hours = drawn_daily_hours(UpAndDown(20, 3), 365, 6)
    rows = tuple(PowerDay(row, day(row), float(each)) for row, each in enumerate(hours))
    (part,) = hours_parts(books(power_days=rows), 1)
    for key, truth in ((UP, 20), (DOWN, 3)):
        low, high = between(next(whole.draws for whole in part.wholes if whole.key == key), "mean")
        assert low < truth < high
    assert part.tier == "totals"
    assert loads(part)
    (none,) = hours_parts(books(power_days=rows[:13]), 1)
    assert none.keys == ()
    assert "13 days; allowed: 14 or more" in none.cautions[0]


def log_of(pairs, every_h, hours=YEAR_H):
    """Return readings of a logger, 0 V in cuts and 230 V else."""
    at_h = np.arange(0.25, hours, every_h)
    off, on = np.array([(one, other or hours) for one, other in pairs]).T
    place = np.searchsorted(off, at_h, side="right") - 1
    dark = (place >= 0) & (at_h < on[np.maximum(place, 0)])
    return tuple(
        Voltage(row, at(when), 0.0 if is_dark else 230.0)
        for row, (when, is_dark) in enumerate(zip(at_h, dark, strict=True))
    )


def test_a_logger_each_hour_sees_through_the_cuts_it_missed():
    """A year of hourly looks, power 30 h on and 2 h (2.5) off: both within the ranges, 8 % of cuts missed."""
    (part,) = logger_parts(books(voltages=log_of(drawn_cuts(7), 1.0)), 1)
    low, high = between(part.wholes[0].draws, "mean")
    assert low < 30 < high
    low, high = between(part.wholes[1].draws, "median")
    assert low < 2 < high
    missed = int(part.cautions[0].split("%")[0].split()[-1])
    assert missed == pytest.approx(100 * (1 - 0.918921), abs=4)  # (d - G(d)) / d, in closed form
    assert loads(part)


def test_a_missed_cut_joins_two_times_with_power_in_closed_form():
    """Of exponential cuts of half an hour hourly looks meet 0.432332: times on seen are joined and set right."""
    half = Law("exponential", (0.5,))
    met = 0.5 * (1 - np.exp(-2))
    lengths = np.linspace(0, 1, 200_001)[1:]
    weight = (1 - lengths) * 2 * np.exp(-2 * lengths)
    missed = float((weight * lengths).sum() / weight.sum())
    seen = (30 + (1 - met) * missed) / met
    assert corrected(Law("exponential", (seen,)), half, 1.0).parameters[0] == pytest.approx(30, rel=1e-3)


def test_a_log_in_pieces():
    """A look left out parts a log; poor voltage is said, not taken as a cut; few or uneven looks give none."""
    rows = [(at(k), 0.0 if k % 10 == 0 else 150.0 if k % 10 == 1 else 230.0) for k in range(1, 100) if k != 50]
    log = looks(rows)
    assert (log.every_h, len(log.stretches), log.looks) == (1.0, 2, 98)
    assert log.poor == pytest.approx(10 / 98)
    assert looks(rows[:10]) is None
    assert looks([(at(k * k / 10), volts) for k, (_, volts) in enumerate(rows)]) is None
    (part,) = logger_parts(books(voltages=tuple(Voltage(k, when, 230.0) for k, (when, _) in enumerate(rows))), 1)
    assert "last longer than the log" in part.cautions[0]


def test_clocks_come_before_hours_a_day():
    """Where both books are there each gives the keys, and the better one says it has rows and comes first."""
    pairs = drawn_cuts(8)
    hours = drawn_daily_hours(UpAndDown(30, 3), 365, 2)
    rows = tuple(PowerDay(row, day(row), float(each)) for row, each in enumerate(hours))
    parts = [part for part in supply_parts(books(cuts=cuts(pairs), power_days=rows), 1) if UP in part.keys]
    assert [(part.sheet, part.tier) for part in parts] == [("Power cuts", "rows"), ("Power hours", "totals")]


def test_without_place_a_caution_says_so():
    """Without Place the days from the first to the last row are taken, and a caution says what that does."""
    (part,) = cut_parts(books(first=None, last=None, cuts=cuts(drawn_cuts(9)[:30])), 1)
    assert any("Place does not say" in caution for caution in part.cautions)


def test_what_is_doubtful_of_cuts_is_said():
    """The last cut still on, clocks to the quarter, cuts without an end, too few of them: each in a sentence."""
    pairs = [(24 * k + 5.25 + (7 * k) % 13, 24 * k + 6.5 + (7 * k) % 13) for k in range(0, 60, 4)]
    pairs[3] = (pairs[3][0], None)
    rows = cuts([*pairs, (YEAR_H - 6, None)])
    text = " ".join(the_part(cut_parts(books(cuts=rows), 1), UP).cautions)
    assert "1 of 16 power cuts have no end and are not the last" in text
    assert "still on as the book ends" in text
    assert "written to 15 minutes" in text
    (few,) = cut_parts(books(cuts=cuts([(5, 6)])), 1)
    assert few.cautions[0].startswith("1 power cut in 365 days (Jan to Dec 2026), too few of them with both ends")


def test_announced_cuts_at_no_time_of_day():
    """Announced ones that come at any hour stay cuts of the grid, with a caution; windows alone leave no grid."""
    rows = cuts([(37.3 * k, 37.3 * k + 1.1) for k in range(1, 25)], planned=True)
    (part,) = cut_parts(books(cuts=rows), 1)
    assert part.cautions[0].startswith("24 of 24 cuts were announced, but at no time of day on half of the days")
    assert part.used == 24
    always = cuts([(24 * k + 18, 24 * k + 20) for k in range(60)], planned=True)
    parts = cut_parts(books(cuts=always, last=day(59)), 1)
    assert [part.keys for part in parts] == [(SHEDDING,), ()]


def test_a_log_with_gaps_and_poor_voltage_says_so():
    """A gap and a poor voltage are said; a log whose every cut is under way at an end gives no law."""
    pairs = [(off, on) for off, on in drawn_cuts(11, hours=1_500) if on is not None]
    rows = [row for row in log_of(pairs, 1.0, 1_500) if row.row != 700]
    rows = tuple(Voltage(row.row, row.at, 150.0 if row.row % 50 == 0 and row.volts else row.volts) for row in rows)
    (part,) = logger_parts(books(voltages=rows), 1)
    assert any("1 gap in the log" in caution for caution in part.cautions)
    assert any("poor voltage" in caution for caution in part.cautions)
    once = tuple(Voltage(k, at(k), 0.0 if k in (30, 31) or k > 58 else 230.0) for k in range(60))
    assert "too few cuts were met" in logger_parts(books(voltages=once), 1)[0].cautions[0]
    dead = tuple(Voltage(k, at(5), 230.0) for k in range(30))
    assert "too uneven" in logger_parts(books(voltages=dead), 1)[0].cautions[0]


def test_days_that_are_not_written_count_as_not_known():
    """Of a year of hours a day 65 are not written: said, and neither means nor draws change kind."""
    hours = drawn_daily_hours(UpAndDown(20, 3), 300, 6)
    rows = tuple(PowerDay(row, day(row), float(each)) for row, each in enumerate(hours))
    (part,) = hours_parts(books(power_days=rows), 1)
    assert "65 of 365 days are not written" in part.cautions[-1]
