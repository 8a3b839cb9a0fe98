"""Cylinders taken into use on a regulator and put back; by whose place in line staff come; looks at a gauge."""

from __future__ import annotations

import numpy as np

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.philox import uniform
from o2sim.model.kernel.claims import give_regulator, is_day, is_kept
from o2sim.model.kernel.codes import LOG, STREAM
from o2sim.model.kernel.events import call_off, hand_on
from o2sim.model.kernel.layout import NONE, note, number_at, open_at, patient_at, ward_at
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.on_cylinder import flow_of, flows, gas_left
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.queues import before, content_at, leave_line, line_up, rank
from o2sim.model.kernel.resupply import consider_review, credit_shelf
from o2sim.model.kernel.stock import consider_emergency
from o2sim.model.kernel.store import (
    OLDEST,
    all_full,
    best_content,
    open_from_store,
    open_on_ward,
    put_back,
    store_of,
)
from o2sim.model.patient import FOREVER_S
from o2sim.model.rules import MOST_MISSED
from o2sim.scenario.types.hospital import DAY_S, Cylinders


def next_content(k: Record, p: Record, s: Record, enough: Whole) -> Whole:
    """Return the content of the cylinder of a size that a patient would be given next, 0 where none is usable."""
    if is_kept(k, p.ward, s.number):
        return content_at(ward_at(k, p.ward).shelf, 0)
    return best_content(k, s, enough)


def open_cylinder(k: Record, place: Whole, enough: Whole) -> None:
    """Take a cylinder of its size into use on the regulator in a place: a part-used one, if one holds enough."""
    c = open_at(k, place)
    lead, s = patient_at(k, c.lead), store_of(k, c)
    credit_shelf(k)
    if is_kept(k, lead.ward, s.number):
        c.content = open_on_ward(k, lead.ward)
    else:
        c.content = open_from_store(k, s, enough)
    begin_use(k, place)
    note_fewest(k, s)
    note(k, LOG.CYLINDER_OPENED, lead.number, s.full, c.content)
    consider_review(k, s, False)
    consider_emergency(k)


def note_fewest(k: Record, s: Record) -> None:
    """Note how few full cylinders are left, of all sizes and of the one that was taken."""
    k.fewest_full = min(k.fewest_full, all_full(k))
    s.fewest_full = min(s.fewest_full, s.full)


def begin_use(k: Record, place: Whole) -> None:
    """Count a cylinder among those in use, as the next one opened."""
    c = open_at(k, place)
    lead = patient_at(k, c.lead)
    c.gauge_error_gas = gauge_error(k, c)
    c.keeps_note, c.noted_s, c.look_s = _keeps_note(k, lead), FOREVER_S, FOREVER_S
    lead.cylinders += 1
    c.found_low, c.number = False, k.opened
    k.opened += 1
    c.before, c.after = NONE, k.first_open
    if k.first_open != NONE:
        open_at(k, k.first_open).before = place
    k.first_open = place
    k.ledger.cylinders_opened += 1
    store_of(k, c).opened_by_size += 1


def close_cylinder(k: Record, place: Whole) -> Whole:
    """Take the cylinder and the regulator off all on it; write them to sharers, in line, and return how many."""
    c, count = open_at(k, place), 0
    c.supply_event = call_off(k, c.supply_event)
    take_off(k, c)
    slot = c.first_on
    while slot != NONE:
        count = rank(k, k.sharers, count, slot)
        patient_at(k, slot).cylinder = NONE
        slot = patient_at(k, slot).on_after
    k.on_cylinder -= count
    c.patient_count, c.first_on, c.last_on = 0, NONE, NONE
    give_regulator(k, patient_at(k, c.lead).ward, c.kind)
    k.backups_out -= c.backup
    c.after, k.open_free = k.open_free, place
    return count


def take_off(k: Record, c: Record) -> None:
    """Take the cylinder off a regulator: part-used to the rack, else to the empties."""
    content, lead, slot, s = credit_cylinder(k, c), patient_at(k, c.lead), c.first_on, store_of(k, c)
    while slot != NONE:
        patient_at(k, slot).flowing = False  # credited
        slot = patient_at(k, slot).on_after
    credit_shelf(k)
    chance = k.rules.cylinders_left_open
    if chance > 0 and uniform(k.seed, k.replication, STREAM.LEFT_OPEN, lead.luck, lead.cylinders) < chance:
        note(k, LOG.CYLINDER_LEFT_OPEN, lead.number, -1, content)
        k.ledger.leaked_gas += content
        s.drawn_gas += content
        content = 0
    if put_back(s, content, flow_of(k, c), c.gauge_error_gas, False):
        note(k, LOG.CYLINDER_RACKED, lead.number, s.rack.count_, content)
        k.stock_came = True
    else:
        k.ledger.cylinders_emptied += 1
        note(k, LOG.CYLINDER_EMPTIED, lead.number, s.empties.count_, content)
        consider_review(k, s, True)
    end_use(k, c)
    consider_emergency(k)


def end_use(k: Record, c: Record) -> None:
    """Take a cylinder out of those in use."""
    if c.before == NONE:
        k.first_open = c.after
    else:
        open_at(k, c.before).after = c.after
    if c.after != NONE:
        open_at(k, c.after).before = c.before


def credit_cylinder(k: Record, c: Record) -> Whole:
    """Bring an open cylinder's content up to this second and return it."""
    if flows(k, c):
        slot = c.first_on
        while slot != NONE:
            credit_served(k, patient_at(k, slot))
            slot = patient_at(k, slot).on_after
    return c.content


