"""Cylinders at the bedside: connected, checked, changed, run empty, released."""

from __future__ import annotations

from o2sim.model.patient import FOREVER_S, OpenCylinder, Patient
from o2sim.model.rules import (
    BY_LOOK,
    BY_OXIMETER,
    Rank,
    is_watched,
    keep_gas,
    last_look_s,
    residual_after_s,
    runs_out_after_s,
)
from o2sim.model.state import State, call_off, there
from o2sim.model.steps import opening
from o2sim.model.steps.backup import close_backup, open_backup
from o2sim.model.steps.claims import (
    drop_claim,
    fetch_replacement,
    fetch_time_s,
    give_regulator,
    has_backup,
    is_kept,
    take_regulator,
)
from o2sim.model.steps.gaps import attended, begin_gap, end_gap, lose_supply, set_cause, wait
from o2sim.model.steps.manifold import connect_outlet, outlet_free
from o2sim.model.steps.noticed import expect_notice, first_to_find, has_power
from o2sim.model.steps.opening import first_look_s
from o2sim.model.steps.reduced_flow import on_units
from o2sim.model.steps.sizes import is_better, to_change, to_open
from o2sim.model.steps.staff import call_off_staff, call_staff
from o2sim.model.steps.timed import reckon_note
from o2sim.model.steps.times import change_time_s
from o2sim.model.store import CylinderStore
from o2sim.outcome import Cause


def connect_cylinder(state: State, patient: Patient) -> None:
    """Give a patient a set for the flow and a cylinder that flows at once: the back-up at the bed, if any."""
    if has_backup(patient):
        _start(state, open_backup(state, patient))
        return
    store = there(to_open(state, patient))
    cylinder = _put_on(state, patient, store)
    opening.open_cylinder(state, cylinder, opening.enough_to_take(state, cylinder, store, state.now))
    _start(state, cylinder)


def _put_on(state: State, patient: Patient, store: CylinderStore) -> OpenCylinder:
    """Put a set for the flow and a size at the bed of a patient."""
    kind = take_regulator(state, patient, store)
    patient.cylinder = OpenCylinder(patient, [patient], there(state.sets).kinds[kind], store, kind)
    state.on_cylinder[patient.number] = patient
    return patient.cylinder


def stay_on_cylinder(state: State, patient: Patient, content: int) -> None:
    """Leave a patient on the cylinder met at the count, which was opened before; it is among those in use."""
    cylinder = _put_on(state, patient, there(state.store))
    cylinder.content = content
    opening.begin_use(state, cylinder)
    state.ledger.cylinders_opened -= 1
    state.ledger.opened_by_size[cylinder.store.number] -= 1
    _flow(state, cylinder)


def release_cylinder(state: State, patient: Patient) -> None:
    """Take a patient off the cylinder; the last of those on it, and it and the regulator are out of use."""
    cylinder = patient.cylinder
    assert cylinder is not None
    if cylinder.backup:
        close_backup(state, cylinder)
        return
    if len(cylinder.patients) == 1:
        opening.close_cylinder(state, cylinder)
        return
    opening.credit_cylinder(state, cylinder)
    patient.flowing, patient.cylinder = False, None
    del state.on_cylinder[patient.number]
    cylinder.patients.remove(patient)
    if patient is cylinder.lead:
        opening.hand_over(state, cylinder)
    if cylinder.flowing:
        reckon_gauge_again(state, cylinder)
    elif cylinder.look_s < FOREVER_S and state.rules.noticed is not None:
        _wait_to_be_found(state, cylinder)  # who has left may have been the one to notice


def _start(state: State, cylinder: OpenCylinder) -> None:
    """Let an opened cylinder flow, or set it aside if it gives nothing: another change, or a wait for one."""
    if cylinder.content > keep_gas(cylinder.rules):
        _flow(state, cylinder)
        return
    state.note("cylinder unusable", cylinder.lead.number, -1, cylinder.content)
    state.ledger.cylinders_unusable += 1
    if to_change(state, cylinder, state.now) is not None:
        cylinder.found_low = True
        _call_for_change(state, cylinder)
    else:
        _wait_for_any(state, cylinder)


def _wait_for_any(state: State, cylinder: OpenCylinder) -> None:
    """Take a cylinder that gives nothing off all on it, who wait for any source."""
    for patient in opening.close_cylinder(state, cylinder):
        wait(state, patient)


