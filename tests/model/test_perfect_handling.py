"""Perfect handling: nothing in it depends on how quick and how careful the staff are."""

from dataclasses import replace
from pathlib import Path

import pytest

from o2sim import load
from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.types.hospital import (
    DAY_S,
    Backups,
    ByOximeter,
    ByRelatives,
    Hospital,
    Law,
    Night,
    Noticed,
    Scenario,
    Staff,
    Timed,
)

SCENARIOS = Path(__file__).parents[2] / "scenarios"
HOUR = Law("lognormal", (8.0, 0.7))  # about an hour, drawn for each job
BACKUP = Backups(("newborns", "children"), 4, Law("constant", (60.0,)))
DISTRICT = load(SCENARIOS / "district_hospital.yaml")


def outcome(rules: Hospital) -> object:
    """Return what happens in a season of a hospital."""
    season = replace(rules, horizon_s=90 * DAY_S)
    return simulate(Scenario("s", "", "s.yaml", "0" * 16, {"s": season}), "s", Draws(5, 0))


@pytest.mark.parametrize("strategy", DISTRICT.strategies)
def test_it_is_the_same_however_quick_and_careful_the_staff_are(strategy: str) -> None:
    """Response, change, looks, gauges and staff are varied: bit for bit the same outcome."""
    rules = DISTRICT.hospitals[strategy]
    seen = Noticed(ByRelatives(0.5, Law("constant", (600.0,))), ByOximeter(2, Law("constant", (60.0,))))
    slow = replace(
        rules, response_time_s=HOUR, staff=Staff(1, 1, HOUR), night=Night(7_200, HOUR, 7_200), noticed=seen
    )
    if rules.cylinders is not None:
        careless = replace(
            rules.cylinders,
            change_time_s=HOUR,
            gauge_check_s=12 * 3_600,
            missed_by_night=0.5,
            gauge_error_gas=10**7,
            change_when="timed",
            timed=Timed(margin_s=3_600, kept=0.5),
            rack="fullest",
            backup=replace(BACKUP, open_time_s=Law("exponential", (7_200.0,))),
        )
        rules = replace(rules, cylinders=replace(rules.cylinders, backup=BACKUP))
        slow = replace(slow, cylinders=careless)
    assert outcome(with_perfect_handling(slow)) == outcome(with_perfect_handling(rules))


@pytest.mark.parametrize("strategy", DISTRICT.strategies)
def test_next_to_nothing_is_left_to_handling(strategy: str) -> None:
    """With perfect handling whoever is short has no source: no second of root handling."""
    assert outcome(with_perfect_handling(DISTRICT.hospitals[strategy])).short_s[2] == 0  # type: ignore[attr-defined]
