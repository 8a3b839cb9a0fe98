"""Both engines from counts of shipped and of drawn hospitals: whole event logs and every field are equal."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from counted import BRANCHES, counted_hospitals, reached
from counts import counted, counts
from hypothesis import Phase, given, settings
from hypothesis import seed as first_of
from hypothesis import strategies as st
from twins import compare_drawn, differences

from o2sim import load
from o2sim.draws import Draws
from o2sim.scenario.types.hospital import DAY_S, Hospital

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
DRAWN, MANY, OF_EACH = 100, 3_000, 3
MOST_MISSING = 5  # branches that so few hospitals may not show; which of them is Hypothesis' choice


def shipped(path: Path) -> dict[str, Hospital]:
    """Return the strategies of a shipped scenario that may begin from a count, by name, for three weeks."""
    found = {name: each for name, each in load(path).hospitals.items() if each.manifold is None}
    counted_in_one_size = {
        name: each for name, each in found.items() if not (each.cylinders and each.cylinders.sizes)
    }
    return {name: replace(each, horizon_s=21 * DAY_S) for name, each in counted_in_one_size.items()}


@pytest.mark.parametrize("path", [each for each in SCENARIOS if shipped(each)], ids=lambda path: path.stem)
def test_three_weeks_of_every_scenario_from_a_count_are_equal(path: Path) -> None:
    """Three drawn counts of each strategy of a shipped scenario, event by event."""

    @first_of(1)
    @settings(max_examples=OF_EACH, deadline=None, database=None, phases=[Phase.generate])
    @given(data=st.data())
    def look(data: st.DataObject) -> None:
        for strategy, rules in shipped(path).items():
            assert differences(counted(rules, data.draw(counts(rules))), Draws(1, 0)) == [], strategy

    look()


def compared(most: int, start: int) -> Counter[str]:
    """Return in how many of so many drawn hospitals each branch of the beginning was met; all must be equal."""
    return compare_drawn(counted_hospitals(), most, start, reached, BRANCHES)


def test_drawn_counts_are_equal() -> None:
    """100 drawn hospitals from drawn counts, event by event; nearly every branch is among them."""
    seen = compared(DRAWN, 0)
    assert sum(not seen[name] for name in BRANCHES) <= MOST_MISSING


@pytest.mark.slow
def test_many_drawn_counts_are_equal() -> None:
    """3,000 drawn hospitals from drawn counts, event by event; every branch is among them."""
    seen = compared(MANY, 1)
    assert [name for name in BRANCHES if not seen[name]] == []
