"""Run a number of replications of a scenario: every strategy under the same draws."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from o2sim.draws import Draws
from o2sim.errors import O2simError
from o2sim.model.run import engine_at_hand, make_ready, simulate
from o2sim.money.cost import annual_cost
from o2sim.outcome import Outcome
from o2sim.runs.chunks import LARGEST, LARGEST_DAILY, Chunk, Pacer, cut, missing
from o2sim.runs.executors import Crew, Processes
from o2sim.runs.gathering import DROPPED, Days, Gathering, OnDaily, Reduced, reduced
from o2sim.runs.identity import Origin, Provenance, Ran
from o2sim.runs.outcomes import Outcomes
from o2sim.runs.packing import Packed, pack
from o2sim.runs.precision import MOST, Plan, check_precision, pilot_seed, plan_precision, reached
from o2sim.runs.run_store import Range, RunStore, Writer
from o2sim.runs.running import run_pieces
from o2sim.runs.settings import BatchSettings
from o2sim.scenario.building.loading import load
from o2sim.scenario.changing.joint import Joint, joint_draws, require_no_draws
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital, Scenario
from o2sim.settings import takes
from o2sim.shown import Chart, Shown, chart_of, frame_of
from o2sim.typed import as_json
from o2sim.version import __version__

if TYPE_CHECKING:
    import pandas as pd

USUAL = 200  # replications
_last: list[Scenario] = []  # that this process ran a piece of; none or one


@dataclass(frozen=True)
class Study(Shown):
    """The outcomes of one batch of replications: the same number, in the same order, for every strategy.

    Replications are numbered from 0, so a number is also the place in each sequence; requested is how many were to
    be run, fixed beforehand. Each sequence holds totals as columns and gives an Outcome when asked; an Outcome has
    daily counts only where run_study was asked to keep them.
    """

    scenario: Scenario
    seed: int
    engine: str
    requested: int
    outcomes: Mapping[str, Outcomes]  # by strategy name, in the order of the file; lists become so
    plan: Plan | None = None  # how a pilot fixed the number, where a precision was asked for
    joint: Joint | None = None  # joint draws, whose rows the replications met in turn

    def __post_init__(self) -> None:
        """Keep outcomes made elsewhere as columns."""
        object.__setattr__(self, "outcomes", {name: Outcomes.of(many) for name, many in self.outcomes.items()})

    @property
    def replications(self) -> int:
        """Return how many replications were completed under every strategy."""
        return min(len(outcomes) for outcomes in self.outcomes.values())

    @property
    def complete(self) -> bool:
        """Return True unless the batch was interrupted."""
        return self.replications == self.requested

    def rows_of(self, strategy: str) -> tuple[Hospital, ...]:
        """Return the hospital at each row of joint draws, in their order; none without draws."""
        return () if self.joint is None else tuple(each.hospitals[strategy] for each in self.joint.scenarios)

    def scenario_of(self, replication: int) -> Scenario:
        """Return the scenario that a replication ran: that of its row of joint draws, if any."""
        return self.scenario if self.joint is None else self.joint.at(replication)

    def to_frame(
        self, of: Literal["measures", "replications", "days", "convergence"] = "measures"
    ) -> pd.DataFrame:
        """Return the study as a data frame.

        measures: a row for each strategy and measure, with the part of it (a cause, a class, a length of gap), the
        estimate with its 95 % interval, and the unit. replications: a row for each strategy and replication, its
        totals within the horizon; names end in their unit (_h, _litres, _kwh, else a number), money is in
        `cost_per_year (USD)` or what the currency is. days: a row for each strategy, replication and midnight:
        stock and patients, run again where daily counts were not kept. convergence: the chance of a stock-out
        (0 to 1), with its interval, after the first 10, 20 ... replications of each strategy.
        """
        return frame_of(self, of=of)

    def chart(
        self,
        of: Literal["chances", "hours", "costs", "trade", "stock", "season", "convergence"] = "chances",
        strategy: str = "",
    ) -> Chart:
        """Return a drawing of the study, all strategies side by side.

        chances: of a stock-out and of any interruption (%), with intervals. hours: unserved patient-hours a year,
        by cause. costs: a year, by item. trade: cost against unserved hours. stock: full cylinders on hand over
        the horizon, of one strategy (the one with fewest stock-outs, where none is named). season: midnights with
        anyone unserved, by month. convergence: the chance of a stock-out by number of replications. Raises
        O2simError where there is nothing to draw: no prices, no cylinders, no two months.
        """
        return chart_of(self, of=of, strategy=strategy)


def provenance_of(study: Study) -> Provenance:
    """Return where figures come from, and what they are scaled to."""
    horizon_s = next(iter(study.scenario.hospitals.values())).horizon_s
    plan = study.plan
    return Provenance(
        Origin(study.scenario.name, study.scenario.hash),
        Ran(__version__, study.engine, study.seed, study.replications),
        replications_requested=study.requested,
        complete=study.complete,
        horizon_days=horizon_s / DAY_S,
        per_days=YEAR_DAYS,
        precision=None if plan is None else reached(plan, stock_outs_seen(study), study.replications),
    )


def provenance(study: Study) -> dict[str, Any]:
    """Return the same, ready for JSON; `precision` is there only where one was asked for."""
    found: dict[str, Any] = as_json(provenance_of(study))
    return found


def stock_outs_seen(study: Study) -> dict[str, int]:
    """Return in how many replications each strategy had a stock-out."""
    whole = study.replications
    return {n: int((each.column("stock_outs")[:whole] > 0).sum()) for n, each in study.outcomes.items()}


@takes(BatchSettings)
def run_study(
    scenario: Scenario | str | Path,
    *,
    strategies: Sequence[str] | None = None,
    settings: BatchSettings,
    draws: str | Path | pd.DataFrame | Joint | None = None,
    progress: Callable[..., None] | None = None,
    workers: int | None = 1,
    crew: Crew | None = None,
    store: RunStore | None = None,
    chunk_size: int | None = None,
    planned: Callable[[Plan], None] | None = None,
    keep_daily: bool = False,
    on_daily: OnDaily | None = None,
) -> Study:
    """Return the outcomes of the named strategies (all by default) over replications 0, 1, 2...

    scenario may be the path of its file.
    replications is how many, 200 by default. With precision, such as 0.01 for ±1 in 100 on the chance of a
    stock-out, a pilot fixes the number: as many as the strategy that needs most, under the same draws for all, and
    no more than replications, 10,000 by default. The pilot has a seed of its own and is in no result; how close
    they came is in `summarise(study)["precision"]`, and planned is given the plan before they are run.

    draws is a CSV file or a data frame of joint draws of uncertain numbers, a column for each key, a row for each
    draw (scenario.changing.joint): replication r meets row r mod the number of rows, under every strategy, so that
    intervals hold unknown inputs and chance together; `summarise(study)["draws"]` says how much is due to either.
    They do not go with precision.

    workers is the number of processes, None for one a core where it is worth it; crew is who does the work instead
    of them (executors.Given for any Executor). Neither these nor chunk_size change a result. With a store what is
    in it is not run again, and what is finished goes into it. progress is given the number completed, and with
    precision also of how many. An interrupt (Ctrl-C) gives the whole replications so far, or passes through where
    there is none, as in a pilot.

    Daily counts (365 x 16 numbers a year) are added up by day as they come, and dropped, unless keep_daily: then
    each Outcome has them, at 22 kB a replication, strategy and year. on_daily is given the strategy, the number of
    the replication and its daily counts, shape (days, len(DAILY_COLUMNS)), in the order of replications.

    Raises O2simError for an unknown strategy, fewer than one replication, a precision outside 0.0001 to 0.5, a
    store that cannot be written, workers that die again and again, draws that cannot be used.
    """
    scenario = scenario if isinstance(scenario, Scenario) else load(scenario)
    joint = None if draws is None else joint_draws(draws, scenario)
    names = _chosen(scenario, strategies)
    replications, precision, seed = settings.replications, settings.precision, settings.seed
    engine = ready_engine(scenario, settings.engine)
    crew, report, days = crew or Processes(workers), progress or (lambda *_: None), Days(keep_daily, on_daily)
    if precision is None:
        size = replications if replications is not None else USUAL
        return _batch(scenario, names, size, seed, engine, report, crew, store, chunk_size, days, joint)
    require_no_draws(joint, "precision", "its pilot plans for independent replications; give replications")
    most = MOST if replications is None else replications
    check_precision(precision, most)

    def batch(size: int, seed: int, days: Days = DROPPED) -> Study:
        return _batch(
            scenario, names, size, seed, engine, lambda done: report(done, size), crew, store, chunk_size, days
        )

    def pilot(size: int) -> dict[str, int]:
        found = batch(size, pilot_seed(seed))
        if not found.complete:
            raise KeyboardInterrupt  # nothing of a pilot is a result
        return stock_outs_seen(found)

    with crew:  # one for pilot and run
        plan = plan_precision(precision, most, seed, pilot)
        if planned is not None:
            planned(plan)
        return replace(batch(plan.fixed, seed, days), plan=plan)


def _batch(
    scenario: Scenario,
    names: Sequence[str],
    replications: int,
    seed: int,
    engine: str,
    progress: Callable[[int], None],
    crew: Crew,
    store: RunStore | None,
    chunk_size: int | None,
    days: Days = DROPPED,
    joint: Joint | None = None,
) -> Study:
    """Return a study of a number of replications; see run_study."""
    if replications < 1:
        raise O2simError(f"a study needs at least 1 replication, not {replications}")
    kept = scenario if joint is None else joint.kept_as(scenario)
    gathering, at_hand = _at_hand(kept, names, seed, replications, store, days)
    chunks = missing(names, replications, at_hand)
    left = sum(chunk.size for chunk in chunks)
    daily = days.wanted
    pacer, spent_s, keep = Pacer(chunk_size, LARGEST_DAILY if daily else LARGEST), 0.0, store is not None

    def arguments(chunk: Chunk) -> tuple[Sequence[Scenario], Chunk, int, str, bool, bool]:
        rows = [scenario] if joint is None else joint.rows_from(chunk.first, chunk.stop)
        return rows, chunk, seed, engine, keep, daily

    try:
        gathering.go_on()
        if left < replications:
            progress(replications - left)
        with crew, Writer(store) as writer:
            _one_by_one(pacer, crew, chunk_size, keep)
            for chunk, done in run_pieces(crew, run_chunk, cut(chunks, pacer), arguments):
                gathering.take(done.outcomes)
                writer.add(
                    Range(kept.hash, name, seed, chunk.first, chunk.stop, engine, packed)
                    for name, packed in done.packed.items()
                )
                left -= chunk.size
                spent_s += done.seconds
                pacer.learn(chunk.size, done.seconds)
                crew.consider(spent_s, left * pacer.seconds_each)
                _one_by_one(pacer, crew, chunk_size, keep)
                progress(replications - left)
    except KeyboardInterrupt:
        if not gathering.whole:
            raise
    return Study(scenario, seed, engine, replications, gathering.outcomes(), joint=joint)


@dataclass(frozen=True)
class Done:
    """A chunk that is finished: outcomes and packed outcomes (none without a store) by strategy, and how long."""

    outcomes: dict[str, list[Reduced]]
    packed: dict[str, Packed]
    seconds: float


def run_chunk(
    rows: Sequence[Scenario], chunk: Chunk, seed: int, engine: str, keep: bool, daily: bool = False
) -> Done:
    """Return what is kept of a chunk's outcomes, and all of them packed for a store if they are to be kept.

    rows: the scenarios that its replications meet in turn, from the first on; one without joint draws. daily:
    their daily counts come too.
    """
    began = time.perf_counter()
    found: dict[str, list[Reduced]] = {name: [] for name in chunk.strategies}
    whole: dict[str, list[Outcome]] = {name: [] for name in chunk.strategies}
    costs: dict[str, list[float | None]] = {name: [] for name in chunk.strategies}
    known = [_as_before(rows[0])] if len(rows) == 1 else rows
    for place, k in enumerate(range(chunk.first, chunk.stop)):
        scenario = known[place % len(known)]
        row = run_replication(scenario, chunk.strategies, seed, k, engine)
        for name, outcome in zip(chunk.strategies, row, strict=True):
            found[name].append(reduced(outcome, scenario.hospitals[name], daily))
            if keep:
                whole[name].append(outcome)
                costs[name] += costs_of(scenario, name, [outcome])
    packed = {name: pack(many, costs[name]) for name, many in whole.items()} if keep else {}
    return Done(found, packed, time.perf_counter() - began)


def _as_before(scenario: Scenario) -> Scenario:
    """Return the scenario of the last piece where it is equal: the engine keeps memory for each that it meets."""
    if _last and _last[0].hash == scenario.hash and _last[0] == scenario:
        return _last[0]
    _last[:] = [scenario]
    return scenario


def costs_of(scenario: Scenario, strategy: str, outcomes: Sequence[Outcome]) -> list[float | None]:
    """Return money a year of each outcome, all items together; None without prices."""
    hospital = scenario.hospitals[strategy]
    if hospital.costs is None:
        return [None] * len(outcomes)
    return [sum(annual_cost(hospital, outcome).values()) for outcome in outcomes]


def _at_hand(
    scenario: Scenario,
    names: Sequence[str],
    seed: int,
    replications: int,
    store: RunStore | None,
    days: Days,
) -> tuple[Gathering, dict[str, set[int]]]:
    """Return what gathers the outcomes, and which a store holds already; note in it what is about to be run."""
    hospitals = {name: scenario.hospitals[name] for name in names}
    if store is None:
        return Gathering(hospitals, {}, None, days), {name: set() for name in names}
    store.begin([scenario], names, seed, replications)
    stored = {name: store.stored(scenario.hash, name, seed, replications) for name in names}
    numbers = {name: {k for each in many for k in each.numbers} for name, many in stored.items()}
    return Gathering(hospitals, stored, store, days), numbers


def _one_by_one(pacer: Pacer, crew: Crew, chunk_size: int | None, keep: bool) -> None:
    """Let pieces be single replications where that costs nothing, so that Ctrl-C loses only the one in hand."""
    if chunk_size is None:
        pacer.fixed = 1 if crew.window == 1 and not keep else None


def ready_engine(scenario: Scenario, engine: str) -> str:
    """Return the engine that will run, compiled here if it has to be: no two workers compile it at once."""
    engine = engine_at_hand(engine)
    make_ready(engine, next(iter(scenario.hospitals.values())))
    return engine


def run_replication(
    scenario: Scenario, strategies: Sequence[str], seed: int, replication: int, engine: str
) -> tuple[Outcome, ...]:
    """Return one replication's outcome under each strategy, all under the same draws; depends on nothing else."""
    draws = Draws(seed, replication)
    return tuple(simulate(scenario, name, draws, engine=engine) for name in strategies)


