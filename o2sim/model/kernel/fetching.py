"""Central store: cylinders are fetched from it, and full ones are kept on the wards, refilled from it by day."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.claims import claim_replacement, on_ward
from o2sim.model.kernel.codes import LOG, RANK
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.layout import NONE, note, ward_at
from o2sim.model.kernel.queues import bedside_item
from o2sim.model.kernel.store import in_store, stock_ward
from o2sim.model.rules import PORTER, STORE_OPENS
from o2sim.scenario.types.hospital import DAY_S


def is_day(k: Record, at_s: Whole) -> Whole:
    """Return True by day."""
    r = k.rules
    return r.day_hours_from_s <= (at_s - k.midnight_s) % DAY_S < r.day_hours_to_s


def fetch_time_s(k: Record, p: Record) -> Whole:
    """Return how long it takes to bring a cylinder to a patient now: no time where one is kept on the ward."""
    r = k.rules
    if on_ward(k, p.ward) > 0:
        return 0
    return r.store_fetch_by_day_s if is_day(k, k.now) else r.store_fetch_by_night_s


def fetch(k: Record, slot: Whole, p: Record, fetch_s: Whole, purpose: Whole) -> None:
    """Send for the cylinder that is kept for a patient; nobody at the bedside is needed for it."""
    due_s = k.now + fetch_s
    note(k, LOG.FETCH_BEGINS, p.number, -1, due_s)
    p.fetch_for = purpose
    p.fetch_event = schedule(k.calendar, due_s, RANK.TIMER_ENDS, bedside_item(p), codes.FETCHED, slot, 0)


def fetch_replacement(k: Record, slot: Whole, p: Record, fetch_s: Whole) -> None:
    """Send for the next cylinder of a patient; the one connected flows on meanwhile, if it flows."""
    claim_replacement(k, p)
    fetch(k, slot, p, fetch_s, codes.CHANGE)


def begin_store_days(k: Record) -> None:
    """Schedule the first opening of the store, where cylinders are kept on wards."""
    if k.stocks_wards:
        store_opens(k)


def store_opens(k: Record) -> None:
    """The day begins: the wards are restocked from the central store."""
    wait_s = (k.rules.day_hours_from_s - (k.now - k.midnight_s) - 1) % DAY_S + 1
    schedule(k.calendar, k.now + wait_s, RANK.SHIFT_CHANGES, STORE_OPENS, codes.STORE_OPENS, NONE, 0)


def restock_wards(k: Record) -> None:
    """By day bring full cylinders to the wards that lack some, ward by ward; a reserve stays where it is."""
    if not k.stocks_wards or not k.has_store or not is_day(k, k.now):
        return
    for number in range(k.ward_count):
        ward, coming = ward_at(k, number), 0
        for other in range(k.ward_count):
            coming += ward_at(k, other).coming
        lacking = ward.most_bedside - ward.shelf.count_ - ward.coming
        spare = in_store(k) - k.rules.allocation_reserve
        count = min(lacking, min(spare, k.fills.count_ - coming))
        if count > 0:
            _send(k, number, ward, count)


def _send(k: Record, number: Whole, ward: Record, count: Whole) -> None:
    ward.coming += count
    k.held += count
    fetch_s = k.rules.store_fetch_by_day_s
    if fetch_s == 0:
        _put_down(k, number, ward, count)
    else:
        due_s = k.now + fetch_s
        schedule(k.calendar, due_s, RANK.DELIVERY, PORTER + number, codes.WARD_RESTOCKED, number, count)


def ward_restocked(k: Record, number: Whole, count: Whole) -> None:
    """Full cylinders are on the ward: those who wait, or whose cylinder is low, may have one."""
    _put_down(k, number, ward_at(k, number), count)
    k.stock_came = True


def _put_down(k: Record, number: Whole, ward: Record, count: Whole) -> None:
    ward.coming -= count
    k.held -= count
    stock_ward(k, number, count)
    note(k, LOG.WARD_RESTOCKED, number, count, ward.shelf.count_)


jit.compile_file(globals())
