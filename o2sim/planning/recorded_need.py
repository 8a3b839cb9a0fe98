"""How many patients of a register are given oxygen on each day, where it is replayed or repeated by year.

Each day of the horizon has the need of its own rows: the mean is that of the horizon, the peak that of the busiest
of its first 366 days. What is exceeded 1 % of the time takes the number of a day for the mean of a Poisson law, as
for drawn admissions, though the record is one of the ways in which it can come out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from o2sim.draws.laws import quantile
from o2sim.draws.season import placed_columns, within
from o2sim.planning.need import YEAR, OnOxygen, weighted
from o2sim.planning.total_flow import Array
from o2sim.scenario.types.hospital import DAY_S, Hospital, Law, Recorded
from o2sim.scenario.types.stages import Stage

LATE_POINTS = 200  # equally likely times that stand for the law of late weaning


@dataclass(frozen=True)
class OfRegister(OnOxygen):
    """The same of a register's rows: from when to when each patient is on oxygen, and at what flow."""

    start_s: Array
    end_s: Array
    flows: Array
    edges_s: Array  # of the days
    totals: Array  # mean total flow of each day

    def flow_by_day(self) -> Array:
        """Return the mean total flow of those given oxygen on each day, in mL/min."""
        return self.totals

    def flow_on(self, day: int) -> tuple[Law, float]:
        """Return the law and the mean (mL/min) of the flow of one of those given oxygen on a day."""
        begin, end = self.edges_s[day : day + 2]
        inside = np.maximum(np.minimum(self.end_s, end) - np.maximum(self.start_s, begin), 0)
        return weighted(self.flows, inside) or (self.flow_ml_min, self.mean_flow_ml_min)


def of_register(hospital: Hospital, stage: Stage, recorded: Recorded) -> OfRegister:
    """Return the numbers of a class whose register is replayed or repeated by year; it has one stage."""
    kind = stage.patients
    start_s, flows, need_s = placed_columns(hospital, recorded)
    end_s, late, wide = start_s + need_s, np.zeros(1), flows
    if kind.weaned_late_s is not None:
        late = np.asarray(quantile(kind.weaned_late_s, (np.arange(LATE_POINTS) + 0.5) / LATE_POINTS))
    longer = np.repeat(start_s, len(late)), (end_s[:, None] + late).ravel()
    share, wide = np.full(len(longer[0]), 1 / len(late)), np.repeat(flows, len(late))
    from_s, to_s = hospital.counted_from_s, hospital.end_s
    edges_s = np.minimum(from_s + np.arange(YEAR + 1, dtype=np.float64) * DAY_S, to_s)
    whole_s, days_s = np.array([from_s, to_s], dtype=np.float64), np.maximum(np.diff(edges_s), 1)
    ones = np.ones(len(start_s))
    found = kind.recognised
    plain, mean = (within(start_s, end_s, ones, edges) for edges in (edges_s, whole_s))
    given, given_mean = (within(*longer, share, edges) for edges in (edges_s, whole_s))
    inside = np.maximum(np.minimum(longer[1], to_s) - np.maximum(longer[0], from_s), 0)
    law, flow = weighted(wide, inside) or (stage.flow_ml_min, 0.0)
    return OfRegister(
        mean=found * float(given_mean[0]) / hospital.horizon_s,
        by_day=found * given / days_s,
        needed_mean=found * float(mean[0]) / hospital.horizon_s,
        needed_by_day=found * plain / days_s,
        missed_mean=(1 - found) * float(mean[0]) / hospital.horizon_s,
        spread=0.0,
        flow_ml_min=law,
        mean_flow_ml_min=flow,
        start_s=longer[0],
        end_s=longer[1],
        flows=wide,
        edges_s=edges_s,
        totals=found * within(*longer, share * wide, edges_s) / days_s,
    )
