"""What a run begins from: the count of a hospital, with what nobody knows drawn, the same for every strategy.

What is under way and has lasted `age` so far has `rest` to come, from the uniform number of a new one; what nobody
knows the beginning of is met at a random moment (`under_way`). Both engines begin from one record of START.
"""

from __future__ import annotations

from o2sim.draws.count_record import (
    ANYWHERE,
    COMING,
    CONTENT,
    GIVEN,
    NOWHERE,
    ON_CYLINDER,
    ON_UNIT,
    UNIT_MET,
    Start,
    make_start,
    table,
)
from o2sim.draws.met import Key, or_none
from o2sim.draws.met_patients import Met, patients_met
from o2sim.draws.met_supply import grid_met, orders_met, units_met, voltage_met
from o2sim.draws.sampling import ROW
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.now import Now

_PLACING = {ON_UNIT: 0, ON_CYLINDER: 1, ANYWHERE: 2, NOWHERE: 3}  # who is put where they were met comes first


def start_of(key: Key, hospital: Hospital) -> Start:
    """Return what a run of a hospital with a count begins from, by (seed, replication)."""
    now = hospital.now
    assert now is not None
    met = sorted(patients_met(key, hospital, now), key=lambda each: _PLACING[each.source])
    rows = table(ROW, [each.row for each in met])
    given = table(GIVEN, [(place, each.source, -1, each.content, 0) for place, each in enumerate(met)])
    rack = table(CONTENT, [(content,) for content in _part_used(hospital, now)])
    numbers: dict[str, int] = {
        **_store(hospital, now, met), **grid_met(key, hospital, now), **voltage_met(key, hospital),
        "next": len(met), "battery_permille": or_none(now.battery_permille), "fuel_ml": or_none(now.fuel_ml),
        "next_review_s": or_none(now.next_review_s),
    }  # fmt: skip
    coming = orders_met(key, hospital, now)
    today = now.counted.date().toordinal()
    numbers |= {
        "orders": len(coming),
        "orders_day": today,
        "orders_on_day": sum(row[3] == today for row in coming),
    }
    return make_start(
        numbers, rows, given, table(COMING, coming), table(UNIT_MET, units_met(key, hospital, now)), rack
    )


def _store(hospital: Hospital, now: Now, met: list[Met]) -> dict[str, int]:
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
    return [content for content in now.cylinders.part_used if content > hospital.cylinders.kept_gas]
