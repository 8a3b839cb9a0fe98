"""The daily counts of a study: added up by day, or one by one, run again where they were not kept."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Outcome
from o2sim.runs.gathering import reduced
from o2sim.runs.midnights import Midnights, midnights_of
from o2sim.runs.outcomes import midnights_in
from o2sim.runs.study import Study


def midnights(study: Study, strategy: str) -> Midnights:
    """Return what the midnights of a strategy come to, over all its replications.

    Of a part of a batch whose daily counts were not kept each replication is run again.
    """
    outcomes = study.outcomes[strategy]
    found = midnights_in(outcomes)
    if found is not None:
        return found
    hospital = study.scenario.hospitals[strategy]
    return midnights_of(
        (each.outcome, each.nights) for each in (reduced(o, hospital) for o in with_daily(study, strategy))
    )


def with_daily(study: Study, strategy: str) -> Iterator[Outcome]:
    """Yield each outcome with its daily counts; where these were not kept it is run again."""
    outcomes = study.outcomes[strategy]
    if outcomes.daily is not None:
        yield from outcomes
        return
    for k in outcomes.column("replication").tolist():
        yield simulate(study.scenario_of(k), strategy, Draws(study.seed, k), engine=study.engine)
