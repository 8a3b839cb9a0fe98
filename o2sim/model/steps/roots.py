"""Roots: what patients who are short would still want if hands, eyes and the way to the store cost no time.

They are asked in the order of the line; what one is promised is not there for the next. Nobody is displaced, moved
or turned down for another.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from o2sim.model.bank import Unit
from o2sim.model.patient import REPLACEMENT, OpenCylinder, Patient
from o2sim.model.state import State, there
from o2sim.model.steps.claims import has_backup, on_ward
from o2sim.model.steps.delivery import needs_humidifier
from o2sim.model.steps.manifold import could_change
from o2sim.model.steps.reduced_flow import may_take_two, takes_reduced
from o2sim.model.steps.sizes import kept_back, sizes_of, sizes_to_change
from o2sim.model.steps.sources import units_reason
from o2sim.model.steps.splitters import outlet_for
from o2sim.model.store import CylinderStore
from o2sim.outcome import Cause, Root


@dataclass(slots=True)
class Promised:
    """What those asked so far are promised."""

    outlets_of: Counter[int] = field(default_factory=Counter)  # of units
    ml_min_of: Counter[int] = field(default_factory=Counter)
    starting: set[int] = field(default_factory=set)  # units that would begin to run
    piped: int = 0
    stored: Counter[int] = field(default_factory=Counter)  # cylinders, by size
    on_wards: Counter[int] = field(default_factory=Counter)
    sets: Counter[int] = field(default_factory=Counter)  # by kind
    sets_of_wards: Counter[int] = field(default_factory=Counter)
    joined: set[int] = field(default_factory=set)  # open cylinders that somebody could share
    replaced: set[int] = field(default_factory=set)  # open cylinders that could be changed
    humidifiers: int = 0
    delivery: Counter[str | None] = field(default_factory=Counter)


def roots_of(state: State, short: list[Patient]) -> list[tuple[Root, Cause]]:
    """Return the root of each patient who is short, in line, and why there is no supply where that is the root."""
    promised = Promised()
    return [_root(state, patient, promised) for patient in short]


def _root(state: State, patient: Patient, promised: Promised) -> tuple[Root, Cause]:
    if (
        patient.supply_event is not None and patient.short is not None and patient.short.on
    ):  # on the way to another place
        return patient.short.root, patient.short.supply_cause
    if _at_hand(patient):
        return Root.HANDLING, Cause.CHANGEOVER
    if not _lacks_delivery(state, patient, promised) and _source(state, patient, promised, with_set=True):
        _promise_delivery(state, patient, promised)
        return Root.HANDLING, Cause.CHANGEOVER
    if _source(state, patient, promised, with_set=False):
        return Root.EQUIPMENT, Cause.CHANGEOVER
    return Root.SUPPLY, _why_none(state, patient)


def _at_hand(patient: Patient) -> bool:
    """Return True if something is claimed, opened or being connected for a patient."""
    if patient.claim is not None or patient.opens_backup:
        return True
    if patient.cylinder is None:
        return False
    lead = patient.cylinder.lead
    changing = lead.task is not None and lead.task.event is not None and not lead.task.is_return
    return lead.claim == REPLACEMENT or changing


def _source(state: State, patient: Patient, promised: Promised, *, with_set: bool) -> bool:
    """Promise the first source in the strategy's order that could give at least enough; False where none could."""
    for source in state.rules.strategy.sources:
        if source == "concentrator":
            found = not patient.flowing and _units(state, patient, promised)
        elif source == "manifold":
            found = _outlet(state, promised)
        else:
            found = _cylinder(state, patient, promised, with_set=with_set)
        if found:
            return True
    return False


def _units(state: State, patient: Patient, promised: Promised) -> bool:
    """Promise units for all of a flow, or for at least enough of it where a part may be given."""
    bank = state.bank
    if bank is None or not bank.powered:
        return False
    flow, room = patient.flow_ml_min, _room(state, patient.ward, promised)
    whole = [(unit, spare) for unit, spare in room if spare >= flow]
    if whole:
        sign = {"lowest number": 0, "least loaded": -1, "most loaded": 1}[bank.first]

        def place(found: tuple[Unit, int]) -> tuple[int, int]:
            unit = found[0]
            return sign * (unit.load_ml_min + promised.ml_min_of[unit.number]), -unit.number

        _promise_unit(max(whole, key=place)[0], flow, promised)
        return True
    if not room:
        return False
    first, spare = max(room, key=lambda found: (found[1], -found[0].number))
    if may_take_two(state, patient) and _pair(state, patient, first, spare, promised):
        return True
    if not takes_reduced(state, patient) or state.rules.shortfall.is_short(min(flow, spare), flow):
        return False
    _promise_unit(first, min(flow, spare), promised)
    return True


def _pair(state: State, patient: Patient, first: Unit, spare: int, promised: Promised) -> bool:
    """Promise all that the first unit has to spare and the rest of a flow from another; False without one."""
    trial = Promised(starting=promised.starting | _starts(first))
    trial.outlets_of, trial.ml_min_of = promised.outlets_of, promised.ml_min_of
    rest = patient.flow_ml_min - spare
    for unit, more in _room(state, patient.ward, trial):
        if unit is not first and more >= rest:
            _promise_unit(first, spare, promised)
            _promise_unit(unit, rest, promised)
            return True
    return False


