"""The books of supply of a drawn hospital: power, orders, the road, units and job cards, stock, today."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from drawn_patients import emptied, marked, mean_clocks, written

from o2sim.model.bank import Unit as BankUnit
from o2sim.model.patient import Patient
from o2sim.model.power import BatteryState, GeneratorState
from o2sim.model.state import State
from o2sim.outcome import DAILY_COLUMNS, LogEntry
from o2sim.quantities.gas import gauge_kpa, total_litres
from o2sim.records import supply_rows as supply
from o2sim.records.rows import Cut
from o2sim.scenario.types.hospital import DAY_S, Cylinders

if TYPE_CHECKING:
    from drawn_hospital import History, Thin

DAY = dt.timedelta(days=1)
HOUR_S, GAS_PER_LITRE, ML_PER_LITRE = 3_600, 60_000, 1_000
WEEK = 7
FAILS = ("unit fails", "analyser check", "unit alarms")


def books(history: History, thin: Thin) -> dict[str, list[Any]]:
    """Return the rows by field of Records; their numbers are not set."""
    return {
        "cuts": cuts(history),
        "orders": orders(history),
        "roads_shut": roads_shut(history),
        "units": units(history),
        "job_cards": job_cards(history, thin),
        "stock": stock(history, thin),
        "today": today(history),
        "on_patients": on_patients(history, thin),
        "on_order": on_order(history),
        "units_today": units_today(history, thin),
        "power_today": power_today(history),
    }


def cuts(history: History) -> list[Cut]:
    """Return the cuts that began within the books; one that goes on at their end has none. None under a minute."""
    rows = []
    for lost in history.entries("power lost"):
        back = next((each for each in history.entries("power restored") if each.time_s > lost.time_s), None)
        off = history.when(lost.time_s)
        on = None if back is None else history.when(back.time_s)
        if history.inside(lost.time_s) and on != off:
            rows.append(Cut(0, off, on, planned=_is_planned(history, lost.time_s)))
    return rows


def _is_planned(history: History, time_s: int) -> bool:
    power = history.hospital.power
    return bool(power and power.load_shedding) and any(
        first <= time_s < last for first, last in history.state.listed_cuts
    )


def orders(history: History) -> list[supply.Order]:
    """Return the orders within the books; one that has not come by their end has no end."""
    came = {entry.item: entry for entry in history.entries("delivery")}
    on_day: Counter[dt.date] = Counter()
    rows = []
    for order in history.entries("order"):
        day = history.day(order.time_s)
        nth, on_day[day] = on_day[day], on_day[day] + 1
        if not history.inside(order.time_s):
            continue
        end = came.get(order.item)
        rows.append(
            supply.Order(
                0, day, order.other, None if end is None else history.day(end.time_s),
                None if end is None else end.other, None if end is None else end.other,
                _held_up(history, order, day, nth),
            )
        )  # fmt: skip
    return rows


def usual_clocks(history: History) -> tuple[dt.time, dt.time] | None:
    """Return the mean times of day at which orders are placed and come."""
    came = {entry.item: entry.time_s for entry in history.entries("delivery")}
    return mean_clocks([(each.time_s, came[each.item]) for each in history.entries("order") if each.item in came])


def _held_up(history: History, order: LogEntry, day: dt.date, nth: int) -> bool:
    """Return whether a closure of the road or of the supplier lies on the way of an order."""
    rules = history.state.resupply_rules
    due_s = order.time_s + history.draws.lead_time_s(rules.lead_time_s, day, nth)
    closed = any(first <= due_s < last for first, last in history.state.closures)
    return closed or any(first <= order.time_s < last for first, last in history.state.outages)


def roads_shut(history: History) -> list[supply.RoadShut]:
    """Return the closures that began within the books, by their days; one that goes on has no end."""
    return [
        supply.RoadShut(
            0,
            history.day(first),
            None if last >= history.end_s else max(history.day(first), history.day(last - 1)),
        )
        for first, last in history.state.closures
        if history.inside(first)
    ]


def _bank(state: State) -> list[BankUnit]:
    return list(state.bank.units) if state.bank is not None else []


def _written_off(history: History) -> set[int]:
    return {entry.item for entry in history.entries("unit written off")}


def units(history: History) -> list[supply.Unit]:
    """Return all units, new when the history begins, with what their meters show at its end."""
    gone = _written_off(history)
    run_s = history.state.levels.unit_running_s
    return [
        supply.Unit(
            0, unit.number + 1, history.hospital.start, 0.0, float(run_s[unit.number] // HOUR_S),
            unit.number not in gone,
        )
        for unit in _bank(history.state)
    ]  # fmt: skip


def job_cards(history: History, thin: Thin) -> list[supply.JobCard]:
    """Return all failures since the units are in use, with the meter where failures alone take them out."""
    fails = history.entries(*FAILS)
    repairs, gone = history.entries("repair done"), _written_off(history)
    rows = []
    for place, entry in enumerate(fails):
        later = any(each.item == entry.item for each in fails[place + 1 :])
        back = next((e for e in repairs if e.item == entry.item and e.time_s >= entry.time_s), None)
        rows.append(
            supply.JobCard(
                0, entry.item + 1, written(history.when(entry.time_s), thin),
                _meter_h(history, fails[: place + 1]),
                None if back is None else written(history.when(back.time_s), thin),
                True if entry.item in gone and not later and back is None else None,
            )
        )  # fmt: skip
    return rows


def _meter_h(history: History, fails: list[LogEntry]) -> float | None:
    """Return what the meter of the unit that failed last shows: the sum of its lives so far."""
    rules = history.hospital.concentrators
    by_life = rules is not None and rules.failure_s is not None and rules.failure_clock == "running"
    if not by_life or rules.cut_damage or rules.drift_s is not None:
        return None
    lives = history.draws.failures(rules.failure_s, fails[-1].item)
    return float(sum(lives[nth] for nth in range(sum(e.item == fails[-1].item for e in fails))) // HOUR_S)


def stock(history: History, thin: Thin) -> list[supply.Stock]:
    """Return a count a week, at the midnight that begins its day; thin books miss some."""
    if history.state.store is None:
        return []
    columns = [DAILY_COLUMNS.index(name) for name in ("full", "part_used", "in_use", "empty")]
    full, part, in_use, empty = (history.daily(each) for each in columns)
    away = history.daily(DAILY_COLUMNS.index("away"))
    days = list(range(0, history.days, WEEK))
    luck = history.luck("stock card", len(days))
    days = [day for day, u in zip(days, luck, strict=True) if thin.counted(day, u)]
    rows = []
    for before, day in pairwise([None, *days]):
        received, gone = (None, None) if before is None else _moved(history, before, day)
        rows.append(
            supply.Stock(
                0, history.first + day * DAY, int(full[day]), int(part[day]), int(in_use[day]),
                int(empty[day] + away[day]), received, gone,
            )
        )  # fmt: skip
    return rows


def _moved(history: History, before: int, day: int) -> tuple[int, int]:
    """Return the cylinders received and emptied from one midnight to another."""
    low_s, high_s = (history.begin_s + each * DAY_S for each in (before, day))
    came = sum(e.other for e in history.entries("delivery") if low_s <= e.time_s < high_s)
    return came, emptied(history, low_s, high_s)


def today(history: History) -> list[supply.Today]:
    """Return the count as the books end, at the midnight after their last day."""
    store, resupply = history.state.store, history.hospital.resupply
    if store is None:
        return []
    next_order = None
    if resupply is not None and resupply.review_s is not None:
        next_order = history.day(math.ceil(history.end_s / resupply.review_s) * resupply.review_s)
    empty = len(store.empties) + store.away_count
    return [supply.Today(0, history.when(history.end_s), store.full, empty, next_order)]


def on_patients(history: History, thin: Thin) -> list[supply.OnPatient]:
    """Return who is on oxygen, or waits for it, as the books end."""
    return [
        supply.OnPatient(
            0, history.hospital.patients[each.class_index].name, marked(each.flow_ml_min, thin),
            written(history.when(each.arrival_s), thin), _gauge_kpa(history, each), _source(each),
        )
        for each in history.state.present.values()
    ]  # fmt: skip


def _source(patient: Patient) -> str:
    if not patient.flowing:
        return "none"
    if patient.cylinder is not None:
        return "cylinder"
    return "manifold" if patient.piped else "concentrator"


def _gauge_kpa(history: History, patient: Patient) -> float | None:
    """Return what the gauge of a patient's cylinder shows, to the nearest 5 bar; None without one."""
    rules = history.hospital.cylinders
    if patient.cylinder is None or not patient.flowing or rules is None:
        return None
    return round(_pressure_kpa(rules, patient.cylinder.content) / 500) * 500.0


