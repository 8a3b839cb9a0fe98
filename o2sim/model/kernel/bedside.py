"""Cylinders at the bedside: opened, checked, changed, run empty, put back; and who looks at the gauge."""

from __future__ import annotations

import numpy as np

from o2sim import jit
from o2sim.draws.philox import stable_hash, uniform
from o2sim.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import (
    bedside_item,
    begin_gap,
    end_gap,
    is_day,
    lose_supply,
    occupy,
    set_cause,
    wait,
)
from o2sim.model.kernel.layout import NONE, note, note_code, number_at, patient_at, rules
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.packing import code, entry_code
from o2sim.model.kernel.queues import line_up
from o2sim.model.kernel.resupply import consider_emergency, consider_review, credit_shelf
from o2sim.model.kernel.store import (
    best_content,
    keep_gas,
    open_cylinder,
    put_back,
    residual_after_s,
    runs_out_after_s,
    usable,
)
from o2sim.model.kernel.units import connect_unit, unit_with_room
from o2sim.model.rules import Rank
from o2sim.model.steps.looks import MOST_MISSED
from o2sim.outcome import Cause
from o2sim.scenario.types import DAY_S, Cylinders, Strategy

_CHECK, _RUN_OUT = int(Rank.GAUGE_CHECK), int(Rank.CYLINDER_RUNS_OUT)
_CHANGEOVER, _UNSEEN = int(Cause.CHANGEOVER), int(Cause.RAN_EMPTY_UNSEEN)
CYLINDER = entry_code(Strategy, "sources", "cylinder")
_WILL_NOT_LAST = code(Cylinders, "change_when", "will_not_last")
_MISSED, _ERROR, _LEFT_OPEN = (
    np.uint64(stable_hash(stream)) for stream in ("missed check", "gauge error", "left open")
)
_OPENED, _OPEN, _RACKED, _EMPTIED, _UNUSABLE, _FLOWS, _SEEN_LOW, _OUT = (
    note_code(step)
    for step in (
        "cylinder opened",
        "cylinder left open",
        "cylinder racked",
        "cylinder emptied",
        "cylinder unusable",
        "on cylinder",
        "gauge check",
        "cylinder runs out",
    )
)


# Looking at the gauge


@jit.compiled
def is_watched(r: Record) -> Whole:
    """Return True if somebody always sees the gauge."""
    return r.cylinders_gauge_check_s == 0 and r.cylinders_check_times_s_count == 0


@jit.compiled
def next_look_s(k: Record, now_s: Whole) -> Whole:
    """Return the first gauge check at or after now: at clock times, or at multiples of the interval."""
    r, times = rules(k), rules(k).cylinders_check_times_s
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


@jit.compiled
def last_look_s(k: Record, now_s: Whole) -> Whole:
    """Return the last gauge check at or before now."""
    r, times = rules(k), rules(k).cylinders_check_times_s
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


@jit.compiled
def first_look_s(k: Record, p: Record, from_s: Whole, last_s: Whole) -> Whole:
    """Return the first look at or after from_s that is not missed, or one after last_s (NONE: no end)."""
    look_s = next_look_s(k, from_s)
    for _ in range(MOST_MISSED):
        if (last_s != NONE and look_s > last_s) or not _missed(k, p, look_s):
            break
        look_s = next_look_s(k, look_s + 1)
    return look_s


@jit.compiled
def _missed(k: Record, p: Record, look_s: Whole) -> Whole:
    """Return True if nobody looks at this patient's gauge at this check; the same under every strategy."""
    r = rules(k)
    chance = r.cylinders_missed_by_day if is_day(k, look_s) else r.cylinders_missed_by_night
    return chance > 0 and uniform(k.seed, k.replication, _MISSED, p.luck, look_s) < chance


@jit.compiled
def _gauge_error(k: Record, p: Record) -> Whole:
    """Return how much too low the gauge of the next cylinder reads, as content."""
    spread = rules(k).cylinders_gauge_error_gas
    if spread == 0:
        return 0
    luck = uniform(k.seed, k.replication, _ERROR, p.luck, p.cylinders)
    return np.int64(np.rint(spread * jit.ndtri(luck)))


