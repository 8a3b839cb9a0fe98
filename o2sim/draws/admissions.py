"""Seed, replication and hospital in; everybody who needs or gets oxygen in a run out: the one table of patients.

A patient is (class name, ordinal): the ordinal is the place in the stream of the class, in that of a surge, or in
the register.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from o2sim.draws.laws import Floats, Ints, quantile, whole
from o2sim.draws.philox import Item, uniforms
from o2sim.draws.season import arrival_days, cumulative, first_date
from o2sim.scenario.types import DAY_S, Hospital, PatientClass, Recorded, Surge

Flows = tuple[tuple[int, int], ...]  # (seconds from arrival, mL/min)
_SURGE_ORDINALS = 10**9  # the first surge's patients are numbered from here, the second's from twice this
_DAY_ORDINALS = 10**5  # a resampled day's patients are numbered from its date times this


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
    duration_s: list[int]  # on oxygen
    need_s: list[int]  # in need, from arrival on; 0 for one given oxygen without need
    unrecognised: tuple[tuple[int, int], ...] = ()  # (arrival, seconds of need) of those given none
    steps: tuple[Flows, ...] = ()  # of each patient's flow after the first; none at all where it is empty

    def __len__(self) -> int:
        """Return the number of patients."""
        return len(self.arrival_s)

    def flows(self, number: int) -> Flows:
        """Return (seconds from arrival, flow from then on) of a patient, from (0, the first flow) on."""
        first = ((0, self.flow_ml_min[number]),)
        return first + self.steps[number] if self.steps else first


@dataclass(frozen=True)
class _Group:
    """Patients of one class who share a stream; arrays of shape (n,)."""

    class_index: int
    ordinal: Ints
    arrival_s: Ints
    flow_ml_min: Ints
    need_s: Ints
    duration_s: Ints

    def where(self, chosen: npt.NDArray[np.bool_]) -> _Group:
        """Return those of the group that are chosen."""
        parts = (self.ordinal, self.arrival_s, self.flow_ml_min, self.need_s, self.duration_s)
        return _Group(self.class_index, *(part[chosen] for part in parts))


def patients(key: tuple[int, int], hospital: Hospital) -> PatientTable:
    """Return the patients of (seed, replication) in order of arrival."""
    groups: list[_Group] = []
    unrecognised: list[tuple[int, int]] = []
    for index, kind in enumerate(hospital.patients):
        for in_need, item in _in_need(key, hospital, index, kind):
            found = uniforms(*key, "recognised", item, 0, len(in_need.ordinal)) < kind.recognised
            missed = in_need.where(~found)
            unrecognised += zip(missed.arrival_s.tolist(), missed.need_s.tolist(), strict=True)
            groups.append(in_need.where(found))
        if kind.recorded is None:
            groups += _without_need(key, hospital, index, kind)
    return _table(hospital, groups, unrecognised)


def _table(hospital: Hospital, groups: list[_Group], unrecognised: list[tuple[int, int]]) -> PatientTable:
    """Return the groups as one table in order of arrival."""
    index = np.concatenate([np.full(len(group.ordinal), group.class_index, dtype=np.int64) for group in groups])
    names = ("ordinal", "arrival_s", "flow_ml_min", "duration_s", "need_s")
    columns = [np.concatenate([getattr(group, name) for group in groups]) for name in names]
    order = np.lexsort((columns[4] == 0, columns[0], index, columns[1]))
    kind, ordinal, arrival, flow, duration, need = (column[order].tolist() for column in (index, *columns))
    steps: tuple[Flows, ...] = ()
    if any(each.flow_steps for each in hospital.patients):
        steps = tuple(_steps(hospital.patients[k], f) for k, f in zip(kind, flow, strict=True))
    return PatientTable(kind, ordinal, arrival, flow, duration, need, tuple(unrecognised), steps)


def _steps(kind: PatientClass, first_ml_min: int) -> Flows:
    """Return the steps of a flow, rounded to whole mL/min (half to even), those left out that change nothing."""
    found, before = [], first_ml_min
    for step in kind.flow_steps:
        flow = max(1, round(first_ml_min * step.share))
        if flow != before:
            found.append((step.after_s, flow))
        before = flow
    return tuple(found)


def _in_need(key: tuple[int, int], hospital: Hospital, index: int, kind: PatientClass) -> list[tuple[_Group, str]]:
    """Return those of a class who need oxygen, and how long they get it where weaning is late, by stream."""
    if kind.recorded is not None:
        ordinal, arrival, flow, need = _recorded(key, hospital, kind.recorded)
        return [(_Group(index, ordinal, arrival, flow, need, need + _late(key, kind, kind.name, need)), kind.name)]
    found = []
    for place, surge in enumerate((None, *kind.surges)):
        item = kind.name if surge is None else f"{kind.name}, surge {place}"
        share = kind.hypoxaemic * (1.0 if surge is None else surge.multiplier - 1)
        arrival = _arrivals(key, hospital, kind, share, item)
        if surge is not None:
            arrival = _within(key, hospital, kind, place, surge, arrival)
        flow, need = _stays(key, kind, item, len(arrival))
        ordinal = np.arange(len(arrival)) + place * _SURGE_ORDINALS
        found.append((_Group(index, ordinal, arrival, flow, need, need + _late(key, kind, item, need)), item))
    return found


def _late(key: tuple[int, int], kind: PatientClass, item: Item, need: Ints) -> Ints:
    """Return how many seconds longer than needed each is given oxygen."""
    if kind.weaned_late_s is None:
        return np.zeros_like(need)
    return whole(quantile(kind.weaned_late_s, uniforms(*key, "weaned late", item, 0, len(need))), 0)


def _without_need(key: tuple[int, int], hospital: Hospital, index: int, kind: PatientClass) -> list[_Group]:
    """Return those of a class who are given oxygen without need, by stream."""
    found = []
    for place, surge in enumerate((None, *kind.surges)):
        item = f"{kind.name}, without need" + (f", surge {place}" if surge else "")
        share = (1 - kind.hypoxaemic) * kind.given_without_need * (1.0 if surge is None else surge.multiplier - 1)
        arrival = _arrivals(key, hospital, kind, share, item)
        if surge is not None:
            arrival = _within(key, hospital, kind, place, surge, arrival)
        flow, duration = _stays(key, kind, item, len(arrival))
        ordinal = np.arange(len(arrival)) + place * _SURGE_ORDINALS
        found.append(_Group(index, ordinal, arrival, flow, np.zeros_like(duration), duration))
    return found


def _stays(key: tuple[int, int], kind: PatientClass, item: Item, count: int) -> tuple[Ints, Ints]:
    """Return flow (mL/min) and duration (s) of the first `count` patients of a stream."""
    flow_u = uniforms(*key, "patient flow", item, 0, count)
    duration_u = uniforms(*key, "patient duration", item, 0, count)
    return whole(quantile(kind.flow_ml_min, flow_u), 1), whole(quantile(kind.duration_s, duration_u), 1)


def _arrivals(key: tuple[int, int], hospital: Hospital, kind: PatientClass, share: float, item: Item) -> Ints:
    """Return the arrival seconds of a share of a class's admissions."""
    rate = kind.admissions_per_day * share
    if rate <= 0:
        return np.zeros(0, dtype=np.int64)
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    run_days = (lead_in_s + hospital.end_s) / DAY_S
    factors = _day_factors(key, hospital, kind)
    expected = rate * float(cumulative(np.array([run_days]), kind.season, day_zero)[0])
    count = int(expected + 8 * expected**0.5 + 24)
    while True:
        u = uniforms(*key, "patient arrival", item, 0, count)
        days = arrival_days(-np.log1p(-u), rate, kind.season, day_zero, run_days, factors)
        if days[-1] > run_days:
            break
        count *= 2  # rare, but for overdispersed days: far more arrivals than expected
    seconds = np.floor(days[days < run_days] * DAY_S).astype(np.int64) - lead_in_s
    inside: Ints = seconds[(seconds >= 0) & (seconds < hospital.end_s)]
    return inside


