"""The inputs of the rebuilt comparisons are marked, follow from what is published, and need its litres."""

import re
from functools import cache
from pathlib import Path

import published_figures as papers
import pytest

from o2sim import load
from o2sim.planning.need import on_oxygen
from o2sim.quantities.gas import content_litres
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.stages import stages

FOLDER = Path(__file__).parent
FILES = sorted(path.stem for path in FOLDER.glob("*.yaml"))
MARKS = ("published:", "assumed", "from memory", "default", "arithmetic:")
ONE_OF_A_LIST = 0.02  # of a price: what rounding it to two digits, or a whole kina, may do


@cache
def read(file):
    """Return the scenario of a file."""
    return load(FOLDER / f"{file}.yaml")


def ends(file, path):
    """Return low, likely and high of an uncertain number of a file, in its unit."""
    return next(item.numbers for item in read(file).uncertain if item.path == path)


def bare(text):
    """Return the lines of a file that hold a figure and no mark, but for the name of the whole."""
    lines = [line.strip().partition("#") for line in text.splitlines() if not line.startswith("name:")]
    return [
        said.strip() for said, _, mark in lines if re.search(r"\d", said) and not mark.strip().startswith(MARKS)
    ]


@pytest.mark.parametrize("file", FILES)
def test_each_figure_of_a_rebuilt_comparison_is_marked(file):
    """A line with a figure says whether it is published, assumed, from memory, o2sim's default or arithmetic."""
    assert bare((FOLDER / f"{file}.yaml").read_text(encoding="utf-8")) == []


def test_a_bare_figure_is_seen():
    """A figure without a mark, or with a remark that is none, is found."""
    text = "horizon: 365 days\nwarm_up: 28 days  # default\nfleet: 7  # many\nsources: [cylinder]"
    assert bare(text) == ["horizon: 365 days", "fleet: 7"]


@pytest.mark.parametrize("total", papers.TOTALS, ids=lambda total: total.row)
def test_the_mean_need_is_the_published_one_against_the_papers(total):
    """Admissions, flows and stays need the published litres within 0.1 % (rounded rates)."""
    hospital = read(total.file).hospitals[total.strategy]
    patients = hospital.patients[0]
    at_once = sum(on_oxygen(stage, hospital.start).needed_mean for stage in stages(patients))
    litres_per_day = at_once * law_mean(patients.flow_ml_min) * 1.44
    assert litres_per_day == pytest.approx(total.litres_per_day, rel=0.001)


def test_a_patient_takes_the_published_litres_against_graham_et_al_2019():
    """A stay takes about 3,500 L (H. Graham and others, EClinicalMedicine 2019;16:51-63) in every file."""
    for file in FILES:
        patients = next(iter(read(file).hospitals.values())).patients[0]
        litres = law_mean(patients.flow_ml_min) / 1_000 * law_mean(patients.duration_s) / 60
        assert litres == pytest.approx(3_500, rel=0.002)


@pytest.mark.parametrize("file", FILES)
def test_ranges_of_refill_and_cylinder_follow_from_press_figures(file):
    """Refill is the press's price of a litre times those of a 47 L cylinder; a set costs what was paid for it."""
    litres = content_litres(47, 13_700, 15)
    rate = papers.TO_A_USD[file]
    refills = [rate * money / per_usd / of * litres for per_usd, money, of in papers.REFILLS.values()]
    assert ends(file, "costs.cylinders.refill") == pytest.approx(refills, rel=ONE_OF_A_LIST)
    low, likely, high = (rate * usd for usd in papers.SETS_USD)
    if file in (papers.PROVINCIAL, papers.DISTRICT):
        low /= 10  # two of twenty years
    assert ends(file, "costs.cylinders.price") == pytest.approx([low, likely, high], rel=ONE_OF_A_LIST)


@pytest.mark.parametrize("file", FILES)
def test_prices_of_concentrators_follow_from_duke_et_al_2021(file):
    """Units, upkeep, repair and the lump of a site are sums of prices in that paper's table 2."""
    rate, unit = papers.TO_A_USD[file], papers.UNIT_USD
    with_set = unit + papers.FLOWMETERS_USD
    site = papers.UPS_USD + papers.DELIVERY_USD + papers.INSTALLATION_USD
    wanted = {
        "concentrators.price": (unit, with_set, with_set + papers.OXIMETER_USD),
        "concentrators.service": (papers.FILTER_USD, 2 * papers.FILTER_USD, 150),
        "concentrators.repair": (10, 180, papers.COMPRESSOR_USD + papers.SIEVE_USD + papers.BOARD_USD),
        "stabiliser.price": (papers.UPS_USD, (papers.UPS_USD + site) / 2, site),
    }
    found = {path: ends(file, f"costs.{path}") for path in wanted}
    for path, usd in wanted.items():
        assert found[path] == pytest.approx([rate * each for each in usd], rel=ONE_OF_A_LIST)


def test_the_solar_system_follows_from_duke_et_al_2021():
    """Its range is half of 41,000 USD less or more, the battery's price within it."""
    found = ends(papers.HOWIE, "strategies.solar.costs.solar.price")
    assert found == (0.5 * papers.SOLAR_USD, papers.SOLAR_USD, 1.5 * papers.SOLAR_USD)
    assert read(papers.HOWIE).hospitals["solar"].costs.battery.price == 0


def test_the_demand_of_a_fijian_hospital_is_a_wide_assumption():
    """From 100,000 L a year over 500,000 to the 1.7 million of Howie et al 2020: no litres were found."""
    litres = [rate * 3_503 * papers.YEAR for rate in ends(papers.FIJI, "patients.all.admissions")]
    assert litres == pytest.approx([100_000, 500_000, papers.LITRES_A_YEAR], rel=0.001)
