"""Seed, replication and hospital in; everybody who needs or gets oxygen in a run out: the one table of patients.

A patient is (class name, ordinal): the ordinal is the place in the stream of the class, in that of a surge, or in
the register.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.philox import MASK
from o2sim.draws.sampling import CURSOR, ROW, sample_patients
from o2sim.draws.streams import PackedAdmissions
from o2sim.scenario.types.hospital import PatientClass

Flows = tuple[tuple[int, int], ...]  # (seconds from arrival, mL/min)
_NO_ROWS = jit.memory(ROW, 1)[:0]


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
        return PatientTable(class_index, ordinal, arrival, flow, duration, need, tuple(missed), steps)


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


def _scratch(packed: PackedAdmissions, room: int) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Return rows and cursors to work with, those of an earlier sample where they are large enough."""
    try:
        rows, cursors = packed.spare.pop()
    except IndexError:
        rows = None
    if rows is None or len(rows) < room:
        return jit.table(ROW, room), jit.table(CURSOR, int(packed.record[0].stream_count))
    return rows, cursors
