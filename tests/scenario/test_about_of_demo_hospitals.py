"""What `about` of each demo hospital states in figures agrees with what `o2sim check` and the file itself say."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from o2sim.planning.figures import planning_figures
from o2sim.scenario import load
from o2sim.scenario.types.hospital import DAY_S, Hospital
from o2sim.scenario.types.laws import law_high, law_mean, law_minimum, share_above

SHIPPED = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
STAY_DAYS = 5.5  # mean: median 4 (quartiles 2 and 6), Graham and others, BMJ Glob Health 2018;3:e000812, table 2
OCCUPIED = 0.80  # assumed
WORDS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "ten": 10}
NUMBER = rf"(\d[\d,]*|{'|'.join(WORDS)})"
LEFT = re.compile(rf"\b(\d[\d,.]*|{'|'.join(WORDS)}|half|third|quarter|dozen)\b")


def number(text: str) -> float:
    """Return a number written in figures or as a word."""
    return float(WORDS.get(text, 0) or text.replace(",", ""))


def beds(hospital: Hospital) -> float:
    """Return the beds that the admissions fill, as full as assumed."""
    return sum(each.admissions_per_day for each in hospital.patients) * STAY_DAYS / OCCUPIED


def cuts_a_day(hospital: Hospital) -> float:
    """Return the cuts of the grid a day, load shedding left out."""
    assert hospital.grid is not None
    return DAY_S / (law_mean(hospital.grid.up_s) + law_mean(hospital.grid.down_s))


def adults(hospital: Hospital):
    """Return the classes of adults."""
    return [each for each in hospital.patients if each.name.startswith("adults")]


def altitude(path: Path) -> float:
    """Return the altitude that a file states; in what is loaded only its effects are left."""
    (stated,) = re.findall(r"(?m)^altitude: (\d+) m", path.read_text(encoding="utf-8"))
    return float(stated)


def parts(hospital: Hospital) -> int:
    """Return how much of a hospital a strategy has: units, cylinders, wards."""
    return (hospital.concentrators is not None) + (hospital.cylinders is not None) + len(hospital.wards)


def above_a_unit(hospital: Hospital) -> float:
    """Return the share of the adults admitted whose flow is above what one unit gives."""
    rated, rates = hospital.concentrators.rated_flow_ml_min, [each.admissions_per_day for each in adults(hospital)]
    high = [share_above(each.flow_ml_min, rated) for each in adults(hospital)]
    return sum(rate * share for rate, share in zip(rates, high, strict=True)) / sum(rates)


# What may be said, and what it is compared with: the first group of the pattern, or a figure of its own.
Figure = Callable[[Hospital], float]
SAID: tuple[
    tuple[str, float | None, Figure, float], ...
] = (  # pattern, figure, what it should be, relative tolerance
    (rf"{NUMBER} (?:beds|cots)", None, beds, 0.03),
    (r"about one cylinder of gas a day", 1, lambda each: planning_figures(each).mean.cylinders_per_day, 0.15),
    (
        r"about a quarter of a cylinder of gas a day",
        0.25,
        lambda each: planning_figures(each).mean.cylinders_per_day,
        0.15,
    ),
    (r"the grid is down four hours in ten", 0.4, lambda each: 1 - planning_figures(each).grid_share, 0.05),
    (r"cuts every other day", 0.5, cuts_a_day, 0.1),
    (r"a long cut every day", 1, cuts_a_day, 0.1),
    (r"few, short cuts", 2, lambda each: 365 * cuts_a_day(each), 0.3),
    (r"load shedding five evenings a week", 5, lambda each: len(each.power.load_shedding[0].days), 0),
    (r"adults at 1 to", 1, lambda each: min(law_minimum(kind.flow_ml_min) for kind in adults(each)) / 1000, 0),
    (
        r"10 L/min; a dedicated",
        10,
        lambda each: max(law_high(kind.flow_ml_min) for kind in adults(each)) / 1000,
        0,
    ),
    (rf"{NUMBER} concentrators", None, lambda each: each.concentrators.count, 0),
    (r"concentrators of 5 L/min", 5, lambda each: each.concentrators.rated_flow_ml_min / 1000, 0),
    (r"a third of the adults in need", 1 / 3, above_a_unit, 0.02),
    (rf"{NUMBER} technician", None, lambda each: each.concentrators.crew, 0),
    (r"about two months", 61 * DAY_S, lambda each: law_mean(each.concentrators.travel_s), 0.3),
    (rf"{NUMBER} nurse at night", None, lambda each: each.staff.night, 0),
    (rf"in {NUMBER} wards", None, lambda each: len(each.wards), 0),
    (r"read from 1 L/min on", 1, lambda each: each.cylinders.regulator_sets[0].low_ml_min / 1000, 0),
)
ELSEWHERE = {  # said of one strategy only
    "bad_cylinders": (
        (
            r"some come half full",
            0.6,
            lambda each: law_mean(each["under-filled"].cylinders.underfilled.content),
            0.2,
        ),
    ),
    "field_demand": ((r"two hours away", 2 * 3600, lambda each: each["outbreak, sent on"].transfer.travel_s, 0),),
}


def compared(path: Path) -> tuple[list[tuple[str, float, float, float]], str]:
    """Return what is said with both figures and the tolerance, and what is left of the text."""
    scenario = load(path)
    most = max(scenario.hospitals.values(), key=parts)
    cases = [(case, most) for case in SAID] + [(case, scenario.hospitals) for case in ELSEWHERE.get(path.stem, ())]
    cases += [((rf"at {NUMBER} m\b", None, altitude, 0), path)]
    found, text = [], scenario.about
    for (pattern, figure, should, tolerance), of in cases:
        hits = list(re.finditer(pattern, text))
        if hits:
            said = figure if figure is not None else sum(number(hit[1]) for hit in hits)
            found.append((hits[0][0], said, should(of), tolerance))
            text = re.sub(pattern, " ", text)
    return found, text


@pytest.mark.no_cover
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_about_agrees_with_check(path):
    """Beds, cylinders of gas a day, cuts, hours without power, equipment: each figure, and none is left over."""
    found, rest = compared(path)
    assert [each for each in found if each[1] != pytest.approx(each[2], rel=each[3])] == []
    assert LEFT.findall(rest) == []


def test_a_wrong_figure_is_seen(tmp_path):
    """Twice the beds, or a figure that nothing stands for, does not pass."""
    text = (SHIPPED[0].parent / "district_hospital.yaml").read_text(encoding="utf-8")
    for wrong in (
        text.replace("about: 60 beds", "about: 120 beds"),
        text.replace("about: 60", "about: 7 cows; 60"),
    ):
        file = tmp_path / "district_hospital.yaml"
        file.write_text(wrong, encoding="utf-8")
        with pytest.raises(AssertionError):
            test_about_agrees_with_check(file)


def test_the_mean_stay_is_that_of_its_median_and_quartiles():
    """A lognormal stay of median 4 days with quartiles 2 and 6 has a mean of 5.5 days."""
    from math import exp, log

    sigma = (log(6) - log(2)) / (2 * 0.6745)
    assert 4 * exp(sigma**2 / 2) == pytest.approx(STAY_DAYS, abs=0.1)
