"""Arguments in, text, JSON or files and an exit code out; nothing is computed here."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import click

from o2sim.commands.batch import (
    Workforce,
    check_strategies,
    identity,
    kept_crew,
    leave_if_stopped,
    make_ready,
    run_with_bar,
    send_ahead,
    workforce_options,
)
from o2sim.commands.options import (
    FAILED,
    MISUSED,
    OK,
    STOPPED,
    Place,
    engine_option,
    file_argument,
    load,
    print_json,
    seed_option,
)
from o2sim.commands.precision import draw_convergence, precision_options, refuse, tell_plan
from o2sim.errors import O2simError, ScenarioError
from o2sim.questions.bedside.command import cylinder
from o2sim.questions.choose.command import (
    choosing_options,
    decision_of,
    is_asked,
    leave_if_unfinished,
    staging,
    to_choose,
)
from o2sim.questions.demo.command import demo
from o2sim.questions.documents.command import describe, new, schema
from o2sim.questions.drivers.command import drivers
from o2sim.questions.equipment.command import equipment
from o2sim.questions.facilities.command import study
from o2sim.questions.report.command import report
from o2sim.questions.size.command import size
from o2sim.questions.store.command import runs
from o2sim.questions.whatif.command import whatif
from o2sim.version import __version__

LAST_REPLICATION = 10**9  # far below 2**64, where numbers of replications would come round to 0 again
EPILOG = """Exit codes: 0 all went well; 1 o2sim could not finish (output not writable, a broken balance);
2 wrong usage or a problem in the scenario; 130 stopped by Ctrl-C, after reporting what was completed.

This plans supply and prescribes nothing: local codes, guidelines and licensed practice come first."""


class Program(click.Group):
    """A group of commands that turns every error into one message on stderr and its documented exit code."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run and leave with the exit code."""
        extra["standalone_mode"] = False
        run_commands: Callable[..., Any] = super().main
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="replace")  # a terminal without the letters shows "?", not a traceback
        sys.exit(_exit_code(lambda: run_commands(*args, **extra)))


def _exit_code(command: Callable[[], Any]) -> int:
    try:
        code = command()
        sys.stdout.flush()
    except click.ClickException as error:
        error.show(sys.stderr)
        return error.exit_code
    except click.Abort:
        click.echo("Stopped.", err=True)
        return STOPPED
    except ScenarioError as error:
        click.echo(str(error), err=True)
        return MISUSED
    except O2simError as error:
        click.echo(f"Error: {error}", err=True)
        return FAILED
    except OSError as error:
        if error.errno == errno.EPIPE:  # the reader has left, which is no error; click ends quietly
            raise
        _drop_output()
        click.echo(f"Error: the output cannot be written ({error.strerror or error})", err=True)
        return FAILED
    return code if isinstance(code, int) else OK