def _pressure_kpa(rules: Cylinders, gas: int) -> float:
    if rules.water_capacity_l is None:
        return gas / rules.full_gas * rules.filling_pressure_kpa
    at_zero = total_litres(rules.water_capacity_l, 0.0, 15.0)
    return gauge_kpa(rules.water_capacity_l, gas / GAS_PER_LITRE + at_zero, 15.0)


def on_order(history: History) -> list[supply.OnOrder]:
    """Return the orders on the way as the books end."""
    return [supply.OnOrder(0, each.day, each.count) for each in history.state.open_orders.values()]


def units_today(history: History, thin: Thin) -> list[supply.UnitToday]:
    """Return which units work as the books end."""
    run_s = history.state.levels.unit_running_s
    failed = {entry.item: entry.time_s for entry in history.entries(*FAILS)}
    rows = []
    for unit in _bank(history.state):
        is_down = not unit.working and unit.number in failed
        since = written(history.when(failed[unit.number]), thin) if is_down else None
        meter_h = float(run_s[unit.number] // HOUR_S)
        rows.append(supply.UnitToday(0, unit.number + 1, unit.working, meter_h, since))
    return rows


def power_today(history: History) -> list[supply.PowerToday]:
    """Return the power as the books end, where there is a grid."""
    changes, chain = history.entries("power lost", "power restored"), history.state.chain
    if not changes:
        return []
    battery: BatteryState | None = chain.battery
    generator: GeneratorState | None = chain.generator
    charge = None if battery is None else round(100 * battery.level / battery.full)
    fuel = None if generator is None or generator.fuel is None else round(generator.fuel / 3.6e6 / ML_PER_LITRE)
    return [supply.PowerToday(0, history.state.grid_up, history.when(changes[-1].time_s), charge, fuel)]
