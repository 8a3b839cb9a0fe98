"""A study in, every measure with its interval out: the object that `compare --json` prints.

Three kinds of estimate, each a dict ready for JSON (plain floats; None where there is no number):
- a probability {estimate, low, high, confidence}: share of replications, Clopper-Pearson;
- a mean {mean, low, high}: per-replication values, Student's t; cut at what is possible (no hours below nought);
- a ratio {mean, low, high}: sum over sum, since a year with few patients must not weigh like a busy one, and a
  replication that needs nothing has no ratio of its own; linearised t.
Where the replications show no spread the bounds are None and `note` says why: none seen is not never.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from o2sim.measures.by_class import class_columns, class_summary
from o2sim.measures.cover import cover_columns, cover_summary
from o2sim.measures.measure_units import measure_units
from o2sim.money.cost import FIXED_ITEMS, FUEL_PER_LITRE, annual_cost
from o2sim.outcome import LENGTH_LABELS, Cause, Outcome
from o2sim.runs.study import Study, provenance
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.statistics import doubt
from o2sim.statistics.estimator import Column, Estimator, Summary
from o2sim.statistics.intervals import newcombe_paired, paired_ratio, paired_t

HOUR_S = 3_600
GAS_PER_LITRE = 60_000  # gas is counted in 1/60 mL
ALL = "all"
COUNTS_PER_YEAR = {  # measure: field of Outcome
    "days_with_unserved": "days_with_unserved",
    "arrivals": "arrivals",
    "patients": "patients",
    "patients_affected": "patients_affected",
    "patients_under_served": "patients_under_served",
    "transferred_patients": "transferred",
    "power_cuts": "power_cuts",
}
CYLINDER_MEASURES = {
    "cylinders_used": "cylinders_emptied",
    "cylinders_delivered": "cylinders_delivered",
    "deliveries": "deliveries",
    "collections": "collections",
    "emergency_deliveries": "emergency_deliveries",
    "cylinders_cut_from_orders": "cylinders_cut",
    "cylinders_unusable": "cylinders_unusable",
    "cylinders_lost": "cylinders_lost",
}
MANIFOLD_MEASURES = {  # measure: field of Outcome, what one of the measure is in the field's unit
    "outlet_patient_hours": ("served_outlet_s", HOUR_S),
    "bank_changes": ("bank_changes", 1),
    "reserve_hours": ("reserve_s", HOUR_S),
    "manifold_dry_hours": ("manifold_dry_s", HOUR_S),
    "pipework_leak_litres": ("pipe_leak_gas", GAS_PER_LITRE),
}
CONCENTRATOR_MEASURES = {  # measure: field of Outcome, what one of the measure is in the field's unit
    "without_power_hours": ("without_power_s", HOUR_S),
    "low_concentration_patient_hours": ("low_concentration_s", HOUR_S),
    "generator_hours": ("generator_running_s", HOUR_S),
    "generator_failures": ("generator_failures", 1),
    "fuel_litres": ("fuel_used", FUEL_PER_LITRE),
    "concentrator_failures": ("concentrator_failures", 1),
    "concentrators_written_off": ("concentrators_written_off", 1),
    "services": ("services", 1),
    "concentrators_moved": ("concentrators_moved", 1),
}


@dataclass(frozen=True)
class Replications:
    """One strategy's outcomes as columns, each of shape (n,), one value a replication.

    values holds the measures by their JSON name. All but longest_gap_hours are scaled to 365 days. Patients
    treated are those not transferred away. cost_by_item is None without prices.
    """

    values: dict[str, Column]
    interruptions_by_cause: dict[str, Column]
    interruptions_by_length: dict[str, Column]
    unserved_hours_by_cause: dict[str, Column]
    by_ward: dict[str, dict[str, Column]]  # ward, measure; nothing where no wards are named
    cost_by_item: dict[str, Column] | None
    by_class: dict[str, dict[str, Column]]  # by class, by measure
    cover: dict[str, dict[str, Column]] | None  # by measure, by part; None without cylinders
    per_year: float  # horizons in 365 days

    @property
    def cost(self) -> Column | None:
        """Return money a year, all items together; None without prices."""
        if self.cost_by_item is None:
            return None
        return sum(self.cost_by_item.values(), start=np.zeros_like(self.values["patients"]))

    @property
    def stock_out(self) -> npt.NDArray[np.bool_]:
        """Return which replications had at least one stock-out."""
        return self.values["stock_outs_per_year"] > 0


def replication_table(hospital: Hospital, outcomes: list[Outcome]) -> Replications:
    """Return the outcomes of one strategy, one replication or more, as columns."""
    per_year = YEAR_DAYS * DAY_S / hospital.horizon_s
    by_cause = np.array([o.interruptions for o in outcomes]) * per_year
    hours = np.array([o.unserved_s for o in outcomes]) * (per_year / HOUR_S)
    longer = np.array([o.longer for o in outcomes]) * per_year
    lengths = {label: longer[:, place] for place, label in enumerate(LENGTH_LABELS)}
    costs = [annual_cost(hospital, o) for o in outcomes]
    return Replications(
        values=_values(hospital, outcomes, per_year),
        interruptions_by_cause={cause.label: by_cause[:, cause] for cause in Cause},
        interruptions_by_length={ALL: by_cause.sum(axis=1), **lengths},
        unserved_hours_by_cause={cause.label: hours[:, cause] for cause in Cause},
        by_ward=_by_ward(hospital, outcomes, per_year),
        cost_by_item=None if hospital.costs is None else {i: np.array([c[i] for c in costs]) for i in costs[0]},
        by_class=class_columns([kind.name for kind in hospital.patients], outcomes, per_year),
        cover=None if hospital.cylinders is None else cover_columns([o.daily for o in outcomes]),
        per_year=per_year,
    )


def _by_ward(hospital: Hospital, outcomes: list[Outcome], per_year: float) -> dict[str, dict[str, Column]]:
    """Return what happened to the patients of each ward."""
    measures = {
        "stock_outs_per_year": ("ward_stock_outs", 1),
        "interruptions_per_year": ("ward_interruptions", 1),
        "unserved_patient_hours": ("ward_unserved_s", HOUR_S),
    }
    return {
        ward.name: {
            measure: np.array([getattr(o, field)[place] for o in outcomes], dtype=np.float64) * (per_year / one)
            for measure, (field, one) in measures.items()
        }
        for place, ward in enumerate(hospital.wards)
    }


def _values(hospital: Hospital, outcomes: list[Outcome], per_year: float) -> dict[str, Column]:
    """Return the single-number measures by their JSON name."""

    def column(field: str, factor: float = per_year) -> Column:
        return np.array([getattr(o, field) for o in outcomes], dtype=np.float64) * factor

    delivered = column("cylinder_gas") + column("concentrator_gas")
    values = {
        "stock_outs_per_year": column("stock_outs"),
        "unserved_patient_hours": np.array([sum(o.unserved_s) for o in outcomes]) * (per_year / HOUR_S),
        "longest_gap_hours": column("longest_gap_s", 1 / HOUR_S),
        "under_served_patient_hours": column("under_served_s", per_year / HOUR_S),
        "litres_delivered": delivered / GAS_PER_LITRE,
        "litres_missing_from_reduced_flow": column("missing_gas", per_year / GAS_PER_LITRE),
        "litres_needed": column("needed_gas", per_year / GAS_PER_LITRE),
        "transfer_travel_hours": column("travel_s", per_year / HOUR_S),
        "power_out_hours": column("power_out_s", per_year / HOUR_S),
        "unrecognised_patient_hours": column("unrecognised_s", per_year / HOUR_S),
        "litres_without_need": (column("unneeded_cylinder_gas") + column("unneeded_concentrator_gas"))
        / GAS_PER_LITRE,
        **{measure: column(field) for measure, field in COUNTS_PER_YEAR.items()},
    }
    values["patients_treated"] = values["patients"] - values["transferred_patients"]
    if hospital.cylinders is not None:
        values["empty_shelf_hours"] = column("empty_shelf_s", per_year / HOUR_S)
        values |= {measure: column(field) for measure, field in CYLINDER_MEASURES.items()}
    if hospital.manifold is not None:
        values |= {name: column(field, per_year / one) for name, (field, one) in MANIFOLD_MEASURES.items()}
    if hospital.concentrators is not None:
        values |= {name: column(field, per_year / one) for name, (field, one) in CONCENTRATOR_MEASURES.items()}
    return values


def summarise(study: Study, confidence: float = 0.95) -> Summary:
    """Return every measure of every strategy, and the paired differences between strategies, ready for JSON.

    Counts, hours, litres and money are per 365 days; probabilities are within the horizon. Hours are patient-hours
    where patients wait, clock hours for the empty shelf and the longest gap. Money is in the scenario's currency,
    None without prices; empty_shelf_hours and CYLINDER_MEASURES are None without cylinders, those of
    CONCENTRATOR_MEASURES without concentrators, of MANIFOLD_MEASURES without a manifold, by_ward without named
    wards. `Study.to_frame` has the same as a table, with units. Raises ValueError for a confidence outside 0-1.
    Source of the intervals: Clopper and Pearson for chances, Student's t else, Newcombe for paired chances; see
    analysis.intervals.
    """
    hospitals = study.scenario.hospitals
    horizon_s = next(iter(hospitals.values())).horizon_s
    estimator = Estimator(confidence, batch_in_words(study.replications, horizon_s))
    tables = {name: replication_table(hospitals[name], list(o)) for name, o in study.outcomes.items()}
    strategies = {name: _strategy(estimator, table) for name, table in tables.items()}
    currency = _currency(hospitals.values())
    return {
        **provenance(study),
        "confidence": confidence,
        doubt.KEY: doubt.CHANCE,
        "currency": currency,
        "units": measure_units(strategies, currency),
        "strategies": strategies,
        "differences": _differences(estimator, tables),
    }


def _currency(hospitals: Iterable[Hospital]) -> str | None:
    """Return the one currency of a scenario's prices, None without prices."""
    return next((hospital.costs.currency for hospital in hospitals if hospital.costs is not None), None)


