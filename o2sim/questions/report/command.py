"""`o2sim report`: the whole answer as one file, for those who decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands import places
from o2sim.commands.batch import (
    Workforce,
    check_strategies,
    crew_of,
    leave_if_stopped,
    leave_without_companion,
    run_with_bar,
)
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import STOPPED, file_argument, force_option, load
from o2sim.commands.reading import Place
from o2sim.errors import OutputError
from o2sim.questions.choose.command import (
    again,
    decision_of,
    is_asked,
    is_finished,
    leave_if_unfinished,
    to_choose,
)
from o2sim.questions.choose.settings import ChooseSettings
from o2sim.runs import settings as shared

if TYPE_CHECKING:  # loaded when a report is made, so that --help stays quick
    from o2sim.questions.choose.result import Decision
    from o2sim.questions.report.varied import Varied
    from o2sim.runs.study import Study
    from o2sim.scenario.types.hospital import Scenario


@dataclass(frozen=True)
class Batch(shared.Strategies):
    """What is run."""

    replications: int = shared.replications(200, "How many times to run the horizon, fixed beforehand.")


@click.command(short_help="The whole answer as one page, workbook or Markdown.")
@file_argument
@click.option("-o", "--out", type=Place(), help="Write to this file.  [default: report.html, .xlsx or .md]")
@click.option(
    "--format",
    "kind",
    type=click.Choice(["html", "xlsx", "md"]),
    help="A page, a workbook or Markdown; by default as the name of the file ends.",
)
@options_from(Batch, "batch")
@options_from(ChooseSettings, "asked")
@options_from(Workforce, "workforce")
@options_from(shared.Luck, "luck")
@force_option
def report(
    file: Path,
    out: Path | None,
    kind: str | None,
    batch: Batch,
    asked: ChooseSettings,
    workforce: Workforce,
    luck: shared.Luck,
    force: bool,
) -> None:
    """Write the answer as one page that opens offline, prints on A4 and reads on a phone.

    The first page has the question, the decision, three figures, a picture and what to do first. Then come the
    strategies with their intervals, what no staff could prevent, drawings, how sure it is, what was not covered
    and the cautions; an annex has all figures, what was assumed and where it comes from. It is about the strategy
    that leads, or with --options or a limit about the one chosen, and then also says which to buy. The same file,
    seed and number of replications give the same bytes.
    With --store a report that is stopped goes on where it was, and uses what `run` and `compare` have put there.
    """
    from o2sim.looks.files import write_bytes
    from o2sim.questions.report.chosen import Choice
    from o2sim.questions.report.publish import decided, report_bytes, source_of, with_companion

    out, chosen = _place(out, kind, force)
    scenario = load(file)
    check_strategies(scenario, batch.strategies or ())
    choice = to_choose(scenario, asked) if is_asked(asked) else None
    said = source_of(scenario)  # before the run, in which the file may be changed
    settings = shared.BatchSettings(replications=batch.replications, seed=luck.seed, engine=luck.engine)
    with crew_of(workforce) as crew:
        run = partial(run_with_bar, workforce=workforce, home=scenario, crew=crew)
        ran = _run(scenario, batch.strategies or (), choice, settings, run, crew)
    more, sheets = ([], []) if ran.decision is None else decided(ran.last, ran.decision, again(asked))
    beside = with_companion(ran.study, ran.companion)
    picked = None if ran.decision is None else Choice(ran.decision, ran.last, ran.own)
    content = report_bytes(ran.study, beside, chosen, said, more, sheets, ran.varied, picked)
    try:
        places.write_all([(out, lambda path: write_bytes(path, content))])
    except OutputError:  # what was computed is shown all the same
        click.echo(report_bytes(ran.study, beside, "md", said, more, [], ran.varied, picked).decode(), nl=False)
        raise
    _leave(ran)


def _place(out: Path | None, kind: str | None, force: bool) -> tuple[Path, str]:
    """Return where the report goes and in which format; refuse a place that cannot be written, before the work."""
    from o2sim.questions.report.publish import report_format

    if out is None:
        out = Path(f"report.{kind or 'html'}")
    chosen = report_format(out, kind or "")
    if kind is None and out.suffix.lower() != f".{chosen}":
        raise click.UsageError(f"--out {out}: end the name in .html, .xlsx or .md, or give --format")
    if not out.parent.is_dir():
        raise click.UsageError(f"--out {out}: there is no folder {out.parent}; make it first")
    places.refuse("--out", out, force)
    return out, chosen


@dataclass(frozen=True)
class _Ran:
    """What was run for a report. last: the study that was chosen from; own: the companion of the one chosen."""

    study: Study
    last: Study
    companion: Study | None
    own: Study | None
    varied: Varied | None
    decision: Decision | None = None
    stopped: str = ""  # before what Ctrl-C was heard


def _run(
    scenario: Scenario, strategies: Sequence[str], choice: Any, settings: shared.BatchSettings, run: Any, crew: Any
) -> _Ran:
    """Run the strategies, their companion and the headline at other values; then choose, where that is asked."""
    from o2sim.questions.report.varied import kept_varied
    from o2sim.runs.supply_alone import companion_of

    study = run(scenario, strategies, settings=settings)
    companion = companion_of(study, run)
    whole = companion is not None and companion.complete
    try:
        varied = kept_varied(study, run) if whole else None
    except KeyboardInterrupt:
        return _Ran(study, study, companion, companion, None, stopped="the headline at other values")
    ran = _Ran(study, study, companion, companion, varied)
    return ran if choice is None or not whole else _choose(ran, scenario, choice, settings, run, crew)


def _choose(
    ran: _Ran, scenario: Scenario, choice: Any, settings: shared.BatchSettings, run: Any, crew: Any
) -> _Ran:
    """Return what was run with the option or strategy chosen; Ctrl-C leaves the report of the strategies."""
    from o2sim.questions.report.publish import own_companion, stands_alone

    among, limits = choice
    try:
        last = ran.study if among is scenario else run(among, settings=settings)
        ran = replace(ran, last=last)
        decision = decision_of(last, limits, run, crew)
        ran = replace(ran, decision=decision)
        if not stands_alone(decision):
            return ran
        return replace(ran, own=own_companion(last, decision, run) if is_finished(decision) else None)
    except KeyboardInterrupt:
        return replace(ran, stopped="any replication of the options")


def _leave(ran: _Ran) -> None:
    """End with the exit code of what was stopped, if anything was."""
    if ran.stopped:
        click.echo(f"Stopped before {ran.stopped}; the report is of the strategies.", err=True)
        raise click.exceptions.Exit(STOPPED)
    leave_if_stopped(ran.last)
    leave_without_companion(ran.companion)
    leave_if_unfinished(ran.decision)
    leave_without_companion(ran.own)
