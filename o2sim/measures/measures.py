"""Every measure of a study with its interval: the object that `compare --json` prints.

Three kinds of estimate, each a dict ready for JSON (plain floats; None where there is no number):
- a probability {estimate, low, high, confidence}: the share of replications with any. A replication is one
  horizon, so it is the chance of a year where the horizon is one; a chance is never scaled to a year, counts,
  hours, litres and money are. The interval is Clopper-Pearson's: for k of n the quantiles of the beta law at a/2
  with k and n - k + 1, and at 1 - a/2 with k + 1 and n - k, where 1 - a is the confidence; 0 below for k = 0, 1
  above for k = n;
- a mean {mean, low, high}: per-replication values, mean ± Student's t with n - 1 degrees of freedom x standard
  deviation / √n; cut at what is possible (no hours below zero). Of a count never seen in n horizons the upper end
  is -ln(a/2) / n a horizon (Poisson);
- a ratio {mean, low, high}: sum over sum, since a year with few patients must not weigh like a busy one, and a
  replication that needs nothing has no ratio of its own; linearised t.
Where the replications show no spread the bounds are None and `note` says why: none seen is not never.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from o2sim.measures.both_doubts import both_doubts
from o2sim.measures.costing import costing
from o2sim.measures.cover import cover_summary
from o2sim.measures.measure import Measure
from o2sim.measures.names import BROKEN, CHANCE, COST, FILL, HOURS, MET, NOT_BOUGHT, STOCK_OUTS
from o2sim.measures.replications import Replications, replication_table
from o2sim.measures.table import MEASURES, measure_units
from o2sim.money.cost import FIXED_ITEMS
from o2sim.runs.study import Study, provenance
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS
from o2sim.statistics import doubt
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.estimator import Column, Estimator, Summary
from o2sim.typed import as_json, item


@dataclass(frozen=True)
class Difference:
    """The later strategy less the earlier, over replications that met the same draws."""

    begins: str = item(key="from")
    ends: str = item(key="to")
    measure: str = item()
    found: Mean = item(flat=True)


def summarise(study: Study, confidence: float = 0.95) -> Summary:
    """Return every measure of every strategy, and the paired differences between strategies, ready for JSON.

    Counts, hours, litres and money are per 365 days; probabilities are within the horizon. Hours are patient-hours
    where patients wait, clock hours for the empty shelf and the longest gap. Money is in the scenario's currency,
    None without prices; what needs cylinders, concentrators, a manifold or named wards is None without them (the
    table of measures in measures/table.py says which). `Study.to_frame` has the same as a table, with units.
    Raises ValueError for a confidence outside 0-1.
    Source of the intervals: Clopper and Pearson for chances, Student's t else, Newcombe for paired chances; see
    statistics/intervals.py.
    """
    hospitals = study.scenario.hospitals
    horizon_s = next(iter(hospitals.values())).horizon_s
    joint = study.joint
    rows = None if joint is None else joint.rows
    estimator = Estimator(confidence, batch_in_words(study.replications, horizon_s), rows)
    tables = {
        name: replication_table(hospitals[name], o, study.rows_of(name)) for name, o in study.outcomes.items()
    }
    strategies = {name: _strategy(estimator, table) for name, table in tables.items()}
    costings = {  # over joint draws a row may have prices of its own, so there is no one list of lines
        name: costing(hospitals[name], o, tables[name]) for name, o in study.outcomes.items() if joint is None
    }
    currency = next((each.costs.currency for each in hospitals.values() if each.costs is not None), None)
    return {
        **provenance(study),
        "confidence": confidence,
        doubt.KEY: doubt.CHANCE if joint is None else doubt.CHANCE_AND_INPUTS,
        "currency": currency,
        "units": measure_units(strategies, currency),
        "strategies": strategies,
        "differences": _differences(estimator, tables),
        "costing": {name: as_json(found) for name, found in costings.items() if found is not None},
        **({} if joint is None else {"draws": as_json(both_doubts(joint, tables, confidence))}),
    }


def batch_in_words(replications: int, horizon_s: int) -> str:
    """Return a batch in words: `200 years` where the horizon is one, else `200 replications of 28 days`."""
    plural = "" if replications == 1 else "s"
    if horizon_s == YEAR_DAYS * DAY_S:
        return f"{replications} year{plural}"
    return f"{replications} replication{plural} of {horizon_s / DAY_S:g} days"


def _strategy(estimator: Estimator, table: Replications) -> Summary:
    """Return one strategy's measures, in the order of the table."""
    found: Summary = as_json({each.name: _summarised(estimator, table, each) for each in MEASURES})
    return found