def batch_in_words(replications: int, horizon_s: int) -> str:
    """Return a batch in words: `200 years` where the horizon is one, else `200 replications of 28 days`."""
    plural = "" if replications == 1 else "s"
    if horizon_s == YEAR_DAYS * DAY_S:
        return f"{replications} year{plural}"
    return f"{replications} replication{plural} of {horizon_s / DAY_S:g} days"


def _strategy(estimator: Estimator, table: Replications) -> Summary:
    """Return one strategy's measures, in the order they are read."""
    values = table.values
    means = {name: estimator.mean(column) for name, column in values.items()}
    by_length, cost, items = table.interruptions_by_length, table.cost, table.cost_by_item or {}
    lengths = {label: estimator.count(column, table.per_year) for label, column in by_length.items()}
    return {
        "stock_out_probability": estimator.probability(table.stock_out),
        "interruption_probability": estimator.probability(by_length[ALL] > 0),
        "probability_by_cause": {
            label: estimator.probability(column > 0) for label, column in table.interruptions_by_cause.items()
        },
        "stock_outs_per_year": estimator.count(values["stock_outs_per_year"], table.per_year),
        "interruptions_per_year": lengths,
        "days_with_unserved": means["days_with_unserved"],
        "unserved_patient_hours": means["unserved_patient_hours"],
        "patients_affected": means["patients_affected"],
        "longest_gap_hours": means["longest_gap_hours"],
        "fill_rate": _fill_rate(estimator, table),
        "empty_shelf_hours": means.get("empty_shelf_hours"),
        "annual_cost": None if cost is None else _money(estimator, cost, items),
        "unserved_hours_by_cause": _means(estimator, table.unserved_hours_by_cause),
        "cost_by_item": {} if cost is None else {i: _money(estimator, c, [i]) for i, c in items.items()},
        "cost_per_patient": _cost_per(estimator, table, values["patients_treated"]),
        "cost_per_1000_l": _cost_per(estimator, table, values["litres_delivered"] / 1_000),
        "arrivals": means["arrivals"],
        "patients": means["patients"],
        "transferred_patients": means["transferred_patients"],
        "transfer_travel_hours": means["transfer_travel_hours"],
        "litres_needed": means["litres_needed"],
        "litres_delivered": means["litres_delivered"],
        "under_served_patient_hours": means["under_served_patient_hours"],
        "patients_under_served": means["patients_under_served"],
        "litres_missing_from_reduced_flow": means["litres_missing_from_reduced_flow"],
        **{measure: means.get(measure) for measure in CYLINDER_MEASURES},
        "power_cuts": means["power_cuts"],
        "power_out_hours": means["power_out_hours"],
        "unrecognised_patient_hours": means["unrecognised_patient_hours"],
        "litres_without_need": means["litres_without_need"],
        **{name: means.get(name) for name in CONCENTRATOR_MEASURES},
        "by_ward": {ward: _means(estimator, columns) for ward, columns in table.by_ward.items()} or None,
        **cover_summary(estimator, table.cover),
        "by_class": class_summary(estimator, table.by_class),
        **{name: means.get(name) for name in MANIFOLD_MEASURES},
    }


