"""Count what happens in a run, as whole-number totals within the horizon: see Ledger in the reference."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import (
    NONE,
    class_at,
    counted_at,
    day_unserved,
    flag_at,
    flow_step_at,
    number_at,
    open_at,
    patient_at,
    store_at,
    ward_at,
)
from o2sim.model.kernel.records import LEDGER
from o2sim.outcome import LENGTHS_S, Cause
from o2sim.scenario.types.hospital import DAY_S

_OVER_S = LENGTHS_S
OF_SUPPLY = tuple(int(cause.is_supply) for cause in Cause)
_WORDS = LEDGER.itemsize // 8


def credit_unserved(k: Record, p: Record) -> None:
    """Credit a gap's seconds since they were last credited to the cause that held."""
    since_s, seconds = p.cause_since_s, k.now - p.cause_since_s
    p.cause_since_s = k.now
    if seconds == 0 or p.cause == NONE:
        return
    p.unserved_s += seconds
    k.ledger.unserved_s[p.cause] += seconds
    counted_at(k, p.class_index).unserved_s += seconds
    ward_at(k, p.ward).unserved_s += seconds
    k.ledger.unserved_gas += seconds * p.flow_ml_min
    k.ledger.deficit_ms += 1_000 * seconds
    if k.counts_gaps:
        interrupted_days(k, max(since_s, p.gap_since_s + k.rules.tolerated_gap_s), k.now)


def interrupted_days(k: Record, from_s: Whole, to_s: Whole) -> None:
    """Mark the days from one second to before another, in which somebody's interruption goes on."""
    if from_s >= to_s:
        return
    first, last = (from_s - k.midnight_s) // DAY_S, (to_s - 1 - k.midnight_s) // DAY_S
    for day in range(first, last + 1):
        day_unserved(k, day)


def credit_served(k: Record, p: Record) -> None:
    """Credit the gas and the seconds a served patient has had since they were last credited."""
    ledger = k.ledger
    seconds = k.now - p.flow_since_s
    p.flow_since_s = k.now
    gas = seconds * p.given_ml_min
    if p.cylinder != NONE:
        c = open_at(k, p.cylinder)
        s = store_at(k, c.of_size)
        leaked = (k.now - c.leak_since_s) * s.leak_ml_min  # once however many are on it
        c.leak_since_s = k.now
        ledger.leaked_gas += leaked
        c.content -= gas + leaked
        s.drawn_gas += gas + leaked
    if not p.needs:
        if p.cylinder == NONE and not p.piped:
            ledger.unneeded_concentrator_gas += gas
        else:
            ledger.unneeded_cylinder_gas += gas
        return
    p.served_s += seconds
    if seconds > 0 and p.given_ml_min < p.flow_ml_min:
        _credit_under_served(k, p, seconds)
    if p.low:
        ledger.low_concentration_s += seconds
    if p.piped:  # what the bank in service gives is credited by manifold_gas.py
        ledger.served_outlet_s += seconds
    if p.piped or p.cylinder != NONE:
        ledger.served_cylinder_s += seconds
        ledger.cylinder_gas += gas
    else:
        ledger.served_concentrator_s += seconds
        ledger.concentrator_gas += gas


