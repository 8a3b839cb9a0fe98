"""One replication of a strategy step by step, to see why someone went without."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from o2sim.errors import O2simError
from o2sim.outcome import Outcome
from o2sim.questions.trace.settings import TraceSettings
from o2sim.runs.asked import scenario_of, study_of
from o2sim.runs.study import Study, rerun, worst_replication
from o2sim.scenario.types.hospital import Scenario
from o2sim.settings import takes
from o2sim.shown import Shown, frame_of

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Trace(Shown):
    """One replication of one strategy, with its log of events."""

    scenario: Scenario = field(repr=False)
    strategy: str
    seed: int
    replication: int
    engine: str
    outcome: Outcome = field(repr=False)

    def to_frame(self) -> pd.DataFrame:
        """Return the log as a data frame, a row a step in the order in which it happened.

        Columns time_s (from the start of the warm-up), time, step, patient_class, item, other, value and text.
        """
        return frame_of(self)


@takes(TraceSettings)
def trace(
    source: str | Path | Scenario | Study, strategy: str, *, settings: TraceSettings, **run_options: Any
) -> Trace:
    """Return one replication step by step: the one named, else the worst, with most hours unserved for supply.

    source: a scenario, its file, or a study, among whose replications the worst is then looked for. Replications
    are numbered from 0. run_options go to run_study: replications (to search, 200 by default), seed, engine.
    Raises O2simError.
    """
    replication = settings.replication
    if isinstance(source, Study) or replication is None:
        study = study_of(source, [strategy], run_options)
        scenario, seed, engine = study.scenario, study.seed, study.engine
        number = worst_replication(study, strategy) if replication is None else replication
    else:
        unknown = sorted(set(run_options) - {"seed", "engine"})
        if unknown:
            raise O2simError(f"trace: found {unknown[0]} beside a replication; allowed: seed, engine")
        scenario, number = scenario_of(source), replication
        seed, engine = run_options.get("seed", 1), run_options.get("engine", "kernel")
    return Trace(scenario, strategy, seed, number, engine, rerun(scenario, strategy, seed, number, engine))