def _means(estimator: Estimator, columns: Mapping[str, Column]) -> Summary:
    """Return the mean of each column under its label."""
    return {label: estimator.mean(column) for label, column in columns.items()}


def _fill_rate(estimator: Estimator, table: Replications) -> Summary:
    """Return litres delivered over litres needed; 1 where none were needed."""
    ratio = estimator.ratio(*_litres(table), most=1.0)
    return ratio or {"mean": 1.0, "low": None, "high": None, "note": "no oxygen was needed"}


def _money(estimator: Estimator, column: Column, items: Iterable[str]) -> Summary:
    """Return money a year; exact, so that its width is truly nought, where the items are known without a run."""
    if column.any() and not FIXED_ITEMS.issuperset(items):
        return estimator.mean(column, least=-np.inf)
    amount = float(column[0])
    return {"mean": amount, "low": amount, "high": amount}


def _cost_per(estimator: Estimator, table: Replications, units: Column) -> Summary | None:
    """Return money over units; None without prices or without units."""
    return None if table.cost is None else estimator.ratio(table.cost, units, least=-np.inf)


def _differences(estimator: Estimator, tables: Mapping[str, Replications]) -> list[Summary]:
    """Return the later strategy less the earlier, for every pair in the order of the file."""
    return [
        {"from": a, "to": b, "measure": measure, **entry}
        for a, b in combinations(tables, 2)
        for measure, entry in _pair(estimator, tables[a], tables[b]).items()
    ]


