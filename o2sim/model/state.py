"""A hospital and its draws in; the state of one run out, as the steps of the reference engine change it."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Callable
from typing import Any, Protocol, TypeVar, get_args

from o2sim.draws import Draws, Series
from o2sim.draws.count_record import Start
from o2sim.draws.season import mean_need
from o2sim.model.bank import ConcentratorBank, Unit
from o2sim.model.ledger import Ledger
from o2sim.model.levels import Levels
from o2sim.model.manifold import ManifoldBanks, new_manifold
from o2sim.model.patient import Backup, OpenCylinder, Patient
from o2sim.model.power import PowerChain, power_chain
from o2sim.model.regulators import RegulatorSets
from o2sim.model.rules import BOOK_DAYS, Rank, keep_gas
from o2sim.model.store import CylinderStore, Order
from o2sim.model.ward import open_wards, wards_of_classes
from o2sim.outcome import LogEntry
from o2sim.scenario.types.cylinder_size import Use
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Hospital, Power, Resupply

Part = TypeVar("Part")
USES: tuple[Use, ...] = get_args(Use)


class Event(Protocol):
    """A scheduled step that can be called off."""

    def cancel(self) -> None:
        """Make the step pass without effect."""
        ...


class Clock(Protocol):
    """What keeps the time and runs the steps in order."""

    @property
    def now(self) -> int:
        """Return the current second, from the start of the warm-up."""
        ...

    def at(self, time_s: int, rank: Rank, item: int, step: Callable[..., None], *args: Any) -> Event:
        """Schedule step(state, *args) at a second, by (rank, item) among those of that second."""
        ...


class State:
    """Who is in need, where every cylinder and unit is, what is on order, and what has been counted."""

    def __init__(self, hospital: Hospital, draws: Draws, clock: Clock, log: bool) -> None:
        """Begin with no patients, nothing on order, units new, grid up; from_count.py takes up a count."""
        self.rules, self.draws, self.clock = hospital, draws, clock
        self.start = draws.start(hospital)  # what was counted, None for an empty hospital
        self.log: list[LogEntry] | None = [] if log else None
        self.midnight_s = hospital.warm_up_s  # the first midnight of the horizon
        classes, wards = len(hospital.patients), max(1, len(hospital.wards))
        sizes = len(hospital.cylinders.each) if hospital.cylinders else 0
        self.ledger = Ledger(
            self.midnight_s, hospital.end_s, hospital.tolerated_gap_s, classes, wards, sizes, hospital.shortfall
        )
        self.table = draws.patients(hospital)
        self.present: dict[int, Patient] = {}  # by patient number
        self.on_cylinder: dict[int, Patient] = {}
        self.reduced: dict[int, Patient] = {}  # given less than prescribed
        self.backups: dict[int, Patient] = {}  # with one at the bed, not in use
        self.journeys: dict[int, Any] = {}  # of patients sent on with cylinders of the place, until these are back
        self.backups_out = 0  # those in use included
        self.backups_due: list[Patient] = []  # who have lost their unit in this step
        self.backup_came_back = False  # in this second, with a patient who left
        self.open_cylinders: dict[int, OpenCylinder] = {}  # in the order in which they were opened
        self.opened = 0  # cylinders so far, the warm-up included
        self.waiting: list[tuple[tuple[int, int], Patient]] = []  # in line for a source
        self.stores = _stores(hospital)  # of each size of cylinder
        self.several = len(self.stores) > 1
        self.sets = RegulatorSets(hospital.cylinders) if hospital.cylinders else None
        self.sizes_for = _sizes_for(hospital)  # places in stores by use
        if self.store is not None and self.start is not None:
            self.store.count(self.start)
        self.fewest_full = self.full  # the warm-up included
        self.humidifiers_free = hospital.bedside.humidifiers  # None: unlimited
        self.delivery_free: dict[str | None, int] = dict(hospital.bedside.delivery_sets)
        by_oximeter = hospital.noticed.by_oximeter if hospital.noticed else None
        self.oximeters_free = by_oximeter.count if by_oximeter else 0
        self.power_came = False  # an oximeter that was silent without it may alarm now
        self.manifold = _manifold(hospital, self.store)
        self.shelf_since_s = 0  # empty shelf credited up to here
        self.bank = _bank(hospital, draws)
        self.wards = open_wards(hospital, self.ward_store, self.bank)
        self.wards_of_classes = wards_of_classes(hospital)
        self.stocks_wards = any(ward.most_bedside for ward in self.wards)
        self.takes_time, self.hands_connect = hospital.takes_time, hospital.hands_connect
        self.longest_change_s = hospital.longest_change_s
        self.levels = Levels(len(self.bank.units) if self.bank is not None else 0)
        self.stock_came = False  # a watched cylinder that runs low may have a replacement now
        crew = hospital.concentrators.crew if hospital.concentrators else None
        self.technicians_free = crew  # None where each unit has its own
        self.for_technician: deque[tuple[Unit, int]] = deque()  # units that wait, with the failure's ordinal
        self.room_made = False  # a unit may have room for somebody on a cylinder
        self.grid = _grid(hospital, draws)
        self.grid_up = True
        self.grid_holds = [True, True]  # by itself; by plan or record
        self.listed_cuts = draws.listed_cuts(hospital)
        self.voltage = _voltage(hospital, draws)
        self.chain = _chain(hospital, draws)
        if self.start is not None:
            self.chain.begin_with(self.start["battery_permille"], self.start["fuel_ml"])
        self.cut_number = 0  # of the last cut, from 1
        self.grid_since_s = 0
        self.cuts = 0
        self.closures = draws.closures(hospital)
        self.outages = draws.outages(hospital)
        self.orders = self._before("orders")
        self.open_orders: dict[int, Order] = {}
        self.orders_on_day: dict[dt.date, int] = orders_on_day(self.start)
        self.emergencies_on_day: dict[dt.date, int] = {}
        self.last_delivery_s = 0
        self.review_pending = False
        self.busy = 0  # staff at a job
        self.calls: list[tuple[tuple[int, int], Any]] = []  # jobs nobody is free for, in line
        self.daily: list[tuple[int, ...]] = []
        self.book: deque[int] = deque(maxlen=BOOK_DAYS)  # gas drawn from cylinders, by day
        self.booked_gas = 0  # of the ledger's, what is in the book
        self.warm_up_days = -(-hospital.warm_up_s // DAY_S)
        self.mean_need = mean_need(hospital) if hospital.cylinders else []  # by day, from the warm-up's first
        self.take_stock()

    def _before(self, what: str) -> int:
        """Return how many of something came before the run, so that those to come are numbered on."""
        return 0 if self.start is None else self.start[what]

    @property
    def now(self) -> int:
        """Return the current second."""
        return self.clock.now

    @property
    def cylinder_rules(self) -> Cylinders:
        """Return the rules of cylinders, for steps that nobody takes without any."""
        return there(self.rules.cylinders)

    @property
    def resupply_rules(self) -> Resupply:
        """Return the rules of resupply, for steps that nobody takes without any."""
        return there(self.rules.resupply)

    def note(self, step: str, item: int = -1, other: int = -1, value: int = -1) -> None:
        """Write one line of the event log, if it is kept."""
        if self.log is not None:
            self.log.append(LogEntry(self.now, step, item, other, value))

    @property
    def store(self) -> CylinderStore | None:
        """Return the store of the cylinders that are all alike, or of the first size; None without any."""
        return self.stores[0] if self.stores else None

    @property
    def ward_store(self) -> CylinderStore | None:
        """Return the store of the size that is kept on wards: the first for the bedside; None without any."""
        return self.stores[self.sizes_for["bedside"][0]] if self.stores else None

    @property
    def full(self) -> int:
        """Return the full cylinders of all sizes."""
        return sum(store.full for store in self.stores)

    def take_stock(self) -> None:
        """Note what gas there is to begin with, by size."""
        self.opening_gas = [self.gas_of(store) for store in self.stores]
        self.opening_usable = [self.usable_of(store) for store in self.stores]

    def gas_of(self, store: CylinderStore) -> int:
        """Return the gas in all cylinders of a size (1/60 mL), those in use as last credited."""
        on_manifold = self.manifold.gas if self.manifold else 0
        return sum(self.in_use_of(store)) + on_manifold + store.gas_on_hand

    def in_use_of(self, store: CylinderStore) -> list[int]:
        """Return the contents of the cylinders of a size with patients, back-ups that are not in use included."""
        at_beds = [there(patient.backup) for patient in self.backups.values()]
        held = [each.content for each in self.open_cylinders.values() if each.store is store]
        return held + [each.content for each in at_beds if each.store is store]

    def usable_of(self, store: CylinderStore) -> int:
        """Return the gas above residual content in cylinders of a size but empties, and of the banks."""
        keep = keep_gas(store.rules)
        in_use = sum(max(0, content - keep) for content in self.in_use_of(store))
        return in_use + (self.manifold.usable if self.manifold else 0) + store.usable_on_hand

    def usable_gas(self) -> int:
        """Return the gas above residual content in cylinders of all sizes that are no empties."""
        return sum(self.usable_of(store) for store in self.stores)


def there(part: Part | None) -> Part:
    """Return a part of the hospital, in a step that nobody takes without it."""
    assert part is not None
    return part


def call_off(whose: Patient | OpenCylinder | Backup | Unit, name: str) -> None:
    """Cancel one pending event of a patient, an open cylinder, a back-up or a unit, if there is one."""
    event = getattr(whose, name)
    if event is not None:
        event.cancel()
        setattr(whose, name, None)


def orders_on_day(start: Start | None) -> dict[dt.date, int]:
    """Return how many orders were placed on the day of a count."""
    if start is None or start["orders_day"] == 0:
        return {}
    return {dt.date.fromordinal(start["orders_day"]): start["orders_on_day"]}


def _bank(hospital: Hospital, draws: Draws) -> ConcentratorBank | None:
    rules = hospital.concentrators
    if rules is None:
        return None

    def series(unit: int) -> tuple[Series | None, Series | None, Series | None]:
        return (
            None if rules.failure_s is None else draws.failures(rules.failure_s, unit),
            None if rules.repair_s is None else draws.repairs(rules.repair_s, unit),
            None if rules.drift_s is None else draws.drifts(rules.drift_s, unit),
        )

    return ConcentratorBank(rules, [series(unit) for unit in range(rules.count)], hospital.allocation.first_unit)


def _stores(hospital: Hospital) -> list[CylinderStore]:
    """Return a store for each size of cylinder."""
    if hospital.cylinders is None:
        return []
    above = hospital.resupply.position_counts_above_permille if hospital.resupply else None
    return [CylinderStore(size, number, above) for number, size in enumerate(hospital.cylinders.each)]


def _sizes_for(hospital: Hospital) -> dict[str, tuple[int, ...]]:
    """Return which sizes are for what, the first choice first."""
    stock = hospital.cylinders
    return {use: stock.places_for(use) for use in USES} if stock is not None else {}


def _manifold(hospital: Hospital, store: CylinderStore | None) -> ManifoldBanks | None:
    """Return the manifold with its banks, then its reserve, filled from the full cylinders as far as they go."""
    if hospital.manifold is None or store is None:
        return None
    manifold = new_manifold(hospital.manifold, store.rules)
    for bank in manifold.banks:
        bank.put_on(store.put_on_manifold(min(bank.size, store.full)))
        bank.spent = bank.seen = bank.usable == 0
    return manifold


def _voltage(hospital: Hospital, draws: Draws) -> tuple[Series, Series] | None:
    voltage = hospital.power.voltage if hospital.power else None
    return None if voltage is None else (draws.voltage_good(voltage.good_s), draws.voltage_bad(voltage.bad_s))


def _chain(hospital: Hospital, draws: Draws) -> PowerChain:
    """Return the power chain; without concentrators it is the grid alone, for there is nothing to carry."""
    rules, units = hospital.power, hospital.concentrators
    if rules is None or units is None:
        return power_chain(Power(), 0, None, None)
    failures = repairs = None
    if rules.generator is not None and rules.generator.running_failure_s is not None:
        failures = draws.generator_failures(rules.generator.running_failure_s)
    if rules.generator is not None and rules.generator.repair_s is not None:
        repairs = draws.generator_repairs(rules.generator.repair_s)
    return power_chain(rules, round(units.power_w), failures, repairs)


def _grid(hospital: Hospital, draws: Draws) -> tuple[Series, Series] | None:
    """Return the up-times and down-times of the grid, None where it never changes."""
    grid = hospital.grid
    if grid is None or grid.up_s is None or grid.down_s is None:
        return None
    return draws.grid_up(grid.up_s), draws.grid_down(grid.down_s)
