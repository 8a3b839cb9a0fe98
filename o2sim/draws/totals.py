"""Patients as records in, what they alone decide of a horizon out: arrivals, patients, seconds and gas of need."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from o2sim.draws.admissions import Sample
from o2sim.scenario.types.hospital import PatientClass

Whole = npt.NDArray[np.int64]


class Need(NamedTuple):
    """What is needed in a horizon, the same under every strategy and engine; gas in 1/60 mL."""

    arrivals: tuple[int, ...]  # by class
    patients: tuple[int, ...]
    seconds: int
    gas: int
    unrecognised_s: int  # of those in need whom nobody recognised


def need_of(sample: Sample, classes: tuple[PatientClass, ...], midnight_s: int, end_s: int) -> Need:
    """Return the need from midnight_s (the start of the horizon) to end_s."""
    rows = sample.rows
    arrival_s, index = _whole(rows, "arrival_s"), _whole(rows, "class_index")
    from_s = np.maximum(arrival_s, midnight_s)
    to_s = np.minimum(arrival_s + _whole(rows, "need_s"), end_s)
    inside = to_s > from_s
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
        arrivals=tuple(np.bincount(index[arrival_s >= midnight_s], minlength=count).tolist()),
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
