"""`o2sim report`: the whole answer as one file, for those who decide."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

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
    from o2sim.questions.report.publish import (
        decided,
        own_companion,
        report_bytes,
        report_format,
        source_of,
        stands_alone,
        with_companion,
    )
    from o2sim.questions.report.varied import kept_varied
    from o2sim.runs.supply_alone import companion_of

    if out is None:
        out = Path(f"report.{kind or 'html'}")
    chosen = report_format(out, kind or "")
    if kind is None and out.suffix.lower() != f".{chosen}":
        raise click.UsageError(f"--out {out}: end the name in .html, .xlsx or .md, or give --format")
    if not out.parent.is_dir():
        raise click.UsageError(f"--out {out}: there is no folder {out.parent}; make it first")
    places.refuse("--out", out, force)
    scenario = load(file)
    strategies = batch.strategies or ()
    check_strategies(scenario, strategies)
    choice = to_choose(scenario, asked) if is_asked(asked) else None
    said = source_of(scenario)  # before the run, in which the file may be changed
    settings = shared.BatchSettings(replications=batch.replications, seed=luck.seed, engine=luck.engine)
    decision, stopped = None, ""
    with crew_of(workforce) as crew:
        run = partial(run_with_bar, workforce=workforce, home=scenario, crew=crew)
        study = last = run(scenario, strategies, settings=settings)
        companion = own = companion_of(study, run)
        whole = companion is not None and companion.complete
        try:
            varied = kept_varied(study, run) if whole else None
        except KeyboardInterrupt:
            varied, stopped = None, "the headline at other values"
        if choice is not None and whole and not stopped:
            among, limits = choice
            try:
                last = study if among is scenario else run(among, settings=settings)
                decision = decision_of(last, limits, run, crew)
                if stands_alone(decision):
                    own = own_companion(last, decision, run) if is_finished(decision) else None
            except KeyboardInterrupt:
                stopped = "any replication of the options"  # the report of the strategies is still to be had
    more, sheets = ([], []) if decision is None else decided(last, decision, again(asked))
    beside = with_companion(study, companion)
    picked = None if decision is None else Choice(decision, last, own)
    content = report_bytes(study, beside, chosen, said, more, sheets, varied, picked)
    try:
        places.write_all([(out, lambda path: write_bytes(path, content))])
    except OutputError:  # what was computed is shown all the same
        click.echo(report_bytes(study, beside, "md", said, more, [], varied, picked).decode(), nl=False)
        raise
    if stopped:
        click.echo(f"Stopped before {stopped}; the report is of the strategies.", err=True)
        raise click.exceptions.Exit(STOPPED)
    leave_if_stopped(last)
    leave_without_companion(companion)
    leave_if_unfinished(decision)
    leave_without_companion(own)
