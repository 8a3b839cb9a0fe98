"""What the commands that run a study share: strategies asked for, the bar, the end of a stopped batch."""

from __future__ import annotations

import difflib
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.options import STOPPED
from o2sim.runs.settings import BatchSettings, cluster, store, workers
from o2sim.settings import takes
from o2sim.version import __version__

if TYPE_CHECKING:
    from o2sim.runs.executors import Crew
    from o2sim.runs.gathering import OnDaily
    from o2sim.runs.precision import Plan
    from o2sim.runs.study import Study
    from o2sim.scenario.changing.joint import Joint
    from o2sim.scenario.types.hospital import Scenario


MANY = 500  # replications of which workers are likely to be worth their start
MOST_NAMED = 10  # strategies in a message


def check_strategies(scenario: Scenario, names: Sequence[str]) -> None:
    """Fail as a usage error, with the nearest known name, where a strategy is unknown."""
    unknown = [name for name in names if name not in scenario.hospitals]
    if unknown:
        near = difflib.get_close_matches(unknown[0], scenario.strategies, n=1, cutoff=0.4)
        hint = f" Did you mean {near[0]!r}?" if near else ""
        named = [repr(name) for name in scenario.strategies[:MOST_NAMED]]
        left = len(scenario.strategies) - len(named)
        known = ", ".join(named) + (f" and {left} more" if left else "")
        raise click.UsageError(f"no strategy is named {unknown[0]!r}; known: {known}.{hint}")


@dataclass(frozen=True)
class Workforce:
    """Who does the work, and where what is finished is kept: the options --workers, --cluster and --store."""

    workers: int | None = workers(None)
    cluster: str | None = cluster()
    store: Path | None = store()


@dataclass(frozen=True)
class Elsewhere:
    """Whose workers do it in place of processes here: --cluster alone."""

    cluster: str | None = cluster()


def send_ahead(workforce: Workforce, replications: int | None) -> None:
    """Let workers get ready while the scenario is still being read, where they will be worth it."""
    from o2sim.runs.executors import cores, send_ahead

    asked = (workforce.workers or 1) > 1
    likely = workforce.workers is None and workforce.cluster is None and cores() > 1
    if asked or (likely and (replications or 0) >= MANY):
        send_ahead()


def crew_of(workforce: Workforce) -> Crew:
    """Return the crew that was asked for; fail as a usage error where two were."""
    from o2sim.runs.executors import Cluster, Processes

    if workforce.cluster is None:
        return Processes(workforce.workers)
    if workforce.workers is not None:
        raise click.UsageError("give either --workers or --cluster")
    return Cluster(workforce.cluster)


@takes(BatchSettings)
def run_with_bar(
    scenario: Scenario,
    strategies: Sequence[str] = (),
    *,
    settings: BatchSettings,
    workforce: Workforce = Workforce(),
    planned: Callable[[Plan], None] | None = None,
    home: Scenario | None = None,
    crew: Crew | None = None,
    on_daily: OnDaily | None = None,
    draws: Joint | None = None,
) -> Study:
    """Return a study of the named strategies, all where none is named; a bar shows how far it is.

    home: the scenario of the file, where another is run that was made of it; a store is that of the file. crew:
    who does it, where it serves other runs too. on_daily: is given the daily counts, as run_study gives them.
    draws: joint draws that its replications meet in turn.
    """
    from o2sim.looks.screen import progress_bar
    from o2sim.runs.store_file import open_store
    from o2sim.runs.study import USUAL, run_study

    path = workforce.store
    with (
        nullcontext() if path is None else open_store(path, "scenario", home or scenario) as store,
        progress_bar(settings.replications or USUAL) as progress,
    ):
        make_ready(scenario, settings.engine)
        return run_study(
            scenario,
            strategies=strategies or None,
            settings=settings,
            progress=progress,
            crew=crew or crew_of(workforce),
            store=store,
            planned=planned,
            on_daily=on_daily,
            draws=draws,
        )


def make_ready(scenario: Scenario, engine: str) -> None:
    """Compile the engine if it has to be, and say that it takes a while."""
    from o2sim.looks.screen import waiting
    from o2sim.model.run import is_ready
    from o2sim.runs.study import ready_engine

    if not is_ready(engine):
        with waiting("Compiling the engine, once for this version: about half a minute"), leaving_at_once():
            ready_engine(scenario, engine)


@contextmanager
def leaving_at_once() -> Iterator[None]:
    """Let Ctrl-C end the program there and then: a compiler hears nothing for seconds, and nothing is lost."""
    heard = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if not heard or threading.current_thread() is not threading.main_thread():
        yield
        return
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def joint_of(draws: Any, scenario: Scenario) -> Joint | None:
    """Return the joint draws of --draws, laid over a scenario; what is to be known of them goes to stderr."""
    if draws is None:
        return None
    from o2sim.looks.both_doubts import notes
    from o2sim.scenario.changing.joint import joint_draws

    joint = joint_draws(draws, scenario)
    for said in notes(joint):
        click.echo(said, err=True)
    return joint


def leave_if_stopped(study: Study | None) -> None:
    """Say on stderr what was completed, and leave with 130, where Ctrl-C cut the batch short."""
    if study is not None and not study.complete:
        done = f"{study.replications} of {study.requested} replications"
        click.echo(f"Stopped after {done}; only those are reported.", err=True)
        raise click.exceptions.Exit(STOPPED)


def leave_without_companion(companion: Study | None) -> None:
    """Say on stderr what there is of the companion run, and leave with 130, where Ctrl-C cut it short."""
    if companion is not None and companion.complete:
        return
    done = "before its first replication" if companion is None else f"after {companion.replications} replications"
    click.echo(f"The companion run (supply alone) was stopped {done}; all else is whole.", err=True)
    raise click.exceptions.Exit(STOPPED)


def identity(scenario: Scenario) -> dict[str, Any]:
    """Return the scenario and version of a result."""
    return {"scenario": scenario.name, "scenario_hash": scenario.hash, "version": __version__}
