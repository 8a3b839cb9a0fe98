"""Seed and replication in; patients, failures, power cuts, lead times and road closures out.

Every number is draw(seed, replication, stream, item, ordinal), items keyed by what they mean under every
strategy, and is rounded to whole seconds or mL/min here, once.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from o2sim.draws.laws import quantile
from o2sim.draws.philox import Item, uniforms
from o2sim.draws.season import arrival_days, cumulative, first_date
from o2sim.scenario.types import DAY_S, Hospital, Law, PatientClass, RoadClosure

_FIRST_BLOCK = 16
Ints = npt.NDArray[np.int64]


def whole(values: npt.NDArray[np.float64], least: int) -> Ints:
    """Return values rounded to whole numbers (half to even), none below `least`; the only rounding of draws."""
    return np.maximum(np.rint(values), least).astype(np.int64)


class Series:
    """Whole-number draws of one law for one (stream, item), reached by ordinal; grown in blocks when asked."""

    def __init__(self, key: tuple[int, int], law: Law, stream: str, item: Item, least: int = 1) -> None:
        """Take (seed, replication), the law in the unit of its field, and the least value allowed."""
        self._key, self._law, self._stream, self._item, self._least = key, law, stream, item, least
        self._values: list[int] = []

    def __getitem__(self, ordinal: int) -> int:
        """Return the draw with this ordinal (from 0)."""
        while ordinal >= len(self._values):
            first = len(self._values)
            u = uniforms(*self._key, self._stream, self._item, first, max(_FIRST_BLOCK, first))
            self._values.extend(whole(quantile(self._law, u), self._least).tolist())
        return self._values[ordinal]


@dataclass(frozen=True)
class PatientTable:
    """All patients of a run in order of arrival; each list has one entry a patient.

    arrival_s counts from the start of the warm-up; class_index points into Hospital.patients, ordinal is the
    patient's place within the class: (class name, ordinal) names a patient under every strategy.
    """

    class_index: list[int]
    ordinal: list[int]
    arrival_s: list[int]
    flow_ml_min: list[int]
    duration_s: list[int]

    def __len__(self) -> int:
        """Return the number of patients."""
        return len(self.arrival_s)


class Draws:
    """The luck of one replication, the same for every strategy and engine."""

    def __init__(self, seed: int, replication: int) -> None:
        """Take the seed of the study and the number of the replication (from 0)."""
        self.seed, self.replication = seed, replication
        self._patients: dict[tuple[object, ...], PatientTable] = {}

    @property
    def key(self) -> tuple[int, int]:
        """Return (seed, replication)."""
        return self.seed, self.replication

    def draw(self, stream: str, item: Item, ordinal: int) -> float:
        """Return one uniform number in (0, 1), a pure function of seed, replication, stream, item, ordinal."""
        return float(uniforms(*self.key, stream, item, ordinal, 1)[0])

    def normal(self, stream: str, item: Item, ordinal: int, spread: int) -> int:
        """Return one normal number of mean 0 and this standard deviation, rounded to a whole one."""
        return round(spread * float(ndtri(self.draw(stream, item, ordinal))))

    def patients(self, hospital: Hospital) -> PatientTable:
        """Return all who need oxygen from the start of the warm-up to the end of the horizon."""
        shape = (hospital.patients, hospital.start, hospital.warm_up_s, hospital.horizon_s)
        if shape not in self._patients:
            self._patients[shape] = _patients(self.key, hospital)
        return self._patients[shape]

    def failures(self, law: Law, unit: int) -> Series:
        """Return seconds to each failure of a concentrator, by (unit, failure ordinal)."""
        return Series(self.key, law, "concentrator failure", unit)

    def repairs(self, law: Law, unit: int) -> Series:
        """Return seconds of each repair of a concentrator, by (unit, failure ordinal)."""
        return Series(self.key, law, "concentrator repair", unit)

    def grid_up(self, law: Law) -> Series:
        """Return seconds of grid before each power cut, by the cut's ordinal."""
        return Series(self.key, law, "grid up", 0)

    def grid_down(self, law: Law) -> Series:
        """Return seconds of each power cut, by the cut's ordinal."""
        return Series(self.key, law, "grid down", 0)

    def lead_time_s(self, law: Law, day: dt.date, nth: int) -> int:
        """Return the lead time of the nth order (from 0) placed on a day."""
        u = uniforms(*self.key, "lead time", day.toordinal(), nth, 1)
        return int(whole(quantile(law, u), 0)[0])

    def closures(self, hospital: Hospital) -> list[tuple[int, int]]:
        """Return spells [start, end) in s, apart and in order, in which no delivery arrives."""
        if hospital.resupply is None:
            return []
        spells: list[tuple[int, int]] = []
        for index, closure in enumerate(hospital.resupply.road_closures):
            spells += _closure_spells(self.key, hospital, index, closure)
        return _merge(spells)