def hand_over(k: Record, c: Record) -> None:
    """The next in line takes the place of a lead who has left; who was called for the cylinder still comes."""
    gone, first, slot = c.lead, c.first_on, c.first_on
    while slot != NONE:
        if before(patient_at(k, slot), patient_at(k, first)):
            first = slot
        slot = patient_at(k, slot).on_after
    heir, lead = patient_at(k, first), patient_at(k, gone)
    c.lead = first
    heir.task, heir.task_event = lead.task, lead.task_event
    lead.task = lead.task_event = NONE
    if heir.task_event != NONE:
        hand_on(k, heir.task_event, first)
    elif heir.task != NONE:
        count = leave_line(k.calls, k.call_count, gone)
        if count < k.call_count:  # nobody has come yet
            k.call_count = line_up(k.calls, count, heir.priority, heir.number, first)


RESIDUAL, WILL_NOT_LAST = (code(Cylinders, "change_when", word) for word in ("residual", "will_not_last"))


def is_watched(r: Record) -> Whole:
    """Return True if somebody always sees the gauge."""
    return r.cylinders_gauge_check_s == 0 and r.cylinders_check_times_s_count == 0


def next_look_s(k: Record, now_s: Whole) -> Whole:
    """Return the first gauge check at or after now: at clock times, or at multiples of the interval."""
    r, times = k.rules, k.rules.cylinders_check_times_s
    if r.cylinders_check_times_s_count > 0:
        since_s = now_s - k.midnight_s
        midnight_s, second = k.midnight_s + since_s // DAY_S * DAY_S, since_s % DAY_S
        for place in range(r.cylinders_check_times_s_count):
            if number_at(times, place).value >= second:
                return midnight_s + number_at(times, place).value
        return midnight_s + DAY_S + number_at(times, 0).value
    if r.cylinders_gauge_check_s == 0:
        return now_s
    return now_s + (k.midnight_s - now_s) % r.cylinders_gauge_check_s


def last_look_s(k: Record, now_s: Whole) -> Whole:
    """Return the last gauge check at or before now."""
    r, times = k.rules, k.rules.cylinders_check_times_s
    if r.cylinders_check_times_s_count > 0:
        since_s = now_s - k.midnight_s
        midnight_s, second = k.midnight_s + since_s // DAY_S * DAY_S, since_s % DAY_S
        for place in range(r.cylinders_check_times_s_count - 1, -1, -1):
            if number_at(times, place).value <= second:
                return midnight_s + number_at(times, place).value
        return midnight_s + number_at(times, r.cylinders_check_times_s_count - 1).value - DAY_S
    if r.cylinders_gauge_check_s == 0:
        return now_s
    return now_s - (now_s - k.midnight_s) % r.cylinders_gauge_check_s


def first_look_s(k: Record, p: Record, from_s: Whole, last_s: Whole) -> Whole:
    """Return the first look at or after from_s that is not missed, or one after last_s (NONE: no end)."""
    look_s = next_look_s(k, from_s)
    for _ in range(MOST_MISSED):
        if (last_s != NONE and look_s > last_s) or not _missed(k, p, look_s):
            break
        look_s = next_look_s(k, look_s + 1)
    return look_s


def _missed(k: Record, p: Record, look_s: Whole) -> Whole:
    """Return True if nobody looks at this patient's gauge at this check; the same under every strategy."""
    r = k.rules
    chance = r.cylinders_missed_by_day if is_day(k, look_s) else r.cylinders_missed_by_night
    return chance > 0 and uniform(k.seed, k.replication, STREAM.MISSED_CHECK, p.luck, look_s) < chance


def gauge_error(k: Record, c: Record) -> Whole:
    """Return how much too low the gauge of the next cylinder reads, as content."""
    p, spread = patient_at(k, c.lead), store_of(k, c).gauge_error_gas
    if spread == 0:
        return 0
    luck = uniform(k.seed, k.replication, STREAM.GAUGE_ERROR, p.luck, p.cylinders)
    return np.int64(np.rint(spread * jit.ndtri(luck)))


def _keeps_note(k: Record, p: Record) -> Whole:
    """Return True if staff come at the time that they note for the next cylinder, by (patient, cylinder)."""
    r = k.rules
    if not r.has_cylinders_timed or is_watched(r):
        return False
    luck = uniform(k.seed, k.replication, STREAM.TIMED_CHANGE_KEPT, p.luck, p.cylinders)
    return luck < r.cylinders_timed_kept


def enough_gas(k: Record, s: Record, flow_ml_min: Whole, begins_s: Whole) -> Whole:
    """Return the content of a size that gives a flow from when it begins until the next look after that."""
    seconds = next_look_s(k, begins_s + 1) - begins_s
    return s.lost_gas + seconds * (flow_ml_min + s.leak_ml_min)


def enough_to_take(k: Record, c: Record, s: Record, begins_s: Whole) -> Whole:
    """Return what a part-used cylinder of a size must hold to be taken in place of one, flowing from a second on.

    It lasts until the next look, and holds more than the one that flows. The oldest is taken whatever it holds
    where cylinders are changed at residual pressure only.
    """
    r = k.rules
    if r.cylinders_rack == OLDEST and r.cylinders_change_when == RESIDUAL:
        return 0
    more = gas_left(k, c) - store_of(k, c).lost_gas + s.lost_gas + 1 if flows(k, c) else 0
    return max(more, enough_gas(k, s, flow_of(k, c), begins_s))


compile_file(globals())
