"""The measures of one strategy as columns: one value a replication."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.measures.cover import cover_columns
from o2sim.measures.measure import HOUR_S, Measure
from o2sim.measures.names import ALL, BROKEN, NEEDED, NOT_BOUGHT, STOCK_OUTS
from o2sim.measures.table import MEASURES, OF_A_CLASS, OF_A_SIZE, OF_A_WARD
from o2sim.money.cost import ITEMS, annual_cost
from o2sim.money.unbought import lacking_of, unbought
from o2sim.outcome import LENGTH_LABELS, Cause, Outcome
from o2sim.runs.outcomes import Outcomes
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.statistics.estimator import Column

OF_UNBOUGHT = {NEEDED: "needed", NOT_BOUGHT: "not_bought", BROKEN: "broken_hours"}


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
    by_part: dict[str, dict[str, Column]]  # by measure, by part: what is summarised so
    by_ward: dict[str, dict[str, Column]]  # ward, measure; nothing where no wards are named
    cost_by_item: dict[str, Column] | None
    by_class: dict[str, dict[str, Column]]  # by class, by measure
    cover: dict[str, dict[str, Column]] | None  # by measure, by part; None without cylinders
    per_year: float  # horizons in 365 days
    by_size: dict[str, dict[str, Column]]  # size of cylinder, measure; nothing where they are alike

    @property
    def cost(self) -> Column | None:
        """Return money a year, all items together; None without prices."""
        if self.cost_by_item is None:
            return None
        return sum(self.cost_by_item.values(), start=np.zeros_like(self.values["patients"]))

    @property
    def stock_out(self) -> npt.NDArray[np.bool_]:
        """Return which replications had at least one stock-out."""
        return self.values[STOCK_OUTS] > 0

    @property
    def any_interruption(self) -> npt.NDArray[np.bool_]:
        """Return which replications had at least one interruption of any cause."""
        return self.interruptions_by_length[ALL] > 0


def replication_table(hospital: Hospital, made: Sequence[Outcome], rows: Sequence[Hospital] = ()) -> Replications:
    """Return the outcomes of one strategy, one replication or more, as columns.

    rows: the hospital at each row of joint draws, which replications met in turn; none without draws.
    """
    outcomes, per_year = Outcomes.of(made), YEAR_DAYS * DAY_S / hospital.horizon_s
    by_cause: Column = outcomes.column("interruptions").astype(np.float64) * per_year
    hours: Column = outcomes.column("unserved_s").astype(np.float64) * (per_year / HOUR_S)
    longer: Column = outcomes.column("longer").astype(np.float64) * per_year
    lengths = {label: longer[:, place] for place, label in enumerate(LENGTH_LABELS)}
    classes = [kind.name for kind in hospital.patients]
    counted = outcomes.column("arrivals_by_class").shape[1] >= len(classes)
    return Replications(
        values=_values(hospital, outcomes, per_year) | _unbought(rows or [hospital], outcomes),
        interruptions_by_cause={cause.label: by_cause[:, cause] for cause in Cause},
        interruptions_by_length={ALL: by_cause.sum(axis=1), **lengths},
        unserved_hours_by_cause={cause.label: hours[:, cause] for cause in Cause},
        by_part={
            each.name: _parts(each, outcomes, per_year) for each in MEASURES if _has(hospital, each, parts=True)
        },
        by_ward=_by_name([ward.name for ward in hospital.wards], OF_A_WARD, outcomes, per_year),
        cost_by_item=None if hospital.costs is None else _costs(rows or [hospital], outcomes),
        by_class=_by_name(classes if counted else [], OF_A_CLASS, outcomes, per_year),
        cover=None if hospital.cylinders is None else cover_columns(outcomes.cover),
        per_year=per_year,
        by_size=_by_size(hospital, outcomes, per_year),
    )


def _by_size(hospital: Hospital, outcomes: Outcomes, per_year: float) -> dict[str, dict[str, Column]]:
    """Return columns by size of cylinder, of those that there are any of; nothing where cylinders are alike."""
    sizes = () if hospital.cylinders is None else hospital.cylinders.sizes
    found = _by_name([size.name for size in sizes], OF_A_SIZE, outcomes, per_year)
    return {size.name: found[size.name] for size in sizes if size.fleet}


def _costs(rows: Sequence[Hospital], outcomes: Outcomes) -> dict[str, Column]:
    """Return money a year by item; one without a price in some rows of joint draws costs nothing there."""
    found = [annual_cost(rows[each.replication % len(rows)], each) for each in outcomes]
    items = [item for item in ITEMS if any(item in costs for costs in found)]
    return {item: np.array([costs.get(item, 0.0) for costs in found]) for item in items}


def _unbought(rows: Sequence[Hospital], outcomes: Outcomes) -> dict[str, Column]:
    """Return what was needed and not bought a year, by measure; nothing where nobody counts money."""
    if all(row.funds is None for row in rows):
        return {}
    found = [unbought(rows[each.replication % len(rows)], lacking_of(each)) for each in outcomes]
    parts = {name: [getattr(each, part, None) for each in found] for name, part in OF_UNBOUGHT.items()}
    return {name: np.array(many, dtype=np.float64) for name, many in parts.items() if None not in many}


def _values(hospital: Hospital, outcomes: Outcomes, per_year: float) -> dict[str, Column]:
    """Return the single-number measures by their JSON name, those only that the hospital has."""
    singles = [each for each in MEASURES if each.of and _has(hospital, each)]
    values = {each.name: each.column(outcomes, per_year) for each in singles}
    values["patients_treated"] = values["patients"] - values["transferred_patients"]
    return values


def _by_name(
    names: Sequence[str], measures: Sequence[Measure], outcomes: Outcomes, per_year: float
) -> dict[str, dict[str, Column]]:
    """Return columns of shape (n,) by ward, class or size of cylinder, and measure."""
    if not names:
        return {}
    whole = {each.name: each.column(outcomes, per_year) for each in measures}
    return {name: {key: columns[:, at] for key, columns in whole.items()} for at, name in enumerate(names)}


def _has(hospital: Hospital, measure: Measure, parts: bool = False) -> bool:
    """Return True if a hospital has what a measure needs, which is a single number or by part."""
    there = {
        "": True,
        "cylinders": hospital.cylinders is not None,
        "concentrators": hospital.concentrators is not None,
        "manifold": hospital.manifold is not None,
        "shortfall": not hospital.shortfall.as_before,
        "sending": hospital.cylinders is not None and hospital.cylinders.send_part_used is not None,
        "backup": hospital.has_backups,
        "fade": hospital.fading_battery is not None,
        "shocks": bool(hospital.shocks),
        "shocks and shortfall": bool(hospital.shocks) and not hospital.shortfall.as_before,
        "funds": hospital.funds is not None,
    }
    return (measure.how == "mean by part") == parts and there.get(measure.needs, False)


def _parts(measure: Measure, outcomes: Outcomes, per_year: float) -> dict[str, Column]:
    """Return columns of shape (n,) by the part of a measure."""
    return dict(zip(measure.parts, measure.column(outcomes, per_year).T, strict=True))
