"""What a run begins from: the count of a hospital, with what nobody knows drawn, the same for every strategy.

What is under way and has lasted `age` so far has `rest` to come, from the uniform number of a new one; what nobody
knows the beginning of is met at a random moment (`under_way`). Both engines begin from one record of START.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import pdtrik

from o2sim.compiler import jit
from o2sim.draws.laws import Floats, quantile
from o2sim.draws.philox import uniforms
from o2sim.draws.sampling import ROW
from o2sim.draws.season import daily_rate
from o2sim.draws.under_way import age_met, rest, survival
from o2sim.scenario.types.hospital import DAY_S, Concentrators, Cylinders, Hospital, Law, PatientClass
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.now import Now, OnOxygen

Key = tuple[int, int]
NOWHERE, ON_UNIT, ON_CYLINDER, ANYWHERE = range(4)  # where a patient was met: waiting; by the strategy's order
WORKS, NEVER_BACK, WAITS = -1, -2, -3  # of a unit, in place of the seconds of repair still to come
GIVEN_ORDINALS = 1 << 50  # ordinals of those counted begin here: above all who arrive in a run


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


def start_of(key: Key, hospital: Hospital) -> Start:
    """Return what a run of a hospital with a count begins from, by (seed, replication)."""
    now = hospital.now
    assert now is not None
    met = sorted(_patients(key, hospital, now), key=lambda each: _PLACING[each.source])
    rows = table(ROW, [each.row for each in met])
    given = table(GIVEN, [(place, each.source, -1, each.content, 0) for place, each in enumerate(met)])
    rack = table(CONTENT, [(content,) for content in _part_used(hospital, now)])
    numbers: dict[str, int] = {
        **_store(hospital, now, met), **_grid(key, hospital, now), **_voltage(key, hospital),
        "next": len(met), "battery_permille": _or_none(now.battery_permille), "fuel_ml": _or_none(now.fuel_ml),
        "next_review_s": _or_none(now.next_review_s),
    }  # fmt: skip
    coming = _orders(key, hospital, now)
    today = now.counted.date().toordinal()
    numbers |= {
        "orders": len(coming),
        "orders_day": today,
        "orders_on_day": sum(row[3] == today for row in coming),
    }
    return make_start(
        numbers, rows, given, table(COMING, coming), table(UNIT_MET, _units(key, hospital, now)), rack
    )


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


class _Met(NamedTuple):
    """A patient met at the count: a row of ROW, where, and the gas in the cylinder."""

    row: tuple[Any, ...]
    source: int
    content: int


_SOURCES = {"none": NOWHERE, "concentrator": ON_UNIT, "cylinder": ON_CYLINDER, None: ANYWHERE}
_PLACING = {ON_UNIT: 0, ON_CYLINDER: 1, ANYWHERE: 2, NOWHERE: 3}  # who is put where they were met comes first


def _patients(key: Key, hospital: Hospital, now: Now) -> list[_Met]:
    """Return those met, listed or drawn, with the rest of each stay."""
    if now.on_oxygen is None:
        listed = [
            OnOxygen(index)
            for index, kind in enumerate(hospital.patients)
            for _ in range(_number_met(key, hospital, kind))
        ]
    else:
        listed = list(now.on_oxygen)
    found: dict[int, _Met] = {}
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


def _of_class(key: Key, hospital: Hospital, kind: PatientClass, index: int, met: list[OnOxygen]) -> list[_Met]:
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
        _Met(
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


def ages_of(law: Law, known_s: list[int | None], u: Floats) -> Floats:
    """Return ages in whole s: those known, others as of what is met at a random moment."""
    if None not in known_s:
        return np.array(known_s, dtype=np.float64)
    met = np.floor(age_met(law, u)).tolist()
    return np.array([met[place] if age is None else age for place, age in enumerate(known_s)], dtype=np.float64)


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
    keep = _keep(hospital.cylinders)
    return keep + round(u * (hospital.cylinders.full_gas - keep))


def _keep(cylinders: Cylinders) -> int:
    """Return the gas that stays in a cylinder taken off as empty."""
    return max(cylinders.residual_gas, cylinders.lost_gas)


def _or_none(value: int | None) -> int:
    return -1 if value is None else value


def _store(hospital: Hospital, now: Now, met: list[_Met]) -> dict[str, int]:
    """Return the counts of cylinders; of the others, the engines give some to those met anywhere."""
    if hospital.cylinders is None or now.cylinders is None:
        return {}
    on_patients = sum(each.source == ON_CYLINDER for each in met)
    stock = now.cylinders
    counted = stock.full + stock.empty + len(stock.part_used) + on_patients
    spent = len(stock.part_used) - len(_part_used(hospital, now))
    return {"full": stock.full, "empties": stock.empty + spent, "lost": hospital.cylinders.fleet - counted}


def _part_used(hospital: Hospital, now: Now) -> list[int]:
    """Return what part-used cylinders hold, without those that give nothing more and so count as empty."""
    if hospital.cylinders is None or now.cylinders is None:
        return []
    return [content for content in now.cylinders.part_used if content > _keep(hospital.cylinders)]


def _orders(key: Key, hospital: Hospital, now: Now) -> list[tuple[int, int, int, int, int]]:
    """Return the orders on their way, the oldest first, as rows of COMING.

    Orders do not overtake: only the oldest is known not to have come, so it alone is aged.
    """
    rules = hospital.resupply
    if rules is None or not now.on_order:
        return []
    law, nth_of, found, rows = rules.lead_time_s, {}, [], []  # type: ignore[var-annotated]
    u_age = uniforms(*key, "age of an order", 0, 0, len(now.on_order))
    ages = ages_of(law, [each.age_s for each in now.on_order], u_age)
    for age, each in zip(ages, now.on_order, strict=True):
        day = (now.counted - dt.timedelta(seconds=float(age))).date().toordinal()
        nth = nth_of[day] = nth_of.get(day, -1) + 1
        found.append((-float(age), day, nth, each.count))
    for number, (placed_s, day, nth, count) in enumerate(sorted(found)):
        u = uniforms(*key, "lead time", day, nth, 1)
        if number == 0 or rules.overtaking:
            due_s = float(rest(law, np.array([-placed_s]), u)[0])
        else:
            due_s = placed_s + float(quantile(law, u)[0])
        rows.append((number, count, max(0, round(due_s)), day, nth))
    return rows


def _grid(key: Key, hospital: Hospital, now: Now) -> dict[str, int]:
    """Return whether the drawn grid is up, for how long still, and how many cuts have begun."""
    grid, known = hospital.grid, now.grid
    if grid is None or grid.up_s is None or grid.down_s is None:
        return {"grid_up": 1}
    up = None if known is None else known.up
    age = None if known is None else known.age_s
    is_up, rest_s = _phase(key, "grid", (grid.up_s, grid.down_s), up, age, ("grid up", "grid down"))
    return {"grid_up": is_up, "grid_rest_s": rest_s, "cuts": 0 if is_up else 1}


def _voltage(key: Key, hospital: Hospital) -> dict[str, int]:
    voltage = hospital.power.voltage if hospital.power else None
    if voltage is None:
        return {"voltage_good": 1}
    laws = voltage.good_s, voltage.bad_s
    is_good, rest_s = _phase(key, "voltage", laws, None, None, ("voltage good", "voltage bad"))
    return {"voltage_good": is_good, "voltage_rest_s": rest_s}


def _phase(
    key: Key, what: str, laws: tuple[Law, Law], first: bool | None, age_s: int | None, streams: tuple[str, str]
) -> tuple[int, int]:
    """Return whether the first of two phases that alternate is on, and the seconds of it still to come."""
    u_on, u_age = uniforms(*key, f"{what} met", 0, 0, 2)
    if first is None:
        first = bool(u_on * (law_mean(laws[0]) + law_mean(laws[1])) < law_mean(laws[0]))
    law, stream = (laws[0], streams[0]) if first else (laws[1], streams[1])
    return int(first), _left_s(law, age_s, float(u_age), uniforms(*key, stream, 0, 0, 1))


def _left_s(law: Law, age_s: int | None, u_age: float, u: Floats) -> int:
    """Return the whole seconds to come of one thing under way, one at least."""
    return max(1, round(float(rest(law, ages_of(law, [age_s], np.array([u_age])), u)[0])))


def _units(key: Key, hospital: Hospital, now: Now) -> list[tuple[int, ...]]:
    """Return each unit as a row of UNIT_MET: those counted that work, those that do not, then those added."""
    rules, met = hospital.concentrators, now.units
    if rules is None:
        return []
    if met is None:
        rows = [
            (_working if _works(key, rules, unit) else _down)(key, rules, unit, None)
            for unit in range(rules.count)
        ]
        return _with_crew(rules, rows)
    meters = [*met.meters_s, *[None] * met.working][: met.working]
    rows = [_working(key, rules, unit, meter_s) for unit, meter_s in enumerate(meters)]
    rows += [_down(key, rules, met.working + nth, age_s) for nth, age_s in enumerate(met.down_age_s)]
    rows += [_new(key, rules, unit) for unit in range(len(rows), rules.count)]
    return _with_crew(rules, rows[: rules.count])


def _works(key: Key, rules: Concentrators, unit: int) -> bool:
    """Return whether a unit works that nobody has looked at: by its mean life and repair."""
    if rules.failure_s is None or rules.repair_s is None:
        return True
    life, repair = law_mean(rules.failure_s), law_mean(rules.repair_s)
    return bool(uniforms(*key, "unit met", unit, 0, 1)[0] * (life + repair) < life)


def _working(key: Key, rules: Concentrators, unit: int, meter_s: int | None) -> tuple[int, ...]:
    u = uniforms(*key, "age of a unit", unit, 0, 3)
    life_s = drift_s = drift_age_s = service_s = -1
    if rules.failure_s is not None:
        known = meter_s if rules.failure_clock == "running" else None
        life_s = _left_s(rules.failure_s, known, float(u[0]), uniforms(*key, "concentrator failure", unit, 0, 1))
    if rules.drift_s is not None:
        drift_age_s = int(ages_of(rules.drift_s, [None], u[1:2])[0])
        drift_s = _left_s(rules.drift_s, drift_age_s, 0.5, uniforms(*key, "concentrator drift", unit, 0, 1))
    if rules.service_every_s is not None:
        done_s = int(u[2] * rules.service_every_s) if meter_s is None else meter_s % rules.service_every_s
        service_s = max(1, rules.service_every_s - done_s)
    return WORKS, life_s, drift_s, drift_age_s, service_s, 0, 1


def _new(key: Key, rules: Concentrators, unit: int) -> tuple[int, ...]:
    """Return a unit that a strategy adds to those counted."""
    life_s = drift_s = -1
    if rules.failure_s is not None:
        life_s = _left_s(rules.failure_s, 0, 0.5, uniforms(*key, "concentrator failure", unit, 0, 1))
    if rules.drift_s is not None:
        drift_s = _left_s(rules.drift_s, 0, 0.5, uniforms(*key, "concentrator drift", unit, 0, 1))
    return WORKS, life_s, drift_s, 0, _or_none(rules.service_every_s), 0, 1


def _down(key: Key, rules: Concentrators, unit: int, age_s: int | None) -> tuple[int, ...]:
    """Return a unit that waits for its repair, or will never be repaired: the longer it is down, the likelier."""
    if rules.repair_s is None:
        return NEVER_BACK, -1, -1, -1, -1, 1, 1
    u = uniforms(*key, "unit down", unit, 0, 1)
    age = ages_of(rules.repair_s, [age_s], u)
    share = rules.never_repaired
    still = (1 - share) * float(survival(rules.repair_s, age)[0])
    written_off = share > 0 and uniforms(*key, "never repaired", unit, 0, 1)[0] * (share + still) < share
    repair_s = _left_s(rules.repair_s, int(age[0]), 0.5, uniforms(*key, "concentrator repair", unit, 0, 1))
    return NEVER_BACK if written_off else repair_s, -1, -1, -1, -1, 1, 1


def _with_crew(rules: Concentrators, rows: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Let those that a crew has no hands for wait, the first down in order being seen to."""
    free, found = rules.crew, []
    for row in rows:
        waits = row[0] >= 0 and free is not None and free <= 0
        if row[0] >= 0 and free is not None:
            free -= 1
        found.append((WAITS, *row[1:]) if waits else row)
    return found