def _call_for_change(state: State, cylinder: OpenCylinder) -> None:
    """Have the next cylinder fetched, if none is kept on the ward, and then staff to change it."""
    store = to_change(state, cylinder, state.now + state.longest_change_s)
    fetch_s = 0 if store is None else fetch_time_s(state, cylinder.lead, store)
    if store is not None and fetch_s > 0 and _may_change(state, cylinder, store, fetch_s):
        fetch_replacement(state, cylinder.lead, store, fetch_s, _ask_for_change)
        if cylinder.found_low and not cylinder.flowing:  # as was seen
            begin_gap(state, cylinder.lead)
            set_cause(state, cylinder.lead, Cause.CHANGEOVER)
    else:
        _ask_for_change(state, cylinder.lead)


def _ask_for_change(state: State, lead: Patient) -> None:
    call_staff(state, lead, change_time_s, _begin_change, change_ends)


def _flow(state: State, cylinder: OpenCylinder) -> None:
    """Let a connected cylinder flow; schedule the check that finds it low, or the run-out if that is earlier."""
    cylinder.leak_since_s = state.now
    for patient in cylinder.patients:
        end_gap(state, patient)
        patient.flowing, patient.flow_since_s = True, state.now
        patient.given_ml_min = patient.flow_ml_min
        state.note("on cylinder", patient.number, -1, cylinder.content)
    _reckon_run_out(state, cylinder)
    if cylinder.keeps_note:
        reckon_note(state, cylinder)
        _check_or_run_out(state, cylinder, cylinder.noted_s)
        return
    low_s = _low_s(state, cylinder, state.now + 1)
    _check_or_run_out(state, cylinder, first_look_s(state, cylinder.lead, low_s, cylinder.run_out_s))


def _reckon_run_out(state: State, cylinder: OpenCylinder) -> None:
    cylinder.run_out_s = state.now + runs_out_after_s(cylinder.content, cylinder.rules, cylinder.flow_ml_min)


def reckon_gauge_again(state: State, cylinder: OpenCylinder, next_look_s: int | None = None) -> None:
    """The flow of a cylinder has changed: it reads as low, and runs out, sooner or later than reckoned so far.

    next_look_s is when the next look can be: now, or later where the looks of this instant are over.
    """
    _reckon_run_out(state, cylinder)
    seen = cylinder.found_low and is_watched(state.cylinder_rules)
    if seen or cylinder.being_changed:  # nobody has to look
        _check_or_run_out(state, cylinder, cylinder.run_out_s + 1)
        return
    if cylinder.keeps_note and not cylinder.found_low:  # staff at the bedside reckon anew
        reckon_note(state, cylinder)
        _check_or_run_out(state, cylinder, cylinder.noted_s)
        return
    from_s = max(next_look_s or state.now, cylinder.looked_s + 1)
    if not cylinder.found_low:
        from_s = max(from_s, _low_s(state, cylinder, from_s))
    _check_or_run_out(state, cylinder, first_look_s(state, cylinder.lead, from_s, cylinder.run_out_s))


def _low_s(state: State, cylinder: OpenCylinder, from_s: int) -> int:
    """Return from when on a look leads to a change; from_s is when the next look can be."""
    rules, content, flow = cylinder.rules, cylinder.content, cylinder.flow_ml_min
    low_s = state.now + residual_after_s(content, rules, flow, cylinder.gauge_error_gas)
    if rules.change_when == "will_not_last":  # the last look before the run-out, if it is still to come
        look_s = last_look_s(cylinder.run_out_s, rules, state.midnight_s)
        low_s = min(low_s, look_s) if look_s >= from_s else low_s
    return low_s


def _check_or_run_out(state: State, cylinder: OpenCylinder, check_s: int) -> None:
    """Schedule the earlier of a gauge check and the run-out: repeating checks would be most of all events."""
    call_off(cylinder, "event")
    if check_s <= cylinder.run_out_s:
        due_s, rank, step = check_s, Rank.GAUGE_CHECK, gauge_check
    else:
        due_s, rank, step = cylinder.run_out_s, Rank.CYLINDER_RUNS_OUT, cylinder_runs_out
    cylinder.event = state.clock.at(due_s, rank, cylinder.lead.item, step, cylinder)


