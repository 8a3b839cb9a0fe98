"""Claims: a source being fetched or connected for a patient is nobody else's; the store, stock on wards."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import reckon_spare
from o2sim.model.kernel.codes import JOB, LOG, RANK, STEP
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE, note, set_at, store_at, unit_at, ward_at
from o2sim.model.kernel.queues import bedside_item
from o2sim.model.kernel.store import free_set, in_store, runs_out_after_s, stock_ward, ward_store
from o2sim.model.rules import PORTER, STORE_OPENS
from o2sim.scenario.types.hospital import DAY_S

# What a patient's claim says beside a unit's number and NONE; as in patient.py of the reference, less one.
FROM_STORE, FROM_WARD, REPLACEMENT, BACKUP = -2, -3, -4, -5


def has_backup(k: Record, p: Record) -> Whole:
    """Return True if there is a back-up at the bed that, for all that is known, would flow."""
    if p.backup_kind == NONE:
        return False
    s, content = store_at(k, p.backup_size), p.backup_content
    return p.backup_fresh or (content > s.keep_gas and runs_out_after_s(content, s, p.flow_ml_min) > 0)


def claim_unit(k: Record, p: Record, number: Whole) -> None:
    """Keep room on a unit for a patient."""
    u = unit_at(k, number)
    u.expected_count += 1
    u.expected_ml_min += p.flow_ml_min
    reckon_spare(k, u)
    p.claim, p.claimed_ml_min = number, p.flow_ml_min


def claim_backup(p: Record) -> None:
    """Note that the back-up at the bed is to be connected: it is the patient's already."""
    p.claim = BACKUP


def claim_cylinder(k: Record, p: Record, size: Whole) -> None:
    """Keep a regulator of the ward and a cylinder of a size: one kept on the ward, else one of the store."""
    take_regulator(k, p, size)
    p.claim = FROM_WARD if is_kept(k, p.ward, size) else FROM_STORE
    p.claimed_size = size
    _hold(k, p, p.claim, 1)


def claim_replacement(k: Record, p: Record, size: Whole) -> None:
    """Keep a cylinder of the central store for a patient whose cylinder is to be changed."""
    p.claim, p.claimed_size = REPLACEMENT, size
    _hold(k, p, p.claim, 1)


def drop_claim(k: Record, p: Record) -> None:
    """Let go of whatever is kept for a patient; a fetch under way is called off."""
    p.fetch_event = call_off(k, p.fetch_event)
    p.fetched = False
    claim = p.claim
    p.claim = NONE
    if claim == NONE or claim == BACKUP:
        return
    if claim >= 0:
        u = unit_at(k, claim)
        u.expected_count -= 1
        u.expected_ml_min -= p.claimed_ml_min
        reckon_spare(k, u)
        k.room_made = True
        return
    _hold(k, p, claim, -1)
    if claim != REPLACEMENT:
        give_regulator(k, p.ward, p.set_kind)


def _hold(k: Record, p: Record, claim: Whole, count: Whole) -> None:
    if claim == FROM_WARD:
        ward_at(k, p.ward).held += count
    else:
        store_at(k, p.claimed_size).held += count


def regulator_free(k: Record, p: Record, size: Whole) -> Whole:
    """Return True if the patient's ward has a regulator set for the flow and a size that nobody uses."""
    return ward_at(k, p.ward).regulators_free > 0 and free_set(k, p.flow_ml_min, size) != NONE


def take_regulator(k: Record, p: Record, size: Whole) -> Whole:
    """Take a regulator set of the patient's ward, for a size of cylinder, into use; return its kind."""
    kind = free_set(k, p.flow_ml_min, size)
    set_at(k, kind).free -= 1
    ward_at(k, p.ward).regulators_free -= 1
    p.set_kind = kind
    return kind


def give_regulator(k: Record, ward: Whole, kind: Whole) -> None:
    """Give a regulator set back to its ward."""
    set_at(k, kind).free += 1
    ward_at(k, ward).regulators_free += 1


def seen_to(p: Record) -> Whole:
    """Return True if a source is on its way to a patient, or staff are asked to come."""
    return p.claim != NONE or p.task != NONE