def _pair(estimator: Estimator, a: Replications, b: Replications) -> dict[str, Summary]:
    """Return b less a for each measure that both have, over replications that met the same draws."""
    confidence, n = estimator.confidence, len(a.stock_out)
    cells = (a.stock_out & b.stock_out, a.stock_out & ~b.stock_out, ~a.stock_out & b.stock_out)
    n11, n10, n01 = (int(cell.sum()) for cell in cells)
    found = {"stock_out_probability": newcombe_paired(n11, n10, n01, n - n11 - n10 - n01, confidence)}
    for measure in ("stock_outs_per_year", "unserved_patient_hours"):
        found[measure] = paired_t(a.values[measure], b.values[measure], confidence)
    if a.cost is not None and b.cost is not None:
        found["annual_cost"] = paired_t(a.cost, b.cost, confidence)
    litres_a, litres_b = _litres(a), _litres(b)
    if litres_a[1].sum() > 0 and litres_b[1].sum() > 0:
        found["fill_rate"] = paired_ratio(*litres_a, *litres_b, confidence=confidence)
    return {measure: estimator.difference(interval, n) for measure, interval in found.items()}


def _litres(table: Replications) -> tuple[Column, Column]:
    """Return (delivered, needed) litres a year."""
    return table.values["litres_delivered"], table.values["litres_needed"]
