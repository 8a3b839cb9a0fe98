"""A back-up at the bed against the lengths of power cuts: what is left unserved of each cut."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from build import HOUR, LITRE, UNIT, constant, cylinders, hospital, kind, units
from scipy import integrate, stats

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.types.hospital import DAY_S, Backups, Grid, Hospital, Law, Recorded, Scenario

pytestmark = pytest.mark.theory
MEDIAN_H, SPREAD = 2.0, 2.5  # of a cut
OPEN_S, FLOW, LEAK = 60, 2_000, 100  # mL/min
CUTS = 3_000
DAYS = 20
CUT = stats.lognorm(math.log(SPREAD), scale=MEDIAN_H)
# Litres above the 4 bar at which flow is lost, of a 47 L cylinder filled to 137 bar, and of one of 4.7 L.
LARGE, SMALL = 6_826.5 - 186.24, 682.6 - 18.62


def left_unserved(lasts_h: float, power: int = 1) -> float:
    """Return E X^power of what is unserved of a cut, X = min(D, c) + (D - c - L)+ hours, by quadrature."""
    open_h = OPEN_S / 3_600

    def unserved(cut_h: float) -> float:
        return float((min(cut_h, open_h) + max(0.0, cut_h - open_h - lasts_h)) ** power * CUT.pdf(cut_h))

    edges = [0.0, open_h, 1.0, 5.0, 50.0, 500.0, 5_000.0]
    parts = [integrate.quad(unserved, low, high, limit=200)[0] for low, high in pairwise(edges)]
    return math.fsum(parts)


def one_cut(litres: float | None) -> Hospital:
    """Return a patient of 2 L/min who is always there, a unit, and a cut after ten days; a back-up of so much."""
    always = kind(recorded=Recorded(False, 0, DAYS, (0,), (FLOW,), (DAYS * DAY_S,)))
    grid = Grid(constant(10 * DAY_S), Law("lognormal", (math.log(MEDIAN_H * HOUR), math.log(SPREAD))))
    stock = cylinders(
        fleet=1,
        full_gas=round((litres or 0.0) * LITRE),
        residual_gas=0,
        lost_gas=0,
        leak_ml_min=LEAK,
        backup=Backups(("adults",), 1, constant(OPEN_S)),
    )
    return hospital(
        UNIT,
        patients=(always,),
        grid=grid,
        horizon_s=DAYS * DAY_S,
        response_time_s=0,
        concentrators=units(),
        cylinders=stock if litres else None,
    )


def unserved_h(rules: Hospital) -> np.ndarray:
    """Return the hours unserved in each of many first cuts, the back-up fresh."""
    scenario = Scenario("one patient", "", "one.yaml", "0" * 16, {"s": rules})
    found = [simulate(scenario, "s", Draws(4, number)) for number in range(CUTS)]
    assert {outcome.power_cuts for outcome in found} == {1}
    return np.array([sum(outcome.unserved_s) for outcome in found]) / HOUR


@pytest.mark.parametrize(
    ("litres", "lasts_h", "expected"),
    [(LARGE, 52.70, 0.01937), (SMALL, 5.27, 0.60013), (None, 0.0, 3.04330)],
    ids=["47 L", "4.7 L", "none"],
)
def test_what_is_unserved_of_a_cut(litres: float | None, lasts_h: float, expected: float) -> None:
    """The minute until it flows, and what of the cut it does not last; without one the whole cut."""
    mean, square = left_unserved(lasts_h), left_unserved(lasts_h, 2)
    if litres is None:
        mean, square = float(CUT.mean()), float(CUT.moment(2))
    else:
        assert litres / ((FLOW + LEAK) / 1_000 * 60) == pytest.approx(lasts_h, abs=0.005)
    assert mean == pytest.approx(expected, abs=1e-4)
    found = unserved_h(one_cut(litres))
    assert abs(found.mean() - mean) < 4 * math.sqrt((square - mean**2) / CUTS)


def test_each_cut_to_the_second() -> None:
    """Unserved of each cut are its first minute, and what is beyond that and the small cylinder."""
    with_one, without = unserved_h(one_cut(SMALL)), unserved_h(one_cut(None))
    lasts_s = round(SMALL * LITRE) // (FLOW + LEAK)
    cut_s = np.rint(without * HOUR)
    expected = np.minimum(cut_s, OPEN_S) + np.maximum(0, cut_s - OPEN_S - lasts_s)
    assert (np.rint(with_one * HOUR) == expected).all()
    assert (cut_s > OPEN_S + lasts_s).sum() > 100
