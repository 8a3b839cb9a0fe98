"""Manifold: two banks of cylinders feed piped outlets, one takes over from the other, a reserve from both.

A bank is spent when its cylinders are down to the changeover pressure; what is below it is not used. The other
bank takes over at that second. The pipework leaks from the bank in service, day and night.
"""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import may_return
from o2sim.model.kernel.codes import CAUSE, JOB, LOG, RANK, SOURCE, STEP
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import end_gap, lose_supply, set_responding
from o2sim.model.kernel.layout import NONE, bank_at, note, number_at, patient_at, store_at
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.manifold_gas import (
    bank_item,
    bank_urgency,
    connect_cylinders,
    credit_manifold,
    drawn_ml_min,
    next_bank,
)
from o2sim.model.kernel.queues import leave_line, line_up, put_last
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.staff import call_off_staff
from o2sim.model.kernel.stock import consider_emergency
from o2sim.model.kernel.store import usable

BANK_SLOT = -2  # in the line of calls the nth bank stands as this less n


def begin_manifold(k: Record) -> None:
    """Banks, then reserve, have been filled from the full cylinders before the run; the first bank feeds."""
    if k.manifold.present:
        _feed(k)


def outlet_free(k: Record) -> Whole:
    """Return True if a piped outlet can serve one more patient."""
    m = k.manifold
    return m.present and m.feeding != NONE and m.patient_count < k.rules.manifold_outlets


def connect_outlet(k: Record, p: Record) -> None:
    """Put a patient on a piped outlet, which has its own flowmeter."""
    m = k.manifold
    credit_manifold(k)
    m.patient_count += 1
    m.flow_ml_min += p.flow_ml_min
    end_gap(k, p)
    p.piped = p.flowing = True
    p.flow_since_s = k.now
    p.given_ml_min = p.flow_ml_min
    may_return(k, p)
    note(k, LOG.ON_OUTLET, p.number, m.patient_count, -1)
    _reckon(k)


def release_outlet(k: Record, p: Record) -> None:
    """Take a patient off an outlet that serves, or that gave out and is being responded to."""
    m = k.manifold
    if p.flowing:
        credit_manifold(k)
        credit_served(k, p)
        m.patient_count -= 1
        m.flow_ml_min -= p.flow_ml_min
        p.flowing = False
        k.room_made = True
        _reckon(k)
    set_responding(k, p, False)
    p.piped = False


def turn_outlet_down(k: Record, p: Record) -> None:
    """One on an outlet, who has been credited, needs less: the bank in service lasts longer."""
    credit_manifold(k)
    k.manifold.flow_ml_min -= p.given_ml_min - p.flow_ml_min
    p.given_ml_min = p.flow_ml_min
    _reckon(k)


def bank_spent(k: Record, bank: Record) -> None:
    """The bank in service is at the changeover pressure: the other one takes over at once, else the reserve."""
    k.manifold.event = NONE
    credit_manifold(k)
    _spend(k, bank)
    _feed(k)


def _spend(k: Record, bank: Record) -> None:
    """An alarm shows at once that a bank is spent; without one it is seen at the next look."""
    bank.spent, bank.seen = True, False
    note(k, LOG.BANK_SPENT, bank.number, bank.count_, bank.gas)
    interval_s = k.rules.manifold_gauge_check_s
    if interval_s == NONE:
        spent_bank_seen(k, bank)
        return
    look_s = k.now + 1 + (k.midnight_s - k.now - 1) % interval_s
    bank.look_event = schedule(k, look_s, RANK.GAUGE_CHECK, bank_item(bank), STEP.BANK_SEEN, bank.number, 0)


