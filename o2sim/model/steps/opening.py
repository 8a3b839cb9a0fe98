"""Open cylinders: taken into use on a regulator, put back; by whose place in line staff come; looks at a gauge."""

from __future__ import annotations

from bisect import insort

from o2sim.model.patient import FOREVER_S, OpenCylinder, Patient
from o2sim.model.rules import MOST_MISSED, is_watched, next_look_s
from o2sim.model.state import State, call_off
from o2sim.model.steps.claims import give_regulator, is_kept
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.model.steps.stock import consider_emergency
from o2sim.model.store import CylinderStore
from o2sim.scenario.types.hospital import DAY_S


def next_content(state: State, patient: Patient, store: CylinderStore, enough: int) -> int:
    """Return the content of the cylinder of a size that a patient would be given next, 0 where none is usable."""
    if is_kept(state, patient.ward, store):
        return store.bedside[patient.ward][0]
    return store.best_content(enough)


def open_cylinder(state: State, cylinder: OpenCylinder, enough: int) -> None:
    """Take a cylinder of its size into use on a regulator: a part-used one, if one holds enough."""
    store, lead = cylinder.store, cylinder.lead
    credit_shelf(state)
    if is_kept(state, lead.ward, store):
        cylinder.content = store.open_on_ward(lead.ward)
    else:
        cylinder.content = store.open(enough)
    begin_use(state, cylinder)
    note_fewest(state, store)
    state.note("cylinder opened", lead.number, store.full, cylinder.content)
    consider_review(state, store, emptied=False)
    consider_emergency(state)


def note_fewest(state: State, store: CylinderStore) -> None:
    """Note how few full cylinders are left, of all sizes and of the one that was taken."""
    state.fewest_full = min(state.fewest_full, state.full)
    store.fewest_full = min(store.fewest_full, store.full)


def begin_use(state: State, cylinder: OpenCylinder) -> None:
    """Count a cylinder among those in use, as the next one opened."""
    cylinder.gauge_error_gas = gauge_error(state, cylinder)
    cylinder.keeps_note, cylinder.noted_s = _keeps_note(state, cylinder.lead), FOREVER_S
    cylinder.look_s = FOREVER_S
    cylinder.lead.cylinders += 1
    cylinder.found_low = False
    cylinder.number = state.opened
    state.opened += 1
    state.open_cylinders[cylinder.number] = cylinder
    state.ledger.cylinders_opened += 1
    state.ledger.opened_by_size[cylinder.store.number] += 1


def close_cylinder(state: State, cylinder: OpenCylinder) -> list[Patient]:
    """Take the cylinder and the regulator off all on it; return them by their place in line."""
    call_off(cylinder, "event")
    take_off(state, cylinder)
    patients, cylinder.patients = sorted(cylinder.patients, key=lambda patient: patient.order), []
    for patient in patients:
        patient.cylinder = None
        del state.on_cylinder[patient.number]
    give_regulator(state, cylinder.lead.ward, cylinder.kind)
    state.backups_out -= cylinder.backup
    return patients


def take_off(state: State, cylinder: OpenCylinder) -> None:
    """Take the cylinder off a regulator: part-used to the rack, else to the empties."""
    store, content = cylinder.store, credit_cylinder(state, cylinder)
    lead = cylinder.lead
    for patient in cylinder.patients:
        patient.flowing = False  # credited
    credit_shelf(state)
    if _left_open(state, lead):
        state.note("cylinder left open", lead.number, -1, content)
        state.ledger.leaked_gas += content
        state.ledger.drawn(store, content)
        content = 0
    if store.put_back(content, cylinder.flow_ml_min, cylinder.gauge_error_gas):
        state.note("cylinder racked", lead.number, len(store.rack), content)
        state.stock_came = True
    else:
        state.ledger.cylinders_emptied += 1
        state.note("cylinder emptied", lead.number, len(store.empties), content)
        consider_review(state, store)
    del state.open_cylinders[cylinder.number]
    consider_emergency(state)


