"""Back-ups: a regulator set with a cylinder at the bed of a patient on a concentrator, for the loss of it."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.claims import (
    FROM_STORE,
    FROM_WARD,
    give_regulator,
    has_backup,
    regulator_free,
    seen_to,
    take_regulator,
)
from o2sim.model.kernel.codes import LOG, SOURCE
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.layout import (
    NONE,
    device_at,
    note,
    number_at,
    open_at,
    patient_at,
    set_at,
    store_at,
    ward_at,
)
from o2sim.model.kernel.on_cylinder import new_place, put_on
from o2sim.model.kernel.opening import begin_use, credit_cylinder, end_use, note_fewest
from o2sim.model.kernel.queues import rank
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.sizes import BACKUP, size_for
from o2sim.model.kernel.stock import consider_emergency
from o2sim.model.kernel.store import fits, in_store, put_back, put_back_full, take_backup, take_full


def give_backups(k: Record) -> None:
    """Bring a back-up to each patient of the classes named who is on a unit, in line, as far as there are any.

    A back-up is a regulator set for the flow, and the emptiest part-used cylinder of the central store that holds
    at least what is asked for, else a full one. So many sets are left as there are patients who go without and
    hold none, if cylinders are a source of the strategy.
    """
    r = k.rules
    if not r.has_cylinders_backup or not k.has_bank or k.backups_out >= r.cylinders_backup_count:
        return
    count, slot = 0, k.first_present
    while slot != NONE:
        if _may_have(k, patient_at(k, slot)):
            count = rank(k, k.ranked, count, slot)
        slot = patient_at(k, slot).after
    waiting = _without_set(k) if count > 0 else 0
    for nth in range(count):
        p = patient_at(k, number_at(k.ranked, nth).value)
        if k.backups_out < r.cylinders_backup_count and _set_to_spare(k, p, waiting):
            _bring(k, p)


def _may_have(k: Record, p: Record) -> Whole:
    on_unit = p.flowing and p.unit != NONE
    return on_unit and p.backup_kind == NONE and not seen_to(p) and device_at(k, p.class_index).backup


def _without_set(k: Record) -> Whole:
    """Write to each ward how many go without, and may yet take a regulator set; return how many in all."""
    for number in range(k.ward_count):
        ward_at(k, number).going_without = 0
    if k.source_places[SOURCE.CYLINDER] == k.rules.strategy_sources_count or k.gap_count == 0:
        return 0
    count, slot = 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        holds = p.cylinder != NONE or p.backup_kind != NONE or p.claim == FROM_STORE or p.claim == FROM_WARD
        if p.gap_since_s != NONE and not holds:
            ward_at(k, p.ward).going_without += 1
            count += 1
        slot = p.after
    return count


def _set_to_spare(k: Record, p: Record, waiting: Whole) -> Whole:
    ward, free = ward_at(k, p.ward), 0
    for kind in range(k.set_count):
        free += set_at(k, kind).free
    return ward.regulators_free > ward.going_without and free > waiting


def _bring(k: Record, p: Record) -> None:
    if not _taken_from_store(k, p, NONE):
        return
    p.backup_kind = take_regulator(k, p, p.backup_size)
    k.at_beds += 1
    k.backups_out += 1
    _note_taken(k, p, LOG.BACK_UP_BROUGHT)


def _taken_from_store(k: Record, p: Record, kind: Whole) -> Whole:
    """Take a cylinder that does as a back-up, if there is one; a reserve for a higher priority stays.

    Of the first size for back-ups that fits a set of a kind (NONE: for which a set is free) and has one.
    """
    r = k.rules
    kept = r.allocation_reserve if p.priority > r.allocation_reserve_priority else 0
    for place in range(k.sizes_for_count[BACKUP]):
        size = size_for(k, BACKUP, place)
        s = store_at(k, size)
        has_set = regulator_free(k, p, size) if kind == NONE else fits(k, kind, size)
        if not has_set or in_store(s) <= kept:
            continue
        credit_shelf(k)
        content = take_backup(s, s.least_backup)
        full = content == NONE
        if full and s.fills.count_ == 0:
            continue
        if full:
            content = take_full(s)
        p.backup_size, p.backup_content, p.backup_fresh = size, content, full
        return True
    return False


def _note_taken(k: Record, p: Record, step: Whole) -> None:
    """The stock is lower by one, as if a cylinder had been opened."""
    s = store_at(k, p.backup_size)
    note_fewest(k, s)
    note(k, step, p.number, s.full, p.backup_content)
    consider_review(k, s, False)
    consider_emergency(k)


def expect_backup(k: Record, p: Record) -> None:
    """A patient loses the unit: whoever is at the bed begins to open the back-up as the step is over."""
    if not k.rules.has_cylinders_backup or not p.needs:
        return
    k.ledger.unit_losses += 1
    p.units_lost += 1
    if has_backup(k, p):
        p.backup_opening = k.backups_due = True


def open_backup(k: Record, p: Record) -> Whole:
    """Take the back-up at the bed into use; return the place of its regulator set."""
    p.backup_event = call_off(k, p.backup_event)
    place = new_place(k)
    c = open_at(k, place)
    c.lead, c.kind, c.backup, c.content = p.slot, p.backup_kind, True, p.backup_content
    c.of_size = p.backup_size
    p.backup_kind, p.backup_opening = NONE, False
    k.at_beds -= 1
    put_on(k, p, place)
    begin_use(k, place)
    note(k, LOG.BACK_UP_OPENED, p.number, -1, c.content)
    return place


def close_backup(k: Record, place: Whole) -> None:
    """A patient is served otherwise again: the back-up is closed, and stays at the bed with its set."""
    c = open_at(k, place)
    c.supply_event = call_off(k, c.supply_event)
    content, p = credit_cylinder(k, c), patient_at(k, c.lead)
    p.flowing, p.cylinder = False, NONE
    p.backup_kind, p.backup_content, p.backup_fresh, p.backup_opening = c.kind, content, False, False
    p.backup_size = c.of_size
    k.at_beds += 1
    k.on_cylinder -= 1
    end_use(k, c)
    c.patient_count, c.first_on, c.last_on = 0, NONE, NONE
    c.after, k.open_free = k.open_free, place
    note(k, LOG.BACK_UP_CLOSED, p.number, -1, content)


def change_backups(k: Record) -> None:
    """Change the back-ups at beds that hold less than is asked for, at midnight, in line, as far as there are any.

    What comes off is the first part-used cylinder to be opened. The set stays: the size is one that it fits.
    """
    if k.at_beds == 0:
        return
    count, slot = 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.backup_kind != NONE and not p.backup_opening:
            if p.backup_content < store_at(k, p.backup_size).least_backup:
                count = rank(k, k.ranked, count, slot)
        slot = p.after
    for nth in range(count):
        p = patient_at(k, number_at(k.ranked, nth).value)
        old, size = p.backup_content, p.backup_size
        if _taken_from_store(k, p, p.backup_kind):
            _put_back(k, p, size, old, True)
            _note_taken(k, p, LOG.BACK_UP_CHANGED)


def _put_back(k: Record, p: Record, size: Whole, content: Whole, first: Whole) -> None:
    """Put a part-used back-up on the rack, or with the empties."""
    if put_back(store_at(k, size), content, p.flow_ml_min, 0, first):
        k.stock_came = True
    else:
        k.ledger.cylinders_emptied += 1
        consider_review(k, store_at(k, size), True)


def take_back_backup(k: Record, p: Record) -> None:
    """A patient leaves: the back-up goes back to the store, a full one that nobody has opened as such."""
    if p.backup_kind == NONE:
        return
    credit_shelf(k)
    kind, s = p.backup_kind, store_at(k, p.backup_size)
    p.backup_kind = NONE
    k.at_beds -= 1
    k.backups_out -= 1
    if p.backup_fresh:
        put_back_full(s, p.backup_content)
        k.stock_came = True
    else:
        _put_back(k, p, s.number, p.backup_content, False)
    give_regulator(k, p.ward, kind)
    k.backup_came_back = True
    note(k, LOG.BACK_UP_TAKEN_BACK, p.number, s.full, p.backup_content)
    consider_emergency(k)


compile_file(globals())
