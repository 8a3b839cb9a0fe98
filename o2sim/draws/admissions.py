"""The one table of patients: everybody who needs or gets oxygen in a run, and what they need in all.

A patient is (class name, ordinal): the ordinal is the place in the stream of the class, in that of a surge, or in
the register.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.philox import MASK
from o2sim.draws.sampling import CURSOR, ROW, sample_patients
from o2sim.draws.streams import PackedAdmissions
from o2sim.scenario.types.hospital import PatientClass

Whole = npt.NDArray[np.int64]
Flows = tuple[tuple[int, int], ...]  # (seconds from arrival, mL/min)
_NO_ROWS = jit.memory(ROW, 1)[:0]


@dataclass(frozen=True)
class PatientTable:
    """All patients of a run in order of arrival; each list has one entry a patient.

    arrival_s counts from the start of the run. Those present by then have their numbers in `present`: those of a
    register have arrival 0 and times that are what is left, those met at a count an arrival before it and their
    whole stay. class_index points into Hospital.patients, ordinal is the patient's place within
    the class: (class name, ordinal) names a patient under every strategy.
    """

    class_index: list[int]
    ordinal: list[int]
    arrival_s: list[int]
    flow_ml_min: list[int]
    duration_s: list[int]  # on oxygen
    need_s: list[int]  # in need, from arrival on; 0 for one given oxygen without need
    unrecognised: tuple[tuple[int, int], ...] = ()  # (arrival, seconds of need) of those given none
    steps: tuple[Flows, ...] = ()  # of each patient's flow after the first; none at all where it is empty
    present: frozenset[int] = frozenset()  # who did not arrive in the run

    def __len__(self) -> int:
        """Return the number of patients."""
        return len(self.arrival_s)

    def flows(self, number: int) -> Flows:
        """Return (seconds from arrival, flow from then on) of a patient, from (0, the first flow) on."""
        first = ((0, self.flow_ml_min[number]),)
        return first + self.steps[number] if self.steps else first


@dataclass(frozen=True, eq=False)
class Sample:
    """Patients as records of ROW, in order of arrival, and those nobody recognised."""

    rows: npt.NDArray[Any] = field(default_factory=lambda: _NO_ROWS)
    unrecognised: npt.NDArray[Any] = field(default_factory=lambda: _NO_ROWS)

    def table(self, classes: tuple[PatientClass, ...]) -> PatientTable:
        """Return the same as lists, with the steps of each flow."""
        names = ("class_index", "ordinal", "arrival_s", "flow_ml_min", "duration_s", "need_s")
        missed = zip(*(self.unrecognised[name].tolist() for name in ("arrival_s", "need_s")), strict=True)
        class_index, ordinal, arrival, flow, duration, need = (self.rows[name].tolist() for name in names)
        steps: tuple[Flows, ...] = ()
        if any(each.flow_steps for each in classes):
            steps = tuple(_steps(classes[k], f) for k, f in zip(class_index, flow, strict=True))
        present = frozenset(np.flatnonzero(self.rows.view(np.ndarray)["present"]).tolist())
        return PatientTable(class_index, ordinal, arrival, flow, duration, need, tuple(missed), steps, present)


def _steps(kind: PatientClass, first_ml_min: int) -> Flows:
    """Return the steps of a flow, rounded to whole mL/min (half to even), those left out that change nothing."""
    found, before = [], first_ml_min
    for step in kind.flow_steps:
        flow = max(1, round(first_ml_min * step.share))
        if flow != before:
            found.append((step.after_s, flow))
        before = flow
    return tuple(found)


def sample(key: tuple[int, int], packed: PackedAdmissions) -> Sample:
    """Return the patients of (seed, replication)."""
    room = int(packed.expected + 8 * packed.expected**0.5 + 64)
    seed, replication = (word & MASK for word in key)
    at = jit.address(packed.record)
    while True:
        (rows, cursors), out = _scratch(packed, room), jit.table(ROW, room)
        count, needed = sample_patients(
            at, seed, replication, jit.address(rows), room, jit.address(cursors), jit.address(out)
        )
        if needed <= room:
            break
        room = needed  # rare, but for overdispersed days: far more arrivals than expected
    ends = zip(cursors["end"].tolist(), cursors["last"].tolist(), strict=True)
    missed = [rows[end:last] for end, last in ends if end < last]
    found = Sample(out[:count], np.concatenate(missed) if missed else _NO_ROWS)
    packed.spare.append((rows, cursors))
    return found


def with_those_met(found: Sample, met: npt.NDArray[Any]) -> Sample:
    """Return a sample that begins with those met at a count; a register's own of before are left out."""
    came = found.rows[~found.rows.view(np.ndarray)["present"]]
    rows = jit.table(ROW, len(met) + len(came))
    rows[: len(met)], rows[len(met) : len(met) + len(came)] = met, came
    return Sample(rows[: len(met) + len(came)], found.unrecognised)