def _left_open(state: State, lead: Patient) -> bool:
    """Return True if the valve of the cylinder that comes off is left open, by (patient, cylinder)."""
    assert state.rules.cylinders is not None
    chance = state.rules.cylinders.left_open
    return chance > 0 and state.draws.draw("left open", lead.luck, lead.cylinders) < chance


def credit_cylinder(state: State, cylinder: OpenCylinder) -> int:
    """Bring an open cylinder's content up to this second and return it (1/60 mL)."""
    if cylinder.flowing:
        for patient in cylinder.patients:
            state.ledger.served(patient, state.now)
    return cylinder.content


def on_same_cylinder(patient: Patient) -> list[Patient]:
    """Return all on the cylinder of a patient, or the patient alone."""
    return [patient] if patient.cylinder is None else patient.cylinder.patients


def hand_over(state: State, cylinder: OpenCylinder) -> None:
    """The next in line takes the place of a lead who has left; who was called for the cylinder still comes."""
    heir = min(cylinder.patients, key=lambda patient: patient.order)
    task, cylinder.lead.task = cylinder.lead.task, None
    cylinder.lead, heir.task = heir, task
    if task is None:
        return
    task.patient = heir
    calls = [call for call in state.calls if call[1] is not task]
    if len(calls) < len(state.calls):  # nobody has come yet
        insort(calls, (heir.order, task))
        state.calls = calls


def first_look_s(state: State, patient: Patient, from_s: int, last_s: int | None) -> int:
    """Return the first look at or after from_s that is not missed, or one after last_s if there is none before."""
    rules = state.cylinder_rules
    look_s = next_look_s(from_s, rules, state.midnight_s)
    for _ in range(MOST_MISSED):
        if (last_s is not None and look_s > last_s) or not _missed(state, patient, look_s):
            break
        look_s = next_look_s(look_s + 1, rules, state.midnight_s)
    return look_s


def _missed(state: State, patient: Patient, look_s: int) -> bool:
    """Return True if nobody looks at this patient's gauge at this check; the same under every strategy."""
    rules = state.cylinder_rules
    is_day = state.rules.day_hours.is_day((look_s - state.midnight_s) % DAY_S)
    chance = rules.missed_by_day if is_day else rules.missed_by_night
    return chance > 0 and state.draws.draw("missed check", patient.luck, look_s) < chance


def gauge_error(state: State, cylinder: OpenCylinder) -> int:
    """Return how much too low the gauge of the next cylinder reads, as content; normal, by (patient, cylinder)."""
    patient, spread = cylinder.lead, cylinder.rules.gauge_error_gas
    return state.draws.normal("gauge error", patient.luck, patient.cylinders, spread) if spread else 0


def _keeps_note(state: State, patient: Patient) -> bool:
    """Return True if staff come at the time that they note for the next cylinder, by (patient, cylinder)."""
    rules = state.cylinder_rules
    if rules.timed is None or is_watched(rules):
        return False
    return state.draws.draw("timed change kept", patient.luck, patient.cylinders) < rules.timed.kept


def enough_gas(state: State, store: CylinderStore, flow_ml_min: int, begins_s: int) -> int:
    """Return the content of a size that gives a flow from when it begins until the next look after that."""
    rules = store.rules
    seconds = next_look_s(begins_s + 1, rules, state.midnight_s) - begins_s
    return rules.lost_gas + seconds * (flow_ml_min + rules.leak_ml_min)


def enough_to_take(state: State, cylinder: OpenCylinder, store: CylinderStore, begins_s: int) -> int:
    """Return what a part-used cylinder of a size must hold to be taken in place of one, flowing from a second on.

    It lasts until the next look, and holds more than the one that flows. The oldest is taken whatever it holds
    where cylinders are changed at residual pressure only.
    """
    rules = store.rules
    if rules.rack == "oldest that lasts" and rules.change_when == "residual":
        return 0
    more = 0
    if cylinder.flowing:
        more = cylinder.gas_left(state.now) - cylinder.rules.lost_gas + rules.lost_gas + 1
    return max(more, enough_gas(state, store, cylinder.flow_ml_min, begins_s))
