"""A register drawn from known laws gives them back: rates, shares, season, flows, stays, in texts that load."""

import re

import numpy as np
import pytest
from fit_coverage import law_of
from patient_books import (
    MEAN_FLOW,
    MEAN_H,
    MEDIAN_H,
    PEAK_DAY,
    WIDTH,
    Truth,
    admissions,
    dates_only,
    drawn,
    records,
    shown,
)
from small_ward import WARD

from o2sim.fits.found import DRAWS
from o2sim.fits.patients.comings import from_register, register_days
from o2sim.fits.patients.pace import paces
from o2sim.fits.patients.parts import patient_parts
from o2sim.scenario.building.loading import loads
from o2sim.scenario.types.laws import law_mean

KEY = "patients.children."


def numbers(parts, tier="rows"):
    """Return the draws of each key of a tier: numbers as they are, laws by means, seasons by ratios."""
    found = {}
    for part in (each for each in parts if each.tier == tier):
        found |= {number.key: number.draws for number in part.numbers}
        for whole in part.wholes:
            if whole.key.endswith("season"):
                found[whole.key] = np.array([float(text.split("ratio: ")[1][:-1]) for text in whole.draws])
            elif whole.draws:
                found[whole.key] = np.array([law_mean(law_of(text)) for text in whole.draws])
    return {key.removeprefix(KEY): draws for key, draws in found.items()}


@pytest.fixture(scope="module")
def fitted():
    """A year of 2 a day with a season of 1.6 and uneven days, by dates, with all admissions."""
    truth = Truth(ratio=1.6, spread=1.5)
    came = drawn(truth, 5)
    all_ = admissions(came, truth, 5, 0.12, 0.75)
    return patient_parts(dates_only(records(shown(came, 365), admissions=all_)), 3)


def test_the_truth_is_within_its_range(fitted):
    """Of 730 patients every number lies within the 90 % range of its draws, and within 3 standard deviations."""
    truth = {
        "admissions": 2 / 0.12 / 0.75, "hypoxaemic": 12, "recognised": 75, "season": 1.6, "flow": MEAN_FLOW,
        "duration": MEAN_H, "overdispersion": 1 + 0.5 / 0.09,
    }  # fmt: skip
    draws = numbers(fitted)
    off = {name: (np.mean(draws[name]) - value) / np.std(draws[name]) for name, value in truth.items()}
    within = {
        name: bool(np.quantile(draws[name], 0.05) <= value <= np.quantile(draws[name], 0.95))
        for name, value in truth.items()
    }
    assert {name: z for name, z in off.items() if abs(z) > 3} == {}
    assert [name for name, inside in within.items() if not inside] == []


def test_the_law_of_stays_is_found(fitted):
    """The lognormal law is preferred, median and geometric sd within a tenth of the truth, and is not rejected."""
    (part,) = [part for part in fitted if "stay" in part.name]
    median, width = map(float, re.findall(r"likely: ([0-9.]+)", part.wholes[0].text))
    assert (median, width) == pytest.approx((MEDIAN_H, WIDTH), rel=0.1)
    assert "lognormal (Akaike" in part.said
    assert part.test_p > 0.05


def test_what_is_written_gives_the_registers_rate(fitted):
    """Admissions x shares are those put on oxygen a day, in the likely values and on average of the draws."""
    who = fitted[0]
    draws = numbers([who])
    likely = {number.key.removeprefix(KEY): number.likely for number in who.numbers}
    product = draws["admissions"] * draws["hypoxaemic"] * draws["recognised"] / 1e4
    put_on = int(re.match(r"([0-9]+) put on oxygen in 365 days", who.said)[1])
    assert likely["admissions"] * likely["hypoxaemic"] * likely["recognised"] / 1e4 == pytest.approx(
        put_on / 365, rel=0.01
    )
    assert np.mean(product) == pytest.approx(put_on / 365, rel=0.02)
    assert all(np.all((draws[name] >= 0) & (draws[name] <= 100)) for name in ("hypoxaemic", "recognised"))
    assert "patients.children.given_without_need" in who.keys


def test_the_season_is_where_it_was(fitted):
    """The peak lies within 30 days of 15 July, and the draws around it."""
    (season,) = [whole for whole in fitted[0].wholes if whole.key.endswith("season")]
    peaks = [np.datetime64(text[7:17]) for text in (season.text, *season.draws)]
    days = (np.array(peaks) - np.datetime64("2026-01-01")).astype(int)
    assert days[0] == pytest.approx(PEAK_DAY, abs=30)
    assert np.median(days) == pytest.approx(days[0], abs=10)


def test_all_texts_are_those_of_a_scenario(fitted):
    """A scenario with each text in it loads, and so do the first 20 joint draws."""

    def text_of(draw):
        said = {}
        for part in fitted:
            for number in part.numbers:
                said[number.key] = (
                    f"{number.likely if draw is None else number.draws[draw]:.5g} {number.unit}".strip()
                )
            for whole in part.wholes:
                said[whole.key] = whole.draws[draw] if draw is not None and whole.draws else whole.text
        inside = ", ".join(f"{key.removeprefix(KEY)}: {text}" for key, text in said.items())
        return re.sub(r"patients: .*", f"patients: {{children: {{{inside}}}}}", WARD, count=1)

    scenario = loads(text_of(None))
    assert {item.path for item in scenario.uncertain} > {f"{KEY}season.ratio", f"{KEY}duration.lognormal.median"}
    assert all(len(loads(text_of(draw)).hospitals) == 3 for draw in range(20))
    assert all(len(whole.draws) in (0, DRAWS) for part in fitted for whole in part.wholes)


def test_clocks_and_dates_agree():
    """The same patients by clocks and by dates alone give medians within 5 % of each other."""
    came = drawn(Truth(rate=0.7), 7)
    medians = []
    for dates in (False, True):
        (part,) = [
            part for part in patient_parts(records(shown(came, 365, dates=dates)), 1) if "stay" in part.name
        ]
        medians.append(float(re.search(r"likely: ([0-9.]+) h", part.wholes[0].text)[1]))
    assert medians[0] == pytest.approx(medians[1], rel=0.05)


@pytest.mark.no_cover
def test_the_same_seed_gives_the_same():
    """Two fits with one seed agree in every draw; another seed gives others."""
    of = records(shown(drawn(Truth(rate=0.2), 8), 365))
    one, again = (numbers(patient_parts(of, 1)) for _ in range(2))
    others = [paces(from_register(of, register_days(of)), seed, "register")["children"].rates for seed in (1, 2)]
    assert all(np.array_equal(one[key], again[key]) for key in one)
    assert not np.array_equal(*others)


@pytest.mark.slow
def test_ten_thousand_rows():
    """10,000 rows are fitted, and a small change of how clocks are written matters little (about 3 s alone)."""
    came = drawn(Truth(rate=10_000 / 365), 9)
    draws = numbers(patient_parts(records(shown(came, 365)), 1))
    assert np.median(draws["duration"]) == pytest.approx(MEAN_H, rel=0.03)
    assert np.median(draws["admissions"]) == pytest.approx(10_000 / 365, rel=0.03)
