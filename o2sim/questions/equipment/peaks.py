"""What was in use at once and what a year takes under each strategy, over all replications of a study."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass, field

import numpy as np

from o2sim.draws import Draws, PatientTable
from o2sim.outcome import AtOnce
from o2sim.questions.equipment.devices import RANGES, Bedside, bedside
from o2sim.questions.equipment.occupancy import Peak, peak, pooled, seconds_at_level
from o2sim.runs.chunks import Chunk, Pacer, cut
from o2sim.runs.executors import Crew, Processes
from o2sim.runs.outcomes import Outcomes
from o2sim.runs.running import run_pieces
from o2sim.runs.study import Study
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital

Group = tuple[str, str]  # of patients: what they share, by class, flowmeter, humidifier or at all
ALL: Group = ("all", "")
HUMIDIFIER: Group = ("humidifier", "")


@dataclass
class Need:
    """Patients on oxygen at once if all were served: pooled seconds by level; and who began in the horizon."""

    by_level: dict[Group, list[int]] = field(default_factory=dict)
    began: Counter[Bedside] = field(default_factory=Counter)

    def merge(self, other: Need) -> None:
        """Add what was drawn elsewhere."""
        for group, levels in other.by_level.items():
            self.by_level[group] = pooled([self.by_level.get(group, []), levels])
        self.began.update(other.began)


@dataclass(frozen=True)
class Use:
    """One strategy's evidence: need and use at once, and its outcomes.

    at_once is by AtOnce's names, with the pooled seconds in by_level; began counts patients a year by what they
    need at the bedside.
    """

    hospital: Hospital
    outcomes: Outcomes
    need: dict[Group, Peak]
    at_once: dict[str, Peak]
    by_level: dict[str, list[int]]
    began: dict[Bedside, float]

    @property
    def per_year(self) -> float:
        """Return horizons in 365 days."""
        return YEAR_DAYS * DAY_S / self.hospital.horizon_s

    def mean(self, name: str) -> float:
        """Return the mean a year of one of Outcome's totals."""
        total = int(self.outcomes.column(name).sum())
        return total / len(self.outcomes) * self.per_year

    def most(self, name: str) -> int:
        """Return the highest total of one replication, in its own horizon."""
        return int(self.outcomes.column(name).max())


def use_by_strategy(study: Study, crew: Crew | None = None) -> dict[str, Use]:
    """Return the evidence of every strategy of a study.

    The patients are drawn again from the seed, since a study does not keep them: that takes about half as long as
    it took to run. crew: who does it, in place by default.
    """
    needs = _needs(study, crew or Processes(1))
    return {name: _use(study, name, needs[_shape(study.scenario.hospitals[name])]) for name in study.outcomes}


def _use(study: Study, name: str, need: Need) -> Use:
    hospital, outcomes = study.scenario.hospitals[name], study.outcomes[name][: study.replications]
    by_level = {kind: outcomes.at_levels(kind) for kind in AtOnce.NAMES}
    per_year = YEAR_DAYS * DAY_S / hospital.horizon_s / len(outcomes)
    return Use(
        hospital=hospital,
        outcomes=outcomes,
        need={group: peak(levels) for group, levels in need.by_level.items()},
        at_once={kind: peak(levels) for kind, levels in by_level.items()},
        by_level=by_level,
        began={place: count * per_year for place, count in sorted(need.began.items())},
    )


def _shape(hospital: Hospital) -> Hashable:
    """Return what the need at the bedside depends on; strategies that change none of it share it."""
    return (
        hospital.patients,
        hospital.bedside,
        hospital.start,
        hospital.warm_up_s,
        hospital.horizon_s,
        hospital.now,
    )


def _needs(study: Study, crew: Crew) -> dict[Hashable, Need]:
    """Draw the patients of all replications again, shared out among a crew; sums do not depend on the order."""
    hospitals = study.scenario.hospitals
    different = {_shape(hospitals[name]): hospitals[name] for name in study.outcomes}
    needs = {shape: Need() for shape in different}
    pieces = (Chunk(0, study.replications, (str(place),)) for place in range(len(different)))
    shapes, pacer = list(different), Pacer()
    left, spent_s = len(different) * study.replications, 0.0

    def arguments(piece: Chunk) -> tuple[Hospital, int, Chunk]:
        return different[shapes[int(piece.strategies[0])]], study.seed, piece

    with crew:
        for piece, (found, seconds) in run_pieces(crew, need_of_chunk, cut(pieces, pacer), arguments):
            needs[shapes[int(piece.strategies[0])]].merge(found)
            left, spent_s = left - piece.size, spent_s + seconds
            pacer.learn(piece.size, seconds)
            crew.consider(spent_s, left * pacer.seconds_each)
    return needs


def need_of_chunk(hospital: Hospital, seed: int, chunk: Chunk) -> tuple[Need, float]:
    """Return the need in a range of replications, and how long it took to draw."""
    began, need = time.perf_counter(), Need()
    for replication in range(chunk.first, chunk.stop):
        _add(need, hospital, Draws(seed, replication).patients(hospital))
    return need, time.perf_counter() - began


def _add(need: Need, hospital: Hospital, table: PatientTable) -> None:
    """Add the patients of one replication to the need."""
    places = [
        bedside(hospital, hospital.patients[index], flow)
        for index, flow in zip(table.class_index, table.flow_ml_min, strict=True)
    ]
    start = np.array(table.arrival_s, dtype=np.int64)
    stop = start + np.array(table.duration_s, dtype=np.int64)
    groups = {ALL: [True] * len(places), HUMIDIFIER: [place.humidifier for place in places]}
    for number, kind in enumerate(hospital.patients):
        groups["class", kind.name] = [index == number for index in table.class_index]
    for reach in RANGES:
        groups["flowmeter", reach] = [place.flowmeter == reach for place in places]
    for group, members in groups.items():
        chosen = np.array(members, dtype=bool)
        levels = seconds_at_level(start[chosen], stop[chosen], hospital.counted_from_s, hospital.end_s)
        need.by_level[group] = pooled([need.by_level.get(group, []), levels])
    need.began.update(
        place for place, since_s in zip(places, table.arrival_s, strict=True) if since_s >= hospital.counted_from_s
    )
