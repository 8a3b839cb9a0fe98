"""The report of a study as one file: a page (html), a workbook (xlsx) or Markdown (md)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from o2sim.errors import O2simError, ScenarioError
from o2sim.looks.blocks import Part
from o2sim.looks.files import require_free, write_bytes
from o2sim.looks.words import Summary
from o2sim.looks.workbook import Sheet, workbook
from o2sim.measures.measures import summarise
from o2sim.measures.supply_alone import beside
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.choose.result import Decision
from o2sim.questions.report.chosen import Choice, about
from o2sim.questions.report.varied import Varied, kept_varied
from o2sim.runs.study import Study, run_study
from o2sim.runs.supply_alone import companion_of
from o2sim.scenario import load
from o2sim.scenario.text.source import Source, source
from o2sim.scenario.types.hospital import Scenario
from o2sim.typed import as_json
from o2sim.version import __version__

FORMATS = ("html", "xlsx", "md")
FOOTER = f"Written by o2sim {__version__}. It plans supply and prescribes nothing."


def write_report(
    result: Study | Comparison,
    path: str | Path,
    *,
    format: str = "",
    overwrite: bool = False,
    workers: int | None = 1,
) -> Path:
    """Write the report of a study to a file and return its path; the same study gives the same bytes.

    Of a comparison it also says which to buy. What no staff could prevent takes a second run, of perfect handling,
    unless the comparison has it; workers are those of run_study.
    format is html, xlsx or md; by default the end of the name says which, html where it does not. The
    page holds its drawings and loads nothing from elsewhere. The assumptions are listed from the scenario's file,
    where that is still what was run. Raises OutputError where the file is there already (unless overwrite) or
    cannot be written, O2simError for an unknown format.
    """
    if not isinstance(result, Study | Comparison):
        raise O2simError(f"found {type(result).__name__}; allowed: a study or a comparison to report")
    place = Path(path)
    kind = report_format(place, format)
    require_free(place, overwrite)
    study, more, sheets = (result, [], []) if isinstance(result, Study) else (
        result.study, *decided(result.study, result.decided)
    )  # fmt: skip
    choice = None if isinstance(result, Study) else Choice(result.decided, result.study)
    run = partial(run_study, workers=workers)
    made = None if isinstance(result, Study) else result.companion
    summary = with_companion(study, companion_of(study, run) if made is None else made)
    said, varied = source_of(study.scenario), kept_varied(study, run)
    write_bytes(place, report_bytes(study, summary, kind, said, more, sheets, varied, choice))
    return place


def with_companion(study: Study, companion: Study | None) -> Summary:
    """Return the summary of a study, with what no staff could prevent where that was run."""
    summary = summarise(study)
    return summary if companion is None else {**summary, "supply_alone": as_json(beside(study, companion))}


def stands_alone(decision: Decision) -> bool:
    """Return True where an option was chosen, of which the run of the file's strategies has nothing."""
    return any(option.choices for option in decision.options.values())


def own_companion(study: Study, decision: Decision, run: Callable[..., Study]) -> Study | None:
    """Return the run of the chosen option alone with perfect handling, as companion_of does."""
    return companion_of(replace(study, outcomes={decision.chosen: study.outcomes[decision.chosen]}), run)


def decided(study: Study, decision: Decision, again: str = "") -> tuple[list[Part], list[Sheet]]:
    """Return the parts and the sheets that say which option to buy."""
    from o2sim.questions.choose.screen import decision_annex, decision_part, decision_sheets

    part = decision_part(study, summarise(study), decision, again=again)
    return [part, *decision_annex(decision)], decision_sheets(decision)


def report_format(path: Path, asked: str = "") -> str:
    """Return the format asked for, else that of the end of the name, else html."""
    kind = asked or path.suffix.lower().lstrip(".")
    if asked and asked not in FORMATS:
        raise O2simError(f"found the format {asked!r}; allowed: {', '.join(FORMATS)}")
    return kind if kind in FORMATS else "html"


def report_bytes(
    study: Study,
    summary: Summary,
    kind: str,
    said: Source | None,
    more: Sequence[Part] = (),
    more_sheets: Sequence[Sheet] = (),
    varied: Varied | None = None,
    choice: Choice | None = None,
) -> bytes:
    """Return the report in one of FORMATS; said is the source of the scenario's file, None where there is none.

    more and more_sheets: parts and, of a workbook, sheets that go with it, such as which option to buy. varied:
    the headline with a key at other values. choice: what was chosen, and over which study; the leading strategy
    where there is none.
    """
    from o2sim.looks.html import report_page
    from o2sim.looks.markdown import document
    from o2sim.questions.report import text as report_text
    from o2sim.questions.report.pictures import pictures
    from o2sim.questions.report.sheets import sheets

    shown = about(study, summary, choice, every=kind == "xlsx")
    drawn = [] if kind == "xlsx" else pictures(shown)
    parts = report_text.parts(shown, drawn, said, more, varied)
    if kind == "xlsx":
        return workbook([*sheets(shown, parts, said), *more_sheets])
    title = report_text.title(study.scenario)
    text = document(title, parts) if kind == "md" else report_page(title, parts, FOOTER)
    return text.encode("utf-8", "replace")


def source_of(scenario: Scenario) -> Source | None:
    """Return what the file of a scenario says, None where it is no longer there or no longer the same."""
    try:
        return source(scenario.file) if load(scenario.file).hash == scenario.hash else None
    except (OSError, ScenarioError):
        return None
