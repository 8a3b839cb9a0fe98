"""Back-ups: a regulator set with a cylinder at the bed of a patient on a concentrator, for the loss of it."""

from __future__ import annotations

from collections import Counter

from o2sim.model.patient import FROM_STORE, FROM_WARD, Backup, OpenCylinder, Patient
from o2sim.model.rules import backup_gas
from o2sim.model.state import State, call_off, there
from o2sim.model.steps.claims import give_regulator, has_backup, regulator_free, take_regulator
from o2sim.model.steps.opening import begin_use, credit_cylinder, note_fewest
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.model.steps.stock import consider_emergency
from o2sim.model.store import CylinderStore
from o2sim.scenario.types.hospital import Backups


def backup_rules(state: State) -> Backups | None:
    """Return the rule of back-ups, None where nobody is given one."""
    return state.rules.cylinders.backup if state.rules.cylinders is not None else None


def give_backups(state: State) -> None:
    """Bring a back-up to each patient of the classes named who is on a unit, in line, as far as there are any.

    A back-up is a regulator set for the flow, and the emptiest part-used cylinder of the central store that holds
    at least what is asked for, else a full one. So many sets are left as there are patients who go without and
    hold none, if cylinders are a source of the strategy.
    """
    rule = backup_rules(state)
    if rule is None or state.bank is None or state.backups_out >= rule.count:
        return
    found = [patient for patient in state.present.values() if _may_have(state, patient, rule)]
    waiting = _without_set(state)
    for patient in sorted(found, key=lambda patient: patient.order):
        if state.backups_out < rule.count and _set_to_spare(state, patient, waiting):
            _bring(state, patient, rule)


def _may_have(state: State, patient: Patient, rule: Backups) -> bool:
    named = state.rules.patients[patient.class_index].name in rule.classes
    on_unit = patient.flowing and patient.unit is not None
    return named and on_unit and patient.backup is None and not patient.seen_to


def _without_set(state: State) -> Counter[int]:
    """Return by ward how many patients go without, and may yet take a regulator set."""
    waiting: Counter[int] = Counter()
    if "cylinder" in state.rules.strategy.sources:
        for patient in state.present.values():
            holds = patient.cylinder is not None or patient.backup is not None
            if patient.gap_since_s is not None and not holds and patient.claim not in (FROM_STORE, FROM_WARD):
                waiting[patient.ward] += 1
    return waiting


def _set_to_spare(state: State, patient: Patient, waiting: Counter[int]) -> bool:
    on_ward = state.wards[patient.ward].regulators_free > waiting[patient.ward]
    return on_ward and sum(there(state.sets).free) > waiting.total()


def _bring(state: State, patient: Patient, rule: Backups) -> None:
    sizes = [store for store in _sizes(state) if regulator_free(state, patient, store)]
    found = _take_from_store(state, patient, rule, sizes)
    if found is None:
        return
    content, fresh, store = found
    patient.backup = Backup(take_regulator(state, patient, store), content, store, fresh)
    state.backups[patient.number] = patient
    state.backups_out += 1
    _taken(state, patient, "back-up brought")


def _sizes(state: State) -> list[CylinderStore]:
    """Return the sizes for back-ups, the first choice first."""
    return [state.stores[place] for place in state.sizes_for["backup"]]


def _take_from_store(
    state: State, patient: Patient, rule: Backups, sizes: list[CylinderStore]
) -> tuple[int, bool, CylinderStore] | None:
    """Take a cylinder of the first of some sizes that does as a back-up; a reserve for a higher priority stays.

    Return its content, whether it is full, and its size.
    """
    allocation = state.rules.allocation
    kept = allocation.reserve if patient.priority > allocation.reserve_priority else 0
    for store in sizes:
        if store.in_store > kept:
            credit_shelf(state)
            found = store.take_backup(backup_gas(store.rules, rule.replace_below_permille))
            if found is not None:
                return *found, store
    return None


