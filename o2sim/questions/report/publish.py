"""The report of a study as one file: a page (html), a workbook (xlsx) or Markdown (md)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from o2sim.errors import O2simError, ScenarioError
from o2sim.looks.blocks import Block, Part
from o2sim.looks.files import require_free, write_bytes
from o2sim.looks.words import Summary
from o2sim.looks.workbook import Sheet, workbook
from o2sim.measures.measures import summarise
from o2sim.measures.supply_alone import beside
from o2sim.questions.choose.comparison import Comparison
from o2sim.questions.report.varied import kept_varied, table
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
        result.study, *decided(result.study, result.decided, kind)
    )  # fmt: skip
    run = partial(run_study, workers=workers)
    made = None if isinstance(result, Study) else result.companion
    summary = with_companion(study, companion_of(study, run) if made is None else made)
    said, extra = source_of(study.scenario), at_other_values(study, run)
    write_bytes(place, report_bytes(study, summary, kind, said, more, sheets, extra))
    return place


def with_companion(study: Study, companion: Study | None) -> Summary:
    """Return the summary of a study, with what no staff could prevent where that was run."""
    summary = summarise(study)
    return summary if companion is None else {**summary, "supply_alone": as_json(beside(study, companion))}


def at_other_values(study: Study, run: Callable[..., Study]) -> list[Block]:
    """Return the headline where notes to change a cylinder in time are kept less, or more often."""
    found = kept_varied(study, run)
    return [] if found is None else list(table(found))


def decided(study: Study, decision: Any, kind: str, again: str = "") -> tuple[list[Part], list[Sheet]]:
    """Return the part and the sheets that say which option to buy."""
    from o2sim.questions.choose.screen import decision_part, decision_sheets

    part = decision_part(study, summarise(study), decision, drawn=kind != "xlsx", again=again)
    return [part], decision_sheets(decision)


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
    extra: Sequence[Block] = (),
) -> bytes:
    """Return the report in one of FORMATS; said is the source of the scenario's file, None where there is none.

    more and more_sheets: parts and, of a workbook, sheets that go with it, such as which option to buy. extra:
    what else is to be said of how sure it is.
    """
    from o2sim.looks.html import report_page
    from o2sim.looks.markdown import document
    from o2sim.questions.compare.headline import leading_strategy
    from o2sim.questions.report import text as report_text
    from o2sim.questions.report.charts import pictures
    from o2sim.questions.report.sheets import sheets

    currency = str(summary["currency"] or "")
    names = [leading_strategy(summary), *study.outcomes]  # whose stock is drawn: the first of them that has one
    stocked = next((name for name in names if study.scenario.hospitals[name].cylinders is not None), names[0])
    drawn = [] if kind == "xlsx" else pictures(study, summary, stocked, currency)
    parts = report_text.parts(study, summary, drawn, said, more, extra)
    if kind == "xlsx":
        return workbook([*sheets(study, summary, parts, said), *more_sheets])
    title = report_text.title(study.scenario)
    text = document(title, parts) if kind == "md" else report_page(title, parts, FOOTER)
    return text.encode("utf-8", "replace")


def source_of(scenario: Scenario) -> Source | None:
    """Return what the file of a scenario says, None where it is no longer there or no longer the same."""
    try:
        return source(scenario.file) if load(scenario.file).hash == scenario.hash else None
    except (OSError, ScenarioError):
        return None
