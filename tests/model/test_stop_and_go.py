"""A state written out in the middle of a run and run on gives the rest of the unbroken log, in both engines."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from stop_and_go import stop

from o2sim import load
from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.types.hospital import DAY_S, Hospital, Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
PLACES = [
    ("district_hospital.yaml", "mixed"),
    ("district_hospital.yaml", "cylinders only"),
    ("city_hospital.yaml", "mixed"),
    ("health_centre.yaml", "concentrators only"),
    ("last_cylinders.yaml", "no way back"),
]


def plain(hospital: Hospital) -> Hospital:
    """Return a hospital without what no count says, such as back-ups, or how often supply was lost before."""
    stock = hospital.cylinders
    resupply = hospital.resupply and replace(hospital.resupply, emergency=None)
    return replace(
        hospital,
        power=None,
        resupply=resupply,
        response_time_s=300,
        cylinders=stock and replace(stock, backup=None, losses_per_day=0),
        warm_up_s=14 * DAY_S,
        horizon_s=60 * DAY_S,
    )


@pytest.mark.parametrize("engine", ["kernel", "reference"])
@pytest.mark.parametrize(("file", "strategy"), PLACES)
def test_a_run_goes_on_from_its_own_state(file, strategy, engine):
    """Stopped three times, a run goes on as if it had not been; what it notes as it begins is left out."""
    hospital = plain(load(SCENARIOS / file).hospitals[strategy])
    for replication, after_s in enumerate((20 * DAY_S + 27_000, 35 * DAY_S + 61_234, 50 * DAY_S)):
        stopped = stop(hospital, Draws(3, replication), after_s)
        scenario = Scenario("on", "", "on.yaml", "0" * 16, {"on": stopped.hospital})
        log = list(simulate(scenario, "on", stopped.draws, engine, log=True).log)
        noted = sum(1 for entry in log if entry.time_s == 0) - sum(1 for entry in stopped.log if entry.time_s == 0)
        assert stopped.same(log[noted:]) == stopped.same(stopped.log)
