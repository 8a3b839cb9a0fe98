"""The first screen of a comparison: the answer, the figures to decide by, why someone went without, what to do.

It fits the 40 lines of a terminal for up to six strategies; everything else stands in the full screen.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from o2sim.looks import both_doubts, doubt, unbought
from o2sim.looks.blocks import Block, Lines, Points, Table, marked, mean_of, split_hours
from o2sim.looks.words import (
    Summary,
    amount,
    chosen_of,
    is_year,
    joined,
    span,
    spread,
)
from o2sim.measures.names import CHANCE
from o2sim.measures.table import head_of
from o2sim.outcome import Cause
from o2sim.quantities.units import format_duration
from o2sim.questions.compare import beside_text, headline
from o2sim.questions.compare.short_answer import chance_parts
from o2sim.runs.study import Study

MOST_CAUSES = 3  # of a strategy
WORTH_A_WORD = 0.02  # of all its unserved hours


def content(study: Study, summary: Summary) -> list[Block]:
    """Return what is to be said first of a study; what to do next, a caution and provenance follow it."""
    hospital = study.scenario.hospitals[next(iter(study.outcomes))]
    currency = hospital.costs.currency if hospital.costs else ""
    best = headline.leading_strategy(summary)
    return [
        headline.answer(summary, currency),
        *filter(None, [beside_text.sentence(summary, best)]),
        Lines(tuple(doubt.sentences(summary))),
        *both_doubts.blocks(summary),
        *beside_text.tables(summary),
        to_decide_by(summary, hospital.tolerated_gap_s, currency),
        *why(summary),
    ]


def to_decide_by(summary: Summary, tolerated_gap_s: int, currency: str) -> Table:
    """Return the few figures to decide by, a row for each strategy."""
    count, days = summary["replications"], summary["horizon_days"]
    priced = any(item["annual_cost"] for item in summary["strategies"].values())
    within = "" if is_year(days) else f" in {span(days)}"
    heads = ["To decide by", f"{head_of(CHANCE)}{within}", "Unserved h a year", "for lack of supply"]
    if priced:
        heads.append(f"Cost a year, {currency}".removesuffix(", "))

    def row(name: str, item: Mapping[str, Any]) -> tuple[str, ...]:
        unserved = spread(item["unserved_patient_hours"]), amount(split_hours(item)[0])
        cost = [spread(item["annual_cost"]) + unbought.below(unbought.of_item(item))] if priced else []
        return (marked(name, chosen_of(summary)), _chance(item[CHANCE], count, days), *unserved, *cost)

    rows = tuple(row(name, item) for name, item in summary["strategies"].items())
    note = (
        f"Supply shortfall: over {format_duration(tolerated_gap_s)} no source could serve someone. Unserved: "
        f"patient-hours, the rest is handling. In brackets the {100 * summary['confidence']:g} % interval: "
        f"{doubt.held(summary)}.{unbought.note(summary)}"
    )
    return Table(tuple(heads), rows, note)


def _chance(chance: Mapping[str, Any], count: int, days: float) -> str:
    """Return a chance as a natural frequency with its interval: "15 in 100 (9–24)", "none in 200 (to 2 %)"."""
    said, interval = chance_parts(chance, count, days)
    return f"{said} ({interval})" if interval else said


def why(summary: Summary) -> list[Block]:
    """Return why someone went without: the heaviest causes of each strategy, in one line each."""
    lines = [
        f"{name}: {joined(causes)}"
        for name, item in summary["strategies"].items()
        if (causes := _causes(item["unserved_hours_by_cause"]))
    ]
    heading = f"Why someone went without ({head_of('unserved_patient_hours').lower()} a year):"
    return [Points(tuple(lines), heading)] if lines else []


def _causes(by_cause: Mapping[str, Any]) -> list[str]:
    hours = {cause: mean_of(by_cause.get(cause.label)) for cause in Cause}
    whole = sum(hours.values())
    heaviest = sorted((cause for cause in hours if hours[cause] > WORTH_A_WORD * whole), key=lambda c: -hours[c])
    return [f"{cause.label} {amount(hours[cause])}" for cause in heaviest[:MOST_CAUSES]]
