"""The patients that storms bring: streams of their own for each onset and class, put among all others."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.admissions import Sample, sample
from o2sim.draws.met import Key
from o2sim.draws.philox import stable_hash
from o2sim.draws.sampling import ROW
from o2sim.draws.shocks import Storm
from o2sim.draws.streams import Extra, pack_extra
from o2sim.scenario.types.hospital import Hospital

_ABOVE = 1 << 62  # no other patient has such a number
_PATIENTS_BITS = 24  # of a number, for the patients of one onset


def with_extra(key: Key, hospital: Hospital, found: Sample, storms: tuple[Storm, ...]) -> Sample:
    """Return a sample with the patients that storms bring within the run; the same one where they bring none."""
    extras = [each for storm in storms for each in _extras(hospital, storm)]
    if not extras:
        return found
    more = sample(key, pack_extra(hospital, extras))
    rows = _joined(ROW, found.rows, more.rows)
    plain = rows.view(np.ndarray)
    order = np.lexsort((plain["class_index"], plain["arrival_s"]))  # stable: a class's others come first
    out = jit.table(ROW, len(rows))[: len(rows)]
    out[:] = rows[order]
    return Sample(out, _joined(ROW, found.unrecognised, more.unrecognised))


def _extras(hospital: Hospital, storm: Storm) -> list[Extra]:
    """Return what a storm brings to each class that it concerns, as far as the run meets it."""
    rule, spell = storm.shock.patients, storm.patients
    if rule is None or spell is None:
        return []
    start_s, end_s = max(0, spell[0]), min(hospital.end_s, spell[1])
    if rule.multiplier <= 1 or start_s >= end_s:
        return []
    item = f"shock {storm.shock.name}, {storm.second}"
    number = _ABOVE | (stable_hash(item) >> 2 >> _PATIENTS_BITS << _PATIENTS_BITS)
    return [
        Extra(index, item, rule.multiplier, start_s, end_s, number)
        for index, kind in enumerate(hospital.patients)
        if not rule.classes or kind.name in rule.classes
    ]


def _joined(dtype: np.dtype[Any], first: npt.NDArray[Any], second: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Return the records of one array, then those of another."""
    count = len(first) + len(second)
    rows: npt.NDArray[Any] = jit.table(dtype, count)[:count]
    rows[: len(first)], rows[len(first) :] = first, second
    return rows