def _scratch(packed: PackedAdmissions, room: int) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Return rows and cursors to work with, those of an earlier sample where they are large enough."""
    try:
        rows, cursors = packed.spare.pop()
    except IndexError:
        rows = None
    if rows is None or len(rows) < room:
        return jit.table(ROW, room), jit.table(CURSOR, int(packed.record[0].stream_count))
    return rows, cursors


class Need(NamedTuple):
    """What is needed in a horizon, the same under every strategy and engine; gas in 1/60 mL."""

    arrivals: tuple[int, ...]  # by class
    patients: tuple[int, ...]
    seconds: int
    gas: int
    unrecognised_s: int  # of those in need whom nobody recognised


def need_of(sample: Sample, classes: tuple[PatientClass, ...], midnight_s: int, end_s: int) -> Need:
    """Return the need from midnight_s (the start of the horizon) to end_s; who was present is no arrival."""
    rows = sample.rows
    arrival_s, index = _whole(rows, "arrival_s"), _whole(rows, "class_index")
    from_s = np.maximum(arrival_s, midnight_s)
    to_s = np.minimum(arrival_s + _whole(rows, "need_s"), end_s)
    inside = to_s > from_s
    came = ((arrival_s >= midnight_s) & ~rows.view(np.ndarray)["present"])[inside]
    arrival_s, index, from_s, to_s = arrival_s[inside], index[inside], from_s[inside], to_s[inside]
    flow = _whole(rows, "flow_ml_min")[inside]
    gas = int((flow * (to_s - from_s)).sum())
    for place, kind in enumerate(classes):
        if kind.flow_steps:
            mine = index == place
            gas -= _saved(kind, flow[mine], from_s[mine] - arrival_s[mine], to_s[mine] - arrival_s[mine])
    count = len(classes)
    missed = sample.unrecognised
    missed_s = _whole(missed, "arrival_s")
    unseen = np.minimum(missed_s + _whole(missed, "need_s"), end_s) - np.maximum(missed_s, midnight_s)
    return Need(
        arrivals=tuple(np.bincount(index[came], minlength=count).tolist()),
        patients=tuple(np.bincount(index, minlength=count).tolist()),
        seconds=int((to_s - from_s).sum()),
        gas=gas,
        unrecognised_s=int(np.maximum(unseen, 0).sum()),
    )


def _saved(kind: PatientClass, flow: Whole, from_s: Whole, to_s: Whole) -> int:
    """Return the gas that steps of the flow save between two seconds of each stay."""
    saved, before = 0, flow
    for step in kind.flow_steps:
        after = np.maximum(1, np.rint(flow * step.share).astype(np.int64))
        seconds = np.maximum(0, to_s - np.maximum(from_s, step.after_s))
        saved += int(((before - after) * seconds).sum())
        before = after
    return saved


def _whole(rows: npt.NDArray[Any], name: str) -> Whole:
    return np.asarray(rows.view(np.ndarray)[name], dtype=np.int64)
