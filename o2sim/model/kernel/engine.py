"""A hospital and its draws in, the totals of one run out: the compiled engine as Python calls it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from o2sim import jit
from o2sim.draws import Draws
from o2sim.draws.need import mean_need
from o2sim.draws.philox import MASK, stable_hash
from o2sim.draws.spells import SPELL
from o2sim.errors import InvariantError, O2simError
from o2sim.model.bank import UNLIMITED
from o2sim.model.kernel import layout
from o2sim.model.kernel.events import DUE, EVENT, FULL
from o2sim.model.kernel.loop import run
from o2sim.model.kernel.packing import NUMBER
from o2sim.model.levels import KINDS, NOT_COUNTED
from o2sim.model.ledger import BY_WARD
from o2sim.model.power import FUEL_PER_ML, MW_S_PER_W_S
from o2sim.model.rules import MAIN_BANKS
from o2sim.model.ward import wards_of_classes
from o2sim.outcome import AtOnce, LogEntry
from o2sim.scenario.bedside_fields import ALWAYS_HUMIDIFIED
from o2sim.scenario.spells import gaps, listed_cuts, window_spells
from o2sim.scenario.types import DAY_S, Hospital

Array = npt.NDArray[Any]
BY_WARD_NAMES = tuple(name.removeprefix("ward_") for name in BY_WARD)
_LEAST_ROOM = 64
_EVENTS_A_PATIENT = 8
_KEPT = 64
_TRIES = 24  # each with twice the room of the one before
_packed: list[PackedHospital] = []


@dataclass(frozen=True, eq=False)
class PackedHospital:
    """A hospital as compiled code reads it; whatever is pointed to is kept."""

    hospital: Hospital
    rules: Array
    classes: Array
    words: Array
    sending: Array
    devices: Array
    mean_need: Array
    cuts: Array
    generator_gaps: Array
    kept: tuple[Array, ...]


@dataclass(frozen=True, eq=False)
class Finished:
    """A run's record (layout.RUN), daily table, log (layout.LOG), days with anyone unserved, counts by class."""

    record: Any
    daily: npt.NDArray[np.int32]
    log: Array
    days_unserved: int
    by_class: dict[str, list[int]]
    at_once: AtOnce
    unit_running_s: tuple[int, ...]


def pack(hospital: Hospital) -> PackedHospital:
    """Return a hospital packed; the same object for the same one."""
    for packed in reversed(_packed):
        if packed.hospital is hospital:
            return packed
    kept: list[Array] = []
    rules = layout.RULES.pack(hospital, kept)
    classes = jit.memory(layout.CLASS.dtype, len(hospital.patients))
    words = jit.memory(layout.CLASS_WORD, len(hospital.patients))
    for place, kind in enumerate(hospital.patients):
        classes[place] = layout.CLASS.pack(kind, kept)[0]
        words[place].word = stable_hash(kind.name)
    stock = _sending(hospital), _devices(hospital), _mean_need(hospital)
    spells = _spells(listed_cuts(hospital)), _spells(_hours(hospital))
    _packed.append(PackedHospital(hospital, rules, classes, words, *stock, *spells, tuple(kept)))
    del _packed[:-_KEPT]
    return _packed[-1]


def _sending(hospital: Hospital) -> Array:
    """Return how the patients of each class are sent on."""
    array = jit.memory(layout.SENDING, len(hospital.patients))
    for place in range(len(hospital.patients)):
        rule = hospital.transfer_of(place)
        found = (layout.NONE, 0, False) if rule is None else (rule.after_s, rule.travel_s, rule.oxygen_on_board)
        array[place] = found
    return array


def _devices(hospital: Hospital) -> Array:
    """Return the device of each class: its place among the delivery sets of a limited number, NONE for no limit."""
    limited = [device for device, _ in hospital.bedside.delivery_sets]
    array = jit.memory(layout.DEVICE, len(hospital.patients))
    for place, kind in enumerate(hospital.patients):
        among = limited.index(kind.delivery) if kind.delivery in limited else layout.NONE
        array[place] = (among, kind.delivery in ALWAYS_HUMIDIFIED)
    return array


def _mean_need(hospital: Hospital) -> Array:
    """Return the season's mean need of each day, where there are cylinders."""
    found = mean_need(hospital) if hospital.cylinders else []
    array = jit.memory(NUMBER, len(found))
    array["value"][: len(found)] = found
    return array


