"""A slower response must not be seen as better supply: stock-outs by the supply clock of drawn hospitals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from build import DAY, HOUR, LITRE, MINUTE, UNIT, UNIT_FIRST, cylinders, hospital, kind

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.types.hospital import Concentrators, Grid, Hospital, Law, Resupply, Scenario, Shortfall

HOSPITALS, REPLICATIONS = 12, 60
AS_OF_A_FILE = Shortfall(500, 5 * MINUTE, "supply clock")  # what a file that says nothing of it means
QUICK, SLOW = (Law("lognormal", (math.log(median * MINUTE), math.log(2))) for median in (5, 20))


def _law(mean_h: float) -> Law:
    return Law("exponential", (mean_h * HOUR,))


def drawn(number: int) -> Hospital:
    """Return a small hospital for a month, drawn by its number: sources, units, cuts, stock and patients."""
    luck = np.random.default_rng(number)
    sources = (UNIT, UNIT_FIRST)[number % 2]
    fleet = int(luck.integers(4, 13))
    stock = cylinders(
        fleet=fleet,
        full_gas=int(luck.integers(1_000, 7_000)) * LITRE,
        gauge_check_s=int(luck.integers(1, 7)) * HOUR,
        change_time_s=10 * MINUTE,
    )
    supply = Resupply(
        DAY, int(luck.integers(1, fleet)), fleet, Law("gamma", (4.0, luck.uniform(0.5, 2) * DAY / 4))
    )
    device = Concentrators(int(luck.integers(1, 5)), 5_000, 4, 350.0, _law(400), "running", _law(48))
    return hospital(
        sources,
        horizon_s=30 * DAY,
        tolerated_gap_s=10 * MINUTE,
        shortfall=AS_OF_A_FILE,
        patients=(
            kind(
                admissions_per_day=luck.uniform(1, 4),
                flow_ml_min=Law("uniform", (500.0, 5_000.0)),
                duration_s=Law("exponential", (luck.uniform(1, 3) * DAY,)),
            ),
        ),
        cylinders=stock if "cylinder" in sources else None,
        resupply=supply if "cylinder" in sources else None,
        concentrators=device,
        grid=Grid(_law(luck.uniform(6, 36)), _law(luck.uniform(0.2, 4))),
    )


def stock_outs(rules: Hospital) -> np.ndarray:
    """Return the stock-outs of each replication."""
    scenario = Scenario("drawn", "", "drawn.yaml", "0" * 16, {"s": rules})
    runs = (simulate(scenario, "s", Draws(2, place), "kernel") for place in range(REPLICATIONS))
    return np.array([run.stock_outs for run in runs])


def more_when_slow(rules: Hospital) -> tuple[float, float]:
    """Return by how much a slow response raises the stock-outs of a run, and the standard error of that."""
    more = stock_outs(replace(rules, response_time_s=SLOW)) - stock_outs(replace(rules, response_time_s=QUICK))
    return more.mean(), more.std(ddof=1) / math.sqrt(REPLICATIONS)


@pytest.mark.no_cover
@pytest.mark.parametrize("number", range(HOSPITALS))
def test_a_response_four_times_as_slow_lowers_no_stock_outs(number: int) -> None:
    """The same luck, every response four times as long: no fewer stock-outs, within 4 standard errors."""
    more, error = more_when_slow(drawn(number))
    assert more >= -4 * error


def test_by_the_cause_at_crossing_a_slower_response_seemed_better() -> None:
    """Counted as before, the same comparison finds fewer stock-outs in most of the hospitals."""
    before = [more_when_slow(replace(drawn(number), shortfall=Shortfall())) for number in range(HOSPITALS)]
    assert sum(more < -4 * error for more, error in before) > HOSPITALS / 2
