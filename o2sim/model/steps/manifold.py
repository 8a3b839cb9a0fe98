"""Manifold: two banks of cylinders feed piped outlets, one takes over from the other, a reserve from both.

A bank is spent when its cylinders are down to the changeover pressure; what is below it is not used. The other
bank takes over at that second. The pipework leaks from the bank in service, day and night.
"""

from __future__ import annotations

from o2sim.model.manifold import Bank
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank, next_multiple_s
from o2sim.model.state import State, there
from o2sim.model.steps.gaps import end_gap, lose_supply
from o2sim.model.steps.manifold_gas import credit_manifold
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.model.steps.staff import call_off_staff, call_staff
from o2sim.model.steps.stock import consider_emergency
from o2sim.outcome import Cause


def begin_manifold(state: State) -> None:
    """Banks, then reserve, are filled from the full cylinders before the run begins; the first bank feeds."""
    if state.manifold is not None:
        _feed(state)


def outlet_free(state: State) -> bool:
    """Return True if a piped outlet can serve one more patient."""
    return state.manifold is not None and state.manifold.outlet_free


def connect_outlet(state: State, patient: Patient) -> None:
    """Put a patient on a piped outlet, which has its own flowmeter."""
    manifold = there(state.manifold)
    credit_manifold(state)
    manifold.connect(patient)
    end_gap(state, patient)
    patient.piped = patient.flowing = True
    patient.flow_since_s = state.now
    patient.given_ml_min = patient.flow_ml_min
    state.note("on outlet", patient.number, len(manifold.patients))
    _reckon(state)


def release_outlet(state: State, patient: Patient) -> None:
    """Take a patient off an outlet that serves, or that gave out and is being responded to."""
    if patient.flowing:
        assert state.manifold is not None
        credit_manifold(state)
        state.ledger.served(patient, state.now)
        state.manifold.disconnect(patient)
        patient.flowing = False
        state.room_made = True
        _reckon(state)
    patient.piped = patient.responding = False


def turn_outlet_down(state: State, patient: Patient) -> None:
    """One on an outlet, who has been credited, needs less: the bank in service lasts longer."""
    credit_manifold(state)
    there(state.manifold).flow_ml_min -= patient.given_ml_min - patient.flow_ml_min
    patient.given_ml_min = patient.flow_ml_min
    _reckon(state)


def bank_spent(state: State, bank: Bank) -> None:
    """The bank in service is at the changeover pressure: the other one takes over at once, else the reserve."""
    there(state.manifold).event = None
    credit_manifold(state)
    _spend(state, bank)
    _feed(state)


def _spend(state: State, bank: Bank) -> None:
    """An alarm shows at once that a bank is spent; without one it is seen at the next look."""
    bank.spent, bank.seen = True, False
    state.note("bank spent", bank.number, bank.count, bank.gas)
    interval_s = there(state.manifold).rules.gauge_check_s
    if interval_s is None:
        spent_bank_seen(state, bank)
        return
    look_s = next_multiple_s(state.now + 1, interval_s, state.midnight_s)
    bank.look = state.clock.at(look_s, Rank.GAUGE_CHECK, bank.item, spent_bank_seen, bank)


def spent_bank_seen(state: State, bank: Bank) -> None:
    """The cylinders of a spent bank go to the empties, each with an equal part of what is left in them."""
    store = there(state.store)
    if bank.look is not None:
        bank.look.cancel()
    bank.look, bank.seen = None, True
    gas, contents = bank.gas, bank.take_off()
    store.take_from_manifold(contents)
    state.ledger.cylinders_emptied += len(contents)
    state.note("bank taken off", bank.number, len(store.empties), gas)
    consider_review(state, store)
    consider_emergency(state)


def change_banks(state: State) -> None:
    """Ask for full cylinders to be put on every bank whose spent ones are off, while there are any.

    A bank that nobody has seen to be spent is seen as soon as somebody waits beside a dry outlet.
    """
    manifold = state.manifold
    if manifold is None:
        return
    for bank in manifold.banks:
        _see_if_dry(state, bank)
        while bank.seen and bank.task is None and _to_be_had(state, bank) > 0:
            call_staff(state, bank, _bank_change_s, _begin_change, bank_ready)
            _see_if_dry(state, bank)  # the cylinders just put on may have nothing in them


def _bank_change_s(state: State, _bank: Bank) -> int:
    return there(state.manifold).rules.bank_change_time_s


def _see_if_dry(state: State, bank: Bank) -> None:
    dry = there(state.manifold).feeding is None
    if dry and state.waiting and bank.spent and not bank.seen and bank.task is None:
        spent_bank_seen(state, bank)


