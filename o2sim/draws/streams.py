"""The streams of patients of a hospital, packed as compiled code reads them.

A stream is what is drawn together: a class, one of its surges, those given oxygen without need, or a register.
"""

from __future__ import annotations

import operator
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.laws import LAW, law_record
from o2sim.draws.philox import stable_hash
from o2sim.draws.season import cosine, cumulative, first_date
from o2sim.scenario.types.hospital import DAY_S, Hospital, Law, PatientClass, Recorded, Surge
from o2sim.scenario.types.period import RESAMPLE
from o2sim.scenario.types.records import placed

SURGE_ORDINALS = 10**9  # the first surge's patients are numbered from here, the second's from twice this
_NONE: Sequence[Sequence[int]] = ((), (), (), ())  # columns without a row
FLOAT, INT = np.dtype([("value", "f8")]), np.dtype([("value", "i8")])

STREAM = np.dtype(
    [
        ("class_index", "i8"),
        ("item_word", "u8"),  # of arrivals, flows and durations
        ("class_word", "u8"),  # of what the class's streams share
        ("ordinals_from", "i8"),
        ("needs", "?"),  # False: oxygen is given without need
        ("rate", "f8"),  # a day, in the yearly mean
        ("amplitude", "f8"),  # of the cosine; 0 where the season is not one
        ("peak_day", "f8"),
        ("day_integral", "i8"),  # address of the seasonal integral at each midnight, FLOAT, shape (days + 1,)
        ("day_shape", "i8"),  # address of the gamma shape of each day's factor; 0 where admissions are Poisson
        ("first_day", "i8"),  # of the run, on which the process begins
        ("surge", "i8"),  # its place from 1; 0 for none
        ("surge_start_s", "i8"),
        ("surge_length_s", LAW),
        ("flow_ml_min", LAW),
        ("duration_s", LAW),
        ("weaned_late_s", LAW),
        ("recognised", "f8"),
        ("recorded", "?"),
        ("resample", "?"),
        ("recorded_days", "i8"),
        ("recorded_rows", "i8"),
        ("recorded_day_rows", "i8"),  # addresses, INT: where each recorded day begins, shape (recorded_days + 1,)
        ("recorded_arrival_s", "i8"),  # shape (recorded_rows,): from the record's first day, or of the run
        ("recorded_ordinal", "i8"),
        ("recorded_flow", "i8"),
        ("recorded_need_s", "i8"),
    ],
    align=True,
)
ADMISSIONS = np.dtype(  # what all streams of a hospital share; times from the start of the warm-up
    [
        ("streams", "i8"),  # address
        ("stream_count", "i8"),
        ("days", "i8"),  # of the run, begun ones included
        ("day_zero", "i8"),  # ordinal of the date on which the warm-up begins
        ("lead_in_s", "i8"),  # of that day before the warm-up
        ("warm_up_s", "i8"),
        ("end_s", "i8"),
    ],
    align=True,
)


@dataclass(frozen=True, eq=False)
class PackedAdmissions:
    """The record of ADMISSIONS, what it points to, and how many patients are expected."""

    record: npt.NDArray[Any]
    kept: tuple[npt.NDArray[Any], ...]
    expected: float
    spare: list[Any] = field(default_factory=list)  # arrays of samples that are done, for the next one


_packed: list[tuple[tuple[PatientClass, ...], tuple[Any, int, int], PackedAdmissions]] = []  # the last used last
_KEPT = 64


def pack_admissions(hospital: Hospital) -> PackedAdmissions:
    """Return the streams of a hospital's classes; the same object for equal classes and times."""
    patients, times = hospital.patients, (hospital.start, hospital.warm_up_s, hospital.end_s)
    for same in (operator.is_, operator.eq):  # equality of long registers takes its time
        for place in range(len(_packed) - 1, -1, -1):
            if same(_packed[place][0], patients) and _packed[place][1] == times:
                return _packed[place][2]
    packer = _Packer(*times)
    for index, kind in enumerate(patients):
        packer.add_class(index, kind)
    _packed.append((patients, times, packer.packed()))
    del _packed[:-_KEPT]
    return _packed[-1][2]