def _hours(hospital: Hospital) -> tuple[tuple[int, int], ...]:
    """Return the spells in which the generator may not run."""
    generator = hospital.power.generator if hospital.power else None
    if generator is None or not generator.hours:
        return ()
    allowed = window_spells(generator.hours, hospital.start, hospital.warm_up_s, hospital.end_s)
    return gaps(allowed, hospital.end_s)


def _spells(found: tuple[tuple[int, int], ...]) -> Array:
    """Return spells as records; at least room for one, which keeps the address good."""
    array = jit.memory(SPELL, len(found))
    for place, spell in enumerate(found):
        array[place] = spell
    return array[: len(found)]


def run_kernel(hospital: Hospital, draws: Draws, log: bool = False) -> Finished:
    """Run one replication; return its record at the end of the horizon.

    Raises InvariantError if a balance breaks. Where a run needs more room than it was given it is run again with
    twice as much: draws depend on nothing that happens.
    """
    packed, rows = pack(hospital), draws.sample(hospital).rows
    closures, outages = draws.closure_records(hospital), draws.outage_records(hospital)
    room, lines = min(len(rows), _LEAST_ROOM) + 1, 1 << 14 if log else 0
    for _ in range(_TRIES):
        memory = _Memory(packed, rows, closures, outages, room, lines)
        record = memory.record[0]
        record.seed, record.replication = (word & MASK for word in draws.key)
        status = int(run(jit.address(memory.record)))
        if status == FULL:
            room *= 2
        elif status != 0:
            raise InvariantError(
                f"balance broken (number {status}) in the compiled engine. This is a defect of o2sim; "
                "please report the scenario and seed"
            )
        elif record.log_count > record.log_room > 0:
            lines = int(record.log_count)
        else:
            return memory.finished()
    raise O2simError("the compiled engine found no room for the events of a run; try --engine reference")