def _taken(state: State, patient: Patient, step: str) -> None:
    """The stock is lower by one, as if a cylinder had been opened."""
    backup = there(patient.backup)
    note_fewest(state, backup.store)
    state.note(step, patient.number, backup.store.full, backup.content)
    consider_review(state, backup.store, emptied=False)
    consider_emergency(state)


def expect_backup(state: State, patient: Patient) -> None:
    """A patient loses the unit: whoever is at the bed begins to open the back-up as the step is over."""
    if backup_rules(state) is None or not patient.needs:
        return
    state.ledger.unit_losses += 1
    patient.units_lost += 1
    if has_backup(patient):
        there(patient.backup).opening = True
        state.backups_due.append(patient)


def open_backup(state: State, patient: Patient) -> OpenCylinder:
    """Take the back-up at the bed into use."""
    backup = there(patient.backup)
    call_off(backup, "event")
    regulator = there(state.sets).kinds[backup.kind]
    cylinder = OpenCylinder(patient, [patient], regulator, backup.store, backup.kind, backup=True)
    cylinder.content = backup.content
    patient.cylinder, patient.backup = cylinder, None
    del state.backups[patient.number]
    state.on_cylinder[patient.number] = patient
    begin_use(state, cylinder)
    state.note("back-up opened", patient.number, -1, cylinder.content)
    return cylinder


def close_backup(state: State, cylinder: OpenCylinder) -> None:
    """A patient is served otherwise again: the back-up is closed, and stays at the bed with its set."""
    call_off(cylinder, "event")
    content, patient = credit_cylinder(state, cylinder), cylinder.lead
    patient.flowing, patient.cylinder = False, None
    patient.backup = Backup(cylinder.kind, content, cylinder.store)
    state.backups[patient.number] = patient
    cylinder.patients = []
    del state.on_cylinder[patient.number]
    del state.open_cylinders[cylinder.number]
    state.note("back-up closed", patient.number, -1, content)


def change_backups(state: State) -> None:
    """Change the back-ups at beds that hold less than is asked for, at midnight, in line, as far as there are any.

    What comes off is the first part-used cylinder to be opened. The set stays: the size is one that it fits.
    """
    rule = backup_rules(state)
    if rule is None or not state.backups:
        return
    sets = there(state.sets)
    for patient in sorted(state.backups.values(), key=lambda patient: patient.order):
        old = there(patient.backup)
        least = backup_gas(old.store.rules, rule.replace_below_permille)
        if old.opening or old.content >= least:
            continue
        sizes = [store for store in _sizes(state) if sets.fits(old.kind, store.number)]
        found = _take_from_store(state, patient, rule, sizes)
        if found is not None:
            content, fresh, store = found
            patient.backup = Backup(old.kind, content, store, fresh)
            _put_back(state, patient, old, first=True)
            _taken(state, patient, "back-up changed")


def _put_back(state: State, patient: Patient, backup: Backup, *, first: bool = False) -> None:
    """Put a part-used back-up on the rack, or with the empties."""
    if backup.store.put_back(backup.content, patient.flow_ml_min, first=first):
        state.stock_came = True
    else:
        state.ledger.cylinders_emptied += 1
        consider_review(state, backup.store)


def take_back_backup(state: State, patient: Patient) -> None:
    """A patient leaves: the back-up goes back to the store, a full one that nobody has opened as such."""
    backup = patient.backup
    if backup is None:
        return
    credit_shelf(state)
    patient.backup = None
    del state.backups[patient.number]
    state.backups_out -= 1
    if backup.fresh:
        backup.store.put_back_full(backup.content)
        state.stock_came = True
    else:
        _put_back(state, patient, backup)
    give_regulator(state, patient.ward, backup.kind)
    state.backup_came_back = True
    state.note("back-up taken back", patient.number, backup.store.full, backup.content)
    consider_emergency(state)