@dataclass(frozen=True)
class Extra:
    """More patients of a class from start_s to end_s of a run; item and ordinals_from: by what they draw."""

    class_index: int
    item: str
    multiplier: float  # of the class's admissions, more than 1
    start_s: int
    end_s: int
    ordinals_from: int


def pack_extra(hospital: Hospital, extras: Sequence[Extra]) -> PackedAdmissions:
    """Return streams of more patients; each process begins at the midnight before its first second."""
    packer = _Packer(hospital.start, hospital.warm_up_s, hospital.end_s)
    for index, kind in enumerate(hospital.patients):
        mine = [each for each in extras if each.class_index == index]
        if mine:
            packer.add_extra(kind, mine)
    return packer.packed()


_NO_NEED: dict[str, Any] = {"needs": False, "recognised": 1.0, "weaned_late_s": None}


def _without_need(kind: PatientClass) -> float:
    """Return the share of a class's admissions who are given oxygen without need."""
    return (1 - kind.hypoxaemic) * kind.given_without_need


def _of_class(index: int, kind: PatientClass) -> dict[str, Any]:
    """Return what all streams of a class share."""
    return {
        "class_index": index,
        "class_word": stable_hash(kind.name),
        "weaned_late_s": kind.weaned_late_s,
        "recognised": kind.recognised,
        "needs": True,
    }