def _credit_under_served(k: Record, p: Record, seconds: Whole) -> None:
    """Credit the seconds of one on reduced flow, and the gas that was prescribed beyond it."""
    ledger, missing = k.ledger, p.flow_ml_min - p.given_ml_min
    ledger.missing_gas += seconds * missing
    ledger.deficit_ms += seconds * (1_000 * missing // p.flow_ml_min)
    if is_too_little(k, p.given_ml_min, p.flow_ml_min):
        ledger.short_served_s += seconds
        return
    ledger.under_served_s += seconds
    if k.now > k.midnight_s and not p.under_served:
        p.under_served = True
        k.ledger.patients_under_served += 1


def is_too_little(k: Record, given_ml_min: Whole, prescribed_ml_min: Whole) -> Whole:
    """Return True if a flow is too little of what is prescribed."""
    return given_ml_min == 0 or 1_000 * given_ml_min < k.rules.shortfall_enough_permille * prescribed_ml_min


def step_flow(k: Record, p: Record, step: Whole) -> Whole:
    """Return the flow from one of the class's flow steps on: whole mL/min, half to even."""
    share = flow_step_at(class_at(k, p.class_index).flow_steps, step).share
    return max(1, np.int64(np.rint(p.first_flow_ml_min * share)))


def gas_needed(k: Record, p: Record, from_s: Whole, to_s: Whole) -> Whole:
    """Return the gas of a need between two seconds of a stay, by its flows."""
    kind, gas, flow, start_s = class_at(k, p.class_index), 0, p.first_flow_ml_min, 0
    for step in range(kind.flow_steps_count):
        after_s = flow_step_at(kind.flow_steps, step).after_s
        gas += flow * max(0, min(after_s, to_s) - max(start_s, from_s))
        start_s, flow = after_s, step_flow(k, p, step)
    return gas + flow * max(0, to_s - max(start_s, from_s))


def count_stock_out(k: Record, p: Record, cause: Whole) -> None:
    """Count a stock-out by its cause."""
    if k.ledger.since_stock_out_s == 0:
        k.ledger.since_stock_out_s = k.end_s - k.now
    k.ledger.stock_outs_by_cause[cause] += 1
    ward_at(k, p.ward).stock_outs += 1


def count_interruption(k: Record, p: Record, cause: Whole) -> None:
    """Count an interruption by its cause."""
    if k.ledger.since_interruption_s == 0:
        k.ledger.since_interruption_s = k.end_s - k.now
    k.ledger.interruptions[cause] += 1
    counted_at(k, p.class_index).interruptions += 1
    ward_at(k, p.ward).interruptions += 1
    interrupted_days(k, k.now, k.now + 1)
    if k.now >= k.midnight_s and not p.affected:
        p.affected = True
        k.ledger.patients_affected += 1


def gap_length(k: Record, start_s: Whole, stop_s: Whole) -> None:
    """Count a gap that ends, or is cut by the end of the run, in each length it exceeds within the horizon."""
    if stop_s > k.midnight_s:
        k.ledger.longest_gap_s = max(k.ledger.longest_gap_s, stop_s - start_s)
    if not k.counts_gaps:  # lengths are those of spells
        return
    if stop_s - start_s <= max(_OVER_S[0], k.rules.tolerated_gap_s):
        return  # not longer than the shortest
    for place in range(len(_OVER_S)):
        crossed_s = start_s + max(_OVER_S[place], k.rules.tolerated_gap_s)
        if k.midnight_s <= crossed_s < stop_s:
            k.ledger.longer[place] += 1


def turned_away(k: Record, p: Record) -> None:
    """Count a patient who leaves at once, unserved; the interruption is counted before."""
    _sent_elsewhere(k, p)
    count_transfer(k, p)


def count_transfer(k: Record, p: Record) -> None:
    """Count a patient whose need is met elsewhere from now on, and the part of it that lies in the horizon."""
    seconds = _need_inside(k, p, k.now, k.end_s)
    k.ledger.transferred_s += seconds
    from_s = max(k.now, k.midnight_s) - p.arrival_s
    k.ledger.transferred_gas += gas_needed(k, p, from_s, from_s + seconds)


def count_travel(k: Record, p: Record, travel_s: Whole) -> None:
    """Count a patient who is sent on, and the time on the way."""
    _sent_elsewhere(k, p)
    k.ledger.travel_s += _need_inside(k, p, k.now, k.now + travel_s)


def _sent_elsewhere(k: Record, p: Record) -> None:
    k.ledger.transferred += 1
    counted_at(k, p.class_index).transferred += 1


def _need_inside(k: Record, p: Record, from_s: Whole, to_s: Whole) -> Whole:
    """Return the seconds of need from one second to another that lie in the horizon."""
    need_ends_s = p.arrival_s + p.need_s
    return max(0, min(need_ends_s, to_s, k.end_s) - max(from_s, k.midnight_s))


def drawn_gas(k: Record) -> Whole:
    """Return the gas drawn from cylinders, leaks included."""
    ledger = k.ledger
    return ledger.cylinder_gas + ledger.unneeded_cylinder_gas + ledger.leaked_gas + ledger.transfer_gas


def count_returned(k: Record, s: Record, gas: Whole) -> None:
    """Credit gas that leaves in cylinders of a size."""
    k.ledger.returned_gas += gas
    s.returned_gas_by_size += gas


def count_lost(k: Record, s: Record, gas: Whole) -> None:
    """Count a cylinder of a size that leaves the fleet, with what is in it."""
    k.ledger.cylinders_lost += 1
    s.lost_by_size += 1
    count_returned(k, s, gas)


def gas_in_use(k: Record, s: Record, keep: Whole) -> Whole:
    """Return the gas above a content in cylinders of a size in use, as last credited, and in back-ups at beds."""
    gas, place = 0, k.first_open
    while place != NONE:
        if open_at(k, place).of_size == s.number:
            gas += max(0, open_at(k, place).content - keep)
        place = open_at(k, place).after
    slot = k.first_present if k.at_beds > 0 else NONE
    while slot != NONE:
        p = patient_at(k, slot)
        if p.backup_kind != NONE and p.backup_size == s.number:
            gas += max(0, p.backup_content - keep)
        slot = p.after
    return gas


def clear_ledger(k: Record) -> None:
    """Forget what was counted in the warm-up, but for transferred stays that reach into the horizon."""
    ledger = k.ledger
    stays = ledger.transferred_s, ledger.transferred_gas, ledger.travel_s
    for day in range(k.day_count):
        flag_at(k.days_unserved, day).value = False
    for place in range(_WORDS):
        number_at(k.ledger_words, place).value = 0
    for index in range(k.class_count):
        of_class = counted_at(k, index)
        of_class.interruptions = of_class.unserved_s = of_class.short_s = of_class.transferred = 0
    for number in range(k.ward_count):
        ward = ward_at(k, number)
        ward.stock_outs = ward.interruptions = ward.unserved_s = ward.short_s = 0
    for size in range(k.store_count):
        s = store_at(k, size)
        s.opened_by_size = s.delivered_by_size = s.lost_by_size = s.sent_by_size = s.empty_shelf_s_by_size = 0
        s.received_gas_by_size = s.returned_gas_by_size = s.refilled_gas_by_size = s.drawn_gas_by_size = 0
        s.drawn_before = s.drawn_gas
    ledger.transferred_s, ledger.transferred_gas, ledger.travel_s = stays


compile_file(globals())