def gauge_check(state: State, cylinder: OpenCylinder) -> None:
    """The gauge reads low, or a noted time has come: change the cylinder, or let it run on without another."""
    call_off(cylinder, "event")
    if cylinder.noted_s == state.now and not cylinder.found_low:
        content = cylinder.gas_left(state.now)
        state.note("noted time", cylinder.lead.number, -1, content)
    cylinder.found_low, cylinder.looked_s = True, state.now
    lead = cylinder.lead
    if lead.task is not None and lead.task.event is not None:  # staff are moving the patient to a unit
        _check_or_run_out(state, cylinder, cylinder.run_out_s + 1)
        return
    call_off_staff(state, lead)  # from a move that nobody has begun
    _call_for_change(state, cylinder)
    asked = lead.task is not None and lead.task.event is None
    if asked or lead.fetch_event is not None:  # it runs on until somebody comes
        _check_or_run_out(state, cylinder, cylinder.run_out_s + 1)


def change_watched(state: State) -> None:
    """Change the cylinders that are known to be low and watched, now that something has come to change them to."""
    state.stock_came = False
    if not is_watched(state.cylinder_rules):
        return
    low = [c for c in state.open_cylinders.values() if c.found_low and c.flowing and not c.lead.seen_to]
    for cylinder in sorted(low, key=lambda cylinder: cylinder.lead.order):
        if to_change(state, cylinder, state.now + state.longest_change_s) is not None:
            gauge_check(state, cylinder)


def _begin_change(state: State, lead: Patient) -> bool:
    """Open the next cylinder, to flow when the change time is over; False if there is none to change to."""
    cylinder = lead.cylinder
    assert cylinder is not None
    begins_s, fetched = state.now + state.longest_change_s, lead.fetched
    drop_claim(state, lead)  # the cylinder that was fetched, if one was
    lead.fetched = fetched
    call_off(cylinder, "event")
    opening.credit_cylinder(state, cylinder)
    store = to_change(state, cylinder, begins_s)
    lead.fetched = False
    if (
        store is None
        or not is_better(state, cylinder, store, begins_s)
        or not _may_change(state, cylinder, store, 0)
    ):
        return _run_on(state, cylinder)
    enough = opening.enough_to_take(state, cylinder, store, begins_s)
    state.ledger.changed_in_time += cylinder.flowing
    cause = Cause.CHANGEOVER if cylinder.found_low else Cause.RAN_EMPTY_UNSEEN
    in_store = not is_kept(state, lead.ward, store)
    store.held += in_store  # what comes off may lead to an order, for which part-used ones are sent
    opening.take_off(state, cylinder)
    store.held -= in_store
    _fit(state, cylinder, store)
    opening.open_cylinder(state, cylinder, enough)
    if change_time_s(state, lead) > 0:
        for patient in cylinder.patients:
            begin_gap(state, patient)
            set_cause(state, patient, cause)
    return True


def _fit(state: State, cylinder: OpenCylinder, store: CylinderStore) -> None:
    """Let the next cylinder be of a size, on another set where the one that is there does not fit."""
    cylinder.store, lead, sets = store, cylinder.lead, there(state.sets)
    if not sets.fits(cylinder.kind, store.number):
        kind = take_regulator(state, lead, store)
        give_regulator(state, lead.ward, cylinder.kind)
        cylinder.kind, cylinder.regulator = kind, sets.kinds[kind]


def _may_change(state: State, cylinder: OpenCylinder, store: CylinderStore, fetch_s: int) -> bool:
    """Return False for a cylinder above residual pressure whose successor would not last until the next look.

    It stays on until residual pressure: what comes off too early is of little use to anybody else.
    """
    rules, flow = cylinder.rules, cylinder.flow_ml_min
    if rules.change_when != "will_not_last" or not cylinder.flowing:
        return True
    content = cylinder.gas_left(state.now)
    if residual_after_s(content, rules, flow, cylinder.gauge_error_gas) == 0:
        return True
    begins_s = state.now + fetch_s + state.longest_change_s
    enough = opening.enough_to_take(state, cylinder, store, begins_s)
    best = opening.next_content(state, cylinder.lead, store, enough)
    return best >= opening.enough_gas(state, store, flow, begins_s)


