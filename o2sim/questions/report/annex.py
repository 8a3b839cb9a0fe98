"""The annex of the report: all figures, what was assumed, where it comes from."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path

from o2sim.looks import doubt
from o2sim.looks.assumptions import Assumption, assumptions, changes
from o2sim.looks.blocks import Block, Code, Part, Points, Table
from o2sim.looks.words import Summary
from o2sim.planning.figures import planning_figures
from o2sim.questions.check import rules_in_words as field
from o2sim.questions.check import text as planner
from o2sim.runs.study import Study
from o2sim.scenario import warnings
from o2sim.scenario.text.source import Source
from o2sim.scenario.types.hospital import Scenario

KEYS_NOTE = "What a file leaves out stands here with the default or the rule that takes its place."


def provenance_rows(study: Study, summary: Summary) -> list[tuple[str, str | int | float]]:
    """Return what is needed to get the same figures again."""
    file = Path(study.scenario.file).name
    return [
        ("o2sim", str(summary["version"])),
        ("scenario", study.scenario.name),
        ("scenario file", file),
        ("scenario hash", study.scenario.hash),
        *([("companion run", summary["supply_alone"]["scenario_hash"])] if "supply_alone" in summary else []),
        ("strategies", ", ".join(study.outcomes)),
        ("seed", study.seed),
        ("replications", study.replications),
        ("replications asked for", study.requested),
        ("horizon, days", summary["horizon_days"]),
        ("engine", study.engine),
        ("confidence", summary["confidence"]),
        ("the intervals hold", doubt.held(summary)),
    ]


def assumption_rows(source: Source | None) -> list[Assumption]:
    """Return every assumption of a file, those of its strategies last; headings of sections left out."""
    return [row for row in every_row(source) if not row.is_heading]


def every_row(source: Source | None) -> list[Assumption]:
    """Return every row, headings of sections too; none without a source."""
    if source is None:
        return []
    return [row for part in (*assumptions(source).values(), *changes(source).values()) for row in part]


def assumed(scenario: Scenario, source: Source | None) -> Iterator[Block]:
    """Yield what the assumptions amount to, the rules, the doubts, and every key with its value and source."""
    figures = {name: planning_figures(hospital) for name, hospital in scenario.hospitals.items()}
    yield "What the assumptions amount to:"
    yield Points(tuple(said for said in planner.sentences(figures) if said))
    rules = field.sentences(scenario)
    if rules:
        yield "Rules that are switched on:"
        yield Points(tuple(rules))
    doubts = [f"{each.field}: {each.found}" if each.field else str(each.found) for each in warnings(scenario)]
    if doubts:
        yield "Doubtful in the file:"
        yield Points(tuple(doubts))
    if scenario.uncertain:
        yield Table(doubt.UNCERTAIN_HEADS, tuple(doubt.uncertain_rows(scenario)))
    if source is None:
        yield "The file could not be read again, so its keys are not listed."
        return
    yield f"Every key follows with its value and where that comes from. {KEYS_NOTE}"
    for part, rows in assumptions(source).items():
        yield from _keys(part or "whole facility", rows)
    for name, rows in changes(source).items():
        yield from _keys(f"strategy {name}", rows, cut=f"strategies.{name}.")


def _keys(part: str, rows: Sequence[Assumption], cut: str = "") -> Iterator[Table]:
    cells = [
        (row.path.removeprefix(cut), row.value, row.origin, row.meaning) for row in rows if not row.is_heading
    ]
    if cells:
        yield Table((part, "value", "where it comes from", "what it means"), tuple(cells))


def provenance(study: Study, summary: Summary, more: Sequence[Part]) -> Iterator[Block]:
    """Yield where the figures come from, and the command that gives them again."""
    rows = tuple((key, str(value)) for key, value in provenance_rows(study, summary))
    yield Table(("what", "which"), rows)
    yield "The same figures come out again with:"
    name = shlex.quote(" ".join(Path(study.scenario.file).name.split()))
    chosen = "".join(f" --strategy {shlex.quote(each)}" for each in study.outcomes)
    some = chosen if len(study.outcomes) < len(study.scenario.hospitals) else ""
    yield Code(
        f"o2sim report {name}{some} --replications {study.requested} --seed {study.seed} --engine {study.engine}"
        + "".join(f" {part.again}" for part in more if part.again)
    )
    yield "`o2sim describe` sets out every rule of the model."
