"""A scenario and a number of replications in, the outcomes of every strategy under the same draws out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import o2sim
from o2sim.draws import Draws
from o2sim.errors import O2simError
from o2sim.model.run import simulate
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types import DAY_S, YEAR_DAYS, Scenario


@dataclass(frozen=True)
class Study:
    """The outcomes of one batch of replications: the same number, in the same order, for every strategy.

    Replications are numbered from 0, so a number is also the place in each list; requested is how many were to be
    run, fixed beforehand.
    """

    scenario: Scenario
    seed: int
    engine: str
    requested: int
    outcomes: dict[str, list[Outcome]]  # by strategy name, in the order of the file

    @property
    def replications(self) -> int:
        """Return how many replications were completed under every strategy."""
        return min(len(outcomes) for outcomes in self.outcomes.values())

    @property
    def complete(self) -> bool:
        """Return True unless the batch was interrupted."""
        return self.replications == self.requested


def provenance(study: Study) -> dict[str, Any]:
    """Return what tells where figures come from, and what they are scaled to, ready for JSON."""
    horizon_s = next(iter(study.scenario.hospitals.values())).horizon_s
    return {
        "scenario": study.scenario.name,
        "scenario_hash": study.scenario.hash,
        "version": o2sim.__version__,
        "engine": study.engine,
        "seed": study.seed,
        "replications": study.replications,
        "replications_requested": study.requested,
        "complete": study.complete,
        "horizon_days": horizon_s / DAY_S,
        "per_days": YEAR_DAYS,  # what counts, hours, litres and money are scaled to
    }


def run_study(
    scenario: Scenario,
    *,
    strategies: Sequence[str] | None = None,
    replications: int = 200,
    seed: int = 1,
    engine: str = "reference",
    progress: Callable[[int], None] | None = None,
) -> Study:
    """Return the outcomes of the named strategies (all by default) over replications 0, 1, 2...

    progress is told the number completed after each. An interrupt (Ctrl-C) gives the whole replications so far, or
    passes through where there is none. Raises O2simError for an unknown strategy or fewer than one replication.
    """
    names = _chosen(scenario, strategies)
    if replications < 1:
        raise O2simError(f"a study needs at least 1 replication, not {replications}")
    rows: list[tuple[Outcome, ...]] = []
    try:
        for replication in range(replications):
            rows.append(run_replication(scenario, names, seed, replication, engine))
            if progress is not None:
                progress(len(rows))
    except KeyboardInterrupt:
        if not rows:
            raise
    outcomes = {name: [row[place] for row in rows] for place, name in enumerate(names)}
    return Study(scenario, seed, engine, replications, outcomes)


def run_replication(
    scenario: Scenario, strategies: Sequence[str], seed: int, replication: int, engine: str
) -> tuple[Outcome, ...]:
    """Return one replication's outcome under each strategy, all under the same draws; depends on nothing else."""
    draws = Draws(seed, replication)
    return tuple(simulate(scenario, name, draws, engine=engine) for name in strategies)


def rerun(scenario: Scenario, strategy: str, seed: int, replication: int, engine: str = "reference") -> Outcome:
    """Return one replication run again, with its event log. Raises O2simError as run_study does."""
    (name,) = _chosen(scenario, [strategy])
    if replication < 0:
        raise O2simError(f"replications are numbered from 0; there is no replication {replication}")
    return simulate(scenario, name, Draws(seed, replication), engine=engine, log=True)


def worst_replication(study: Study, strategy: str) -> int:
    """Return the number of the replication with most time unserved for want of supply.

    Ties go to the most time unserved for any cause, then to the lowest number. Raises O2simError for a strategy
    that is not in the study.
    """
    if strategy not in study.outcomes:
        raise O2simError(_unknown(strategy, list(study.outcomes)))
    return min(study.outcomes[strategy], key=_badness).replication


def supply_unserved_s(outcome: Outcome) -> int:
    """Return the patient-seconds unserved for want of supply."""
    return sum(seconds for cause, seconds in zip(Cause, outcome.unserved_s, strict=True) if cause.is_supply)


def _badness(outcome: Outcome) -> tuple[int, int, int]:
    """Return a key that sorts the worst replication first."""
    return -supply_unserved_s(outcome), -sum(outcome.unserved_s), outcome.replication


def _chosen(scenario: Scenario, strategies: Sequence[str] | None) -> tuple[str, ...]:
    """Return the strategies asked for, each once, in the order of the file."""
    wanted = scenario.strategies if strategies is None else strategies
    for name in wanted:
        if name not in scenario.hospitals:
            raise O2simError(_unknown(name, list(scenario.strategies)))
    if not wanted:
        raise O2simError("a study needs at least one strategy")
    return tuple(name for name in scenario.strategies if name in wanted)


def _unknown(name: str, known: list[str]) -> str:
    """Return what is wrong with a strategy's name, and the nearest known one."""
    near = get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f"; did you mean {near[0]!r}?" if near else "."
    return f"no strategy is named {name!r}{hint} Known: {', '.join(known)}."
