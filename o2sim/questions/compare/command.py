"""`o2sim run` and `o2sim compare`: one strategy, or several side by side, and which to buy."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands import places
from o2sim.commands.batch import (
    Workforce,
    check_strategies,
    crew_of,
    joint_of,
    leave_if_stopped,
    leave_without_companion,
    run_with_bar,
    send_ahead,
)
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import file_argument, file_setting, json_setting, load, print_json
from o2sim.commands.precision import Convergence, draw_convergence, refuse, tell_plan
from o2sim.questions.choose.command import (
    decision_of,
    is_asked,
    is_finished,
    leave_if_unfinished,
    staging,
    to_choose,
)
from o2sim.questions.choose.settings import ChooseSettings, CompareSettings
from o2sim.runs.settings import BatchSettings, Drawn
from o2sim.settings import setting
from o2sim.typed import as_json

if TYPE_CHECKING:
    from o2sim.questions.compare.daily_file import DailyFile
    from o2sim.scenario.types.hospital import Scenario


@dataclass(frozen=True)
class Outputs:
    """What is printed, and written where."""

    as_json: bool = json_setting()
    full: bool = setting(False, "Print all figures, not only the first screen.")
    out: Path | None = file_setting("Also write CSV, charts and a manifest into this folder.")
    daily: bool = setting(
        False, "With --out: also the state at each midnight, as daily.csv; 30 kB a replication, strategy and year."
    )


def batch_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that both commands have."""
    convergence = options_from(Convergence, "drawn")
    for add in (
        options_from(Outputs, "outputs"),
        options_from(Drawn, "over"),
        options_from(BatchSettings, after={"precision": convergence}),
        options_from(Workforce, "workforce"),
    ):
        command = add(command)
    return command


@click.command(short_help="One strategy alone.")
@file_argument
@click.option("--strategy", required=True, help="The strategy to run.")
@batch_options
def run(file: Path, strategy: str, **options: Any) -> None:
    """Run one strategy of a scenario many times."""
    _study(file, [strategy], **options)


@click.command(short_help="All strategies under the same luck, intervals and costs.")
@file_argument
@options_from(CompareSettings, "asked")
@batch_options
def compare(file: Path, asked: CompareSettings, **options: Any) -> None:
    """Compare the strategies of a scenario, all meeting the same patients, power cuts and roads.

    With --options, or a limit, it says which to buy: cost against reliability, the best within a budget, the
    cheapest within a target, what more money buys, the cheque to be signed, and what to buy for the chosen one.
    With --supply-alone each is also run with perfect handling: what is short there no staff could prevent.
    """
    chosen = asked if is_asked(asked) else None
    _study(file, asked.strategies or (), chosen, asked.supply_alone, **options)


def _study(
    file: Path,
    strategies: Sequence[str],
    asked: ChooseSettings | None = None,
    supply_alone: bool = False,
    *,
    over: Drawn,
    settings: BatchSettings,
    workforce: Workforce,
    drawn: Convergence,
    outputs: Outputs,
) -> None:
    """Run, report and write; leave with 130 where Ctrl-C cut the batch short.

    asked: what is to be chosen by. supply_alone: whether the companion run is made too.
    """
    send_ahead(workforce, settings.replications)
    from o2sim.measures.measures import summarise
    from o2sim.measures.supply_alone import beside
    from o2sim.runs.supply_alone import companion_of

    scenario = home = load(file, uncertain_too=over.draws is not None)
    _refuse_together(over, asked, settings, drawn)
    joint = joint_of(over.draws, scenario)
    if asked is not None:
        scenario, limits = to_choose(scenario, asked)
    check_strategies(scenario, strategies)
    if outputs.daily and outputs.out is None:
        raise click.UsageError("--daily: say into which folder; add --out FOLDER")
    if outputs.out is not None:
        from o2sim.questions.compare.results_folder import require_writable

        require_writable(outputs.out, outputs.daily)  # before the work, not after it
    refuse(drawn.convergence, drawn.force)
    daily = _daily_file(outputs, scenario)
    with crew_of(workforce) as crew:
        run = partial(run_with_bar, workforce=workforce, home=home, crew=crew)
        on_daily = None if daily is None else daily.add
        batch = run(scenario, strategies, settings=settings, planned=tell_plan, on_daily=on_daily, draws=joint)
        decision = None if asked is None else decision_of(batch, limits, run, crew)
        companion = companion_of(batch, run) if supply_alone and is_finished(decision) else None
    summary = summarise(batch)
    if companion is not None:
        summary["supply_alone"] = as_json(beside(batch, companion))
    if settings.precision is not None or drawn.convergence is not None:
        from o2sim.runs.convergence import convergence

        summary["convergence"] = convergence(batch)
    if outputs.as_json:
        print_json(summary if decision is None else {**summary, "decision": as_json(decision)})
    elif decision is not None:
        from o2sim.questions.choose.screen import print_decision

        print_decision(batch, summary, decision)
    else:
        from o2sim.questions.compare.screen import print_study

        print_study(batch, summary, outputs.full, outputs.out is not None)

    def write_folder(folder: Path) -> str:
        from o2sim.questions.compare.results_folder import write_results

        more = None if decision is None else staging(decision)
        command = ["o2sim", *sys.argv[1:]]
        put = None if daily is None else daily.put
        written = write_results(folder, batch, summary, command, more, companion, put)
        return f"{len(written)} files written to {folder}"

    jobs = [(outputs.out, write_folder), (drawn.convergence, lambda path: draw_convergence(path, batch))]
    places.write_all((path, write) for path, write in jobs if path is not None)
    leave_if_stopped(batch)
    leave_if_unfinished(decision)
    if supply_alone:
        leave_without_companion(companion)


def _refuse_together(
    over: Drawn, asked: ChooseSettings | None, settings: BatchSettings, drawn: Convergence
) -> None:
    """Refuse what joint draws do not go with, before they are read."""
    if over.draws is None:
        return
    without = "leave either out"
    if asked is not None:
        raise click.UsageError(f"--draws goes without --options, --budget, --capital and --target; {without}")
    if settings.precision is not None:
        raise click.UsageError(
            "--draws goes without --precision, whose pilot plans for replications that share no row; give "
            "--replications"
        )
    if drawn.convergence is not None:
        raise click.UsageError(f"--draws goes without --convergence, whose intervals know no rows; {without}")


def _daily_file(outputs: Outputs, scenario: Scenario) -> DailyFile | None:
    """Return what takes the daily counts as they come, open until the command ends; None where nobody asked."""
    if not outputs.daily or outputs.out is None:
        return None
    from o2sim.questions.compare.daily_file import DailyFile

    return click.get_current_context().with_resource(DailyFile(outputs.out, scenario))
