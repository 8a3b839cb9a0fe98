"""The first page of the report: the question, the decision, three figures, one picture, what to do on Monday.

The three figures are natural frequencies, all out of 100, so that they can be read against each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import ceil, floor
from typing import Any

from o2sim.looks import cautions
from o2sim.looks.assumptions import Assumption
from o2sim.looks.blocks import Figures, Lines, Part, Picture, Points, Strong
from o2sim.looks.notebook import run_line
from o2sim.looks.words import half_up, is_year, quoted, runs, span
from o2sim.measures.names import ANY, CHANCE
from o2sim.measures.replications import replication_table
from o2sim.quantities.units import format_duration
from o2sim.questions.choose.first_sentence import first_sentence
from o2sim.questions.compare import headline, next_steps
from o2sim.questions.report.chosen import About
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import EXAMPLE
from o2sim.statistics.estimator import Estimator

BASE = 100
QUESTION = (
    "How often would someone here who needs oxygen go without, why, and what does each way to supply it cost?"
)
OWN_FIRST = "Put your own figures into the scenario, the ones in it are an example, and make this page again."


def first_page(
    shown: About, picture: Picture | None, assumed: Sequence[Assumption], questions: Sequence[str] = ()
) -> list[Part]:
    """Return the five parts of the first page; without a picture, as of a workbook, four.

    questions: what other parts answer.
    """
    study = shown.study
    asked = (study.scenario.about, " ".join((QUESTION, *questions)), who(shown))
    drawn = [] if picture is None else [Part("picture", "In one picture", (picture,), place="first")]
    foot = Lines((cautions.IN_ONE_LINE, run_line(shown.run)))
    return [
        Part("question", "The question",
             (*filter(None, asked), cautions.whose_figures(study.scenario.figures)), place="first"),
        Part("decision", "The decision", (*_stopped(study), Strong(decided(shown))), place="first"),
        Part("three", f"{quoted([shown.chosen])} in three figures", (three(shown),), place="first"),
        *drawn,
        Part("monday", "What to do on Monday", (Points(tuple(on_monday(shown, assumed))), foot), place="first"),
    ]  # fmt: skip


def who(shown: About) -> str:
    """Return which strategies are shown side by side."""
    names, every = list(shown.study.outcomes), len(shown.run.outcomes)
    if every > len(names):
        return f"{every} options are compared; tables and drawings show {quoted(names)}."
    return (
        f"{len(names)} are compared: {quoted(names)}."
        if len(names) > 1
        else f"{quoted(names)} is looked at alone."
    )


def decided(shown: About) -> str:
    """Return which strategy or option the report is of, and why."""
    if shown.decision is None:
        return headline.decision(shown.summary, shown.currency)
    return first_sentence(shown.decision, shown.summary["horizon_days"])


def three(shown: About) -> Figures:
    """Return how often supply fails, how often anybody goes without, and how many patients do, out of 100."""
    study, summary, name = shown.study, shown.summary, shown.chosen
    count, days, item = summary["replications"], summary["horizon_days"], summary["strategies"][name]
    gap = format_duration(study.scenario.hospitals[name].tolerated_gap_s)
    word = "years" if is_year(days) else f"runs of {span(days)}"
    seen = runs(count, days)
    found = [
        (item[CHANCE]["estimate"], item[CHANCE], word, "with a supply shortfall: no source could serve someone"),
        (item[ANY]["estimate"], item[ANY], word, f"with someone without oxygen for over {gap}, handling included"),
    ]
    share = affected(study, name, summary["confidence"])
    if share is not None:
        what = f"without oxygen for over {gap} at some time, of those who need it"
        found.append((share["mean"], share, "patients", what))
    level = f"{100 * summary['confidence']:g} % interval"
    return Figures(
        tuple(
            (_frequency(mean, word), what, f"{_sure(mean, ends, level)}, from {seen}")
            for mean, ends, word, what in found
        )
    )


def affected(study: Study, name: str, confidence: float) -> Mapping[str, Any] | None:
    """Return the share of patients with an interruption, {mean, low, high}; None where there were no patients."""
    table = replication_table(study.scenario.hospitals[name], study.outcomes[name])
    counts = table.values["patients_affected"], table.values["patients"]
    found = Estimator(confidence, "").ratio(*counts, most=1.0)
    return None if found is None else {"mean": found.mean, "low": found.low, "high": found.high}


def _frequency(share: float, word: str) -> str:
    """Return "about 5 years in 100": never none where any was seen, never all where one was not."""
    count, one = half_up(BASE * share), word.replace("s", "", 1)
    if share <= 0:
        return f"no {one} seen"
    if share >= 1:
        return f"every {one} seen"
    if count in (0, BASE):
        return f"under 1 {one} in {BASE}" if count == 0 else f"over {BASE - 1} {word} in {BASE}"
    return f"about {count} {word if count > 1 else one} in {BASE}"


def _sure(share: float, ends: Mapping[str, Any], level: str) -> str:
    """Return how far chance in the simulation may have carried a frequency, out of the same base."""
    if ends["low"] is None or ends["high"] is None:
        return "no interval"
    low, high = floor(BASE * ends["low"] + 1e-9), ceil(BASE * ends["high"] - 1e-9)
    bounds = f"at most {high}" if share <= 0 else f"at least {low}" if share >= 1 else f"{low} to {high}"
    return f"{bounds} in {BASE} by the {level}"


def on_monday(shown: About, assumed: Sequence[Assumption]) -> Iterator[str]:
    """Yield what to do first with the chosen one, in a few steps."""
    study, chosen, decision = shown.study, shown.chosen, shown.decision
    if study.scenario.figures == EXAMPLE:
        yield OWN_FIRST
    if decision is not None and decision.procurement:
        then = "Only then ask" if study.scenario.figures == EXAMPLE else "Ask"
        yield f"{then} for offers: the annex lists what to buy for “{chosen}”, item by item."
    yield from next_steps.causes(shown.summary, chosen, study.scenario.hospitals[chosen])[:1]
    yield from next_steps.to_confirm(assumed)
    yield from next_steps.to_ask(study.scenario.hospitals[chosen])


def _stopped(study: Study) -> list[Strong]:
    """Return that the run was cut short, where it was."""
    if study.complete:
        return []
    return [
        Strong(
            f"The run was stopped after {study.replications:,} of {study.requested:,} replications; this report "
            "holds only those."
        )
    ]
