"""Cylinders at the bedside: connected, checked, changed, run empty, released."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel import opening
from o2sim.model.kernel.backup import close_backup, open_backup
from o2sim.model.kernel.claims import (
    REPLACEMENT,
    drop_claim,
    fetch_replacement,
    fetch_time_s,
    give_regulator,
    has_backup,
    is_kept,
    seen_to,
    take_regulator,
)
from o2sim.model.kernel.codes import CAUSE, JOB, LOG, RANK, SOURCE, STEP
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import attended, begin_gap, end_gap, lose_supply, set_cause, wait
from o2sim.model.kernel.layout import NONE, note, number_at, open_at, patient_at, store_at
from o2sim.model.kernel.manifold import connect_outlet, outlet_free
from o2sim.model.kernel.noticed import expect_notice, first_to_find, has_power
from o2sim.model.kernel.on_cylinder import flow_of, flows, gas_left, new_place, put_on, take_from
from o2sim.model.kernel.opening import WILL_NOT_LAST, first_look_s, is_watched, last_look_s
from o2sim.model.kernel.queues import bedside_item, before, rank
from o2sim.model.kernel.reduced_flow import connect_on_units, on_units
from o2sim.model.kernel.sizes import is_better, to_change, to_open
from o2sim.model.kernel.staff import call_off_staff, call_staff, occupy
from o2sim.model.kernel.store import fits, residual_after_s, runs_out_after_s, store_of
from o2sim.model.kernel.timed import reckon_note
from o2sim.model.kernel.times import change_time_s
from o2sim.model.patient import FOREVER_S
from o2sim.model.rules import BY_LOOK, BY_OXIMETER


def connect_cylinder(k: Record, p: Record) -> None:
    """Give a patient a set for the flow and a cylinder that flows at once: the back-up at the bed, if any."""
    if has_backup(k, p):
        _start(k, open_backup(k, p))
        return
    size = to_open(k, p)
    place = _put_on(k, p, size)
    opening.open_cylinder(k, place, opening.enough_to_take(k, open_at(k, place), store_at(k, size), k.now))
    _start(k, place)


def _put_on(k: Record, p: Record, size: Whole) -> Whole:
    """Put a set for the flow and a size at the bed of a patient; return its place."""
    kind, place = take_regulator(k, p, size), new_place(k)
    c = open_at(k, place)
    c.lead, c.kind, c.of_size = p.slot, kind, size
    put_on(k, p, place)
    return place


def stay_on_cylinder(k: Record, p: Record, content: Whole) -> None:
    """Leave a patient on the cylinder met at the count, which was opened before; it is among those in use."""
    place = _put_on(k, p, 0)
    open_at(k, place).content = content
    opening.begin_use(k, place)
    k.ledger.cylinders_opened -= 1
    store_at(k, 0).opened_by_size -= 1
    _flow(k, place)


def release_cylinder(k: Record, p: Record) -> None:
    """Take a patient off the cylinder; the last of those on it, and it and the regulator are out of use."""
    place = p.cylinder
    c = open_at(k, place)
    if c.backup:
        close_backup(k, place)
        return
    if c.patient_count == 1:
        opening.close_cylinder(k, place)
        return
    opening.credit_cylinder(k, c)
    p.flowing = False
    was_lead = patient_at(k, c.lead).number == p.number
    take_from(k, p, c)
    if was_lead:
        opening.hand_over(k, c)
    if flows(k, c):
        reckon_gauge_again(k, place, k.now)
    elif c.look_s < FOREVER_S and k.rules.has_noticed:
        _wait_to_be_found(k, place)  # who has left may have been the one to notice


def _start(k: Record, place: Whole) -> None:
    """Let an opened cylinder flow, or set it aside if it gives nothing: another change, or a wait for one."""
    c = open_at(k, place)
    while c.content <= store_of(k, c).keep_gas:
        lead = patient_at(k, c.lead)
        note(k, LOG.CYLINDER_UNUSABLE, lead.number, -1, c.content)
        k.ledger.cylinders_unusable += 1
        if to_change(k, c, k.now) == NONE:
            _wait_for_any(k, place)
            return
        c.found_low = True
        if not _change_at_once(k, place):
            return
        k.room_made = True
    _flow(k, place)


def _wait_for_any(k: Record, place: Whole) -> None:
    """Take a cylinder that gives nothing off all on it, who wait for any source."""
    for nth in range(opening.close_cylinder(k, place)):
        wait(k, patient_at(k, number_at(k.sharers, nth).value))


def _call_for_change(k: Record, place: Whole) -> None:
    """Have the next cylinder fetched, if none is kept on the ward, and then staff to change it."""
    if not _sent_for(k, place):
        ask_for_change(k, place)


def _sent_for(k: Record, place: Whole) -> Whole:
    """Have the next cylinder fetched, where that takes time; return True if it does."""
    c = open_at(k, place)
    lead = patient_at(k, c.lead)
    size = to_change(k, c, k.now + k.longest_change_s)
    fetch_s = fetch_time_s(k, lead, size) if size != NONE else 0
    if fetch_s == 0 or not _may_change(k, c, store_at(k, size), fetch_s):
        return False
    fetch_replacement(k, lead, size, fetch_s)
    if c.found_low and not flows(k, c):  # as was seen
        begin_gap(k, lead)
        set_cause(k, lead, CAUSE.CHANGEOVER)
    return True


def ask_for_change(k: Record, place: Whole) -> None:
    """Ask for somebody to change a cylinder; `settle` answers once all calls of the step are in."""
    if not _called(k, place) and _change_made(k, place):
        change_ends(k, place)


def _change_at_once(k: Record, place: Whole) -> Whole:
    """Ask for a change; return True if it takes no time and has been made, with a cylinder to start."""
    return not _sent_for(k, place) and not _called(k, place) and _change_made(k, place)


def _called(k: Record, place: Whole) -> Whole:
    """Note that the lead of a cylinder is to have it changed; return True if that waits for staff."""
    return call_staff(k, patient_at(k, open_at(k, place).lead), JOB.CHANGE)


def _flow(k: Record, place: Whole) -> None:
    """Let a connected cylinder flow; schedule the check that finds it low, or the run-out if that is earlier."""
    c = open_at(k, place)
    c.leak_since_s, slot = k.now, c.first_on
    while slot != NONE:
        p = patient_at(k, slot)
        end_gap(k, p)
        p.flowing, p.flow_since_s = True, k.now
        p.given_ml_min = p.flow_ml_min
        note(k, LOG.ON_CYLINDER, p.number, -1, c.content)
        slot = p.on_after
    _reckon_run_out(k, c)
    if c.keeps_note:
        reckon_note(k, c)
        _check_or_run_out(k, place, c.noted_s)
        return
    look_s = first_look_s(k, patient_at(k, c.lead), _low_s(k, c, k.now + 1), c.run_out_s)
    _check_or_run_out(k, place, look_s)


def _reckon_run_out(k: Record, c: Record) -> None:
    c.run_out_s = k.now + runs_out_after_s(c.content, store_of(k, c), flow_of(k, c))


def reckon_gauge_again(k: Record, place: Whole, next_look_s: Whole) -> None:
    """The flow of a cylinder has changed: it reads as low, and runs out, sooner or later than reckoned so far.

    next_look_s is when the next look can be: now, or later where the looks of this instant are over.
    """
    c = open_at(k, place)
    lead = patient_at(k, c.lead)
    _reckon_run_out(k, c)
    seen = c.found_low and is_watched(k.rules)
    if seen or _being_changed(lead):  # nobody has to look
        _check_or_run_out(k, place, c.run_out_s + 1)
        return
    if c.keeps_note and not c.found_low:  # staff at the bedside reckon anew
        reckon_note(k, c)
        _check_or_run_out(k, place, c.noted_s)
        return
    from_s = max(next_look_s, c.looked_s + 1)
    if not c.found_low:
        from_s = max(from_s, _low_s(k, c, from_s))
    _check_or_run_out(k, place, first_look_s(k, lead, from_s, c.run_out_s))


def _being_changed(lead: Record) -> Whole:
    """Return True if the next cylinder is being fetched, or staff are asked to change this one."""
    return lead.claim == REPLACEMENT or (lead.task != NONE and lead.task != JOB.RETURN)


def _low_s(k: Record, c: Record, from_s: Whole) -> Whole:
    """Return from when on a look leads to a change; from_s is when the next look can be."""
    r = k.rules
    low_s = k.now + residual_after_s(c.content, store_of(k, c), flow_of(k, c), c.gauge_error_gas)
    if r.cylinders_change_when == WILL_NOT_LAST:  # the last look before the run-out, if it is still to come
        look_s = last_look_s(k, c.run_out_s)
        if look_s >= from_s:
            low_s = min(low_s, look_s)
    return low_s


def _check_or_run_out(k: Record, place: Whole, check_s: Whole) -> None:
    """Schedule the earlier of a gauge check and the run-out: repeating checks would be most of all events."""
    c = open_at(k, place)
    c.supply_event = call_off(k, c.supply_event)
    due_s, rank, step = c.run_out_s, RANK.CYLINDER_RUNS_OUT, STEP.CYLINDER_RUNS_OUT
    if check_s <= c.run_out_s:
        due_s, rank, step = check_s, RANK.GAUGE_CHECK, STEP.GAUGE_CHECK
    item = bedside_item(patient_at(k, c.lead))
    c.supply_event = schedule(k, due_s, rank, item, step, place, 0)


def gauge_check(k: Record, place: Whole) -> None:
    """The gauge reads low, or a noted time has come: change the cylinder, or let it run on without another."""
    c = open_at(k, place)
    c.supply_event = call_off(k, c.supply_event)
    if c.noted_s == k.now and not c.found_low:
        note(k, LOG.NOTED_TIME, patient_at(k, c.lead).number, -1, gas_left(k, c))
    c.found_low, c.looked_s = True, k.now
    lead = patient_at(k, c.lead)
    if lead.task != NONE and lead.task_event != NONE:  # staff are moving the patient to a unit
        _check_or_run_out(k, place, c.run_out_s + 1)
        return
    call_off_staff(k, lead)  # from a move that nobody has begun
    _call_for_change(k, place)
    if c.patient_count > 0:
        lead = patient_at(k, c.lead)
        asked = lead.task != NONE and lead.task_event == NONE
        if asked or lead.fetch_event != NONE:  # it runs on until somebody comes
            _check_or_run_out(k, place, c.run_out_s + 1)


def change_watched(k: Record) -> None:
    """Change the cylinders that are known to be low and watched, now that something has come to change them to."""
    k.stock_came = False
    if not is_watched(k.rules):
        return
    count, place = 0, k.first_open
    while place != NONE:
        c = open_at(k, place)
        lead = patient_at(k, c.lead)
        if c.found_low and lead.flowing and not seen_to(lead):
            count = rank(k, k.ranked, count, c.lead)
        place = c.after
    for nth in range(count):
        lead = patient_at(k, number_at(k.ranked, nth).value)
        if to_change(k, open_at(k, lead.cylinder), k.now + k.longest_change_s) != NONE:
            gauge_check(k, lead.cylinder)


def _next_cylinder(k: Record, place: Whole) -> Whole:
    """Open the next cylinder, to flow when the change time is over; False if there is none to change to."""
    c = open_at(k, place)
    lead, begins_s = patient_at(k, c.lead), k.now + k.longest_change_s
    was_fetched = lead.fetched
    drop_claim(k, lead)  # the cylinder that was fetched, if one was
    lead.fetched = was_fetched
    c.supply_event = call_off(k, c.supply_event)
    opening.credit_cylinder(k, c)
    size = to_change(k, c, begins_s)
    lead.fetched = False
    if size == NONE or not is_better(k, c, size, begins_s) or not _may_change(k, c, store_at(k, size), 0):
        _run_on(k, place)
        return False
    s = store_at(k, size)
    enough = opening.enough_to_take(k, c, s, begins_s)
    k.ledger.changed_in_time += flows(k, c)
    cause = CAUSE.CHANGEOVER if c.found_low else CAUSE.RAN_EMPTY_UNSEEN
    in_store = not is_kept(k, lead.ward, size)
    s.held += in_store  # what comes off may lead to an order, for which part-used ones are sent
    opening.take_off(k, c)
    s.held -= in_store
    _fit(k, c, size)
    opening.open_cylinder(k, place, enough)
    if change_time_s(k, patient_at(k, c.lead)) > 0:
        slot = c.first_on
        while slot != NONE:
            p = patient_at(k, slot)
            begin_gap(k, p)
            set_cause(k, p, cause)
            slot = p.on_after
    return True


def begin_change(k: Record, place: Whole) -> None:
    """Somebody is there to change a cylinder: it takes its time, or is done."""
    if _change_made(k, place):
        change_ends(k, place)


def _change_made(k: Record, place: Whole) -> Whole:
    """Begin a change; return True if it takes no time and is over."""
    c = open_at(k, place)
    lead = patient_at(k, c.lead)
    made = _next_cylinder(k, place)
    duration_s = change_time_s(k, lead) if made else 0
    if duration_s > 0:
        occupy(k, lead, duration_s)
        return False
    lead.task = NONE
    if not made:
        patient_at(k, c.lead).task = NONE  # who took the place of one moved to another source
    return made


def _fit(k: Record, c: Record, size: Whole) -> None:
    """Let the next cylinder be of a size, on another set where the one that is there does not fit."""
    c.of_size, lead = size, patient_at(k, c.lead)
    if not fits(k, c.kind, size):
        kind = take_regulator(k, lead, size)
        give_regulator(k, lead.ward, c.kind)
        c.kind = kind


def _may_change(k: Record, c: Record, s: Record, fetch_s: Whole) -> Whole:
    """Return False for a cylinder above residual pressure whose successor would not last until the next look.

    It stays on until residual pressure: what comes off too early is of little use to anybody else.
    """
    r, flow = k.rules, flow_of(k, c)
    if r.cylinders_change_when != WILL_NOT_LAST or not flows(k, c):
        return True
    if residual_after_s(gas_left(k, c), store_of(k, c), flow, c.gauge_error_gas) == 0:
        return True
    begins_s = k.now + fetch_s + k.longest_change_s
    best = opening.next_content(k, patient_at(k, c.lead), s, opening.enough_to_take(k, c, s, begins_s))
    return best >= opening.enough_gas(k, s, flow, begins_s)


def _run_on(k: Record, place: Whole) -> None:
    """Nothing to change to: a cylinder that still flows stays on and is looked at again."""
    c = open_at(k, place)
    if not flows(k, c):
        slot = c.first_on
        while slot != NONE:
            attended(k, patient_at(k, slot))
            slot = patient_at(k, slot).on_after
        _wait_for_any(k, place)
        return
    slot = _next_in_line(k, c, NONE)
    while slot != NONE:
        p = patient_at(k, slot)
        after = _next_in_line(k, c, slot)
        source = on_units(k, p)
        if source != NONE:
            release_cylinder(k, p)  # a planned move: no gap
            connect_on_units(k, p, source)
        elif outlet_free(k):
            release_cylinder(k, p)
            connect_outlet(k, p)
        slot = after
    if c.patient_count == 0:
        return
    lead = patient_at(k, c.lead)
    note(k, LOG.GAUGE_CHECK, lead.number, -1, c.content)
    again_s = c.run_out_s + 1
    if not is_watched(k.rules):
        again_s = first_look_s(k, lead, k.now + 1, c.run_out_s)
    _check_or_run_out(k, place, again_s)


def _next_in_line(k: Record, c: Record, after: Whole) -> Whole:
    """Return who of those on a cylinder comes next in line after one of them, or first; NONE after the last."""
    best, slot = NONE, c.first_on
    while slot != NONE:
        p = patient_at(k, slot)
        if after == NONE or before(patient_at(k, after), p):
            if best == NONE or before(p, patient_at(k, best)):
                best = slot
        slot = p.on_after
    return best


def change_ends(k: Record, place: Whole) -> None:
    """The new cylinder is connected and flows."""
    _start(k, place)
    k.room_made = True  # a unit may have found room during the change


def cylinder_runs_out(k: Record, place: Whole) -> None:
    """Flow is lost: staff respond if they knew it was low, else it is found at the next check."""
    c = open_at(k, place)
    content, lead = opening.credit_cylinder(k, c), patient_at(k, c.lead)
    known = c.found_low or is_watched(k.rules)
    note(k, LOG.CYLINDER_RUNS_OUT, lead.number, known, content)
    c.supply_event = NONE
    if lead.task == JOB.RETURN and lead.task_event == NONE:
        call_off_staff(k, lead)  # nobody has begun to move the patient
    if seen_to(lead):  # already asked for a change, or being moved
        _flow_lost(k, c)
        if lead.task == NONE or lead.task_event != NONE:
            set_cause(k, lead, CAUSE.CHANGEOVER)
    elif known:
        for nth in range(opening.close_cylinder(k, place)):
            lose_supply(k, patient_at(k, number_at(k.sharers, nth).value))
    else:
        _flow_lost(k, c)
        slot = c.first_on
        while slot != NONE:
            set_cause(k, patient_at(k, slot), CAUSE.RAN_EMPTY_UNSEEN)
            expect_notice(k, patient_at(k, slot))
            slot = patient_at(k, slot).on_after
        c.lost_s, c.look_s = k.now, first_look_s(k, lead, k.now + 1, NONE)
        _wait_to_be_found(k, place)


def _flow_lost(k: Record, c: Record) -> None:
    slot = c.first_on
    while slot != NONE:
        p = patient_at(k, slot)
        p.flowing = False
        begin_gap(k, p)
        slot = p.on_after


def _wait_to_be_found(k: Record, place: Whole) -> None:
    """Schedule who is the first to find a cylinder that ran empty."""
    c = open_at(k, place)
    c.supply_event = call_off(k, c.supply_event)
    due_s, item = first_to_find(k, c), bedside_item(patient_at(k, c.lead))
    c.supply_event = schedule(k, due_s, RANK.GAUGE_CHECK, item, STEP.FOUND_EMPTY, place, 0)


def sound_alarms(k: Record) -> None:
    """Let oximeters alarm that were silent without power; the cylinders are found in this second."""
    k.power_came = False
    place = k.first_open if k.rules.has_noticed else NONE
    while place != NONE:
        if open_at(k, place).look_s < FOREVER_S:
            _wait_to_be_found(k, place)
        place = open_at(k, place).after


def found_empty(k: Record, place: Whole) -> None:
    """A look, or whoever notices before it, finds a cylinder that ran empty: change it, or find another source."""
    c = open_at(k, place)
    c.supply_event = NONE
    if c.found_by == BY_OXIMETER and not has_power(k):
        _wait_to_be_found(k, place)
        return
    c.look_s = FOREVER_S
    if c.found_by != BY_LOOK:
        note(k, LOG.FOUND_EMPTY, patient_at(k, c.lead).number, c.found_by, k.now - c.lost_s)
    if _next_is_cylinder(k, c):
        _call_for_change(k, place)
    else:
        _wait_for_any(k, place)


def _next_is_cylinder(k: Record, c: Record) -> Whole:
    """Return True if a cylinder is the first source in order for the lead of one, who has a regulator."""
    at = k.source_places[SOURCE.CYLINDER]
    if outlet_free(k) and k.source_places[SOURCE.MANIFOLD] < at:
        return False
    to_be_had = to_change(k, c, k.now + k.longest_change_s) != NONE
    return to_be_had and (at == 0 or on_units(k, patient_at(k, c.lead)) == NONE)


compile_file(globals())
