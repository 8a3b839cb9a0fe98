"""Roots: what patients who are short would still want if hands, eyes and the way to the store cost no time.

What one is promised is taken from the state, so that the next does not find it, and given back by `take_back`.
"""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import most_spare, reckon_spare, spare_ml_min, unit_with_room
from o2sim.model.kernel.claims import REPLACEMENT, has_backup, is_kept, regulator_free
from o2sim.model.kernel.codes import CAUSE, JOB, ROOT, SOURCE
from o2sim.model.kernel.delivery import lacks_delivery, needs_humidifier
from o2sim.model.kernel.layout import (
    NONE,
    bank_at,
    device_at,
    number_at,
    open_at,
    patient_at,
    promise_at,
    set_at,
    store_at,
    unit_at,
    ward_at,
)
from o2sim.model.kernel.ledger import is_too_little
from o2sim.model.kernel.manifold import could_change
from o2sim.model.kernel.reduced_flow import may_take_two, other_for, takes_reduced
from o2sim.model.kernel.sizes import BACKUP, BEDSIDE, is_for, may_open, size_for
from o2sim.model.kernel.sources import units_reason
from o2sim.model.kernel.splitters import outlet_for
from o2sim.model.kernel.store import fits, free_set

# What can be promised.
_UNIT, _STARTED, _PIPED, _STORED, _ON_WARD, _SET, _JOINED, _REPLACED, _DEVICE, _HUMIDIFIER = range(10)


def root_of(k: Record, p: Record) -> Whole:
    """Return the root of a patient who is short, after those before in line; note what the patient is promised."""
    if p.supply_event != NONE and p.short:  # on the way to another place
        return p.short_root
    if _at_hand(k, p):
        return ROOT.HANDLING
    if not lacks_delivery(k, p) and _source(k, p, True):
        _promise_delivery(k, p)
        return ROOT.HANDLING
    return ROOT.EQUIPMENT if _source(k, p, False) else ROOT.SUPPLY


def _at_hand(k: Record, p: Record) -> Whole:
    """Return True if something is claimed, opened or being connected for a patient."""
    if p.claim != NONE or p.backup_opening:
        return True
    if p.cylinder == NONE:
        return False
    lead = patient_at(k, open_at(k, p.cylinder).lead)
    return lead.claim == REPLACEMENT or (lead.task == JOB.CHANGE and lead.task_event != NONE)


def _source(k: Record, p: Record, with_set: Whole) -> Whole:
    """Promise the first source in the strategy's order that could give at least enough; False where none could."""
    r = k.rules
    for place in range(r.strategy_sources_count):
        source = number_at(r.strategy_sources, place).value
        if source == SOURCE.CONCENTRATOR:
            if not p.flowing and _units(k, p):
                return True
        elif source == SOURCE.MANIFOLD:
            if _outlet(k):
                return True
        elif _cylinder(k, p, with_set):
            return True
    return False


def _units(k: Record, p: Record) -> Whole:
    """Promise units for all of a flow, or for at least enough of it where a part may be given."""
    if not k.has_bank or k.most_running <= 0:
        return False
    number = unit_with_room(k, p.flow_ml_min, p.ward, NONE)
    if number != NONE:
        _promise_unit(k, number, p.flow_ml_min)
        return True
    first = most_spare(k, p.ward)
    if first == NONE:
        return False
    spare = spare_ml_min(k, unit_at(k, first))
    if may_take_two(k, p):
        second = other_for(k, first, p.flow_ml_min)
        if second != NONE:
            _promise_unit(k, first, spare)
            _promise_unit(k, second, p.flow_ml_min - spare)
            return True
    given = min(p.flow_ml_min, spare)
    if not takes_reduced(k, p) or is_too_little(k, given, p.flow_ml_min):
        return False
    _promise_unit(k, first, given)
    return True


def _promise(k: Record, what: Whole, which: Whole, amount: Whole) -> None:
    given = promise_at(k, k.promise_count)
    given.what, given.which, given.amount = what, which, amount
    k.promise_count += 1


def _promise_unit(k: Record, number: Whole, flow_ml_min: Whole) -> None:
    """Take a flow and an outlet of a unit, and the power for it if it stands idle."""
    u = unit_at(k, number)
    _promise(k, _STARTED if u.patient_count == 0 else _UNIT, number, flow_ml_min)
    k.running += u.patient_count == 0
    u.patient_count += 1
    u.load_ml_min += flow_ml_min
    reckon_spare(k, u)


def _outlet(k: Record) -> Whole:
    """Promise an outlet of the manifold behind which a bank is ready, or could be changed."""
    m = k.manifold
    if not m.present or m.patient_count >= k.rules.manifold_outlets or not _could_feed(k):
        return False
    m.patient_count += 1
    _promise(k, _PIPED, 0, 1)
    return True