@jit.compiled
def _enough_gas(k: Record, p: Record) -> Whole:
    """Return the content that lasts until the next look, where one is asked for; else 0."""
    r = rules(k)
    if r.cylinders_change_when != _WILL_NOT_LAST:
        return 0
    seconds = next_look_s(k, k.now + 1) - k.now + r.cylinders_change_time_s
    return r.cylinders_lost_gas + seconds * (p.flow_ml_min + r.cylinders_leak_ml_min)


# Cylinders on and off


@jit.compiled
def may_open(k: Record, p: Record) -> Whole:
    """Return True if there is a cylinder for a patient; the last few may be kept for a high priority."""
    r = rules(k)
    kept = r.allocation_reserve if p.priority > r.allocation_reserve_priority else 0
    return usable(k) > kept


@jit.compiled
def connect_cylinder(k: Record, slot: Whole, p: Record) -> None:
    """Give a patient a regulator and a cylinder that flows at once."""
    k.regulators_free -= 1
    _open(k, slot, p)
    _start(k, slot, p)


@jit.compiled
def release_cylinder(k: Record, slot: Whole, p: Record) -> None:
    """Take the cylinder and the regulator off a patient."""
    _take_off(k, p)
    k.regulators_free += 1


@jit.compiled
def _open(k: Record, slot: Whole, p: Record) -> None:
    """Take a cylinder for a patient who has a regulator."""
    credit_shelf(k)
    p.content = open_cylinder(k, _enough_gas(k, p))
    p.gauge_error_gas = _gauge_error(k, p)
    p.cylinders += 1
    p.found_low = False
    p.cylinder_before, p.cylinder_after = NONE, k.first_on_cylinder
    if k.first_on_cylinder != NONE:
        patient_at(k, k.first_on_cylinder).cylinder_before = slot
    k.first_on_cylinder = slot
    k.ledger.cylinders_opened += 1
    note(k, _OPENED, p.number, k.full, p.content)
    consider_review(k, False)
    consider_emergency(k)


@jit.compiled
def _take_off(k: Record, p: Record) -> None:
    """Take the cylinder off a patient: part-used to the rack, else to the empties; the regulator stays."""
    content = _credit(k, p)
    p.flowing = False
    credit_shelf(k)
    chance = rules(k).cylinders_left_open
    if chance > 0 and uniform(k.seed, k.replication, _LEFT_OPEN, p.luck, p.cylinders) < chance:
        note(k, _OPEN, p.number, -1, content)
        k.ledger.leaked_gas += content
        content = 0
    if put_back(k, content, p.flow_ml_min, p.gauge_error_gas):
        note(k, _RACKED, p.number, k.rack.count_, content)
        k.stock_came = True
    else:
        k.ledger.cylinders_emptied += 1
        note(k, _EMPTIED, p.number, k.empties.count_, content)
        consider_review(k, True)
    p.content = NONE
    if p.cylinder_before == NONE:
        k.first_on_cylinder = p.cylinder_after
    else:
        patient_at(k, p.cylinder_before).cylinder_after = p.cylinder_after
    if p.cylinder_after != NONE:
        patient_at(k, p.cylinder_after).cylinder_before = p.cylinder_before
    consider_emergency(k)


@jit.compiled
def _credit(k: Record, p: Record) -> Whole:
    """Bring a cylinder's content up to this second and return it."""
    if p.flowing:
        credit_served(k, p)
    return p.content


@jit.compiled
def _start(k: Record, slot: Whole, p: Record) -> None:
    """Let an opened cylinder flow, or set it aside if it gives nothing: another change, or a wait for one."""
    r = rules(k)
    while p.content <= keep_gas(r):
        note(k, _UNUSABLE, p.number, -1, p.content)
        k.ledger.cylinders_unusable += 1
        if not may_open(k, p):
            release_cylinder(k, slot, p)
            wait(k, slot, p)
            return
        p.found_low = True
        if not _change_at_once(k, slot, p):
            return
        k.room_made = True
    _flow(k, slot, p)


