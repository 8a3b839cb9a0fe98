"""What no staff could prevent: the figures of a companion run beside those of the study; handling between them.

Handling is the figure as in the file less that of the companion run, pair by pair. It may be below zero: patients
who go without use no gas, so that poor handling spares the stock.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from o2sim.measures.measures import batch_in_words
from o2sim.measures.names import CHANCE, DEFICIT, HOURS, SHORT, STOCK_OUTS
from o2sim.measures.replications import Replications, replication_table
from o2sim.runs.study import Study
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.estimator import Estimator
from o2sim.typed import Count, item

Marked = Annotated[str, (("pattern", r"^[0-9a-f]{16}\+supply-alone$"),)]
UNLESS_AS_BEFORE = "null where gaps are counted as before"


@dataclass(frozen=True)
class Shortfalls:
    """How often and how much is short in one run."""

    stock_out_probability: Probability
    stock_outs_per_year: Mean
    short_patient_hours: Mean | None = item(UNLESS_AS_BEFORE)
    unserved_patient_hours: Mean = item()
    oxygen_deficit_patient_hours: Mean = item()


@dataclass(frozen=True)
class Handling:
    """As in the file less supply alone, over pairs that met the same draws."""

    stock_out_probability: Mean
    stock_outs_per_year: Mean
    short_patient_hours: Mean | None = item(UNLESS_AS_BEFORE)
    unserved_patient_hours: Mean = item()
    oxygen_deficit_patient_hours: Mean = item()


@dataclass(frozen=True)
class Beside:
    """One strategy as in the file, with perfect handling, and the difference."""

    as_in_file: Shortfalls
    supply_alone: Shortfalls
    handling: Handling


@dataclass(frozen=True)
class SupplyAlone:
    """What no staff could prevent, by strategy, over the replications that both runs have."""

    scenario_hash: Marked = item("of the scenario, with the mark of the companion run")
    replications: Count = item()
    complete: bool = item("false where Ctrl-C cut the companion run short")
    strategies: Mapping[str, Beside] = item("by name, in the order of the file")


def beside(study: Study, companion: Study, confidence: float = 0.95) -> SupplyAlone:
    """Return the figures of a study and of its companion run, and handling between them."""
    n = min(study.replications, companion.replications)
    horizon_s = next(iter(study.scenario.hospitals.values())).horizon_s
    rows = None if study.joint is None else study.joint.rows
    estimator = Estimator(confidence, batch_in_words(n, horizon_s), rows)

    def of(name: str) -> Beside:
        runs = [
            replication_table(each.scenario.hospitals[name], each.outcomes[name][:n], each.rows_of(name))
            for each in (study, companion)
        ]
        as_in_file, alone = (_shortfalls(estimator, run) for run in runs)
        return Beside(as_in_file, alone, _handling(estimator, *runs))

    strategies = {name: of(name) for name in study.outcomes}
    return SupplyAlone(companion.scenario.hash, n, companion.complete, strategies)


def _shortfalls(estimator: Estimator, run: Replications) -> Shortfalls:
    short = run.values.get(SHORT)
    return Shortfalls(
        stock_out_probability=estimator.probability(run.stock_out),
        stock_outs_per_year=estimator.count(run.values[STOCK_OUTS], run.per_year),
        short_patient_hours=None if short is None else estimator.mean(short),
        unserved_patient_hours=estimator.mean(run.values[HOURS]),
        oxygen_deficit_patient_hours=estimator.mean(run.values[DEFICIT]),
    )


def _handling(estimator: Estimator, run: Replications, alone: Replications) -> Handling:
    """Return what a run has more than its companion run."""

    def more(measure: str) -> Mean:
        return estimator.more(alone.values[measure], run.values[measure])

    return Handling(
        stock_out_probability=estimator.more_often(alone.stock_out, run.stock_out),
        stock_outs_per_year=more(STOCK_OUTS),
        short_patient_hours=more(SHORT) if SHORT in run.values else None,
        unserved_patient_hours=more(HOURS),
        oxygen_deficit_patient_hours=more(DEFICIT),
    )


ROW_HEADS = ("strategy", "run", "measure", "estimate", "low", "high", "note")
RUNS = {"as_in_file": "as in the file", "supply_alone": "supply alone", "handling": "handling"}
SHOWN = (CHANCE, STOCK_OUTS, SHORT, HOURS, DEFICIT)


def rows(found: Mapping[str, Any]) -> list[tuple[str | float, ...]]:
    """Return the part `supply_alone` of a summary as a long table, columns as ROW_HEADS names them."""

    def cells(value: Mapping[str, Any]) -> tuple[str | float, ...]:
        ends = ("" if value[end] is None else value[end] for end in ("low", "high"))
        return value.get("estimate", value.get("mean")), *ends, value.get("note") or ""

    return [
        (name, words, measure, *cells(each[run][measure]))
        for name, each in found["strategies"].items()
        for run, words in RUNS.items()
        for measure in SHOWN
        if each[run][measure] is not None
    ]