def _patients(key: tuple[int, int], hospital: Hospital) -> PatientTable:
    columns = [_class_patients(key, hospital, kind) for kind in hospital.patients]
    index = np.concatenate([np.full(len(c[0]), i, dtype=np.int64) for i, c in enumerate(columns)])
    ordinal = np.concatenate([np.arange(len(c[0]), dtype=np.int64) for c in columns])
    arrival, flow, duration = (np.concatenate([c[part] for c in columns]) for part in range(3))
    order = np.lexsort((ordinal, index, arrival))
    return PatientTable(*(column[order].tolist() for column in (index, ordinal, arrival, flow, duration)))


def _class_patients(key: tuple[int, int], hospital: Hospital, kind: PatientClass) -> tuple[Ints, Ints, Ints]:
    """Return arrival (s), flow (mL/min) and duration (s) of every patient of one class."""
    arrival = _arrivals(key, hospital, kind)
    count = len(arrival)
    flow_u = uniforms(*key, "patient flow", kind.name, 0, count)
    duration_u = uniforms(*key, "patient duration", kind.name, 0, count)
    return (
        arrival,
        whole(quantile(kind.flow_ml_min, flow_u), 1),
        whole(quantile(kind.duration_s, duration_u), 1),
    )


def _arrivals(key: tuple[int, int], hospital: Hospital, kind: PatientClass) -> Ints:
    rate = kind.admissions_per_day * kind.hypoxaemic
    if rate <= 0:
        return np.zeros(0, dtype=np.int64)
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    run_days = (lead_in_s + hospital.end_s) / DAY_S
    expected = rate * float(cumulative(np.array([run_days]), kind.season, day_zero)[0])
    count = int(expected + 8 * expected**0.5 + 24)
    while True:
        u = uniforms(*key, "patient arrival", kind.name, 0, count)
        days = arrival_days(-np.log1p(-u), rate, kind.season, day_zero, run_days)
        if days[-1] > run_days:
            break
        count *= 2  # rare: far more arrivals than expected
    seconds = np.floor(days[days < run_days] * DAY_S).astype(np.int64) - lead_in_s
    inside: Ints = seconds[(seconds >= 0) & (seconds < hospital.end_s)]
    return inside


def _closure_spells(
    key: tuple[int, int], hospital: Hospital, index: int, closure: RoadClosure
) -> list[tuple[int, int]]:
    first, last = _window(hospital, closure)
    if last < first:
        return []
    zero_s = hospital.warm_up_s  # midnight of the start date
    starts = np.arange((first - hospital.start).days, (last - hospital.start).days + 1) * DAY_S + zero_s
    if closure.chance_per_day is None or closure.length_s is None:
        return [(int(starts[0]), int(starts[-1]) + DAY_S)]
    u = uniforms(*key, "road closure", index, first.toordinal(), len(starts))
    length_u = uniforms(*key, "road closure length", index, first.toordinal(), len(starts))
    lengths = whole(quantile(closure.length_s, length_u), 1)
    hit = u < closure.chance_per_day
    return [(int(s), int(s + n)) for s, n in zip(starts[hit], lengths[hit], strict=True)]


def _window(hospital: Hospital, closure: RoadClosure) -> tuple[dt.date, dt.date]:
    """Return the first and last date of a closure's window that the run can meet."""
    begin, _ = first_date(hospital.start, hospital.warm_up_s)
    finish = hospital.start + dt.timedelta(days=-(-hospital.horizon_s // DAY_S))
    return max(closure.start or begin, begin), min(closure.end or finish, finish)


def _merge(spells: list[tuple[int, int]]) -> list[tuple[int, int]]:
    merged: list[tuple[int, int]] = []
    for start, end in sorted(spells):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    assert all(before[1] < after[0] for before, after in pairwise(merged))
    return merged