@jit.compiled
def _flow(k: Record, slot: Whole, p: Record) -> None:
    """Let a connected cylinder flow; schedule the check that finds it low, or the run-out if that is earlier."""
    r = rules(k)
    end_gap(k, p)
    p.flowing, p.flow_since_s = True, k.now
    note(k, _FLOWS, p.number, -1, p.content)
    p.run_out_s = k.now + runs_out_after_s(p.content, r, p.flow_ml_min)
    low_s = k.now + residual_after_s(p.content, r, p.flow_ml_min, p.gauge_error_gas)
    if r.cylinders_change_when == _WILL_NOT_LAST:  # the last look before the run-out, if it is still to come
        look_s = last_look_s(k, p.run_out_s)
        if look_s > k.now:
            low_s = min(low_s, look_s)
    _check_or_run_out(k, slot, p, first_look_s(k, p, low_s, p.run_out_s))


@jit.compiled
def _check_or_run_out(k: Record, slot: Whole, p: Record, check_s: Whole) -> None:
    """Schedule the earlier of a gauge check and the run-out: repeating checks would be most of all events."""
    due_s, rank, step = p.run_out_s, _RUN_OUT, codes.CYLINDER_RUNS_OUT
    if check_s <= p.run_out_s:
        due_s, rank, step = check_s, _CHECK, codes.GAUGE_CHECK
    p.supply_event = schedule(k.calendar, due_s, rank, bedside_item(p), step, slot, 0)


@jit.compiled
def gauge_check(k: Record, slot: Whole, p: Record) -> None:
    """The gauge is read as low: change the cylinder, or let it run on if there is none to change to."""
    p.supply_event = call_off(k.calendar, p.supply_event)
    p.found_low = True
    call_for_change(k, slot, p)
    if p.task != NONE and p.task_event == NONE:  # it runs on until somebody comes
        _check_or_run_out(k, slot, p, p.run_out_s + 1)


@jit.compiled
def call_for_change(k: Record, slot: Whole, p: Record) -> None:
    """Ask for somebody to change a cylinder; `settle` answers once all calls of the step are in."""
    p.task, p.task_event = codes.CHANGE, NONE
    if rules(k).has_staff:
        k.call_count = line_up(k.calls, k.call_count, p.priority, p.number, slot)
    else:
        begin_change(k, slot, p)


@jit.compiled
def _change_at_once(k: Record, slot: Whole, p: Record) -> Whole:
    """Ask for a change; return True if it takes no time and has been made, with a cylinder to start."""
    p.task, p.task_event = codes.CHANGE, NONE
    if rules(k).has_staff:
        k.call_count = line_up(k.calls, k.call_count, p.priority, p.number, slot)
        return False
    return _change_made(k, slot, p)


@jit.compiled
def begin_change(k: Record, slot: Whole, p: Record) -> None:
    """Somebody is there to change a cylinder: it takes its time, or is done."""
    if _change_made(k, slot, p):
        change_ends(k, slot, p)


@jit.compiled
def _change_made(k: Record, slot: Whole, p: Record) -> Whole:
    """Begin a change; return True if it takes no time and is over."""
    if not _next_cylinder(k, slot, p):
        p.task = NONE
        return False
    duration_s = rules(k).cylinders_change_time_s
    if duration_s > 0:
        occupy(k, slot, p, duration_s)
        return False
    p.task = NONE
    return True


@jit.compiled
def change_watched(k: Record) -> None:
    """Change the cylinders that are known to be low and watched, now that something has come to change them to."""
    k.stock_came = False
    if not is_watched(rules(k)):
        return
    count = on_cylinder_in_order(k, True)
    for place in range(count):
        slot = number_at(k.scratch, place).value
        p = patient_at(k, slot)
        if may_open(k, p):
            gauge_check(k, slot, p)