def _room(state: State, ward: int, promised: Promised) -> list[tuple[Unit, int]]:
    """Return the powered units of a ward with an outlet to spare, and the flow that is left of each."""
    bank = there(state.bank)
    starting = len(promised.starting)
    can_start = bank.most_running >= len(bank.units) or bank.running + starting < bank.most_running
    found = []
    for unit in bank.units:
        taken = len(unit.patients) + len(unit.expected) + promised.outlets_of[unit.number]
        spare = unit.spare_ml_min - promised.ml_min_of[unit.number]
        runs = can_start or bool(unit.patients) or unit.number in promised.starting
        if unit.ward == ward and taken < unit.rules.outlets and spare > 0 and runs:
            found.append((unit, spare))
    return found


def _starts(unit: Unit) -> set[int]:
    return set() if unit.patients else {unit.number}


def _promise_unit(unit: Unit, flow_ml_min: int, promised: Promised) -> None:
    promised.outlets_of[unit.number] += 1
    promised.ml_min_of[unit.number] += flow_ml_min
    promised.starting |= _starts(unit)


def _outlet(state: State, promised: Promised) -> bool:
    """Promise an outlet of the manifold behind which a bank is ready, or could be changed."""
    manifold = state.manifold
    if (
        manifold is None
        or len(manifold.patients) + promised.piped >= manifold.rules.outlets
        or not could_feed(state)
    ):
        return False
    promised.piped += 1
    return True


def could_feed(state: State) -> bool:
    """Return True if a bank feeds or is ready, is being changed, or could be."""
    banks = there(state.manifold).banks
    return any(not bank.spent or (bank.task is not None and bank.usable > 0) for bank in banks) or any(
        could_change(state, bank) for bank in banks
    )


def _cylinder(state: State, patient: Patient, promised: Promised, *, with_set: bool) -> bool:
    """Promise a cylinder that a patient may open, with a set that fits, or an outlet of a splitter."""
    own = patient.cylinder
    if not state.stores:
        return False
    if has_backup(patient):
        return True
    if own is not None and own.number in promised.replaced:
        return True
    for store in _sizes(state, patient):
        kind = _set(state, patient, promised, store)
        held = own is not None and there(state.sets).fits(own.kind, store.number)
        if own is not None and len(own.patients) > 1:
            kind = None
        if (held or kind is not None or not with_set) and _promise_cylinder(state, patient, promised, store):
            if own is not None:
                promised.replaced.add(own.number)
            if kind is not None and not held:
                promised.sets[kind] += 1
                promised.sets_of_wards[patient.ward] += 1
            return True
    shared = _shared(state, patient, promised) if own is None else None
    if shared is None:
        return False
    promised.joined.add(shared.number)
    return True


def _sizes(state: State, patient: Patient) -> list[CylinderStore]:
    """Return the sizes that a patient may be given, in place of the cylinder that is there where there is one."""
    own = patient.cylinder
    return sizes_of(state, patient) if own is None or not state.several else sizes_to_change(state, own)


def _set(state: State, patient: Patient, promised: Promised, store: CylinderStore) -> int | None:
    """Return the kind of regulator set that a patient would take for a size, None where none is free."""
    sets, ward = there(state.sets), patient.ward
    if state.wards[ward].regulators_free - promised.sets_of_wards[ward] < 1:
        return None
    fit = (
        kind
        for kind in sets.smallest_first
        if sets.free[kind] > promised.sets[kind] and sets.serves(kind, patient.flow_ml_min, store.number)
    )
    return next(fit, None)


def _promise_cylinder(state: State, patient: Patient, promised: Promised, store: CylinderStore) -> bool:
    kept_here = store is state.ward_store
    if kept_here and on_ward(state, patient.ward) > promised.on_wards[patient.ward]:
        promised.on_wards[patient.ward] += 1
        return True
    if store.in_store - promised.stored[store.number] > kept_back(state, patient):
        promised.stored[store.number] += 1
        return True
    return False


def _shared(state: State, patient: Patient, promised: Promised) -> OpenCylinder | None:
    """Return the open cylinder that a patient could share, none that another is promised."""
    found = outlet_for(state, patient)
    return None if found is None or found.number in promised.joined else found


def _lacks_delivery(state: State, patient: Patient, promised: Promised) -> bool:
    """Return True if there is no delivery set, or no humidifier, for a patient who needs it."""
    if patient.has_delivery:
        return False
    device, free = patient.delivery, state.humidifiers_free
    if device in state.delivery_free and state.delivery_free[device] <= promised.delivery[device]:
        return True
    return free is not None and free <= promised.humidifiers and needs_humidifier(state, patient)


def _promise_delivery(state: State, patient: Patient, promised: Promised) -> None:
    if not patient.has_delivery:
        promised.delivery[patient.delivery] += 1
        promised.humidifiers += needs_humidifier(state, patient)


def _why_none(state: State, patient: Patient) -> Cause:
    """Return why the last source in the strategy's order has no supply for a patient."""
    last = state.rules.strategy.sources[-1]
    if last == "cylinder":
        return Cause.NO_CYLINDER
    if last == "manifold":
        return Cause.OUTLETS_FULL if could_feed(state) else Cause.NO_CYLINDER
    return units_reason(state, there(state.bank), patient)
