"""Count what happens in a run, as whole-number totals within the horizon."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from o2sim.draws import PatientTable
from o2sim.model.patient import OpenCylinder, Patient, Shortage
from o2sim.model.rules import gas_needed
from o2sim.model.store import CylinderStore
from o2sim.outcome import LENGTHS_S, SHORTFALLS_S, Cause, Root
from o2sim.scenario.types.hospital import DAY_S, Shortfall

BY_CLASS = ("interruptions_by_class", "unserved_s_by_class", "short_s_by_class", "transferred_by_class")
BY_SIZE = (
    "opened_by_size", "delivered_by_size", "lost_by_size", "sent_by_size", "drawn_gas_by_size",
    "received_gas_by_size", "returned_gas_by_size", "refilled_gas_by_size", "empty_shelf_s_by_size",
)  # fmt: skip
BY_WARD = ("ward_stock_outs", "ward_interruptions", "ward_unserved_s", "ward_short_s")


@dataclass(slots=True)
class Ledger:
    """Counters of one run, within the horizon once it has begun."""

    midnight_s: int  # the start of the horizon
    end_s: int
    tolerated_gap_s: int
    classes: int  # how many classes of patients
    wards: int = 1
    sizes: int = 0  # of cylinders
    shortfall: Shortfall = field(default_factory=Shortfall)
    interruptions: list[int] = field(default_factory=lambda: [0] * len(Cause))
    stock_outs_by_cause: list[int] = field(default_factory=lambda: [0] * len(Cause))
    short_s: list[int] = field(default_factory=lambda: [0] * len(Root))
    supply_over: list[int] = field(default_factory=lambda: [0] * len(SHORTFALLS_S))
    longer: list[int] = field(default_factory=lambda: [0] * len(LENGTHS_S))
    unserved_s: list[int] = field(default_factory=lambda: [0] * len(Cause))
    days_unserved: set[int] = field(default_factory=set)  # with an interruption that begins or goes on
    longest_gap_s: int = 0
    longest_spell_s: int = 0
    patients_affected: int = 0
    transferred: int = 0
    transferred_s: int = 0
    transferred_gas: int = 0
    travel_s: int = 0
    unserved_gas: int = 0
    under_served_s: int = 0
    short_served_s: int = 0
    deficit_ms: int = 0
    patients_under_served: int = 0
    missing_gas: int = 0  # prescribed beyond what was given to those on reduced flow
    served_cylinder_s: int = 0
    served_concentrator_s: int = 0
    cylinder_gas: int = 0
    concentrator_gas: int = 0
    unneeded_cylinder_gas: int = 0  # given late in weaning, or without need
    unneeded_concentrator_gas: int = 0
    leaked_gas: int = 0
    returned_gas: int = 0
    refilled_gas: int = 0
    sent_gas: int = 0
    received_gas: int = 0
    cylinders_opened: int = 0
    cylinders_emptied: int = 0
    changed_in_time: int = 0
    cylinders_delivered: int = 0
    deliveries: int = 0
    orders: int = 0
    collections: int = 0
    emergency_orders: int = 0
    emergency_deliveries: int = 0
    emergency_cylinders: int = 0
    cylinders_cut: int = 0
    cylinders_sent: int = 0
    cylinders_lost: int = 0
    cylinders_unusable: int = 0
    unit_losses: int = 0
    backups_opened: int = 0
    empty_shelf_s: int = 0
    since_bare_s: int = 0  # to the end from the first second of an empty shelf; 0: there was none
    since_interruption_s: int = 0  # from the first of each to the end
    since_stock_out_s: int = 0
    since_delivery_s: int = 0
    concentrator_failures: int = 0
    concentrator_running_s: int = 0
    power_out_s: int = 0
    power_cuts: int = 0
    without_power_s: int = 0
    off_grid_running_s: int = 0
    grid_charging_ws: int = 0
    generator_running_s: int = 0
    generator_failures: int = 0
    fuel_used: int = 0
    fuel_for_oxygen: int = 0
    fuel_received: int = 0
    low_concentration_s: int = 0
    concentrators_written_off: int = 0
    services: int = 0
    concentrators_moved: int = 0
    ward_stock_outs: list[int] = field(default_factory=list)  # by ward
    ward_interruptions: list[int] = field(default_factory=list)
    ward_unserved_s: list[int] = field(default_factory=list)
    ward_short_s: list[int] = field(default_factory=list)
    served_outlet_s: int = 0
    pipe_leak_gas: int = 0
    bank_changes: int = 0
    reserve_s: int = 0
    manifold_dry_s: int = 0
    interruptions_by_class: list[int] = field(default_factory=list)  # in the order of the hospital's classes
    unserved_s_by_class: list[int] = field(default_factory=list)
    short_s_by_class: list[int] = field(default_factory=list)
    transferred_by_class: list[int] = field(default_factory=list)
    with_cylinders: int = 0  # patients sent on with cylinders of the place
    transfer_cylinders: int = 0  # that went with them
    transfer_gas: int = 0  # drawn on the way, leaks included
    opened_by_size: list[int] = field(default_factory=list)  # in the order of the hospital's sizes of cylinder
    delivered_by_size: list[int] = field(default_factory=list)
    lost_by_size: list[int] = field(default_factory=list)
    sent_by_size: list[int] = field(default_factory=list)
    drawn_gas_by_size: list[int] = field(default_factory=list)
    received_gas_by_size: list[int] = field(default_factory=list)
    returned_gas_by_size: list[int] = field(default_factory=list)
    refilled_gas_by_size: list[int] = field(default_factory=list)
    empty_shelf_s_by_size: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin each count by class, by ward and by size at 0."""
        for name in BY_CLASS:
            setattr(self, name, [0] * self.classes)
        for name in BY_WARD:
            setattr(self, name, [0] * self.wards)
        for name in BY_SIZE:
            setattr(self, name, [0] * self.sizes)

    def begin_horizon(self) -> None:
        """Forget what was counted in the warm-up, but for transferred stays that reach into the horizon."""
        kept = self.transferred_s, self.transferred_gas, self.travel_s
        counts = self.classes, self.wards, self.sizes
        fresh = Ledger(self.midnight_s, self.end_s, self.tolerated_gap_s, *counts, self.shortfall)
        for part in fields(self):
            setattr(self, part.name, getattr(fresh, part.name))
        self.transferred_s, self.transferred_gas, self.travel_s = kept

    @property
    def drawn_gas(self) -> int:
        """Return the gas drawn from cylinders, leaks included."""
        return self.cylinder_gas + self.unneeded_cylinder_gas + self.leaked_gas + self.transfer_gas

    def drawn(self, store: CylinderStore, gas: int) -> None:
        """Credit gas drawn from cylinders of a size."""
        store.drawn_gas += gas
        self.drawn_gas_by_size[store.number] += gas

    def unserved(self, patient: Patient, now_s: int) -> None:
        """Credit a gap's seconds since they were last credited to the cause that held."""
        since_s, seconds = patient.cause_since_s, now_s - patient.cause_since_s
        patient.cause_since_s = now_s
        if seconds == 0 or patient.cause is None:
            return
        patient.unserved_s += seconds
        self.unserved_s[patient.cause] += seconds
        self.ward_unserved_s[patient.ward] += seconds
        self.unserved_s_by_class[patient.class_index] += seconds
        self.unserved_gas += seconds * patient.flow_ml_min
        self.deficit_ms += 1_000 * seconds
        if self.shortfall.as_before:
            assert patient.gap_since_s is not None  # there is a cause
            self._interrupted_days(max(since_s, patient.gap_since_s + self.tolerated_gap_s), now_s)

    def _interrupted_days(self, from_s: int, to_s: int) -> None:
        """Mark the days from one second to before another, in which somebody's interruption goes on."""
        if from_s < to_s:
            first, last = (from_s - self.midnight_s) // DAY_S, (to_s - 1 - self.midnight_s) // DAY_S
            self.days_unserved.update(range(first, last + 1))

    def returned(self, store: CylinderStore, gas: int) -> None:
        """Credit gas that leaves in cylinders of a size."""
        self.returned_gas += gas
        self.returned_gas_by_size[store.number] += gas

    def lost(self, store: CylinderStore, gas: int) -> None:
        """Count a cylinder of a size that leaves the fleet, with what is in it."""
        self.cylinders_lost += 1
        self.lost_by_size[store.number] += 1
        self.returned(store, gas)

    def served(self, patient: Patient, now_s: int) -> None:
        """Credit the gas and the seconds a served patient has had since they were last credited."""
        seconds = now_s - patient.flow_since_s
        patient.flow_since_s = now_s
        gas = seconds * patient.given_ml_min
        if patient.cylinder is not None:
            patient.cylinder.content -= gas
            self.drawn(patient.cylinder.store, gas)
            self._leaked(patient.cylinder, now_s)
        if not patient.needs:
            self._unneeded(patient, gas)
            return
        patient.served_s += seconds
        if seconds > 0 and patient.given_ml_min < patient.flow_ml_min:
            self._under_served(patient, seconds, now_s)
        if patient.low:
            self.low_concentration_s += seconds
        if patient.piped:  # what the bank in service gives is credited by steps/manifold_gas.py
            self.served_outlet_s += seconds
        if patient.piped or patient.cylinder is not None:
            self.served_cylinder_s += seconds
            self.cylinder_gas += gas
        else:
            self.served_concentrator_s += seconds
            self.concentrator_gas += gas

    def _under_served(self, patient: Patient, seconds: int, now_s: int) -> None:
        """Credit the seconds of one on reduced flow, and the gas that was prescribed beyond it."""
        given, prescribed = patient.given_ml_min, patient.flow_ml_min
        self.missing_gas += seconds * (prescribed - given)
        self.deficit_ms += seconds * (1_000 * (prescribed - given) // prescribed)
        if self.shortfall.is_short(given, prescribed):
            self.short_served_s += seconds
            return
        self.under_served_s += seconds
        if now_s > self.midnight_s and not patient.under_served:
            patient.under_served = True
            self.patients_under_served += 1

    def _leaked(self, cylinder: OpenCylinder, now_s: int) -> None:
        """Credit the leak of an open cylinder, once however many are on it."""
        leaked = (now_s - cylinder.leak_since_s) * cylinder.rules.leak_ml_min
        cylinder.leak_since_s = now_s
        self.leaked_gas += leaked
        cylinder.content -= leaked
        self.drawn(cylinder.store, leaked)

    def _unneeded(self, patient: Patient, gas: int) -> None:
        """Credit the gas given to a patient who does not need it."""
        if patient.cylinder is None and not patient.piped:
            self.unneeded_concentrator_gas += gas
        else:
            self.unneeded_cylinder_gas += gas

    def short(self, patient: Patient, spell: Shortage, now_s: int) -> None:
        """Credit the seconds of a spell since they were last credited to root and cause, and what they exceed."""
        since_s, seconds = spell.credited_s, now_s - spell.credited_s
        spell.credited_s = now_s
        if seconds == 0:
            return
        self.short_s[spell.root] += seconds
        self.ward_short_s[patient.ward] += seconds
        self.short_s_by_class[patient.class_index] += seconds
        spell.by_cause[spell.cause] += seconds
        for index, length_s in enumerate(LENGTHS_S):
            after_s = max(length_s, self.tolerated_gap_s) - spell.clock_s
            if 0 <= after_s < seconds and since_s + after_s >= self.midnight_s:
                self.longer[index] += 1
        self._interrupted_days(since_s + max(0, self.tolerated_gap_s - spell.clock_s), now_s)
        spell.clock_s += seconds
        if spell.root == Root.SUPPLY:
            spell.supply_s += seconds
            spell.supply_by_cause[spell.supply_cause] += seconds
        if now_s > self.midnight_s:
            self.longest_spell_s = max(self.longest_spell_s, spell.clock_s)
            self._supply_over(patient, spell)

    def _supply_over(self, patient: Patient, spell: Shortage) -> None:
        """Count a patient in each length of supply shortfall that a spell exceeds, once."""
        while patient.supply_over < len(SHORTFALLS_S) and spell.supply_s > SHORTFALLS_S[patient.supply_over]:
            self.supply_over[patient.supply_over] += 1
            patient.supply_over += 1

    def stock_out(self, patient: Patient, cause: Cause, now_s: int) -> None:
        """Count a stock-out by its cause."""
        self.since_stock_out_s = self.since_stock_out_s or self.end_s - now_s
        self.stock_outs_by_cause[cause] += 1
        self.ward_stock_outs[patient.ward] += 1

    def interruption(self, patient: Patient, cause: Cause, now_s: int) -> None:
        """Count an interruption by its cause."""
        self.since_interruption_s = self.since_interruption_s or self.end_s - now_s
        self.interruptions[cause] += 1
        self.ward_interruptions[patient.ward] += 1
        self.interruptions_by_class[patient.class_index] += 1
        self._interrupted_days(now_s, now_s + 1)
        if now_s >= self.midnight_s and not patient.affected:
            patient.affected = True
            self.patients_affected += 1

    def gap_length(self, start_s: int, stop_s: int) -> None:
        """Count a gap that ends, or is cut by the end of the run, in each length it exceeds within the horizon."""
        if stop_s > self.midnight_s:
            self.longest_gap_s = max(self.longest_gap_s, stop_s - start_s)
        if not self.shortfall.as_before:  # then lengths are those of spells
            return
        for index, length_s in enumerate(LENGTHS_S):
            crossed_s = start_s + max(length_s, self.tolerated_gap_s)
            if self.midnight_s <= crossed_s < stop_s:
                self.longer[index] += 1

    def turned_away(self, patient: Patient, now_s: int) -> None:
        """Count a patient who leaves at once, unserved; the interruption is counted before."""
        self._sent_elsewhere(patient)
        self.transfer(patient, now_s)

    def transfer(self, patient: Patient, now_s: int) -> None:
        """Count a patient whose need is met elsewhere from now on, and the part of it that lies in the horizon."""
        seconds = self._need_inside(patient, now_s, self.end_s)
        from_s = max(now_s, self.midnight_s) - patient.arrival_s
        self.transferred_s += seconds
        self.transferred_gas += gas_needed(patient.flows, from_s, from_s + seconds)

    def travel(self, patient: Patient, now_s: int, travel_s: int) -> None:
        """Count a patient who is sent on, and the time on the way."""
        self._sent_elsewhere(patient)
        self.travel_s += self._need_inside(patient, now_s, now_s + travel_s)

    def _sent_elsewhere(self, patient: Patient) -> None:
        self.transferred += 1
        self.transferred_by_class[patient.class_index] += 1

    def _need_inside(self, patient: Patient, from_s: int, to_s: int) -> int:
        """Return the seconds of need from one second to another that lie in the horizon."""
        need_ends_s = patient.arrival_s + patient.need_s
        return max(0, min(need_ends_s, to_s, self.end_s) - max(from_s, self.midnight_s))


def need_in_horizon(
    table: PatientTable, midnight_s: int, end_s: int, classes: int
) -> tuple[list[int], list[int], int, int]:
    """Return arrivals and patients by class, patient-seconds and gas (1/60 mL) of need in the horizon.

    The same under every strategy; who is present at the start of the run is a patient, but no arrival.
    """
    arrivals, patients, seconds, gas = [0] * classes, [0] * classes, 0, 0
    rows = zip(table.class_index, table.arrival_s, table.need_s, strict=True)
    for number, (index, arrival_s, need_s) in enumerate(rows):
        from_s = max(arrival_s, midnight_s)
        inside_s = min(arrival_s + need_s, end_s) - from_s
        if inside_s > 0:
            arrivals[index] += arrival_s >= midnight_s and number not in table.present
            patients[index] += 1
            seconds += inside_s
            gas += gas_needed(table.flows(number), from_s - arrival_s, from_s - arrival_s + inside_s)
    return arrivals, patients, seconds, gas


def unrecognised_in_horizon(table: PatientTable, midnight_s: int, end_s: int) -> int:
    """Return the patient-seconds within the horizon of those in need whom nobody recognised."""
    inside = (min(start + need, end_s) - max(start, midnight_s) for start, need in table.unrecognised)
    return sum(seconds for seconds in inside if seconds > 0)
