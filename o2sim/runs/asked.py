"""The study to answer from: of a scenario, of its file, or one that was run already."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from o2sim.errors import O2simError
from o2sim.runs.study import Study, one_or_many, run_study
from o2sim.scenario import load
from o2sim.scenario.types.hospital import Scenario


def scenario_of(source: str | Path | Scenario) -> Scenario:
    """Return the scenario, loaded where a file was named. Raises O2simError for anything else."""
    if isinstance(source, Scenario):
        return source
    if isinstance(source, str | Path):
        return load(source)
    raise O2simError(f"found {type(source).__name__}; allowed: a scenario, its file, or a study of it")


def study_of(
    source: str | Path | Scenario | Study, strategies: Sequence[str] | None, run_options: dict[str, Any]
) -> Study:
    """Return the study as it is, or one run with run_options; of some strategies only, where these are named.

    Raises O2simError where a study was given and is to be run otherwise, or lacks a strategy.
    """
    if not isinstance(source, Study):
        return run_study(scenario_of(source), strategies=strategies, **run_options)
    if run_options:
        raise O2simError(
            f"found a study with {', '.join(run_options)}: it is run already; allowed: give the scenario instead"
        )
    strategies = None if strategies is None else one_or_many(strategies)
    lacking = [name for name in strategies or () if name not in source.outcomes]
    if lacking:
        raise O2simError(f"the study has no strategy {lacking[0]!r}; known: {', '.join(source.outcomes)}")
    if strategies is None:
        return source
    return replace(source, outcomes={name: each for name, each in source.outcomes.items() if name in strategies})


def chosen_strategy(scenario: Scenario, asked: str | None) -> tuple[str, str]:
    """Return the strategy asked for, else the first with both sources, else the first with cylinders; and why."""
    if asked is not None:
        if asked not in scenario.hospitals:
            raise O2simError(f"no strategy is named {asked!r}; known: {', '.join(scenario.strategies)}")
        return asked, "asked for"
    having = {
        name: (each.cylinders is not None, each.concentrators is not None)
        for name, each in scenario.hospitals.items()
    }
    both = [name for name, has in having.items() if all(has)]
    cylinders = [name for name, (has, _) in having.items() if has]
    if both:
        return both[0], "the only one with both sources" if len(both) == 1 else "the first with both sources"
    if cylinders:
        return cylinders[0], "the only one with cylinders" if len(cylinders) == 1 else "the first with cylinders"
    return scenario.strategies[0], "the first"
