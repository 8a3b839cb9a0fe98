"""Who was met on oxygen at a count: those listed or, where nobody counted, as many as there may be; drawn."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from scipy.special import pdtrik

from o2sim.draws.count_record import ANYWHERE, NOWHERE, ON_CYLINDER, ON_UNIT
from o2sim.draws.laws import quantile
from o2sim.draws.met import Key, ages_of
from o2sim.draws.philox import uniforms
from o2sim.draws.season import daily_rate
from o2sim.draws.under_way import rest
from o2sim.scenario.types.hospital import DAY_S, Hospital, Law, PatientClass
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.now import Now, OnOxygen

GIVEN_ORDINALS = 1 << 50  # ordinals of those counted begin here: above all who arrive in a run
_SOURCES = {"none": NOWHERE, "concentrator": ON_UNIT, "cylinder": ON_CYLINDER, None: ANYWHERE}


class Met(NamedTuple):
    """A patient met at the count: a row of ROW, where, and the gas in the cylinder."""

    row: tuple[Any, ...]
    source: int
    content: int


def patients_met(key: Key, hospital: Hospital, now: Now) -> list[Met]:
    """Return those met, listed or drawn, with the rest of each stay."""
    if now.on_oxygen is None:
        listed = [
            OnOxygen(index)
            for index, kind in enumerate(hospital.patients)
            for _ in range(_number_met(key, hospital, kind))
        ]
    else:
        listed = list(now.on_oxygen)
    found: dict[int, Met] = {}
    for index, kind in enumerate(hospital.patients):
        places = [place for place, each in enumerate(listed) if each.class_index == index]
        if places:
            found |= zip(places, _of_class(key, hospital, kind, index, [listed[at] for at in places]), strict=True)
    return [found[place] for place in range(len(listed))]


def _number_met(key: Key, hospital: Hospital, kind: PatientClass) -> int:
    """Return how many of a class are on oxygen at a moment nobody counted them: Poisson (M/G/infinity)."""
    expected = daily_rate(hospital, kind) * law_mean(_stay(kind)) / DAY_S
    if expected <= 0:
        return 0
    u = float(uniforms(*key, "number on oxygen", kind.name, 0, 1)[0])
    return max(0, int(np.ceil(pdtrik(u, expected))))


def _of_class(key: Key, hospital: Hospital, kind: PatientClass, index: int, met: list[OnOxygen]) -> list[Met]:
    """Return those of one class; ordinals go by their order in the class, so that one more shifts nobody."""
    count = len(met)
    u_age, u_stay, u_flow, u_gas = (
        uniforms(*key, stream, kind.name, GIVEN_ORDINALS, count)
        for stream in ("time on oxygen so far", "patient duration", "patient flow", "gas in the cylinder met")
    )
    stay = _stay(kind)
    ages = ages_of(stay, [each.age_s for each in met], u_age)
    left = np.maximum(1, np.rint(rest(stay, ages, u_stay)))
    late = np.zeros(count)
    if kind.weaned_late_s is not None:
        late = np.rint(
            quantile(kind.weaned_late_s, uniforms(*key, "weaned late", kind.name, GIVEN_ORDINALS, count))
        )
    flows = np.maximum(1, np.rint(quantile(_flow(kind), u_flow)))
    return [
        Met(
            (
                -int(age), _first_flow(kind, each.flow_ml_min, int(flow), int(age)), int(age + rest_s + late_s),
                int(age + rest_s), index, GIVEN_ORDINALS + nth, True,
            ),
            _SOURCES[each.source],
            _content(hospital, each, float(u)),
        )
        for nth, (each, age, rest_s, late_s, flow, u) in enumerate(
            zip(met, ages, left, late, flows, u_gas, strict=True)
        )
    ]  # fmt: skip


def _stay(kind: PatientClass) -> Law:
    """Return the law of stays, that of the rows of a register where there is one."""
    if kind.recorded is None:
        return kind.duration_s
    return Law("empirical", tuple(sorted(float(each) for each in kind.recorded.need_s)))


def _flow(kind: PatientClass) -> Law:
    if kind.recorded is None:
        return kind.flow_ml_min
    return Law("empirical", tuple(sorted(float(each) for each in kind.recorded.flow_ml_min)))


def _first_flow(kind: PatientClass, now_ml_min: int | None, drawn_ml_min: int, age_s: int) -> int:
    """Return the flow with which a stay began: its steps then give the flow that was written."""
    if now_ml_min is None:
        return drawn_ml_min
    share = 1.0
    for step in kind.flow_steps:
        if step.after_s <= age_s:
            share = step.share
    return max(1, round(now_ml_min / share))


def _content(hospital: Hospital, met: OnOxygen, u: float) -> int:
    """Return the gas in the cylinder of a patient who may have one, anything above what is kept if not read."""
    if hospital.cylinders is None or met.source not in ("cylinder", None):
        return 0
    if met.gas is not None:
        return met.gas
    keep = hospital.cylinders.kept_gas
    return keep + round(u * (hospital.cylinders.full_gas - keep))
