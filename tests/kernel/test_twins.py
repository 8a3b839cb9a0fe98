"""Both engines on shipped and on drawn hospitals: whole event logs and every field of the outcome are equal."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from twins import compare_drawn, differences, twin_hospitals

from o2sim import load
from o2sim.draws import Draws
from o2sim.model.rules import STEPS
from o2sim.model.run import simulate
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import DAY_S, Hospital, Scenario

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
DRAWN, MANY = 300, 10_000
MOST_MISSING = 8  # steps and causes that so few hospitals may not show; which of them is Hypothesis' choice


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_a_month_of_every_scenario_is_equal(path: Path) -> None:
    """Warm-up and a month of each strategy of a shipped scenario, event by event."""
    for strategy, rules in load(path).hospitals.items():
        month = replace(
            rules, warm_up_s=min(rules.warm_up_s, 7 * DAY_S), horizon_s=min(rules.horizon_s, 28 * DAY_S)
        )
        assert differences(month, Draws(1, 0)) == [], strategy


@pytest.mark.slow
@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_every_scenario_is_equal(path: Path) -> None:
    """Two replications of each strategy of a shipped scenario as it stands, event by event."""
    for strategy, rules in load(path).hospitals.items():
        for replication in range(2):
            assert differences(rules, Draws(1, replication)) == [], (strategy, replication)


NAMES = (*STEPS, *(cause.name for cause in Cause))


def compared(most: int, start: int) -> Counter[str]:
    """Return in how many drawn hospitals each step and each cause of a gap was seen; all must be equal."""
    return compare_drawn(twin_hospitals(), most, start, _shown, NAMES)


def _shown(rules: Hospital, draws: Draws) -> set[str]:
    """Return the steps of a run and the causes of its gaps."""
    scenario = Scenario("twins", "", "twins.yaml", "0" * 16, {"s": rules})
    outcome = simulate(scenario, "s", draws, "kernel", log=True)
    return {entry.step for entry in outcome.log} | {c.name for c in Cause if outcome.unserved_s[c] > 0}


def missing(seen: Counter[str]) -> list[str]:
    """What was seen in, the steps and the causes that were not out."""
    return [name for name in NAMES if not seen[name]]


def test_drawn_hospitals_are_equal() -> None:
    """300 drawn hospitals, event by event; nearly every step and cause of a gap is among them."""
    seen = compared(DRAWN, 0)
    assert len(missing(seen)) <= MOST_MISSING


@pytest.mark.slow
def test_many_drawn_hospitals_are_equal() -> None:
    """10,000 drawn hospitals, event by event; every step of the rules and every cause of a gap is among them."""
    assert missing(compared(MANY, 1)) == []
