"""Perfect handling: nothing in it depends on how quick and how careful the staff are."""

from dataclasses import replace
from pathlib import Path

import pytest

from o2sim import load
from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.types.hospital import DAY_S, Backups, Hospital, Law, Scenario, Staff

SCENARIOS = Path(__file__).parents[2] / "scenarios"
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
    slow = replace(rules, response_time_s=3_600, staff=Staff(1, 1, 600))
    if rules.cylinders is not None:
        careless = replace(
            rules.cylinders,
            change_time_s=3_600,
            gauge_check_s=12 * 3_600,
            missed_by_night=0.5,
            gauge_error_gas=10**7,
            change_when="will_not_last",
            backup=replace(BACKUP, open_time_s=Law("exponential", (7_200.0,))),
        )
        rules = replace(rules, cylinders=replace(rules.cylinders, backup=BACKUP))
        slow = replace(slow, cylinders=careless)
    assert outcome(with_perfect_handling(slow)) == outcome(with_perfect_handling(rules))


@pytest.mark.parametrize("strategy", DISTRICT.strategies)
def test_next_to_nothing_is_left_to_handling(strategy: str) -> None:
    """With perfect handling whoever is short has no source: no second of root handling."""
    assert outcome(with_perfect_handling(DISTRICT.hospitals[strategy])).short_s[2] == 0  # type: ignore[attr-defined]
