"""A hospital in, the season's mean need of oxygen on each day of its run out: what a stock-keeper would expect."""

from __future__ import annotations

import numpy as np

from o2sim.draws.season import cumulative, first_date
from o2sim.scenario.types.hospital import DAY_S, Hospital, PatientClass
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.stages import stages


def mean_need(hospital: Hospital) -> list[int]:
    """Return the gas (1/60 mL) needed on average by those admitted on each day, from the first of the run on.

    Yearly mean admissions times the season of the day, mean stay and mean flow, as it steps down; of the
    recognised. Surges and the luck of the day are no part of it, nor is a season that a register may hold. A day's
    patients stay on into later days, so the need itself follows the season by about a stay.
    """
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    edges = np.arange(-(-(lead_in_s + hospital.end_s) // DAY_S) + 1, dtype=np.float64)
    total = np.zeros(len(edges) - 1)
    for kind in hospital.patients:
        total += _a_day(kind) * np.diff(cumulative(edges, kind.season, day_zero))
    return [int(gas) for gas in np.rint(total)]


def _a_day(kind: PatientClass) -> float:
    """Return the gas (1/60 mL: mL/min times s) needed by a yearly mean day's patients of a class."""
    recorded = kind.recorded
    if recorded is not None:  # flow and stay as they came together
        both = sum(flow * need for flow, need in zip(recorded.flow_ml_min, recorded.need_s, strict=True))
        return kind.recognised * both / recorded.days
    rate = kind.admissions_per_day * kind.hypoxaemic * kind.recognised
    return rate * sum(law_mean(stage.flow_ml_min) * stage.mean_s for stage in stages(kind))