def _summarised(
    estimator: Estimator, table: Replications, measure: Measure
) -> Probability | Mean | Mapping[str, object] | None:
    """Return a measure of one strategy; None, or by item {}, where the hospital has no such thing."""
    by_item = table.cost_by_item or {}
    match measure.how:
        case "chance":
            return estimator.probability(table.stock_out if measure.name == CHANCE else table.any_interruption)
        case "chance by cause":
            by_cause = table.interruptions_by_cause
            return {label: estimator.probability(column > 0) for label, column in by_cause.items()}
        case "count":
            return estimator.count(table.values[measure.name], table.per_year)
        case "count by length":
            by_length = table.interruptions_by_length
            return {label: estimator.count(column, table.per_year) for label, column in by_length.items()}
        case "mean":
            column = table.values.get(measure.name)
            return None if column is None else estimator.mean(column)
        case "mean by cause":
            return _means(estimator, table.unserved_hours_by_cause)
        case "mean by part":
            parts = table.by_part.get(measure.name)
            return None if parts is None else _means(estimator, parts)
        case "ratio":
            return _ratio(estimator, table, measure.name)
        case "money":
            return None if table.cost is None else _money(estimator, table.cost, by_item)
        case "money by item":
            return {item: _money(estimator, column, [item]) for item, column in by_item.items()}
        case "cover":
            columns = None if table.cover is None else table.cover[measure.name]
            return cover_summary(estimator, columns, measure.name)
        case "by ward":
            return {ward: _means(estimator, each) for ward, each in table.by_ward.items()} or None
        case "by size":
            return {size: _means(estimator, each) for size, each in table.by_size.items()} or None
        case "by class":
            return {name: _means(estimator, each) for name, each in table.by_class.items()}


def _means(estimator: Estimator, columns: Mapping[str, Column]) -> dict[str, Mean]:
    """Return the mean of each column under its label."""
    return {label: estimator.mean(column) for label, column in columns.items()}


def _ratio(estimator: Estimator, table: Replications, name: str) -> Mean | None:
    """Return litres delivered over needed (1 where none were), losses met over all, money over units; or None."""
    if name == FILL:
        ratio = estimator.ratio(*_litres(table), most=1.0)
        return ratio or Mean(1.0, None, None, "no oxygen was needed")
    if name == MET:
        losses = table.values.get("unit_losses")
        return None if losses is None else estimator.ratio(table.values["losses_met_by_backup"], losses, most=1.0)
    if table.cost is None:
        return None
    per_patient = name == "cost_per_patient"
    units = table.values["patients_treated"] if per_patient else table.values["litres_delivered"] / 1_000
    return estimator.ratio(table.cost, units, least=-np.inf)


def _money(estimator: Estimator, column: Column, items: Iterable[str]) -> Mean:
    """Return money a year; exact, so that its width is truly zero, where the items are known without a run."""
    fixed = FIXED_ITEMS.issuperset(items) and not np.ptp(column)  # joint draws may hold prices
    if column.any() and not fixed:
        return estimator.mean(column, least=-np.inf)
    amount = float(column[0])
    return Mean(amount, amount, amount)


def _differences(estimator: Estimator, tables: Mapping[str, Replications]) -> list[Summary]:
    """Return the later strategy less the earlier, for every pair in the order of the file."""
    return [
        as_json(Difference(a, b, measure, found))
        for a, b in combinations(tables, 2)
        for measure, found in _pair(estimator, tables[a], tables[b]).items()
    ]


def _pair(estimator: Estimator, a: Replications, b: Replications) -> dict[str, Mean]:
    """Return b less a for each measure that both have, over replications that met the same draws."""
    found = {CHANCE: estimator.more_often(a.stock_out, b.stock_out)}
    for measure in (STOCK_OUTS, HOURS):
        found[measure] = estimator.more(a.values[measure], b.values[measure])
    if a.cost is not None and b.cost is not None:
        found[COST] = estimator.more(a.cost, b.cost)
    for measure in (NOT_BOUGHT, BROKEN):
        if measure in a.values and measure in b.values:
            found[measure] = estimator.more(a.values[measure], b.values[measure])
    litres_a, litres_b = _litres(a), _litres(b)
    if litres_a[1].sum() > 0 and litres_b[1].sum() > 0:
        found[FILL] = estimator.more_of_ratio(litres_a, litres_b)
    return found


def _litres(table: Replications) -> tuple[Column, Column]:
    """Return (delivered, needed) litres a year."""
    return table.values["litres_delivered"], table.values["litres_needed"]
