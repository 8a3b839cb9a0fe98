"""The companion run of a study: the same strategies and draws; hands, eyes and the way to the store at no time.

What is short there no staff could have prevented; the rest of what is short as in the file is handling. It has the
scenario's hash and a mark, so that a store keeps the two apart.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from o2sim.runs.settings import BatchSettings
from o2sim.runs.study import Study, run_study
from o2sim.scenario.changing.handling import with_perfect_handling
from o2sim.scenario.types.hospital import Scenario

MARK = "+supply-alone"  # behind the hash of the scenario


def supply_alone(scenario: Scenario) -> Scenario:
    """Return a scenario with perfect handling under every strategy; it cannot be changed further."""
    return replace(
        scenario,
        name=f"{scenario.name} (supply alone)",
        hash=f"{scenario.hash}{MARK}",
        hospitals={name: with_perfect_handling(each) for name, each in scenario.hospitals.items()},
        options=None,
        lines={},
        text="",
        beside=None,
    )


def companion_of(study: Study, run: Callable[..., Study] = run_study) -> Study | None:
    """Return the companion run of a study: the same strategies, replications, seed and engine.

    run: runs it, as run_study does. None for a study that was stopped, or where Ctrl-C came before the first
    replication; one that Ctrl-C cuts short has those that were done.
    """
    if not study.complete:
        return None
    settings = BatchSettings(replications=study.replications, seed=study.seed, engine=study.engine)
    alone = supply_alone(study.scenario)
    over = {} if study.joint is None else {"draws": study.joint.made(supply_alone)}
    try:
        return run(alone, strategies=tuple(study.outcomes), settings=settings, **over)
    except KeyboardInterrupt:
        return None