def could_change(state: State, bank: Bank) -> bool:
    """Return True if there are full cylinders for a bank that is spent, seen or not."""
    return bank.spent and _to_be_had(state, bank) > 0


def _to_be_had(state: State, bank: Bank) -> int:
    """Return how many full cylinders there are for a bank, those kept for a priority at the bedside left out."""
    store = there(state.store)
    bedside = "cylinder" in state.rules.strategy.sources
    spare = store.usable - state.rules.allocation.reserve if bedside else store.full
    return max(0, min(bank.size, store.full, spare))


def _begin_change(state: State, bank: Bank) -> bool:
    """Put full cylinders on a bank, as many as there are, to feed when the change is over; False without any."""
    count = _to_be_had(state, bank)
    if count == 0:
        return False
    credit_shelf(state)
    store = there(state.store)
    fills = store.put_on_manifold(count)
    bank.put_on(fills)
    ledger = state.ledger
    ledger.bank_changes += 1
    ledger.cylinders_opened += count
    ledger.opened_by_size[store.number] += count
    ledger.cylinders_unusable += sum(content <= bank.keep_gas for content in fills)
    state.note("bank change", bank.number, count, bank.gas)
    consider_review(state, store, emptied=False)
    consider_emergency(state)
    return True


def bank_ready(state: State, bank: Bank) -> None:
    """The bank is changed and stands by, or feeds at once where nothing or only the reserve does."""
    if bank.usable == 0:  # none of its cylinders gives anything
        _spend(state, bank)
        return
    bank.spent = bank.seen = False
    state.note("bank ready", bank.number, bank.count, bank.usable)
    _feed(state)


def _feed(state: State) -> None:
    """Let the bank feed that should: the one in service until it is spent, then the other, then the reserve."""
    manifold = there(state.manifold)
    credit_manifold(state)
    before, manifold.feeding = manifold.feeding, manifold.next_bank()
    bank = manifold.in_service
    if bank is None:
        if before is not None:
            _dry(state)
    elif manifold.feeding != before:
        state.note("bank feeds", bank.number, bank.count, bank.usable)
        if before is None:
            _hurry(state, urgent=False)
            _resume(state)
    _reckon(state)


def _dry(state: State) -> None:
    """Nothing feeds the outlets: all patients on them lose their supply together, and staff who come see it."""
    manifold = there(state.manifold)
    lost = manifold.cut()
    state.note("manifold dry", -1, len(lost))
    for patient in lost:
        state.ledger.served(patient, state.now)
        patient.flowing = False
    _hurry(state, urgent=True)
    for bank in manifold.banks:
        if lost and bank.spent and not bank.seen and bank.task is None:
            spent_bank_seen(state, bank)
    for patient in lost:
        lose_supply(state, patient)


def _resume(state: State) -> None:
    """The outlets give again: those they lost whose response is not over are served at once."""
    state.room_made = True
    for _, patient in sorted(state.present.items()):
        if patient.responding and patient.piped:
            patient.responding = False
            call_off_staff(state, patient)
            connect_outlet(state, patient)


def _hurry(state: State, *, urgent: bool) -> None:
    """Bank changes go before the calls of patients while the outlets are dry, after them otherwise."""
    for bank in there(state.manifold).banks:
        bank.urgent = urgent
    calls = ((task.patient.order if task.patient else order, task) for order, task in state.calls)
    state.calls = sorted(calls, key=lambda call: call[0])


def _reckon(state: State) -> None:
    """Schedule when the bank in service is spent at the flow there is now; the rest of a second stays in it."""
    manifold = there(state.manifold)
    if manifold.event is not None:
        manifold.event.cancel()
        manifold.event = None
    bank, rate = manifold.in_service, manifold.drawn_ml_min
    if bank is not None and rate > 0:
        due_s = state.now + bank.usable // rate
        manifold.event = state.clock.at(due_s, Rank.CYLINDER_RUNS_OUT, bank.item, bank_spent, bank)


def outlets_reason(state: State) -> Cause:
    """Return why no outlet serves: all taken, a bank being changed, one that waits for staff, or no cylinders."""
    manifold = there(state.manifold)
    if manifold.feeding is not None:
        return Cause.OUTLETS_FULL
    tasks = [bank.task for bank in manifold.banks if bank.task is not None]
    if not tasks:
        return Cause.NO_CYLINDER
    return Cause.CHANGEOVER if any(task.event is not None for task in tasks) else Cause.WAITING_FOR_STAFF