def _day_factors(key: tuple[int, int], hospital: Hospital, kind: PatientClass) -> Floats | None:
    """Return what multiplies the admissions of each day, None where they are Poisson.

    Gamma of mean 1 and variance (d - 1) / m, m the day's mean number of admissions and d the overdispersion, so
    that the number is negative binomial with variance d m (Greenwood and Yule 1920). Keyed by class and date.
    """
    if kind.overdispersion == 1:
        return None
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    days = -(-(lead_in_s + hospital.end_s) // DAY_S)
    season = np.diff(cumulative(np.arange(days + 1, dtype=np.float64), kind.season, day_zero))
    shape = np.maximum(kind.admissions_per_day * season / (kind.overdispersion - 1), 1e-9)
    u = uniforms(*key, "day of admissions", kind.name, day_zero.toordinal(), days)
    return np.asarray(special.gammaincinv(shape, u) / shape, dtype=np.float64)


def _within(
    key: tuple[int, int], hospital: Hospital, kind: PatientClass, place: int, surge: Surge, arrival: Ints
) -> Ints:
    """Return the arrivals that fall into a surge."""
    start_s = hospital.warm_up_s + (surge.start - hospital.start).days * DAY_S
    length_s = int(whole(quantile(surge.length_s, uniforms(*key, "surge length", kind.name, place, 1)), 1)[0])
    inside: Ints = arrival[(arrival >= start_s) & (arrival < start_s + length_s)]
    return inside


def _recorded(key: tuple[int, int], hospital: Hospital, found: Recorded) -> tuple[Ints, Ints, Ints, Ints]:
    """Return (ordinal, arrival, flow, need) of a register: as it was, or whole days of it drawn at random."""
    arrival, flow, need = (
        np.array(part, dtype=np.int64) for part in (found.arrival_s, found.flow_ml_min, found.need_s)
    )
    row = ordinal = np.arange(len(arrival))
    offset_s = np.full(len(row), hospital.warm_up_s + found.first_day * DAY_S)
    if found.resample:
        row, ordinal, offset_s = _drawn_days(key, hospital, found, arrival)
    seconds = offset_s + arrival[row]
    inside = (seconds >= 0) & (seconds < hospital.end_s)
    return ordinal[inside], seconds[inside], flow[row][inside], need[row][inside]


def _drawn_days(
    key: tuple[int, int], hospital: Hospital, found: Recorded, arrival: Ints
) -> tuple[Ints, Ints, Ints]:
    """Return (row, ordinal, seconds to add to its arrival); a day draws the same recorded day for all classes."""
    day_zero, lead_in_s = first_date(hospital.start, hospital.warm_up_s)
    days = -(-(lead_in_s + hospital.end_s) // DAY_S)
    u = uniforms(*key, "recorded day", 0, day_zero.toordinal(), days)
    drawn = np.floor(u * found.days).astype(np.int64)
    first, last = (np.searchsorted(arrival, (drawn + late) * DAY_S) for late in (0, 1))
    counts = last - first
    run_day = np.repeat(np.arange(days), counts)
    nth = np.arange(len(run_day)) - np.repeat(np.cumsum(counts) - counts, counts)
    row = np.repeat(first, counts) + nth
    ordinal = (day_zero.toordinal() + run_day) * _DAY_ORDINALS + nth
    return row, ordinal, (run_day - drawn[run_day]) * DAY_S - lead_in_s
