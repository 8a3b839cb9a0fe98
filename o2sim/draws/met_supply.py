"""Orders on their way, the power and the units as they were met at a count; what nobody knows is drawn."""

from __future__ import annotations

import datetime as dt

import numpy as np

from o2sim.draws.count_record import NEVER_BACK, WAITS, WORKS
from o2sim.draws.laws import quantile
from o2sim.draws.lives import known_age_s
from o2sim.draws.met import Key, ages_of, left_s, or_none
from o2sim.draws.philox import Item, uniforms
from o2sim.draws.under_way import rest, survival
from o2sim.scenario.types.hospital import Concentrators, Hospital, Law
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.now import Now


def orders_met(key: Key, hospital: Hospital, now: Now) -> list[tuple[int, int, int, int, int]]:
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


def grid_met(key: Key, hospital: Hospital, now: Now) -> dict[str, int]:
    """Return whether the drawn grid is up, for how long still, and how many cuts have begun."""
    grid, known = hospital.grid, now.grid
    if grid is None or grid.up_s is None or grid.down_s is None:
        return {"grid_up": 1}
    up = None if known is None else known.up
    age = None if known is None else known.age_s
    is_up, rest_s = _phase(key, "grid met", (grid.up_s, grid.down_s), up, age, ("grid up", "grid down"))
    return {"grid_up": is_up, "grid_rest_s": rest_s, "cuts": 0 if is_up else 1}


def voltage_met(key: Key, hospital: Hospital) -> dict[str, int]:
    """Return whether the voltage of the grid is usable, and for how long still."""
    voltage = hospital.power.voltage if hospital.power else None
    if voltage is None:
        return {"voltage_good": 1}
    laws = voltage.good_s, voltage.bad_s
    is_good, rest_s = _phase(key, "voltage met", laws, None, None, ("voltage good", "voltage bad"))
    return {"voltage_good": is_good, "voltage_rest_s": rest_s}


def _phase(
    key: Key, met: str, laws: tuple[Law, Law], first: bool | None, age_s: int | None, streams: tuple[str, str]
) -> tuple[int, int]:
    """Return whether the first of two phases that alternate is on, and the seconds of it still to come."""
    u_on, u_age = uniforms(*key, met, 0, 0, 2)
    if first is None:
        first = bool(u_on * (law_mean(laws[0]) + law_mean(laws[1])) < law_mean(laws[0]))
    law, stream = (laws[0], streams[0]) if first else (laws[1], streams[1])
    return int(first), left_s(law, age_s, float(u_age), uniforms(*key, stream, 0, 0, 1))


def units_met(key: Key, hospital: Hospital, now: Now) -> list[tuple[int, ...]]:
    """Return each unit as a row of UNIT_MET: those counted that work, those that do not, then those added."""
    rules, met = hospital.concentrators, now.units
    if rules is None:
        return []
    if met is None:
        rows = [
            (_working if _works(key, rules, unit) else _down)(key, hospital, unit, None)
            for unit in range(rules.count)
        ]
        return _with_crew(rules, rows)
    meters = [*met.meters_s, *[None] * met.working][: min(met.working, rules.count)]
    rows = [_working(key, hospital, unit, meter_s) for unit, meter_s in enumerate(meters)]
    downs = met.down_age_s[: rules.count - len(rows)]
    rows += [_down(key, hospital, met.working + nth, age_s) for nth, age_s in enumerate(downs)]
    rows += [_new(key, hospital, unit) for unit in range(len(rows), rules.count)]
    return _with_crew(rules, rows)


def _unit(hospital: Hospital, number: int) -> tuple[Concentrators, Item]:
    """Return what holds for a unit, and by what the draws know it."""
    units = hospital.concentrators
    assert units is not None
    return units.rules_of(number), units.items[number]


def _works(key: Key, units: Concentrators, number: int) -> bool:
    """Return whether a unit works that nobody has looked at: as stated, else by its mean life and repair."""
    group = units.group_of(number)
    if group.working < group.count:
        return number < group.first + group.working
    rules, unit = group.rules, units.items[number]
    if rules.failure_s is None or rules.repair_s is None:
        return True
    life, repair = law_mean(rules.failure_s), law_mean(rules.repair_s)
    return bool(uniforms(*key, "unit met", unit, 0, 1)[0] * (life + repair) < life)


def _working(key: Key, hospital: Hospital, number: int, meter_s: int | None) -> tuple[int, ...]:
    rules, unit = _unit(hospital, number)
    u = uniforms(*key, "age of a unit", unit, 0, 3)
    life_s = drift_s = drift_age_s = service_s = -1
    if rules.failure_s is not None:
        known = known_age_s(hospital, number)
        life_s = left_s(rules.failure_s, known, float(u[0]), uniforms(*key, "concentrator failure", unit, 0, 1))
    if rules.drift_s is not None:
        drift_age_s = int(ages_of(rules.drift_s, [None], u[1:2])[0])
        drift_s = left_s(rules.drift_s, drift_age_s, 0.5, uniforms(*key, "concentrator drift", unit, 0, 1))
    if rules.service_every_s is not None:
        done_s = int(u[2] * rules.service_every_s) if meter_s is None else meter_s % rules.service_every_s
        service_s = max(1, rules.service_every_s - done_s)
    return WORKS, life_s, drift_s, drift_age_s, service_s, 0, 1


def _new(key: Key, hospital: Hospital, number: int) -> tuple[int, ...]:
    """Return a unit that a strategy adds to those counted, new unless its age is stated."""
    rules, unit = _unit(hospital, number)
    life_s = drift_s = -1
    if rules.failure_s is not None:
        age_s = known_age_s(hospital, number) or 0
        life_s = left_s(rules.failure_s, age_s, 0.5, uniforms(*key, "concentrator failure", unit, 0, 1))
    if rules.drift_s is not None:
        drift_s = left_s(rules.drift_s, 0, 0.5, uniforms(*key, "concentrator drift", unit, 0, 1))
    return WORKS, life_s, drift_s, 0, or_none(rules.service_every_s), 0, 1


def _down(key: Key, hospital: Hospital, number: int, age_s: int | None) -> tuple[int, ...]:
    """Return a unit that waits for its repair, or will never be repaired: the longer it is down, the likelier."""
    rules, unit = _unit(hospital, number)
    if rules.repair_s is None:
        return NEVER_BACK, -1, -1, -1, -1, 1, 1
    u = uniforms(*key, "unit down", unit, 0, 1)
    age = ages_of(rules.repair_s, [age_s], u)
    share = rules.never_repaired
    still = (1 - share) * float(survival(rules.repair_s, age)[0])
    written_off = share > 0 and uniforms(*key, "never repaired", unit, 0, 1)[0] * (share + still) < share
    repair_s = left_s(rules.repair_s, int(age[0]), 0.5, uniforms(*key, "concentrator repair", unit, 0, 1))
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