@jit.compiled
def on_cylinder_in_order(k: Record, known_low: Whole) -> Whole:
    """Write those on a flowing cylinder to scratch, by priority and number; return how many.

    known_low: only those with a cylinder known to be low that nobody has been asked to change.
    """
    count, slot = 0, k.first_on_cylinder
    while slot != NONE:
        p = patient_at(k, slot)
        if p.flowing and (not known_low or (p.found_low and p.task == NONE)):
            place = count
            while place > 0:
                other = patient_at(k, number_at(k.scratch, place - 1).value)
                if other.priority < p.priority or (other.priority == p.priority and other.number < p.number):
                    break
                number_at(k.scratch, place).value = number_at(k.scratch, place - 1).value
                place -= 1
            number_at(k.scratch, place).value = slot
            count += 1
        slot = p.cylinder_after
    return count


@jit.compiled
def _next_cylinder(k: Record, slot: Whole, p: Record) -> Whole:
    """Open the next cylinder, to flow when the change time is over; False if there is none to change to."""
    p.supply_event = call_off(k.calendar, p.supply_event)
    content = _credit(k, p)
    if not may_open(k, p) or best_content(k, _enough_gas(k, p)) <= (content if p.flowing else 0):
        _run_on(k, slot, p)
        return False
    cause = _CHANGEOVER if p.found_low else _UNSEEN
    _take_off(k, p)
    _open(k, slot, p)
    if rules(k).cylinders_change_time_s > 0:
        begin_gap(k, p)
        set_cause(k, slot, p, cause)
    return True


@jit.compiled
def _run_on(k: Record, slot: Whole, p: Record) -> None:
    """Nothing to change to: a cylinder that still flows stays on and is looked at again."""
    if not p.flowing:
        release_cylinder(k, slot, p)
        wait(k, slot, p)
        return
    if unit_with_room(k, p.flow_ml_min) != NONE:
        release_cylinder(k, slot, p)  # a planned move: no gap
        connect_unit(k, slot, p)
        return
    note(k, _SEEN_LOW, p.number, -1, p.content)
    again_s = p.run_out_s + 1
    if not is_watched(rules(k)):
        again_s = first_look_s(k, p, k.now + 1, p.run_out_s)
    _check_or_run_out(k, slot, p, again_s)


@jit.compiled
def change_ends(k: Record, slot: Whole, p: Record) -> None:
    """The new cylinder is connected and flows."""
    _start(k, slot, p)
    k.room_made = True  # a unit may have found room during the change


@jit.compiled
def cylinder_runs_out(k: Record, slot: Whole, p: Record) -> None:
    """Flow is lost: staff respond if they knew it was low, else it is found at the next check."""
    content = _credit(k, p)
    known = p.found_low or is_watched(rules(k))
    note(k, _OUT, p.number, known, content)
    p.supply_event = NONE
    if p.task != NONE:  # already asked for a change
        p.flowing = False
        begin_gap(k, p)
    elif known:
        release_cylinder(k, slot, p)
        lose_supply(k, slot, p)
    else:
        p.flowing = False
        begin_gap(k, p)
        set_cause(k, slot, p, _UNSEEN)
        check_s = first_look_s(k, p, k.now + 1, NONE)
        p.supply_event = schedule(k.calendar, check_s, _CHECK, bedside_item(p), codes.FOUND_EMPTY, slot, 0)


@jit.compiled
def found_empty(k: Record, slot: Whole, p: Record) -> None:
    """A gauge check finds a cylinder that ran empty: change it, or look for another source."""
    if _next_is_cylinder(k, p):
        call_for_change(k, slot, p)
    else:
        release_cylinder(k, slot, p)
        wait(k, slot, p)


@jit.compiled
def _next_is_cylinder(k: Record, p: Record) -> Whole:
    """Return True if a cylinder is the first source in order for a patient who has a regulator."""
    if not may_open(k, p):
        return False
    cylinder_first = number_at(rules(k).strategy_sources, 0).value == CYLINDER
    return cylinder_first or unit_with_room(k, p.flow_ml_min) == NONE
