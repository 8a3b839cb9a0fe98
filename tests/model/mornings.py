"""A run of the reference stopped on mornings, and what a nurse could count there; the run itself goes on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from stop_and_go import at_rest

from o2sim.draws import Draws
from o2sim.model.reference import begin_reference
from o2sim.model.state import State
from o2sim.outcome import Cause, LogEntry
from o2sim.scenario.types.hospital import DAY_S, Hospital
from o2sim.scenario.types.now import CountedCylinders, GridNow, Now, OnOxygen, OrderUnderWay, UnitsNow

GAUGE_MARKS = 30  # of a full cylinder, to which a gauge is read: 500 kPa of 15 MPa, common practice


@dataclass(frozen=True)
class Morning:
    """A second of a run, what is counted there, and what then happens in the run."""

    at_s: int
    count: Now
    state: State  # of the run, which by the time it is read is at its end

    def first_stock_out_s(self) -> float:
        """Return the seconds from the count to the first stock-out of the run; infinity for none."""
        as_before = self.state.rules.shortfall.as_before
        found = (
            each.time_s for each in self.state.log or () if each.time_s >= self.at_s and _is_out(each, as_before)
        )
        return next(found, float("inf")) - self.at_s

    def at_midnight(self, days: int) -> tuple[int, ...]:
        """Return the daily count of the run at the midnight so many days after the first one from the count on."""
        first = -((self.state.midnight_s - self.at_s) // DAY_S)
        return self.state.daily[first + days]


def _is_out(entry: LogEntry, as_before: bool) -> bool:
    if as_before:
        return entry.step == "interruption" and Cause(entry.other).is_supply
    return entry.step == "stock-out"


def mornings(hospital: Hospital, draws: Draws, after_s: Iterable[int], *, by_date: bool) -> Iterator[Morning]:
    """Yield a morning at the first second from each of some on at which nothing is in hand; then end the run.

    by_date: ages are those of the middle of the day on which a thing began, gauges are read to their marks, and
    since when the grid is up nobody knows; else all is known to the second.
    """
    clock, state = begin_reference(hospital, draws, log=True)
    found = []
    for second in after_s:
        clock.env.run(until=max(second, clock.now + 1))
        while not at_rest(state):
            clock.env.run(until=clock.now + 1)
        found.append(Morning(clock.now, _count(state, by_date), state))
    clock.env.run(until=hospital.end_s)
    yield from found


def _count(state: State, by_date: bool) -> Now:
    now, store = state.now, state.store
    midnight = dt.datetime.combine(state.rules.start, dt.time())

    def age_s(since_s: int) -> int:
        if not by_date:
            return now - since_s
        day, last = (since_s - state.midnight_s) // DAY_S, now - state.midnight_s
        return max(0, last - day * DAY_S - DAY_S // 2) if day < last // DAY_S else last % DAY_S // 2

    def gas(content: int) -> int:
        mark = state.cylinder_rules.full_gas / GAUGE_MARKS
        return round(round(content / mark) * mark) if by_date else content

    people = tuple(
        OnOxygen(
            patient.class_index,
            patient.flow_ml_min,
            age_s(patient.arrival_s),
            "concentrator" if patient.units else "cylinder",
            gas(patient.cylinder.gas_left(now)) if patient.cylinder else None,
        )
        for patient in state.present.values()
    )
    rules = state.rules.resupply
    return Now(
        midnight + dt.timedelta(seconds=now - state.midnight_s),
        CountedCylinders(store.full, len(store.empties), tuple(map(gas, store.rack))) if store else None,
        tuple(
            OrderUnderWay(each.count, age_s(_last(state, "order", each.number)))
            for each in state.open_orders.values()
        ),
        people,
        _units(state, age_s),
        _grid(state, by_date),
        next_review_s=(state.midnight_s - now) % rules.review_s if rules and rules.review_s else None,
    )


def _units(state: State, age_s: Callable[[int], int]) -> UnitsNow | None:
    if state.bank is None:
        return None
    down = [unit.number for unit in state.bank.units if not unit.working]
    ages = tuple(age_s(_last(state, "unit fails", number)) for number in down)
    return UnitsNow(len(state.bank.units) - len(down), ages)


def _grid(state: State, by_date: bool) -> GridNow | None:
    if state.grid is None:
        return None
    since_s = state.now - max(_last(state, "power lost"), _last(state, "power restored"))
    return GridNow(state.grid_up, None if by_date and state.grid_up else since_s)


def _last(state: State, step: str, item: int | None = None) -> int:
    """Return the second of the last step of a kind; 0 for none."""
    found = (each.time_s for each in reversed(state.log or []) if each.step == step and item in (None, each.item))
    return next(found, 0)
