"""The memory of a run of the compiled engine: set once for a hospital, and set back for each replication."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any, get_args

import numpy as np
import numpy.typing as npt

from o2sim.compiler import jit
from o2sim.draws.count_record import NO_START, Start
from o2sim.draws.laws import law_record
from o2sim.draws.lives import Lives, ahead
from o2sim.draws.philox import MASK, item_word, stable_hash
from o2sim.model.bank import UNLIMITED
from o2sim.model.kernel import layout, records
from o2sim.model.kernel.bank import NOT_KNOWN
from o2sim.model.kernel.events import DUE, EVENT
from o2sim.model.kernel.packed import PackedHospital
from o2sim.model.kernel.packing import NUMBER
from o2sim.model.ledger import BY_SIZE, BY_WARD
from o2sim.model.levels import KINDS, NOT_COUNTED
from o2sim.model.power import FUEL_PER_ML, MW_S_PER_W_S
from o2sim.model.prices import BY_SIZE as PRICES_BY_SIZE
from o2sim.model.prices import prices_of
from o2sim.model.rules import MAIN_BANKS, backup_gas, size_share
from o2sim.model.ward import wards_of_classes
from o2sim.outcome import AtOnce
from o2sim.scenario.types.cylinder_size import MOST_SIZES, Use
from o2sim.scenario.types.funds import PURCHASES
from o2sim.scenario.types.hospital import DAY_S, Concentrators, Cylinders, Hospital

Array = npt.NDArray[Any]
_OF_PURSE = (
    ("opening_cash_cents", "opening_cash"), ("opening_owed_cents", "opening_owed"),
    ("closing_cash_cents", "cash"), ("closing_owed_cents", "owed"),
)  # fmt: skip
_GAS_BY_SIZE = (
    ("opening_gas", "opening_gas"), ("closing_gas", "closing_gas"), ("opening_usable_gas", "opening_usable"),
    ("closing_usable_gas", "closing_usable"), ("fewest_full", "fewest_full"),
)  # fmt: skip
BY_WARD_NAMES = tuple(name.removeprefix("ward_") for name in BY_WARD)
LEAST_ROOM = 64  # patients at once, to begin with
_EVENTS_A_PATIENT = 8
_PROMISES_A_PATIENT = 5  # a cylinder, its set, a delivery set, a humidifier; or two units beside the last two
_PER_RUN = (
    "rows", "row_count", "cuts_listed", "cuts_listed_count", "closures", "closure_count",
    "outages", "outage_count", "shocks", "shock_count", "allotments", "allotment_count", "supplier_failures",
    "supplier_failure_count", "seed", "replication", "start", "lives",
)  # fmt: skip


def _ledger_places() -> Iterator[tuple[str, int, int]]:
    """Return (name, first word, words or 0 for a single one) of what the ledger counts."""
    for name, (kind, offset, *_) in (records.LEDGER.fields or {}).items():
        yield name, offset // 8, int(np.prod(kind.shape)) if kind.shape else 0


_LEDGER = tuple(_ledger_places())
_NO_LINES = jit.memory(records.LOG, 1)[:0]


@dataclass(frozen=True, eq=False)
class Finished:
    """What a run has found: ledger and other totals by name, daily table, log (records.LOG), events."""

    totals: dict[str, Any]
    found: dict[str, Any]
    log: Array


class Memory:
    """The memory of one run at a time: nobody there, no orders, units new, grid up, until it is run."""

    def __init__(self, packed: PackedHospital, room: int, lines: int) -> None:
        """Make room for so many patients at once and so many lines of the log."""
        hospital = packed.hospital
        self.packed, self.room, self.lines = packed, room, lines
        self.kept: list[Array] = []
        self.record = jit.memory(records.RUN, 1)
        k = self.record[0]
        k.rules = packed.rules[0]
        k.classes, k.class_words = jit.address(packed.classes), jit.address(packed.words)
        order = hospital.strategy.sources
        k.source_places = [order.index(each) if each in order else len(order) for each in records.SOURCE_NAMES]
        k.generator_gaps, k.generator_gap_count = self._at(packed.generator_gaps)
        k.devices = jit.address(packed.devices)
        k.sending, k.mean_need = jit.address(packed.sending), jit.address(packed.mean_need)
        k.class_count, k.warm_up_days = len(hospital.patients), -(-hospital.warm_up_s // DAY_S)
        k.counted = self._new(records.COUNTED, k.class_count)
        self.counted = self.kept[-1][: k.class_count]
        k.midnight_s, k.end_s = hospital.warm_up_s, hospital.end_s
        self._make_room(hospital, room, lines)
        self._set_store(hospital)
        self._set_purse(hospital, room)
        self._set_wards(hospital)
        self._set_bedside(hospital)
        self._set_manifold(hospital)
        self._set_units(hospital)
        self._set_power(hospital)
        self._set_levels(hospital, room)
        self._remember()

    def _remember(self) -> None:
        """Keep the state at the start of the warm-up, to set back to, and views for what is read and set often."""
        plain = self.record.view(np.ndarray)
        self._per_run = [plain[name] for name in _PER_RUN]
        self._state = plain[0]
        self._ledger = self.ledger.view(np.ndarray)["value"]
        arrays = [each.view(np.ndarray).view(np.uint8) for each in (self.record, self.days, *self.kept)]
        self._start = [(each, each.copy()) for each in arrays]
        counted, wards = self.counted.view(np.ndarray), self.wards.view(np.ndarray)
        self._columns = [(f"{name}_by_class", counted[name]) for name in records.COUNTED.names or ()]
        self._columns += [(f"ward_{name}", wards[name]) for name in BY_WARD_NAMES]
        stores = self.stores.view(np.ndarray)
        self._columns += [(name, stores[name]) for name in BY_SIZE]
        self._found = [(f"{name}_by_size", stores[field]) for name, field in _GAS_BY_SIZE]
        self._running_s = self.units.view(np.ndarray)["running_s"]
        self._no_lives = _lives(())
        self._fades = self.packed.hospital.fading_battery is not None
        self._flags = self.days.view(np.ndarray)["value"]
        self._days = self.daily.view(np.ndarray)["values"]

    def start(
        self,
        rows: Array,
        spells: tuple[Array, ...],
        key: tuple[int, int],
        count: Start | None = None,
        lives: Lives = (),
    ) -> int:
        """Set all back to the start, for what is drawn and counted; return the loop's address."""
        for array, at_start in self._start:
            array[:] = at_start
        self.given, self.count = (rows, *spells), count  # compiled code points to them
        found = [*(part for each in self.given for part in self._at(each)), *(word & MASK for word in key)]
        found.append(jit.address(NO_START if count is None else count.record))
        self.lives = _lives(lives) if lives else self._no_lives
        found.append(jit.address(self.lives[0]))
        for place, value in zip(self._per_run, found, strict=True):
            place[0] = value
        return jit.address(self.record)

    def pause_after(self, steps: int) -> None:
        """Let the loop come back after so many more steps, one at least."""
        self._state["pause_at"] = self._state["steps"] + max(1, steps)

    @property
    def lines_written(self) -> int:
        """Return how many lines the log has, or would have."""
        return int(self._state["log_count"])

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
        k.stores = self._new(records.STORE, len(hospital.cylinders.each) if hospital.cylinders else 0)
        self.stores = self.kept[-1][: len(hospital.cylinders.each) if hospital.cylinders else 0]
        events = room * _EVENTS_A_PATIENT + units * _EVENTS_A_PATIENT + fleet + 2 * len(self.packed.generator_gaps)
        events += LEAST_ROOM
        calendar = k.calendar
        calendar.events, calendar.heap = self._new(EVENT, events), self._new(DUE, events + 1)
        calendar.room, calendar.free = events, layout.NONE
        self.ledger = self.record["ledger"].view(NUMBER)
        k.ledger_words = jit.address(self.ledger)
        self.log = jit.memory(records.LOG, lines)
        k.log, k.log_room = jit.address(self.log), lines
        k.day_count = -(-(hospital.end_s - hospital.warm_up_s) // DAY_S)
        self.days = jit.memory(records.FLAG, k.day_count)
        self.daily = jit.memory(records.DAY, k.day_count)
        k.days_unserved, k.daily = jit.address(self.days), jit.address(self.daily)
        k.patient_room, k.patients = room, self._new(records.PATIENT, room)
        k.line, k.calls = (self._new(records.WAITING, room + records.BANKS + 1) for _ in range(2))
        k.scratch, k.ranked, k.sharers = (self._new(NUMBER, size) for size in (max(room, fleet), room, room))
        k.open_places = self._new(records.OPEN, room)
        k.promises = self._new(records.PROMISE, _PROMISES_A_PATIENT * room)
        k.counts_gaps = hospital.shortfall.as_before
        k.first_reduced = layout.NONE
        k.patient_free = k.first_present = k.last_present = k.first_open = k.open_free = layout.NONE

    def _set_store(self, hospital: Hospital) -> None:
        k, cylinders = self.record[0], hospital.cylinders
        k.away_free = layout.NONE
        if cylinders is None:
            return
        k.has_store, k.several = True, len(self.stores) > 1
        k.store_count, k.fewest_full = len(self.stores), cylinders.full_at_start
        for use, what in enumerate(get_args(Use)):
            places = cylinders.places_for(what)
            k.sizes_for_count[use] = len(places)
            k.sizes_for[use * MOST_SIZES : use * MOST_SIZES + len(places)] = places
        k.ward_size = k.sizes_for[0]
        for number, size in enumerate(cylinders.each):
            self._set_size(self.stores[number], number, size, hospital)
        k.away = self._new(records.AWAY, cylinders.fleet)
        k.order_room = k.journey_room = cylinders.fleet
        if hospital.funds is not None and hospital.funds.approval_s is not None:
            k.order_room += self.room  # orders of which money left nothing await approval too
        k.order_places = self._new(records.ORDER, k.order_room)
        k.journeys = self._new(records.JOURNEY, cylinders.fleet)

    def _set_size(self, s: Any, number: int, size: Cylinders, hospital: Hospital) -> None:
        """Set the cylinders of a size: what is said of them, and the full and the empty ones at the start."""
        fleet, full, keep = size.fleet, size.full_at_start, size.kept_gas
        s.number, s.fleet, s.full_gas, s.keep_gas, s.lost_gas = number, fleet, size.full_gas, keep, size.lost_gas
        s.leak_ml_min, s.gauge_error_gas, s.space = size.leak_ml_min, size.gauge_error_gas, size.space or 1
        s.unusable, s.refused, s.losses_per_day = size.unusable, size.refused, size.losses_per_day
        s.word = stable_hash(size.name) if size.name else 0
        if size.backup is not None:
            s.least_backup = backup_gas(size, size.backup.replace_below_permille)
        if size.underfilled is not None:
            s.underfills, s.underfilled_share = True, size.underfilled.share
            s.underfilled_content = law_record(size.underfilled.content)[0]
        if hospital.resupply is not None:
            s.reorder_point, s.order_up_to = hospital.resupply.levels[number]
            self._set_emergency(s, hospital)
        for queue in (s.fills, s.rack, s.empties):
            queue.at, queue.room = self._new(NUMBER, fleet), max(1, fleet)
        fills, empties = self.kept[-3], self.kept[-1]
        fills["value"][:full] = size.full_gas
        empties["value"][: fleet - full] = keep
        s.full = s.fills.count_ = s.fewest_full = full
        s.empties.count_ = fleet - full
        s.opening_gas = size.full_gas * full + keep * (fleet - full)
        s.opening_usable = max(0, size.full_gas - keep) * full

    def _set_emergency(self, s: Any, hospital: Hospital) -> None:
        """Set the levels of an emergency order for a size: its share of them."""
        rule, stock = hospital.resupply and hospital.resupply.emergency, hospital.cylinders
        if rule and stock is not None:
            s.emergency_below = size_share(stock, rule.below or 0, int(s.number))
            s.emergency_up_to = size_share(stock, rule.up_to, int(s.number))

    def _set_purse(self, hospital: Hospital, room: int) -> None:
        """Set the purse, with the prices of what it pays for."""
        k, funds, prices = self.record[0], hospital.funds, prices_of(hospital)
        k.lapses, k.lapse_count = self._at(self.packed.lapses)
        if funds is None:
            return
        purse = k.purse
        purse.buys_oxygen, purse.buys_fuel, purse.buys_parts = map(funds.pays, PURCHASES)
        purse.takes_fees = funds.fees is not None
        purse.cash = purse.opening_cash = funds.opening_cents
        purse.lacking_from = layout.NONE
        purse.invoice_room, k.invoices = room, self._new(records.INVOICE, room)
        for part in fields(prices):
            if part.name not in (*PRICES_BY_SIZE, "repair"):
                purse[part.name] = getattr(prices, part.name)
        for s, refill, full_gas in zip(self.stores, prices.refill, prices.full_gas, strict=False):
            s.refill, s.billed_gas = refill, full_gas

    def _set_wards(self, hospital: Hospital) -> None:
        """Set the wards, one where none is named, with the cylinders kept there."""
        k, stock = self.record[0], hospital.cylinders
        k.wards_of_classes = self._new(NUMBER, len(hospital.patients))
        self.kept[-1]["value"] = wards_of_classes(hospital)
        k.takes_time, k.hands_connect = hospital.takes_time, hospital.hands_connect
        k.longest_change_s = hospital.longest_change_s
        sets = sum(each.count for each in stock.usable_sets) if stock else 0
        wards = [(each.regulators, each.bedside_cylinders) for each in hospital.wards] or [(sets, 0)]
        k.ward_count, k.wards = len(wards), self._new(records.WARD, len(wards))
        self.wards = self.kept[-1]
        k.stocks_wards = any(kept for _, kept in wards)
        for ward, (regulators, kept) in zip(self.wards, wards, strict=True):
            ward.regulators = ward.regulators_free = regulators
            ward.most_bedside = kept
            ward.least_flow = NOT_KNOWN
            fills = self.stores[int(k.ward_size)].fills if stock is not None else None
            moved = min(kept, int(fills.count_)) if fills is not None else 0
            shelf = ward.shelf
            shelf.at, shelf.room, shelf.count_ = self._new(NUMBER, kept), max(1, kept), moved
            if stock is not None and fills is not None:
                self.kept[-1]["value"][:moved] = stock.each[int(k.ward_size)].full_gas
                fills.head, fills.count_ = fills.head + moved, fills.count_ - moved

    def _set_bedside(self, hospital: Hospital) -> None:
        """Set regulator sets, delivery sets and humidifiers."""
        k, rules = self.record[0], hospital.bedside
        sets = hospital.cylinders.usable_sets if hospital.cylinders else ()
        valves = [size.valve for size in hospital.cylinders.each] if hospital.cylinders else []
        smallest = sorted(range(len(sets)), key=lambda kind: (sets[kind].width_ml_min, kind))
        k.set_count, k.sets = len(sets), self._new(records.SET, len(sets))
        for place, (each, kind) in enumerate(zip(sets, smallest, strict=True)):
            bits = sum(each.fits(valve) << size for size, valve in enumerate(valves))
            self.kept[-1][place] = (each.low_ml_min, each.high_ml_min, each.count, each.count, 0, kind, bits)
        k.device_count = len(rules.delivery_sets)
        k.limits_delivery = k.device_count > 0 or rules.humidifiers is not None
        k.delivery_free, k.delivery_owned = (self._new(NUMBER, k.device_count) for _ in range(2))
        for array in self.kept[-2:]:
            array["value"][: k.device_count] = [count for _, count in rules.delivery_sets]
        by_oximeter = hospital.noticed.by_oximeter if hospital.noticed else None
        k.oximeters_free = by_oximeter.count if by_oximeter else 0
        k.humidifiers_free = rules.humidifiers if rules.humidifiers is not None else layout.NONE

    def _set_manifold(self, hospital: Hospital) -> None:
        """Set the manifold, whose banks are filled as the run begins."""
        k, rules, cylinders = self.record[0], hospital.manifold, hospital.cylinders
        k.banks = self._new(records.BANK, records.BANKS)
        banks = self.kept[-1]
        k.manifold.feeding = k.manifold.event = layout.NONE
        if rules is None or cylinders is None:
            return
        k.manifold.present = True
        k.manifold.keep_gas = max(rules.changeover_gas, cylinders.lost_gas)
        k.manifold.bank_count = MAIN_BANKS + (rules.reserve > 0)
        banks["number"], banks["room"] = range(records.BANKS), [rules.bank] * MAIN_BANKS + [rules.reserve]
        banks["spent"] = banks["seen"] = True
        for name in ("task", "task_event", "look_event"):
            banks[name] = layout.NONE

    def _set_levels(self, hospital: Hospital, room: int) -> None:
        """Set the counts of what is in use at once."""
        k, units = self.record[0], hospital.concentrators
        fleet = hospital.cylinders.fleet if hospital.cylinders else 0
        outlets = sum(group.count * group.rules.outlets for group in units.groups) if units else 0
        count = units.count if units else 0
        k.levels, k.units_changed = self._new(records.LEVEL, KINDS), True
        levels = self.kept[-1]
        self.levels: list[Array] = []
        for place, most in enumerate((fleet, room, outlets, count, count, count, count, count)):
            levels[place] = (NOT_COUNTED, 0, self._new(NUMBER, most + 1), most + 1)
            self.levels.append(self.kept[-1].view(np.ndarray)["value"])

    def _set_units(self, hospital: Hospital) -> None:
        k, rules = self.record[0], hospital.concentrators
        k.first_for_technician = k.last_for_technician = layout.NONE
        k.limit_w, k.peak_w = UNLIMITED, layout.NONE
        self.units = np.zeros(0, dtype=records.UNIT)
        if rules is None:
            return
        outlets = max(group.rules.outlets for group in rules.groups)
        k.has_bank, k.unit_count, k.outlet_room = True, rules.count, outlets
        k.on_units = self._new(NUMBER, rules.count * outlets)
        k.gathering, k.movers = self._new(NUMBER, 3 * rules.count), self._new(NUMBER, 2 * outlets)
        k.units = self._new(records.UNIT, rules.count)
        k.technicians_free = rules.crew if rules.crew is not None else layout.NONE
        self.units = units = self.kept[-1][: rules.count]
        units["number"] = np.arange(rules.count)
        units["ward"] = hospital.unit_wards
        units["repair_price"] = prices_of(hospital).repair or 0
        for name in [
            "running_since_s",
            "timer_event",
            "fail_event",
            "start_event",
            "check_event",
            "service_event",
        ]:
            units[name] = layout.NONE
        units["service_event"] = units["next_for_technician"] = units["first_lost"] = layout.NONE
        self._set_groups(hospital, rules)
        self._set_spare(rules)

    def _set_groups(self, hospital: Hospital, rules: Concentrators) -> None:
        """Set what differs between units, and what all of them can give or draw."""
        k, units = self.record[0], self.units
        k.unit_rules = jit.address(self.packed.unit_rules)
        k.has_lives = any(ahead(group) for group in rules.groups)
        for place, group in enumerate(rules.groups):
            own, here = group.rules, slice(group.first, group.first + group.count)
            units["group"][here], units["outlets"][here] = place, own.outlets
            units["rated_ml_min"][here], units["watts"][here] = own.rated_flow_ml_min, round(own.power_w)
            surge = own.start_surge_permille
            units["surge_permille"][here] = layout.NONE if surge is None else surge
            k.surges |= surge is not None and group.count > 0
            units["working"][here] = hospital.now is not None or np.arange(group.count) < group.working
        k.out_of_order = rules.count - int(units["working"].sum())
        units["word"] = [item_word(item) for item in rules.items]
        watts = units["watts"].tolist() or [round(rules.power_w)]
        k.least_w, k.most_w, k.total_w = min(watts), max(watts), sum(watts)
        rated = units["rated_ml_min"].tolist() or [rules.rated_flow_ml_min]
        k.most_rated_ml_min, k.mixed = max(rated), min(rated) < max(rated)

    def _set_spare(self, rules: Concentrators) -> None:
        """Set the trees of bank.py: all that units can give is to spare."""
        k, width = self.record[0], 1 << (rules.count - 1).bit_length()
        k.spare_width, k.spare = width, self._new(records.SPARE, 2 * width * int(k.ward_count))
        most = self.kept[-1].view(np.ndarray)["most"][: 2 * width * int(k.ward_count)].reshape(-1, 2 * width)
        rated = self.units["rated_ml_min"] * self.units["working"]
        most[self.units["ward"], width + np.arange(rules.count)] = rated
        for tree in most:
            for node in range(width - 1, 0, -1):
                tree[node] = max(tree[2 * node], tree[2 * node + 1])

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
        if power.generator is not None:
            tank_ml = power.generator.tank_ml
            generator.present = True
            generator.fuel = layout.NONE if tank_ml is None else tank_ml * FUEL_PER_ML
            generator.dry = generator.fuel == 0
            chain.opening_fuel = max(0, generator.fuel)
        if power.battery is not None:
            battery.present = True
            k.gathers = power.battery.gather
            battery.usable_ws = power.battery.usable_at_first_ws
            battery.level = chain.opening_level = battery.usable_ws * MW_S_PER_W_S

    def _money(self) -> dict[str, int]:
        """Return what is in the purse and owed, at the start and the end of the horizon; nothing without one."""
        if self.packed.hospital.funds is None:
            return {}
        purse = self._state["purse"]
        return {name: int(purse[part]) for name, part in _OF_PURSE}

    def finished(self) -> Finished:
        """Return what is left at the end; nothing of it changes when the memory is used again."""
        k, words = self._state, self._ledger.tolist()
        totals = {name: words[at : at + count] if count else words[at] for name, at, count in _LEDGER}
        totals |= {name: column.tolist() for name, column in self._columns}
        found = {
            "days_with_unserved": int(np.count_nonzero(self._flags)),
            **{name: tuple(column.tolist()) for name, column in self._found},
            "fewest_full": int(k["fewest_full"]),
            **self._money(),
            "unit_running_s": tuple(self._running_s.tolist()),
            "at_once": AtOnce(*(_levels(seconds) for seconds in self.levels)),
            "battery_usable_ws": int(k["chain"]["battery"]["usable_ws"]) if self._fades else 0,
            "events": int(k["steps"]),
            "daily": self._days[: int(k["daily_count"])].copy(),
        }
        return Finished(
            totals, found, self.log[: min(self.lines_written, self.lines)].copy() if self.lines else _NO_LINES
        )


def _lives(lives: Lives) -> tuple[Array, ...]:
    """Return lives worked out ahead as rows of LIVES, and what these point to."""
    rows = jit.memory(records.LIVES, len(lives))
    kept: list[Array] = [rows]
    for place, found in enumerate(lives):
        kept.append(jit.memory(NUMBER, len(found)))
        kept[-1]["value"][: len(found)] = found
        rows[place] = jit.address(kept[-1]), len(found)
    return tuple(kept)


def _levels(seconds: Array) -> tuple[int, ...]:
    """Return seconds by level up to the highest level seen."""
    found = seconds.tolist()
    while found and not found[-1]:
        found.pop()
    return tuple(found)
