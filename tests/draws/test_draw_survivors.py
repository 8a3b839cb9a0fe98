"""What single faults planted in the draws had shown to be unseen: one case each (helpers of test_draws)."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
from scenario_texts import WHOLE
from test_draws import ADULTS, CHILDREN, START, _hospital, _of

from o2sim.draws import Draws
from o2sim.draws.season import cumulative
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import Costs, Equipment, Law, Season

LONG = Law("exponential", (100_000.0,))


def test_each_concentrator_has_its_own_repairs() -> None:
    """Units 0 and 1 are not mended alike, nor does a repair last as long as the life before it."""
    draws = Draws(1, 0)
    lives, first, second = draws.failures(LONG, 0), draws.repairs(LONG, 0), draws.repairs(LONG, 1)
    assert all(len({lives[n], first[n], second[n]}) == 3 for n in range(5))


def test_two_classes_of_one_rate_arrive_apart() -> None:
    """A class by another name has other arrivals, flows and stays."""
    found = _hospital(CHILDREN, replace(CHILDREN, name="others"))
    for mine, yours in zip(_of(found, "children"), _of(found, "others"), strict=False):
        assert all(a != b for a, b in zip(mine[1:], yours[1:], strict=True))


def test_one_draws_gives_each_strategy_its_own_classes() -> None:
    """A strategy that changes the stay of a class meets it, in whatever order the strategies run."""
    draws, brief = Draws(1, 0), replace(CHILDREN, duration_s=Law("constant", (60.0,)))
    assert {row[3] for row in _of(_hospital(CHILDREN), "children", draws)} != {60}
    assert {row[3] for row in _of(_hospital(brief), "children", draws)} == {60}


def test_patients_of_one_second_are_in_the_order_of_their_classes() -> None:
    """40,000 patients in a day, so that seconds are shared: by second, class and ordinal."""
    many = [replace(kind, admissions_per_day=40_000.0, season=None) for kind in (CHILDREN, ADULTS)]
    table = Draws(1, 0).patients(_hospital(*many, days=1))
    rows = list(zip(table.arrival_s, table.class_index, table.ordinal, strict=True))
    assert rows == sorted(rows)
    assert any(a[0] == b[0] and a[1] != b[1] for a, b in pairwise(rows))


def test_a_season_is_the_same_before_and_after_its_peak() -> None:
    """The cosine is even about the midnight that begins the day of the peak: day 45 for 15 February."""
    days = np.array([0.0, 15.0, 44.0, 45.0, 46.0, 75.0, 90.0])
    total = cumulative(days, Season(dt.date(2027, 2, 15), 3.0), START)
    np.testing.assert_allclose(total[3] - total[:3], (total[:3:-1] - total[3]), rtol=1e-12)


def test_suggested_mixed_strategy_uses_concentrators_first() -> None:
    """Where a file names no strategies, mixed is the concentrator with the cylinder behind it."""
    hospitals = loads(WHOLE[: WHOLE.index("strategies:")]).hospitals
    sources = {name: each.strategy.sources for name, each in hospitals.items()}
    assert sources == {
        "cylinders only": ("cylinder",),
        "concentrators only": ("concentrator",),
        "mixed": ("concentrator", "cylinder"),
    }


def test_every_price_of_the_example_is_read() -> None:
    """The costs section of the whole example, price by price."""
    hospitals = loads(WHOLE).hospitals
    assert hospitals["mixed"].costs == Costs(
        currency="USD",
        discount_rate=0.03,
        cylinder=Equipment(250.0, 20.0, 20.0),
        cylinder_rent_per_year=12.0,
        refill=18.0,
        regulator=Equipment(80.0, 5.0),
        splitter=Equipment(life_years=5.0),  # no price: the life of the file's default
        humidifier=Equipment(life_years=3.0),
        oximeter=Equipment(life_years=3.0),
        concentrator=Equipment(648.0, 7.0),
        concentrator_service_per_year=60.0,
        repair=100.0,
        battery=Equipment(life_years=4.0),
        solar=Equipment(life_years=25.0),
        trip=90.0,
        transport_per_cylinder=2.0,
        electricity_per_kwh=0.18,
        consumables_per_patient=1.5,
    )
