"""The record of what a run begins from, as both engines take it up. No draws here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit

NOWHERE, ON_UNIT, ON_CYLINDER, ANYWHERE = range(4)  # where a patient was met: waiting; by the strategy's order
WORKS, NEVER_BACK, WAITS = -1, -2, -3  # of a unit, in place of the seconds of repair still to come


def _record(names: str) -> np.dtype[Any]:
    return np.dtype([(name, "i8") for name in names.split()])


GIVEN = _record("number source unit content cylinders")  # a patient met; cylinders opened before the one in use
COMING = _record("number count_ due_s day nth")  # an order on its way; due_s before road and calendar
UNIT_MET = _record("repair_s life_s drift_s drift_age_s service_s failed renewed")  # -1: has no such clock
CONTENT = _record("value")
START = _record(  # times in s from the start of the run; counts of events before it, which number those to come
    "present next given given_count coming coming_count units unit_count full empties lost rack rack_count "
    "grid_up grid_rest_s cuts voltage_good voltage_rest_s battery_permille fuel_ml next_review_s "
    "orders orders_day orders_on_day delivered handed_over losses_met"
)


@dataclass(frozen=True, eq=False)
class Start:
    """A record of START with what it points to, and the patients met, as records of ROW."""

    record: npt.NDArray[Any]
    rows: npt.NDArray[Any]
    given: npt.NDArray[Any]
    coming: npt.NDArray[Any]
    units: npt.NDArray[Any]
    rack: npt.NDArray[Any]

    def __getitem__(self, name: str) -> int:
        """Return one number of the record."""
        return int(self.record[name][0])


NO_START = jit.memory(START, 1)  # of a run from an empty hospital: `present` is 0


def make_start(
    numbers: dict[str, int],
    rows: npt.NDArray[Any],
    given: npt.NDArray[Any],
    coming: npt.NDArray[Any],
    units: npt.NDArray[Any],
    rack: npt.NDArray[Any],
) -> Start:
    """Return a start of its numbers and tables."""
    record = jit.table(START, 1)
    for name, value in numbers.items():
        record[name] = value
    record["present"] = 1
    for name, rows_of in (("given", given), ("coming", coming), ("units", units), ("rack", rack)):
        record[name], record[f"{name.removesuffix('s')}_count"] = jit.address(rows_of), len(rows_of)
    return Start(record, rows, given, coming, units, rack)


def table(kind: np.dtype[Any], rows: list[Any]) -> npt.NDArray[Any]:
    """Return rows as records; at least room for one, which keeps the address good."""
    array: npt.NDArray[Any] = jit.table(kind, len(rows))
    for place, row in enumerate(rows):
        array[place] = row
    return array[: len(rows)]