class _Memory:
    """The memory of one run, set to the start of the warm-up: nobody there, nothing on order, units new, grid up."""

    def __init__(
        self, packed: PackedHospital, rows: Array, closures: Array, outages: Array, room: int, lines: int
    ) -> None:
        hospital = packed.hospital
        self.packed, self.kept = packed, [rows, closures, outages]
        self.record = jit.memory(layout.RUN, 1)
        k = self.record[0]
        k.rules, k.classes, k.class_words = (jit.address(x) for x in (packed.rules, packed.classes, packed.words))
        k.rows, k.row_count = self._at(rows)
        k.closures, k.closure_count = self._at(closures)
        k.outages, k.outage_count = self._at(outages)
        k.cuts_listed, k.cuts_listed_count = self._at(packed.cuts)
        k.generator_gaps, k.generator_gap_count = self._at(packed.generator_gaps)
        k.devices = jit.address(packed.devices)
        k.sending, k.mean_need = jit.address(packed.sending), jit.address(packed.mean_need)
        k.class_count, k.warm_up_days = len(hospital.patients), -(-hospital.warm_up_s // DAY_S)
        k.counted = self._new(layout.COUNTED, k.class_count)
        self.counted = self.kept[-1][: k.class_count]
        k.midnight_s, k.end_s = hospital.warm_up_s, hospital.end_s
        self._make_room(hospital, room, lines)
        self._set_store(hospital)
        self._set_wards(hospital)
        self._set_bedside(hospital)
        self._set_manifold(hospital)
        self._set_units(hospital)
        self._set_power(hospital)
        self._set_levels(hospital, room)

    def _at(self, array: Array) -> tuple[int, int]:
        return jit.address(array), len(array)

    def _new(self, dtype: np.dtype[Any], count: int) -> int:
        """Return the address of new, zeroed memory."""
        array = jit.memory(dtype, count)
        self.kept.append(array)
        return jit.address(array)

    def _make_room(self, hospital: Hospital, room: int, lines: int) -> None:
        k = self.record[0]
        fleet = hospital.cylinders.fleet if hospital.cylinders else 0
        units = hospital.concentrators.count if hospital.concentrators else 0
        events = room * _EVENTS_A_PATIENT + units * _EVENTS_A_PATIENT + fleet + 2 * len(self.packed.generator_gaps)
        events += _LEAST_ROOM
        calendar = k.calendar
        calendar.events, calendar.heap = self._new(EVENT, events), self._new(DUE, events + 1)
        calendar.room, calendar.free = events, layout.NONE
        ledger = self.record["ledger"].view(NUMBER)
        self.kept.append(ledger)
        k.ledger_words = jit.address(ledger)
        self.log = jit.memory(layout.LOG, lines)
        k.log, k.log_room = jit.address(self.log), lines
        k.day_count = -(-hospital.horizon_s // DAY_S)
        self.days = jit.memory(layout.FLAG, k.day_count)
        self.daily = jit.memory(layout.DAY, k.day_count)
        k.days_unserved, k.daily = jit.address(self.days), jit.address(self.daily)
        k.patient_room, k.patients = room, self._new(layout.PATIENT, room)
        k.line, k.calls = (self._new(layout.WAITING, room + layout.BANKS + 1) for _ in range(2))
        k.scratch, k.ranked, k.sharers = (self._new(NUMBER, size) for size in (max(room, fleet), room, room))
        k.open_places = self._new(layout.OPEN, room)
        k.patient_free = k.first_present = k.last_present = k.first_open = k.open_free = layout.NONE

    def _set_store(self, hospital: Hospital) -> None:
        k, cylinders = self.record[0], hospital.cylinders
        k.away_free = layout.NONE
        if cylinders is None:
            return
        k.has_store = True
        for queue in (k.fills, k.rack, k.empties):
            queue.at, queue.room = self._new(NUMBER, cylinders.fleet), max(1, cylinders.fleet)
        full, keep = cylinders.full_at_start, max(cylinders.residual_gas, cylinders.lost_gas)
        fills, empties = self.kept[-3], self.kept[-1]
        fills["value"][:full] = cylinders.full_gas
        empties["value"][: cylinders.fleet - full] = keep
        k.full = k.fills.count_ = full
        k.empties.count_ = cylinders.fleet - full
        k.away = self._new(layout.AWAY, cylinders.fleet)
        k.order_room = cylinders.fleet
        k.order_places = self._new(layout.ORDER, cylinders.fleet)
        k.opening_gas = cylinders.full_gas * full + keep * (cylinders.fleet - full)
        k.opening_usable = max(0, cylinders.full_gas - keep) * full

    def _set_wards(self, hospital: Hospital) -> None:
        """Set the wards, one where none is named, with the cylinders kept there."""
        k, stock = self.record[0], hospital.cylinders
        k.wards_of_classes = self._new(NUMBER, len(hospital.patients))
        self.kept[-1]["value"] = wards_of_classes(hospital)
        access, staff = hospital.store, hospital.staff
        k.takes_time = bool(access.fetch_by_day_s or access.fetch_by_night_s or (staff and staff.connect_s))
        sets = sum(each.count for each in stock.usable_sets) if stock else 0
        wards = [(each.regulators, each.bedside_cylinders) for each in hospital.wards] or [(sets, 0)]
        k.ward_count, k.wards = len(wards), self._new(layout.WARD, len(wards))
        self.wards = self.kept[-1]
        k.stocks_wards = any(kept for _, kept in wards)
        for ward, (regulators, kept) in zip(self.wards, wards, strict=True):
            ward.regulators = ward.regulators_free = regulators
            ward.most_bedside = kept
            moved = min(kept, int(k.fills.count_))
            shelf = ward.shelf
            shelf.at, shelf.room, shelf.count_ = self._new(NUMBER, kept), max(1, kept), moved
            if stock is not None:
                self.kept[-1]["value"][:moved] = stock.full_gas
            k.fills.head, k.fills.count_ = k.fills.head + moved, k.fills.count_ - moved

    def _set_bedside(self, hospital: Hospital) -> None:
        """Set regulator sets, delivery sets and humidifiers."""
        k, rules = self.record[0], hospital.bedside
        sets = hospital.cylinders.usable_sets if hospital.cylinders else ()
        smallest = sorted(range(len(sets)), key=lambda kind: (sets[kind].width_ml_min, kind))
        k.set_count, k.sets = len(sets), self._new(layout.SET, len(sets))
        for place, (each, kind) in enumerate(zip(sets, smallest, strict=True)):
            self.kept[-1][place] = (each.low_ml_min, each.high_ml_min, each.count, each.count, 0, kind)
        k.device_count = len(rules.delivery_sets)
        k.delivery_free, k.delivery_owned = (self._new(NUMBER, k.device_count) for _ in range(2))
        for array in self.kept[-2:]:
            array["value"][: k.device_count] = [count for _, count in rules.delivery_sets]
        k.humidifiers_free = rules.humidifiers if rules.humidifiers is not None else layout.NONE

    def _set_manifold(self, hospital: Hospital) -> None:
        """Set the manifold, whose banks are filled as the run begins."""
        k, rules, cylinders = self.record[0], hospital.manifold, hospital.cylinders
        k.banks = self._new(layout.BANK, layout.BANKS)
        banks = self.kept[-1]
        k.manifold.feeding = k.manifold.event = layout.NONE
        if rules is None or cylinders is None:
            return
        k.manifold.present = True
        k.manifold.keep_gas = max(rules.changeover_gas, cylinders.lost_gas)
        k.manifold.bank_count = MAIN_BANKS + (rules.reserve > 0)
        banks["number"], banks["room"] = range(layout.BANKS), [rules.bank] * MAIN_BANKS + [rules.reserve]
        banks["spent"] = banks["seen"] = True
        for name in ("task", "task_event", "look_event"):
            banks[name] = layout.NONE

    def _set_levels(self, hospital: Hospital, room: int) -> None:
        """Set the counts of what is in use at once."""
        k, units = self.record[0], hospital.concentrators
        fleet = hospital.cylinders.fleet if hospital.cylinders else 0
        outlets, count = (units.count * units.outlets, units.count) if units else (0, 0)
        k.levels, k.units_changed = self._new(layout.LEVEL, KINDS), True
        levels = self.kept[-1]
        self.levels = []
        for place, most in enumerate((fleet, room, outlets, count, count, count, count, count)):
            levels[place] = (NOT_COUNTED, self._new(NUMBER, most + 1), most + 1)
            self.levels.append(self.kept[-1]["value"])

    def _set_units(self, hospital: Hospital) -> None:
        k, rules = self.record[0], hospital.concentrators
        k.first_for_technician = k.last_for_technician = layout.NONE
        k.most_running = UNLIMITED
        self.units = np.zeros(0, dtype=layout.UNIT)
        if rules is None:
            return
        k.has_bank, k.unit_count, k.outlet_room = True, rules.count, rules.outlets
        k.on_units = self._new(NUMBER, rules.count * rules.outlets)
        k.gathering, k.movers = self._new(NUMBER, 3 * rules.count), self._new(NUMBER, 2 * rules.outlets)
        k.units = self._new(layout.UNIT, rules.count)
        k.technicians_free = rules.crew if rules.crew is not None else layout.NONE
        self.units = units = self.kept[-1][: rules.count]
        units["number"] = np.arange(rules.count)
        units["working"] = True
        homes = [number for number, ward in enumerate(hospital.wards) for _ in range(ward.concentrators)]
        if homes:
            units["ward"] = homes
        for name in (
            "running_since_s",
            "timer_event",
            "fail_event",
            "start_event",
            "check_event",
            "service_event",
            "next_for_technician",
        ):
            units[name] = layout.NONE

    def _set_power(self, hospital: Hospital) -> None:
        k, power, units = self.record[0], hospital.power, hospital.concentrators
        k.grid_up = True
        k.grid_holds[:] = True
        chain = k.chain
        chain.grid_up = chain.voltage_good = True
        chain.battery_event = chain.fuel_event = layout.NONE
        generator, battery = chain.generator, chain.battery
        generator.start_event = generator.failure_event = layout.NONE
        generator.permitted, generator.attempts_since_s = True, -1
        if power is None or units is None:
            return
        chain.watts = round(units.power_w)
        if power.generator is not None:
            tank_ml = power.generator.tank_ml
            generator.present = True
            generator.fuel = layout.NONE if tank_ml is None else tank_ml * FUEL_PER_ML
            generator.dry = generator.fuel == 0
            chain.opening_fuel = max(0, generator.fuel)
        if power.battery is not None:
            battery.present = True
            battery.level = chain.opening_level = power.battery.usable_ws * MW_S_PER_W_S

    def finished(self) -> Finished:
        """Return what is left at the end."""
        k = self.record[0]
        daily = np.ascontiguousarray(self.daily["values"][: k.daily_count])
        by_class = {f"{name}_by_class": self.counted[name].tolist() for name in layout.COUNTED.names or ()}
        by_class |= {f"ward_{name}": self.wards[name].tolist() for name in BY_WARD_NAMES}
        at_once = AtOnce(*(tuple(np.trim_zeros(seconds, "b").tolist()) for seconds in self.levels))
        running_s = tuple(self.units["running_s"].tolist())
        days = int(self.days["value"].sum())
        return Finished(k, daily, self.log[: k.log_count], days, by_class, at_once, running_s)


def read_log(lines: Array) -> tuple[LogEntry, ...]:
    """Return records of layout.LOG as the entries that the reference writes."""
    rows = zip(*(lines[name].tolist() for name in layout.LOG.names or ()), strict=True)
    return tuple(LogEntry(time_s, layout.STEP_NAMES[step], *rest) for time_s, step, *rest in rows)