def _could_feed(k: Record) -> Whole:
    """Return True if a bank feeds or is ready, is being changed, or could be."""
    for number in range(k.manifold.bank_count):
        bank = bank_at(k, number)
        if not bank.spent or (bank.task != NONE and bank.usable > 0) or could_change(k, bank):
            return True
    return False


def _cylinder(k: Record, p: Record, with_set: Whole) -> Whole:
    """Promise a cylinder that a patient may open, with a set that fits, or an outlet of a splitter."""
    if not k.has_store:
        return False
    if has_backup(k, p):
        return True
    if p.cylinder != NONE and open_at(k, p.cylinder).replaced:
        return True
    use = BACKUP if p.cylinder != NONE and open_at(k, p.cylinder).backup and k.several else BEDSIDE
    for place in range(k.sizes_for_count[use]):
        size = size_for(k, use, place)
        if (p.cylinder != NONE or is_for(k, p, size)) and _of_size(k, p, size, with_set):
            return True
    if p.cylinder != NONE:
        return False
    place = outlet_for(k, p)
    if place == NONE or open_at(k, place).promised:
        return False
    open_at(k, place).promised = True
    _promise(k, _JOINED, place, 1)
    return True


def _of_size(k: Record, p: Record, size: Whole, with_set: Whole) -> Whole:
    """Promise a cylinder of a size that a patient may open, with a set that fits; False where there is none."""
    held, kind = False, free_set(k, p.flow_ml_min, size) if regulator_free(k, p, size) else NONE
    if p.cylinder != NONE:
        own = open_at(k, p.cylinder)
        held = fits(k, own.kind, size)
        kind = kind if own.patient_count == 1 else NONE
    if not (held or kind != NONE or not with_set) or not may_open(k, p, size):
        return False
    _promise_cylinder(k, p, size)
    if p.cylinder != NONE:
        open_at(k, p.cylinder).replaced = True
        _promise(k, _REPLACED, p.cylinder, 1)
    if kind != NONE and not held:
        set_at(k, kind).free -= 1
        ward_at(k, p.ward).regulators_free -= 1
        _promise(k, _SET, kind, p.ward)
    return True


def _promise_cylinder(k: Record, p: Record, size: Whole) -> None:
    if is_kept(k, p.ward, size):
        ward_at(k, p.ward).held += 1
        _promise(k, _ON_WARD, p.ward, 1)
    else:
        store_at(k, size).held += 1
        _promise(k, _STORED, size, 1)


def _promise_delivery(k: Record, p: Record) -> None:
    if p.has_delivery or not k.limits_delivery:
        return
    place = device_at(k, p.class_index).place
    if place != NONE:
        number_at(k.delivery_free, place).value -= 1
        _promise(k, _DEVICE, place, 1)
    if k.rules.bedside_humidifiers != NONE and needs_humidifier(k, p):
        k.humidifiers_free -= 1
        _promise(k, _HUMIDIFIER, 0, 1)


def why_none(k: Record, p: Record, root: Whole) -> Whole:
    """Return why the last source in the strategy's order has no supply for a patient, where that is the root.

    To be asked with nothing promised.
    """
    if p.supply_event != NONE and p.short:
        return p.short_supply_cause
    if root != ROOT.SUPPLY:
        return CAUSE.CHANGEOVER
    r = k.rules
    last = number_at(r.strategy_sources, r.strategy_sources_count - 1).value
    if last == SOURCE.CYLINDER:
        return CAUSE.NO_CYLINDER
    if last == SOURCE.MANIFOLD:
        return CAUSE.OUTLETS_FULL if _could_feed(k) else CAUSE.NO_CYLINDER
    return units_reason(k, p)


def take_back(k: Record) -> None:
    """Give back all that was promised, the last first."""
    while k.promise_count > 0:
        k.promise_count -= 1
        given = promise_at(k, k.promise_count)
        if given.what <= _STARTED:
            _take_back_unit(k, given)
        elif given.what == _PIPED:
            k.manifold.patient_count -= 1
        elif given.what == _STORED:
            store_at(k, given.which).held -= 1
        elif given.what == _ON_WARD:
            ward_at(k, given.which).held -= 1
        elif given.what == _SET:
            set_at(k, given.which).free += 1
            ward_at(k, given.amount).regulators_free += 1
        elif given.what == _JOINED:
            open_at(k, given.which).promised = False
        elif given.what == _REPLACED:
            open_at(k, given.which).replaced = False
        elif given.what == _DEVICE:
            number_at(k.delivery_free, given.which).value += 1
        else:
            k.humidifiers_free += 1


def _take_back_unit(k: Record, given: Record) -> None:
    u = unit_at(k, given.which)
    u.patient_count -= 1
    u.load_ml_min -= given.amount
    k.running -= u.patient_count == 0
    reckon_spare(k, u)


compile_file(globals())