def _drop_output() -> None:
    """Let what is still waiting for stdout go nowhere, so that Python does not try it again at the end."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):  # not a stream of the system
        return


@dataclass(frozen=True)
class Settings:
    """The options that `run` and `compare` share."""

    replications: int | None
    seed: int
    engine: str
    as_json: bool
    precision: float | None = None
    convergence: Path | None = None
    force: bool = False
    out: Path | None = None
    workers: int | None = None
    cluster: str | None = None
    store: Path | None = None

    @property
    def workforce(self) -> Workforce:
        """Return who does the work, and where what is finished is kept."""
        return Workforce(self.workers, self.cluster, self.store)


def _shared_options(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        click.option(
            "--out",
            type=Place(),
            help="Also write CSV, charts and a manifest into this folder.",
        ),
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else."),
        engine_option,
        seed_option,
        click.option(
            "--replications",
            type=click.IntRange(1, 1_000_000),
            help="How many times to run the horizon, fixed beforehand; with --precision the most allowed.  "
            "[default: 200, with --precision 10000]",
        ),
        precision_options,
        workforce_options,
    ):
        command = option(command)
    return command


@click.group(cls=Program, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="o2sim")
def main() -> None:
    """Compare ways to supply a hospital with oxygen: how often someone goes without, why, and what it costs.

    FILE is a scenario in YAML. Start with `o2sim new FILE`, or with one of the hospitals that `o2sim demo FOLDER`
    writes, then `o2sim check FILE` and `o2sim compare FILE`.
    """


@main.command()
@file_argument
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
def check(file: Path, as_json: bool) -> None:
    """Look for mistakes in a scenario, and print what it amounts to."""
    from o2sim.planning.figures import planning_figures
    from o2sim.scenario import warnings

    scenario = load(file)
    figures = {name: planning_figures(hospital) for name, hospital in scenario.hospitals.items()}
    if as_json:
        doubts = [asdict(problem) for problem in warnings(scenario)]
        strategies = {name: asdict(item) for name, item in figures.items()}
        about = {**identity(scenario), "figures": scenario.figures}
        print_json({**about, "warnings": doubts, "strategies": strategies})
        return
    from o2sim.questions.check.screen import print_check

    print_check(scenario, figures)


@main.command()
@file_argument
@click.option("--strategy", required=True, help="The strategy to run.")
@_shared_options
def run(file: Path, strategy: str, **options: Any) -> None:
    """Run one strategy of a scenario many times."""
    _study(file, [strategy], Settings(**options))


@main.command()
@file_argument
@click.option("--strategy", "strategies", multiple=True, help="Only this one; may be repeated. Default: all.")
@choosing_options
@_shared_options
def compare(file: Path, strategies: tuple[str, ...], **options: Any) -> None:
    """Compare the strategies of a scenario, all meeting the same patients, power cuts and roads.

    With --options, or a limit, it says which to buy: cost against reliability, the best within a budget, the
    cheapest within a target, what more money buys, the cheque to be signed, and what to buy for the chosen one.
    """
    asked = {name: options.pop(name) for name in ("use_options", "budget", "capital", "target")}
    _study(file, strategies, Settings(**options), asked if is_asked(asked) else None)


@main.command()
@file_argument
@click.option("--strategy", required=True, help="The strategy to follow.")
@click.option("--replication", type=click.IntRange(0, LAST_REPLICATION), help="Which replication, from 0.")
@click.option("--worst", is_flag=True, help="The one with most unserved patient-hours for want of supply.")
@click.option(
    "--replications",
    type=click.IntRange(1, 1_000_000),
    default=200,
    show_default=True,
    help="With --worst: how many to search.",
)
@click.option("--full", is_flag=True, help="Every step, not just those around interruptions.")
@click.option("--csv", "csv_file", type=Place(), help="Also write every step to this file.")
@click.option("--json", "as_json", is_flag=True, help="Print every step as one JSON object.")
@seed_option
@engine_option
def trace(
    file: Path,
    strategy: str,
    replication: int | None,
    worst: bool,
    replications: int,
    full: bool,
    csv_file: Path | None,
    as_json: bool,
    seed: int,
    engine: str,
) -> None:
    """Follow one replication step by step, to see why somebody went without."""
    from o2sim.looks.files import write_csv
    from o2sim.looks.screen import provenance
    from o2sim.questions.trace import timeline
    from o2sim.runs.study import rerun, worst_replication

    if (replication is None) != worst:
        raise click.UsageError("give either --replication K or --worst")
    scenario = load(file)
    check_strategies(scenario, [strategy])
    searched = None
    if replication is None:
        searched = run_with_bar(scenario, [strategy], replications, seed, engine)
        replication = worst_replication(searched, strategy)
    make_ready(scenario, engine)
    hospital = scenario.hospitals[strategy]
    log = rerun(scenario, strategy, seed, replication, engine).log
    if csv_file is not None:
        write_csv(csv_file, timeline.CSV_COLUMNS, timeline.csv_rows(hospital, log))
    if as_json:
        steps = [dict(zip(timeline.CSV_COLUMNS, row, strict=True)) for row in timeline.csv_rows(hospital, log)]
        which = {"strategy": strategy, "seed": seed, "replication": replication, "engine": engine}
        print_json({**identity(scenario), **which, "steps": steps})
    else:
        click.echo("\n".join(timeline.story(hospital, log, full=full)) + "\n")
        click.echo(provenance(scenario, seed, f"{strategy}, replication {replication}", engine))
    leave_if_stopped(searched)


main.add_command(size)
main.add_command(whatif)
main.add_command(drivers)
main.add_command(equipment)
main.add_command(study)
main.add_command(runs)
main.add_command(cylinder)
main.add_command(demo)
main.add_command(new)
main.add_command(schema)
main.add_command(describe)
main.add_command(report)


def _study(file: Path, strategies: Sequence[str], settings: Settings, asked: dict[str, Any] | None = None) -> None:
    """Run, report and write; leave with 130 where Ctrl-C cut the batch short. asked: the options of choosing."""
    send_ahead(settings.workforce, settings.replications)
    from o2sim.measures.measures import summarise

    scenario = home = load(file)
    if asked is not None:
        scenario, limits = to_choose(scenario, asked)
    check_strategies(scenario, strategies)
    if settings.out is not None:
        from o2sim.questions.compare.results_folder import require_writable

        require_writable(settings.out)  # before the work, not after it
    refuse(settings.convergence, settings.force)
    with kept_crew(settings.workforce) as crew:
        run = partial(run_with_bar, workforce=settings.workforce, home=home, crew=crew)
        batch = run(
            scenario,
            strategies,
            settings.replications,
            settings.seed,
            settings.engine,
            precision=settings.precision,
            planned=tell_plan,
        )
        decision = None if asked is None else decision_of(batch, limits, run, crew)
    summary = summarise(batch)
    if settings.precision is not None or settings.convergence is not None:
        from o2sim.runs.convergence import convergence

        summary["convergence"] = convergence(batch)
    if settings.as_json:
        print_json(summary if decision is None else {**summary, "decision": decision})
    elif decision is not None:
        from o2sim.questions.choose.screen import print_decision

        print_decision(batch, summary, decision)
    else:
        from o2sim.questions.compare.screen import print_study

        print_study(batch, summary)
    if settings.out is not None:
        from o2sim.questions.compare.results_folder import write_results

        more = None if decision is None else staging(decision)
        written = write_results(settings.out, batch, summary, command=["o2sim", *sys.argv[1:]], more=more)
        click.echo(f"{len(written)} files written to {settings.out}", err=True)
    if settings.convergence is not None:
        draw_convergence(settings.convergence, batch)
    leave_if_stopped(batch)
    leave_if_unfinished(decision)
