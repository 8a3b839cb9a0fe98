"""The outcomes of a strategy in, the measures of each class of patients out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from o2sim.outcome import Outcome
from o2sim.statistics.estimator import Column, Estimator, Summary

HOUR_S = 3_600
CLASS_MEASURES = {  # measure: field of Outcome, what one of the measure is in the field's unit
    "arrivals": ("arrivals_by_class", 1),
    "patients": ("patients_by_class", 1),
    "interruptions_per_year": ("interruptions_by_class", 1),
    "unserved_patient_hours": ("unserved_s_by_class", HOUR_S),
    "transferred_patients": ("transferred_by_class", 1),
}


def class_columns(
    classes: Sequence[str], outcomes: Sequence[Outcome], per_year: float
) -> dict[str, dict[str, Column]]:
    """Return columns of shape (n,) by class and measure, scaled to 365 days; empty where nothing was counted."""
    if len(outcomes[0].arrivals_by_class) < len(classes):
        return {}
    found: dict[str, dict[str, Column]] = {name: {} for name in classes}
    for measure, (field, one) in CLASS_MEASURES.items():
        values = np.array([getattr(outcome, field) for outcome in outcomes], dtype=np.float64) * (per_year / one)
        for place, name in enumerate(classes):
            found[name][measure] = values[:, place]
    return found


def class_summary(estimator: Estimator, columns: Mapping[str, Mapping[str, Column]]) -> Summary:
    """Return {mean, low, high} by class and measure."""
    return {name: {m: estimator.mean(column) for m, column in each.items()} for name, each in columns.items()}
