"""Patients who lie there when the run begins: what both engines make of them, to the second."""

from __future__ import annotations

from dataclasses import replace

import pytest
from build import DAY, HOUR, UNIT, hospital, kind, units

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.types.hospital import Grid, Recorded, Scenario

BOOK = Recorded("replay", 0, 1, (-5 * HOUR, 2 * HOUR), (1_000, 1_000), (8 * HOUR, 4 * HOUR))


def outcome(rules, engine: str):
    """Return what happens in a hospital in one replication, with the log."""
    return simulate(Scenario("s", "", "s.yaml", "0" * 16, {"s": rules}), "s", Draws(1, 0), engine, log=True)


@pytest.mark.parametrize("engine", ["reference", "kernel"])
def test_one_present_at_the_start_is_a_patient_but_no_arrival(engine: str) -> None:
    """Three of eight hours are left: seven patient-hours of need with the four of the patient who comes at two."""
    rules = hospital(UNIT, concentrators=units(), patients=(replace(kind(), recorded=BOOK),))
    found = outcome(rules, engine)
    assert (found.arrivals, found.patients, found.need_s) == (1, 2, 7 * HOUR)
    assert found.served_concentrator_s == 7 * HOUR
    moves = [
        (entry.time_s, entry.step) for entry in found.log if entry.step in ("patient arrives", "patient leaves")
    ]
    assert moves == [
        (0, "patient arrives"), (2 * HOUR, "patient arrives"),
        (3 * HOUR, "patient leaves"), (6 * HOUR, "patient leaves"),
    ]  # fmt: skip


@pytest.mark.parametrize("engine", ["reference", "kernel"])
def test_drawn_cuts_take_the_power_in_both_engines(engine: str) -> None:
    """One recorded day with a cut from noon to three: so on every day of the run, whatever is drawn."""
    grid = Grid(use="resample", first_day=-7, days=1, cuts=((-7 * DAY + 12 * HOUR, -7 * DAY + 15 * HOUR),))
    rules = hospital(UNIT, concentrators=units(), patients=(kind(),), grid=grid, horizon_s=3 * DAY)
    found = outcome(rules, engine)
    cuts = [entry.time_s for entry in found.log if entry.step == "power lost"]
    assert cuts == [12 * HOUR, DAY + 12 * HOUR, 2 * DAY + 12 * HOUR]
    assert (found.power_cuts, found.power_out_s) == (3, 9 * HOUR)