def on_ward(k: Record, ward: Whole) -> Whole:
    """Return how many cylinders kept on a ward are nobody's yet."""
    return ward_at(k, ward).shelf.count_ - ward_at(k, ward).held if k.stocks_wards else 0


def is_kept(k: Record, ward: Whole, size: Whole) -> Whole:
    """Return True if a cylinder of a size that is nobody's yet is kept on a ward."""
    return k.stocks_wards and size == k.ward_size and on_ward(k, ward) > 0


def is_day(k: Record, at_s: Whole) -> Whole:
    """Return True by day."""
    r = k.rules
    return r.day_hours_from_s <= (at_s - k.midnight_s) % DAY_S < r.day_hours_to_s


def fetch_time_s(k: Record, p: Record, size: Whole) -> Whole:
    """Return how long it takes to bring a cylinder of a size to a patient now: no time from the ward."""
    r = k.rules
    if is_kept(k, p.ward, size):
        return 0
    return r.store_fetch_by_day_s if is_day(k, k.now) else r.store_fetch_by_night_s


def fetch(k: Record, p: Record, fetch_s: Whole, purpose: Whole) -> None:
    """Send for the cylinder that is kept for a patient; nobody at the bedside is needed for it."""
    due_s = k.now + fetch_s
    note(k, LOG.FETCH_BEGINS, p.number, -1, due_s)
    p.fetch_for = purpose
    p.fetch_event = schedule(k, due_s, RANK.TIMER_ENDS, bedside_item(p), STEP.FETCHED, p.slot, 0)


def fetch_replacement(k: Record, p: Record, size: Whole, fetch_s: Whole) -> None:
    """Send for the next cylinder of a patient; the one connected flows on meanwhile, if it flows."""
    claim_replacement(k, p, size)
    fetch(k, p, fetch_s, JOB.CHANGE)


def begin_store_days(k: Record) -> None:
    """Schedule the first opening of the store, where cylinders are kept on wards."""
    if k.stocks_wards:
        store_opens(k)


def store_opens(k: Record) -> None:
    """The day begins: the wards are restocked from the central store."""
    wait_s = (k.rules.day_hours_from_s - (k.now - k.midnight_s) - 1) % DAY_S + 1
    schedule(k, k.now + wait_s, RANK.SHIFT_CHANGES, STORE_OPENS, STEP.STORE_OPENS, NONE, 0)


def restock_wards(k: Record) -> None:
    """By day bring full cylinders to the wards that lack some, ward by ward; a reserve stays where it is."""
    if not k.stocks_wards or not k.has_store or not is_day(k, k.now):
        return
    s = ward_store(k)
    for number in range(k.ward_count):
        ward, coming = ward_at(k, number), 0
        for other in range(k.ward_count):
            coming += ward_at(k, other).coming
        lacking = ward.most_bedside - ward.shelf.count_ - ward.coming
        spare = in_store(s) - k.rules.allocation_reserve
        count = min(lacking, min(spare, s.fills.count_ - coming))
        if count > 0:
            _send(k, number, ward, count)


def _send(k: Record, number: Whole, ward: Record, count: Whole) -> None:
    ward.coming += count
    ward_store(k).held += count
    fetch_s = k.rules.store_fetch_by_day_s
    if fetch_s == 0:
        _put_down(k, number, ward, count)
    else:
        due_s = k.now + fetch_s
        schedule(k, due_s, RANK.DELIVERY, PORTER + number, STEP.WARD_RESTOCKED, number, count)


def ward_restocked(k: Record, number: Whole, count: Whole) -> None:
    """Full cylinders are on the ward: those who wait, or whose cylinder is low, may have one."""
    _put_down(k, number, ward_at(k, number), count)
    k.stock_came = True


def _put_down(k: Record, number: Whole, ward: Record, count: Whole) -> None:
    ward.coming -= count
    ward_store(k).held -= count
    stock_ward(k, number, count)
    note(k, LOG.WARD_RESTOCKED, number, count, ward.shelf.count_)


compile_file(globals())