class _Packer:
    """Gathers the streams of a hospital."""

    def __init__(self, start: Any, warm_up_s: int, end_s: int) -> None:
        self.start, self.warm_up_s, self.end_s = start, warm_up_s, end_s
        self.day_zero, self.lead_in_s = first_date(start, warm_up_s)
        self.days = -(-(self.lead_in_s + end_s) // DAY_S)
        self.rows: list[dict[str, Any]] = []
        self.kept: list[npt.NDArray[Any]] = []
        self.expected = 0.0

    def add_class(self, index: int, kind: PatientClass) -> None:
        """Add the streams of one class, in the order in which patients of one second are kept apart."""
        if kind.recorded is not None:
            own = {**_of_class(index, kind), "item_word": stable_hash(kind.name)}
            self.rows.append({**own, **self._register(kind.recorded)})
            return
        common = self._drawn(index, kind)
        self._add_parts(kind, common, kind.name, kind.hypoxaemic)
        self._add_parts(kind, common | _NO_NEED, f"{kind.name}, without need", _without_need(kind))

    def add_extra(self, kind: PatientClass, extras: Sequence[Extra]) -> None:
        """Add the streams of more patients of a class; of a register by its rate, flows and stays."""
        common, integral = self._drawn(extras[0].class_index, kind), self._integral(kind)
        parts = ((common, kind.name, kind.hypoxaemic),
                 (common | _NO_NEED, f"{kind.name}, without need", _without_need(kind)))  # fmt: skip
        for each in extras:
            first = (self.lead_in_s + each.start_s) // DAY_S
            days = integral[-(-(self.lead_in_s + each.end_s) // DAY_S)] - integral[first]
            for own, name, share in parts:
                rate = kind.admissions_per_day * share * (each.multiplier - 1)
                if rate > 0:
                    length_s = Law("constant", (float(each.end_s - each.start_s),))
                    window = {"surge": 1, "surge_start_s": each.start_s, "surge_length_s": length_s}
                    item_word = stable_hash(f"{name}, {each.item}")
                    own = {**own, **window, "item_word": item_word, "ordinals_from": each.ordinals_from}
                    self.rows.append({**own, "rate": rate, "first_day": first})
                    self.expected += rate * float(days)

    def _drawn(self, index: int, kind: PatientClass) -> dict[str, Any]:
        """Return what the drawn streams of a class share."""
        laws = {"flow_ml_min": kind.flow_ml_min, "duration_s": kind.duration_s}
        return {**_of_class(index, kind), **laws, **self._season(kind)}

    def _add_parts(self, kind: PatientClass, common: dict[str, Any], name: str, share: float) -> None:
        """Add a stream and its surges."""
        for place, surge in enumerate((None, *kind.surges)):
            rate = kind.admissions_per_day * share * (1.0 if surge is None else surge.multiplier - 1)
            if rate <= 0:
                continue
            item = name if surge is None else f"{name}, surge {place}"
            row = {**common, "item_word": stable_hash(item), "rate": rate, "ordinals_from": place * SURGE_ORDINALS}
            self.rows.append(row if surge is None else {**row, **self._surge(place, surge)})
            self.expected += rate * float(self._integral(kind)[-1])

    def _surge(self, place: int, surge: Surge) -> dict[str, Any]:
        start_s = self.warm_up_s + (surge.start - self.start).days * DAY_S
        return {"surge": place, "surge_start_s": start_s, "surge_length_s": surge.length_s}

    def _integral(self, kind: PatientClass) -> npt.NDArray[np.float64]:
        return cumulative(np.arange(self.days + 1, dtype=np.float64), kind.season, self.day_zero)

    def _season(self, kind: PatientClass) -> dict[str, Any]:
        """Return the season of a class, and the gamma shapes of its days.

        A day's factor has mean 1 and variance (d - 1) / m, m the day's mean number of admissions and d the
        overdispersion, so that the number is negative binomial with variance d m (Greenwood and Yule 1920).
        """
        integral = self._integral(kind)
        found: dict[str, Any] = {"day_integral": self._keep(FLOAT, integral)}
        if kind.season is not None and not kind.season.monthly:
            found["amplitude"], found["peak_day"] = cosine(kind.season, self.day_zero)
        if kind.overdispersion > 1:
            shape = kind.admissions_per_day * np.diff(integral) / (kind.overdispersion - 1)
            found["day_shape"] = self._keep(FLOAT, np.maximum(shape, 1e-9))
        return found

    def _register(self, found: Recorded) -> dict[str, Any]:
        """Return the rows of a register: all of them where days are drawn, else those that the run meets."""
        resample, columns, days = found.use == RESAMPLE, _NONE, np.zeros(0, dtype=np.int64)
        if resample:
            self.expected += len(found.arrival_s) * self.days / found.days
            days = np.searchsorted(np.array(found.arrival_s), np.arange(found.days + 1) * DAY_S)
            columns = found.arrival_s, [], found.flow_ml_min, found.need_s
        else:
            rows = placed(found, self.start, self.warm_up_s, self.end_s)
            self.expected += len(rows)
            columns = list(zip(*rows, strict=True)) or _NONE
        names = ("recorded_arrival_s", "recorded_ordinal", "recorded_flow", "recorded_need_s")
        return {
            "recorded": True,
            "resample": resample,
            "recorded_days": found.days,
            "recorded_rows": len(columns[0]),
            "recorded_day_rows": self._keep(INT, days),
            **{name: self._keep(INT, column) for name, column in zip(names, columns, strict=True)},
        }

    def _keep(self, dtype: np.dtype[Any], values: Any) -> int:
        """Keep values as records and return their address."""
        array = jit.memory(dtype, len(values))
        array["value"][: len(values)] = values
        self.kept.append(array)
        return jit.address(array)

    def packed(self) -> PackedAdmissions:
        """Return all that was added."""
        streams = jit.memory(STREAM, len(self.rows))
        for stream, row in zip(streams, self.rows, strict=False):
            for name in ("surge_length_s", "flow_ml_min", "duration_s", "weaned_late_s"):
                stream[name] = law_record(row.get(name))[0]
            for name in row.keys() - {"surge_length_s", "flow_ml_min", "duration_s", "weaned_late_s"}:
                stream[name] = row[name]
        record = jit.memory(ADMISSIONS, 1)
        shared = (self.days, self.day_zero.toordinal(), self.lead_in_s, self.warm_up_s, self.end_s)
        record[0] = (jit.address(streams), len(self.rows), *shared)
        return PackedAdmissions(record, (streams, *self.kept), self.expected)
