"""The state of either engine in the middle of a run: a hospital, its draws and when to stop in, lines to read out.

Both engines are run again up to that instant. What one of them holds is put into the words of the other, so that
equal lines mean equal states.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Whole
from o2sim.draws import Draws
from o2sim.model.kernel import claims, layout, records
from o2sim.model.kernel.allocation import settle
from o2sim.model.kernel.chain import FAILED, OFF, RUNNING, STARTING
from o2sim.model.kernel.events import FULL, next_time_s, take_next
from o2sim.model.kernel.loop import begin, step
from o2sim.model.kernel.memory import LEAST_ROOM, Memory
from o2sim.model.kernel.packed import pack
from o2sim.model.patient import BACKUP, FROM_STORE, FROM_WARD, REPLACEMENT
from o2sim.model.power import Supply
from o2sim.model.reference import begin_reference
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import DAY_S, Hospital

NONE, NEVER = layout.NONE, 1 << 60
STATUS = {OFF: "off", STARTING: "starting", RUNNING: "running", FAILED: "failed"}
CLAIMS = {FROM_STORE: "store", FROM_WARD: "ward", REPLACEMENT: "replacement", BACKUP: "back-up", None: None}
KERNEL_CLAIMS = {
    claims.FROM_STORE: "store",
    claims.FROM_WARD: "ward",
    claims.REPLACEMENT: "replacement",
    claims.BACKUP: "back-up",
    NONE: None,
}
COUNTED = tuple(
    name for name in records.LEDGER.names or () if name not in ("midnight_s", "end_s", "tolerated_gap_s")
)
OF_PATIENT = ("class_index", "flow_ml_min", "given_ml_min", "second_ml_min", "needs", "flowing", "piped", "low")
OF_PATIENT += ("responding", "fetched", "has_delivery", "has_humidifier", "flow_since_s", "cylinders")
OF_PATIENT += ("losses", "unseen_losses", "connections")
OF_PATIENT += ("has_oximeter",)
OF_UNIT = (
    "working",
    "ward",
    "on_the_move",
    "load_ml_min",
    "expected_ml_min",
    "failed",
    "renewed",
    "drifted",
    "low",
)
OF_CYLINDER = (
    "kind",
    "backup",
    "content",
    "leak_since_s",
    "gauge_error_gas",
    "found_low",
    "keeps_note",
    "noted_s",
)
OF_BANK = ("count", "gas", "usable", "spent", "seen", "urgent")
_run = jit.records(records.RUN)


@dataclass(frozen=True)
class State:
    """An engine in the middle of a run: steps done, lines of the log, the state by what its lines are about."""

    steps: int
    lines: int
    of: dict[str, str]


def _told(**values: Any) -> str:
    """Return names with their values; what is not there or does not hold is left out."""
    shown = {name: value for name, value in values.items() if value is not None and value is not False}
    return ", ".join(name if value is True else f"{name} {value}" for name, value in shown.items())


def _time(now_s: int, steps: int, lines: int) -> str:
    """Return the second of the run with its day and time of day."""
    minutes = now_s % DAY_S // 60
    return (
        f"second {now_s} (day {now_s // DAY_S}, {minutes // 60:02}:{minutes % 60:02}:{now_s % 60:02}), "
        f"{steps} steps, {lines} lines of log"
    )


def _row(contents: Iterable[int]) -> str:
    """Return the contents of a row of cylinders; those alike that follow each other together."""
    runs = ((content, sum(1 for _ in alike)) for content, alike in groupby(contents))
    return ", ".join(f"{count} x {content}" for content, count in runs) or "none"


def _counts(ledger: Iterable[tuple[str, Any]]) -> str:
    """Return what is counted, as far as it is not 0."""
    return _told(**{name: value for name, value in ledger if (any(value) if isinstance(value, list) else value)})


def _or_none(value: int) -> int | None:
    return None if value == NONE else int(value)


def reference_at(hospital: Hospital, draws: Draws, steps: int, lines: int = NEVER) -> State:
    """Run the reference until so many steps are done, or a step has written more than so many lines."""
    clock, state = begin_reference(hospital, draws, log=True)
    assert state.log is not None
    while clock.events < steps and len(state.log) <= lines and clock.env.peek() < hospital.end_s:
        clock.env.step()
    return State(clock.events, len(state.log), dict(_of_reference(clock, state)))


def _of_reference(clock: Any, state: Any) -> Iterator[tuple[str, str]]:
    yield "clock", _time(clock.now, clock.events, len(state.log))
    store, bank = state.ward_store, state.bank
    for each in state.stores:
        yield (
            f"stock of size {each.number}",
            _told(
                full=each.full,
                part_used=len(each.rack),
                empty=len(each.empties),
                in_use=each.in_use,
                on_order=each.on_order,
                promised=each.promised,
                away=each.away_count,
                with_patients=each.on_the_way_count,
                lost=each.lost,
                being_fetched=each.held,
                drawn=each.drawn_gas,
            ),
        )
        for name in ("fills", "rack", "empties"):
            yield f"contents of {name} of size {each.number}", _row(getattr(each, name))
    yield "cylinders", _told(opened=state.opened, backups_out=state.backups_out, on_the_way=len(state.journeys))
    for ward in state.wards:
        kept = list(store.bedside[ward.number]) if store is not None else []
        yield f"ward {ward.number}", _told(regulators_free=ward.regulators_free, cylinders_kept=kept)
    for order in state.open_orders.values():
        yield f"order {order.number}", _told(cylinders=order.count, due=order.arrival_s, emergency=order.emergency)
    for cylinder in state.open_cylinders.values():
        values = {name: getattr(cylinder, name) for name in OF_CYLINDER}
        numbers, size = [p.number for p in cylinder.patients], cylinder.store.number
        yield f"open cylinder {cylinder.number}", _told(patients=numbers, size=size, **values)
    for unit in bank.units if bank is not None else ():
        values = {name: getattr(unit, name) for name in OF_UNIT}
        numbers = [p.number for p in unit.patients]
        yield f"unit {unit.number}", _told(patients=numbers, running_since=unit.running_since_s, **values)
    yield "power", _of_chain(state)
    for each in state.manifold.banks if state.manifold else ():
        yield f"bank {each.number}", _told(**{name: getattr(each, name) for name in OF_BANK})
    for patient in state.present.values():
        yield f"patient {patient.number}", _of_patient(patient)
    yield "staff", _told(busy=state.busy, called=len(state.calls))
    yield "waiting", str([patient.number for _, patient in state.waiting])
    yield "counted", _counts((name, getattr(state.ledger, name)) for name in COUNTED)


def _of_chain(state: Any) -> str:
    chain = state.chain
    battery, generator = chain.battery, chain.generator
    return _told(
        grid_up=state.grid_up,
        supply=Supply(chain.supply).name.lower(),
        voltage_bad=not chain.voltage_good,
        sun_w=chain.solar_w,
        units_running=chain.running,
        battery=battery and battery.level,
        tripped=battery and battery.tripped,
        generator=generator and generator.status,
        fuel=generator and generator.fuel,
        called=generator and generator.called,
        fuel_on_order=generator and generator.on_order,
        failures=generator and generator.failed,
    )


def _of_patient(patient: Any) -> str:
    claim = patient.claim
    return _told(
        **{name: getattr(patient, name) for name in OF_PATIENT},
        unit=patient.unit,
        second_unit=patient.second_unit,
        on_cylinder=patient.cylinder and patient.cylinder.number,
        gap_since=patient.gap_since_s,
        cause=None if patient.cause is None else Cause(patient.cause).label,
        backup=patient.backup and patient.backup.content,
        opens_backup=patient.opens_backup,
        claim=CLAIMS.get(claim, claim),
        asked_for_staff=patient.task is not None,
    )


@jit.cached
def run_to(where: Whole, steps: Whole, lines: Whole) -> Whole:
    """Run as `loop.run` does, until so many steps are done or one has written more than so many lines."""
    k = _run(where, 0)
    begin(k)
    while k.status == 0 and k.calendar.status == 0 and next_time_s(k, k.end_s) < k.end_s:
        if k.steps >= steps or k.log_count > lines:
            break
        k.now = next_time_s(k, k.end_s)
        event = take_next(k)
        k.steps += 1
        step(k, event.step, event.who, event.more)
        settle(k)
    return k.calendar.status if k.calendar.status != 0 else k.status


def kernel_at(hospital: Hospital, draws: Draws, steps: int, lines: int = NEVER) -> State:
    """Run the compiled engine until so many steps are done, or a step has written more than so many lines."""
    packed, rows, room = pack(hospital), draws.sample(hospital).rows, LEAST_ROOM + 1
    spells = draws.listed_cut_records(hospital), draws.closure_records(hospital), draws.outage_records(hospital)
    while True:
        memory = Memory(packed, room, 1)
        if int(run_to(memory.start(rows, spells, draws.key), steps, lines)) != FULL:
            k = memory.record[0]
            return State(int(k.steps), int(k.log_count), dict(_of_kernel(_Places(memory), k)))
        room *= 2


class _Places:
    """The memory of a run by the addresses that its records hold."""

    def __init__(self, memory: Memory) -> None:
        self._arrays = {each.ctypes.data: each.view(np.recarray) for each in memory.kept}

    def at(self, address: Any) -> Any:
        """Return the array that begins at an address."""
        return self._arrays[int(address)]

    def row(self, queue: Any) -> list[int]:
        """Return a row of cylinders."""
        values = self.at(queue.at)["value"]
        return [int(values[(queue.head + place) % queue.room]) for place in range(queue.count_)]

    def chain(self, address: Any, first: Any, after: str) -> Iterator[Any]:
        """Return the records that follow each other from a place on."""
        place = int(first)
        while place != NONE:
            record = self.at(address)[place]
            yield record
            place = int(record[after])


def _of_kernel(places: _Places, k: Any) -> Iterator[tuple[str, str]]:
    yield "clock", _time(int(k.now), int(k.steps), int(k.log_count))
    for s in places.at(k.stores)[: k.store_count]:
        yield (
            f"stock of size {s.number}",
            _told(
                full=int(s.full),
                part_used=int(s.rack.count_),
                empty=int(s.empties.count_),
                in_use=int(s.in_use),
                on_order=int(s.on_order),
                promised=int(s.promised),
                away=int(s.away_count),
                with_patients=int(s.on_the_way),
                lost=int(s.lost),
                being_fetched=int(s.held),
                drawn=int(s.drawn_gas),
            ),
        )
        for name in ("fills", "rack", "empties"):
            yield f"contents of {name} of size {s.number}", _row(places.row(s[name]))
    gone = int(places.at(k.journeys)["on_it"].sum()) if k.has_store else 0
    yield "cylinders", _told(opened=int(k.opened), backups_out=int(k.backups_out), on_the_way=gone)
    for number, ward in enumerate(places.at(k.wards)[: k.ward_count]):
        free = int(ward.regulators_free)
        yield f"ward {number}", _told(regulators_free=free, cylinders_kept=places.row(ward.shelf))
    for order in places.at(k.order_places)[: k.orders_used] if k.has_store else ():
        if order.open_order:
            told = _told(cylinders=int(order["count"]), due=int(order.arrival_s), emergency=bool(order.emergency))
            yield f"order {order.number}", told
    on = {}
    for cylinder in places.chain(k.open_places, k.first_open, "after"):
        numbers = [int(p.number) for p in places.chain(k.patients, cylinder.first_on, "on_after")]
        on |= dict.fromkeys(numbers, int(cylinder.number))
        told = _told(patients=numbers, size=int(cylinder.of_size), **_values(cylinder, OF_CYLINDER))
        yield f"open cylinder {cylinder.number}", told
    for unit in places.at(k.units)[: k.unit_count] if k.has_bank else ():
        first = int(unit.number * k.outlet_room)
        slots = places.at(k.on_units)["value"][first : first + unit.patient_count]
        numbers = [int(places.at(k.patients)[slot].number) for slot in slots]
        since = _or_none(unit.running_since_s)
        yield f"unit {unit.number}", _told(patients=numbers, running_since=since, **_values(unit, OF_UNIT))
    yield "power", _of_kernel_chain(k)
    banks = places.at(k.banks)[: k.manifold.bank_count] if k.manifold.present else ()
    for bank in banks:
        yield f"bank {bank.number}", _told(count=int(bank.count_), **_values(bank, OF_BANK[1:]))
    for p in places.chain(k.patients, k.first_present, "after"):
        yield f"patient {p.number}", _of_kernel_patient(p, on.get(int(p.number)))
    yield "staff", _told(busy=int(k.busy), called=int(k.call_count))
    slots = places.at(k.line)["slot"][: k.line_count]
    yield "waiting", str([int(places.at(k.patients)[slot].number) for slot in slots])
    yield "counted", _counts((name, k.ledger[name].tolist()) for name in COUNTED)


def _values(record: Any, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: record[name].item() for name in names}


def _of_kernel_chain(k: Any) -> str:
    chain = k.chain
    battery, generator = chain.battery, chain.generator
    there, stored = bool(generator.present), bool(battery.present)
    return _told(
        grid_up=bool(k.grid_up),
        supply=Supply(int(chain.supply)).name.lower(),
        voltage_bad=not chain.voltage_good,
        sun_w=int(chain.solar_w),
        units_running=int(chain.running),
        battery=int(battery.level) if stored else None,
        tripped=bool(battery.tripped) if stored else None,
        generator=STATUS[int(generator.status)] if there else None,
        fuel=_or_none(generator.fuel) if there else None,
        called=bool(generator.called) if there else None,
        fuel_on_order=bool(generator.on_order) if there else None,
        failures=int(generator.failed) if there else None,
    )


def _of_kernel_patient(p: Any, cylinder: int | None) -> str:
    claim = int(p.claim)
    return _told(
        **_values(p, OF_PATIENT),
        unit=_or_none(p.unit),
        second_unit=_or_none(p.second_unit),
        on_cylinder=cylinder,
        gap_since=_or_none(p.gap_since_s),
        cause=None if p.cause == NONE else Cause(int(p.cause)).label,
        backup=None if p.backup_kind == NONE else int(p.backup_content),
        opens_backup=bool(p.backup_opening),
        claim=KERNEL_CLAIMS.get(claim, claim),
        asked_for_staff=int(p.task) != NONE,
    )


def first_apart(hospital: Hospital, draws: Draws, steps: int) -> int:
    """Return after how many steps, at most so many, the states of the engines first differ; found by halving."""
    equal, apart = -1, steps
    while apart - equal > 1:
        middle = (equal + apart) // 2
        if reference_at(hospital, draws, middle) == kernel_at(hospital, draws, middle):
            equal = middle
        else:
            apart = middle
    return apart


def side_by_side(one: State, other: State, equal_too: bool) -> list[str]:
    """Return the lines of both states: those that differ for each engine, the others once, if they are wanted."""
    found = []
    for name in sorted({*one.of, *other.of}, key=lambda name: [*one.of, *other.of].index(name)):
        mine, theirs = one.of.get(name, "not there"), other.of.get(name, "not there")
        if mine != theirs:
            found += [f"! {name}: {mine} - by the reference", f"! {name}: {theirs} - by the kernel"]
        elif equal_too:
            found.append(f"  {name}: {mine}")
    return found


def states_where(hospital: Hospital, draws: Draws, place: int) -> list[str]:
    """Return what both engines hold after the step that writes a line of the log, and where they first parted."""
    one, other = (each(hospital, draws, NEVER, place) for each in (reference_at, kernel_at))
    steps = min(one.steps, other.steps)
    if one.steps != other.steps:  # the other engine writes that line in a later step, or never
        one, other = (each(hospital, draws, steps) for each in (reference_at, kernel_at))
    head = f"after step {steps}, in which that line is written, the engines hold (! marks what differs):"
    earlier = first_parted(hospital, draws, steps - 1)
    return [head, *side_by_side(one, other, equal_too=True), *earlier]


def first_parted(hospital: Hospital, draws: Draws, steps: int) -> list[str]:
    """Return what differs where the states first do, within so many steps; nothing where they do not."""
    one, other = (each(hospital, draws, steps) for each in (reference_at, kernel_at))
    if one == other:
        return []
    steps = first_apart(hospital, draws, min(one.steps, other.steps))
    one, other = (each(hospital, draws, steps) for each in (reference_at, kernel_at))
    return [f"already after step {steps} this differs:", *side_by_side(one, other, equal_too=False)]