def spent_bank_seen(k: Record, bank: Record) -> None:
    """The cylinders of a spent bank go to the empties, each with an equal part of what is left in them."""
    bank.look_event = call_off(k, bank.look_event)
    bank.seen = True
    gas, count, s = bank.gas, bank.count_, store_at(k, 0)
    for place in range(count):  # the first ones hold one unit of the remainder more
        put_last(s.empties, gas // count + (place < gas % count))
    bank.count_ = bank.gas = bank.usable = 0
    k.manifold.on_banks -= count
    k.ledger.cylinders_emptied += count
    note(k, LOG.BANK_TAKEN_OFF, bank.number, s.empties.count_, gas)
    consider_review(k, s, True)
    consider_emergency(k)


def change_banks(k: Record) -> None:
    """Ask for full cylinders to be put on every bank whose spent ones are off, while there are any.

    A bank that nobody has seen to be spent is seen as soon as somebody waits beside a dry outlet.
    """
    m = k.manifold
    if not m.present:
        return
    for number in range(m.bank_count):
        bank = bank_at(k, number)
        _see_if_dry(k, bank)
        while bank.seen and bank.task == NONE and _to_be_had(k, bank) > 0:
            _call_for_change(k, bank)
            _see_if_dry(k, bank)


def _see_if_dry(k: Record, bank: Record) -> None:
    if bank.spent and not bank.seen and bank.task == NONE and k.manifold.feeding == NONE and k.line_count > 0:
        spent_bank_seen(k, bank)


def could_change(k: Record, bank: Record) -> Whole:
    """Return True if there are full cylinders for a bank that is spent, seen or not."""
    return bank.spent and _to_be_had(k, bank) > 0


def _call_for_change(k: Record, bank: Record) -> None:
    bank.task, bank.task_event = JOB.CHANGE, NONE
    if k.rules.has_staff:
        k.call_count = line_up(k.calls, k.call_count, bank_urgency(bank), bank.number, BANK_SLOT - bank.number)
    else:
        begin_bank_change(k, bank)


def _to_be_had(k: Record, bank: Record) -> Whole:
    """Return how many full cylinders there are for a bank, those kept for a priority at the bedside left out."""
    r, s = k.rules, store_at(k, 0)
    spare = s.full
    for place in range(r.strategy_sources_count):
        if number_at(r.strategy_sources, place).value == SOURCE.CYLINDER:
            spare = usable(s) - r.allocation_reserve
    return max(0, min(bank.room, min(s.full, spare)))


def begin_bank_change(k: Record, bank: Record) -> None:
    """Somebody is there to change a bank: it takes its time, or is done."""
    if not _fresh_bank(k, bank):
        bank.task = NONE
        return
    duration_s = k.rules.manifold_bank_change_time_s
    if duration_s == 0:
        bank.task = NONE
        bank_ready(k, bank)
        return
    k.busy += 1
    due_s = k.now + duration_s
    step = STEP.BANK_CHANGED
    bank.task_event = schedule(k, due_s, RANK.TIMER_ENDS, bank_item(bank), step, bank.number, 0)


def bank_changed(k: Record, bank: Record) -> None:
    """A job at a bank is done; the member of staff is free for the next."""
    k.busy -= 1
    bank.task = NONE
    bank_ready(k, bank)


def _fresh_bank(k: Record, bank: Record) -> Whole:
    """Put full cylinders on a bank, as many as there are, to feed when the change is over; False without any."""
    count = _to_be_had(k, bank)
    if count == 0:
        return False
    credit_shelf(k)
    k.ledger.cylinders_unusable += connect_cylinders(k, bank, count)
    k.ledger.bank_changes += 1
    k.ledger.cylinders_opened += count
    store_at(k, 0).opened_by_size += count
    note(k, LOG.BANK_CHANGE, bank.number, count, bank.gas)
    consider_review(k, store_at(k, 0), False)
    consider_emergency(k)
    return True


def bank_ready(k: Record, bank: Record) -> None:
    """The bank is changed and stands by, or feeds at once where nothing or only the reserve does."""
    if bank.usable == 0:  # none of its cylinders gives anything
        _spend(k, bank)
        return
    bank.spent = bank.seen = False
    note(k, LOG.BANK_READY, bank.number, bank.count_, bank.usable)
    _feed(k)


def _feed(k: Record) -> None:
    """Let the bank feed that should: the one in service until it is spent, then the other, then the reserve."""
    m = k.manifold
    credit_manifold(k)
    before = m.feeding
    m.feeding = next_bank(k)
    if m.feeding == NONE:
        if before != NONE:
            _dry(k)
    elif m.feeding != before:
        bank = bank_at(k, m.feeding)
        note(k, LOG.BANK_FEEDS, bank.number, bank.count_, bank.usable)
        if before == NONE:
            _hurry(k, False)
            _resume(k)
    _reckon(k)


def _dry(k: Record) -> None:
    """Nothing feeds the outlets: all patients on them lose their supply together, and staff who come see it."""
    m, count, slot = k.manifold, 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.piped and p.flowing:
            number_at(k.scratch, count).value = slot
            count += 1
        slot = p.after
    m.patient_count = m.flow_ml_min = 0
    note(k, LOG.MANIFOLD_DRY, -1, count, -1)
    for place in range(count):
        p = patient_at(k, number_at(k.scratch, place).value)
        credit_served(k, p)
        p.flowing = False
    _hurry(k, True)
    for number in range(m.bank_count):
        bank = bank_at(k, number)
        if count > 0 and bank.spent and not bank.seen and bank.task == NONE:
            spent_bank_seen(k, bank)
    for place in range(count):
        lose_supply(k, patient_at(k, number_at(k.scratch, place).value))


def _resume(k: Record) -> None:
    """The outlets give again: those they lost whose response is not over are served at once."""
    k.room_made = True
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.responding and p.piped:
            set_responding(k, p, False)
            call_off_staff(k, p)
            connect_outlet(k, p)
        slot = p.after


def _hurry(k: Record, urgent: Whole) -> None:
    """Bank changes go before the calls of patients while the outlets are dry, after them otherwise."""
    for number in range(k.manifold.bank_count):
        bank, slot = bank_at(k, number), BANK_SLOT - number
        bank.urgent = urgent
        count = leave_line(k.calls, k.call_count, slot)
        if count < k.call_count:
            k.call_count = line_up(k.calls, count, bank_urgency(bank), number, slot)


def _reckon(k: Record) -> None:
    """Schedule when the bank in service is spent at the flow there is now; the rest of a second stays in it."""
    m, rate = k.manifold, drawn_ml_min(k)
    m.event = call_off(k, m.event)
    if rate > 0:
        bank = bank_at(k, m.feeding)
        due_s = k.now + bank.usable // rate
        m.event = schedule(k, due_s, RANK.CYLINDER_RUNS_OUT, bank_item(bank), STEP.BANK_SPENT, bank.number, 0)


def outlets_reason(k: Record) -> Whole:
    """Return why no outlet serves: all taken, a bank being changed, one that waits for staff, or no cylinders."""
    m, reason = k.manifold, CAUSE.NO_CYLINDER
    if m.feeding != NONE:
        return CAUSE.OUTLETS_FULL
    for number in range(m.bank_count):
        bank = bank_at(k, number)
        if bank.task != NONE and bank.task_event != NONE:
            return CAUSE.CHANGEOVER
        if bank.task != NONE:
            reason = CAUSE.WAITING_FOR_STAFF
    return reason


compile_file(globals())
