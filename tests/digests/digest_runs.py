"""A scenario file and an engine in, what its strategies do in two replications out, as texts to be compared."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from operator import attrgetter
from pathlib import Path

import numpy as np

import o2sim
from o2sim.outcome import LogEntry, Outcome

ENGINES = ("kernel", "reference")
REPLICATIONS = 2
SEED = 1
SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
STEP = tuple(part.name for part in dataclasses.fields(LogEntry))


def names() -> list[str]:
    """Return the file names of all shipped scenarios."""
    return sorted(path.name for path in SCENARIOS.glob("*.yaml"))


def runs(name: str, engine: str) -> Iterator[tuple[str, str]]:
    """Yield the name and the text of each part: the scenario's hash, then log and outcome of each replication."""
    scenario = o2sim.load(SCENARIOS / name)
    yield f"{name} | hash", scenario.hash
    for strategy in scenario.strategies:
        for replication in range(REPLICATIONS):
            told = o2sim.trace(scenario, strategy, replication=replication, seed=SEED, engine=engine)
            where = f"{name} | {strategy} | replication {replication}"
            yield f"{where} | log", log_text(told.outcome)
            yield f"{where} | outcome", outcome_text(told.outcome)


def log_text(outcome: Outcome) -> str:
    """Return every step of a log, a line each: time, name, whole numbers."""
    read = attrgetter(*STEP)
    return "\n".join([" ".join(STEP), *(" ".join(map(str, read(entry))) for entry in outcome.log)])


def outcome_text(outcome: Outcome) -> str:
    """Return every field of an outcome but the log, a line each, in the order of their names."""
    parts = sorted(part.name for part in dataclasses.fields(Outcome) if part.name != "log")
    return "\n".join(f"{part}: {_value(getattr(outcome, part))}" for part in parts)


def _value(value: object) -> str:
    if isinstance(value, np.ndarray):
        return f"{value.dtype} {value.shape} " + " ".join(json.dumps(row) for row in value.tolist())
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        value = dataclasses.asdict(value)
    return json.dumps(value, sort_keys=True)