def _run_on(state: State, cylinder: OpenCylinder) -> bool:
    """Nothing to change to: a cylinder that still flows stays on and is looked at again; return False."""
    if not cylinder.flowing:
        for patient in cylinder.patients:
            attended(state, patient)
        _wait_for_any(state, cylinder)
        return False
    for patient in sorted(cylinder.patients, key=lambda patient: patient.order):
        connect = on_units(state, patient) or (connect_outlet if outlet_free(state) else None)
        if connect is not None:
            release_cylinder(state, patient)  # a planned move: no gap
            connect(state, patient)
    if not cylinder.patients:
        return False
    state.note("gauge check", cylinder.lead.number, -1, cylinder.content)
    watched = is_watched(state.cylinder_rules)
    last_s = cylinder.run_out_s
    again_s = last_s + 1 if watched else first_look_s(state, cylinder.lead, state.now + 1, last_s)
    _check_or_run_out(state, cylinder, again_s)
    return False


def change_ends(state: State, lead: Patient) -> None:
    """The new cylinder is connected and flows."""
    assert lead.cylinder is not None
    _start(state, lead.cylinder)
    state.room_made = True  # a unit may have found room during the change


def cylinder_runs_out(state: State, cylinder: OpenCylinder) -> None:
    """Flow is lost: staff respond if they knew it was low, else it is found at the next check."""
    content = opening.credit_cylinder(state, cylinder)
    known = cylinder.found_low or is_watched(state.cylinder_rules)
    state.note("cylinder runs out", cylinder.lead.number, int(known), content)
    cylinder.event = None
    lead = cylinder.lead
    if lead.task is not None and lead.task.is_return and lead.task.event is None:
        call_off_staff(state, lead)  # nobody has begun to move the patient
    if lead.seen_to:  # already asked for a change, or being moved
        _flow_lost(state, cylinder)
        if lead.task is None or lead.task.event is not None:
            set_cause(state, lead, Cause.CHANGEOVER)
    elif known:
        for patient in opening.close_cylinder(state, cylinder):
            lose_supply(state, patient)
    else:
        _flow_lost(state, cylinder)
        for patient in cylinder.patients:
            set_cause(state, patient, Cause.RAN_EMPTY_UNSEEN)
            expect_notice(state, patient)
        cylinder.lost_s, cylinder.look_s = state.now, first_look_s(state, lead, state.now + 1, None)
        _wait_to_be_found(state, cylinder)


def _flow_lost(state: State, cylinder: OpenCylinder) -> None:
    for patient in cylinder.patients:
        patient.flowing = False
        begin_gap(state, patient)


def _wait_to_be_found(state: State, cylinder: OpenCylinder) -> None:
    """Schedule who is the first to find a cylinder that ran empty."""
    call_off(cylinder, "event")
    due_s, cylinder.found_by = first_to_find(state, cylinder)
    cylinder.event = state.clock.at(due_s, Rank.GAUGE_CHECK, cylinder.lead.item, found_empty, cylinder)


def sound_alarms(state: State) -> None:
    """Let oximeters alarm that were silent without power; the cylinders are found in this second."""
    state.power_came = False
    if state.rules.noticed is not None:
        for cylinder in state.open_cylinders.values():
            if cylinder.look_s < FOREVER_S:
                _wait_to_be_found(state, cylinder)


def found_empty(state: State, cylinder: OpenCylinder) -> None:
    """A look, or whoever notices before it, finds a cylinder that ran empty: change it, or find another source."""
    cylinder.event = None
    if cylinder.found_by == BY_OXIMETER and not has_power(state):
        _wait_to_be_found(state, cylinder)
        return
    cylinder.look_s = FOREVER_S
    if cylinder.found_by != BY_LOOK:
        state.note("found empty", cylinder.lead.number, cylinder.found_by, state.now - cylinder.lost_s)
    if _next_is_cylinder(state, cylinder):
        _call_for_change(state, cylinder)
    else:
        _wait_for_any(state, cylinder)


def _next_is_cylinder(state: State, cylinder: OpenCylinder) -> bool:
    """Return True if a cylinder is the first source in order for the lead of one, who has a regulator."""
    strategy = state.rules.strategy
    if outlet_free(state) and strategy.place("manifold") < strategy.place("cylinder"):
        return False
    first = strategy.place("cylinder") == 0
    to_be_had = to_change(state, cylinder, state.now + state.longest_change_s) is not None
    return to_be_had and (first or on_units(state, cylinder.lead) is None)