def rerun(scenario: Scenario, strategy: str, seed: int, replication: int, engine: str = "kernel") -> Outcome:
    """Return one replication run again, with its event log. Raises O2simError as run_study does."""
    (name,) = _chosen(scenario, [strategy])
    if replication < 0:
        raise O2simError(f"replications are numbered from 0; there is no replication {replication}")
    return simulate(scenario, name, Draws(seed, replication), engine=engine, log=True)


def worst_replication(study: Study, strategy: str) -> int:
    """Return the number of the replication with most time unserved for lack of supply.

    Ties go to the most time unserved for any cause, then to the lowest number. Raises O2simError for a strategy
    that is not in the study.
    """
    if strategy not in study.outcomes:
        raise O2simError(_unknown(strategy, list(study.outcomes)))

    outcomes = study.outcomes[strategy]
    order = np.lexsort((-outcomes.column("unserved_s").sum(axis=1), -outcomes.supply_unserved_s))
    return int(outcomes.column("replication")[order[0]])


def one_or_many(strategies: str | Sequence[str]) -> Sequence[str]:
    """Return names of strategies, where one was given as the text that it is."""
    return [strategies] if isinstance(strategies, str) else strategies


def _chosen(scenario: Scenario, strategies: Sequence[str] | None) -> tuple[str, ...]:
    """Return the strategies asked for, each once, in the order of the file."""
    wanted = scenario.strategies if strategies is None else one_or_many(strategies)
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
