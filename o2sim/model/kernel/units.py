"""Concentrators: who is on which unit, and the clocks that go while a unit runs.

See bank.py, units.py and concentration.py of the reference.
"""

from __future__ import annotations

from o2sim import jit
from o2sim.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import call_off_staff, end_gap, lose_supply, wait
from o2sim.model.kernel.layout import (
    NONE,
    TIMERS,
    note,
    note_code,
    number_at,
    patient_at,
    rules,
    unit_at,
)
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.packing import code
from o2sim.model.rules import FAILURE, Rank
from o2sim.scenario.types import Allocation

TIMER_STEPS = (codes.UNIT_FAILS, codes.UNIT_DRIFTS, codes.UNIT_ALARMS, codes.SERVICE_BEGINS)
TIMER_ITEM = 1 << 20  # of the nth clock of a unit: n times this and the unit's number (see rules)
assert FAILURE == 0
_FAILS, _TIMER = int(Rank.UNIT_FAILS), int(Rank.TIMER_ENDS)
_ON_UNIT = note_code("on concentrator")
_LOWEST, _MOST_LOADED = (code(Allocation, "first_unit", word) for word in ("lowest number", "most loaded"))


@jit.compiled
def has_room(k: Record, u: Record, flow_ml_min: Whole) -> Whole:
    """Return True if the unit works and has an outlet and the flow to spare."""
    r = rules(k)
    return (
        u.working
        and u.patient_count < r.concentrators_outlets
        and u.load_ml_min + flow_ml_min <= r.concentrators_rated_flow_ml_min
    )


@jit.compiled
def can_start(k: Record) -> Whole:
    """Return True if there is power for one more running unit."""
    return k.most_running >= k.unit_count > 0 or k.running < k.most_running


@jit.compiled
def has_power(k: Record, u: Record) -> Whole:
    """Return True if there is power for a unit: one that runs has it, another if one more can be carried."""
    return u.patient_count > 0 or can_start(k)


@jit.compiled
def any_working(k: Record) -> Whole:
    """Return True if some unit is not under repair."""
    for number in range(k.unit_count):
        if unit_at(k, number).working:
            return True
    return False


@jit.compiled
def unit_with_room(k: Record, flow_ml_min: Whole) -> Whole:
    """Return the powered, working unit with room for a flow that comes first, NONE if there is none."""
    if not k.has_bank or k.most_running <= 0:
        return NONE
    may_start, first = can_start(k), rules(k).allocation_first_unit
    best, best_load = NONE, 0
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if not (has_room(k, u, flow_ml_min) and (may_start or u.patient_count > 0)):
            continue
        if first == _LOWEST:
            return number
        load = u.load_ml_min if first == _MOST_LOADED else -u.load_ml_min
        if best == NONE or load > best_load:
            best, best_load = number, load
    return best


@jit.compiled
def lacks_power(k: Record, flow_ml_min: Whole) -> Whole:
    """Return True if nothing but power keeps a flow from being served."""
    if k.most_running <= 0:
        return True
    if can_start(k):
        return False
    for number in range(k.unit_count):
        if has_room(k, unit_at(k, number), flow_ml_min):
            return True
    return False


@jit.compiled
def connect_unit(k: Record, slot: Whole, p: Record) -> None:
    """Put a patient on the unit with room that comes first."""
    _join(k, slot, p, unit_at(k, unit_with_room(k, p.flow_ml_min)))


@jit.compiled
def _join(k: Record, slot: Whole, p: Record, u: Record) -> None:
    p.unit_before, p.unit_after = NONE, u.first_patient
    if u.first_patient != NONE:
        patient_at(k, u.first_patient).unit_before = slot
    u.first_patient = slot
    k.running += u.patient_count == 0
    u.patient_count += 1
    u.load_ml_min += p.flow_ml_min
    p.unit = u.number
    end_gap(k, p)
    p.flowing, p.flow_since_s = True, k.now
    note(k, _ON_UNIT, p.number, u.number, -1)
    run_clock(k, u)
    p.low = u.low


@jit.compiled
def release_unit(k: Record, p: Record) -> None:
    """Take a patient off the unit that serves, or that was lost and is being responded to."""
    if p.unit != NONE and p.flowing:
        u = unit_at(k, p.unit)
        credit_served(k, p)
        p.flowing = p.low = False
        if p.unit_before == NONE:
            u.first_patient = p.unit_after
        else:
            patient_at(k, p.unit_before).unit_after = p.unit_after
        if p.unit_after != NONE:
            patient_at(k, p.unit_after).unit_before = p.unit_before
        u.patient_count -= 1
        k.running -= u.patient_count == 0
        u.load_ml_min -= p.flow_ml_min
        k.room_made = True
        run_clock(k, u)
    p.unit, p.responding = NONE, False


@jit.compiled
def cut_off(k: Record, u: Record, by_plan: Whole) -> None:
    """A unit gives nothing any more: its patients lose their supply, or are moved by plan."""
    count, slot = 0, u.first_patient
    while slot != NONE:
        p = patient_at(k, slot)
        place = count  # in scratch, by number
        while place > 0 and patient_at(k, number_at(k.scratch, place - 1).value).number > p.number:
            number_at(k.scratch, place).value = number_at(k.scratch, place - 1).value
            place -= 1
        number_at(k.scratch, place).value = slot
        count += 1
        slot = p.unit_after
    k.running -= u.patient_count > 0
    u.first_patient, u.patient_count, u.load_ml_min = NONE, 0, 0
    for place in range(count):
        p = patient_at(k, number_at(k.scratch, place).value)
        credit_served(k, p)
        p.flowing = p.low = False
    run_clock(k, u)
    for place in range(count):
        slot = number_at(k.scratch, place).value
        p = patient_at(k, slot)
        if by_plan:
            p.unit = NONE
            wait(k, slot, p)
        else:
            lose_supply(k, slot, p)


@jit.compiled
def resume(k: Record, u: Record) -> None:
    """Let a unit that works and has power serve again those it lost whose response is not over."""
    if not (u.working and has_power(k, u)):
        return
    k.room_made = True
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        after = p.after
        if p.responding and p.unit == u.number:
            p.responding = False
            call_off_staff(k, slot, p)
            _join(k, slot, p, u)
        slot = after


@jit.compiled
def run_clock(k: Record, u: Record) -> None:
    """Start or stop the clocks of a unit that starts or stops running (powered, working, serving)."""
    runs = k.most_running > 0 and u.working and u.patient_count > 0
    if runs and u.running_since_s == NONE:
        u.running_since_s = k.now
        starts_up(k, u)
        for clock in range(TIMERS):
            if u.timer_set[clock]:
                due_s = k.now + u.timer_remaining_s[clock]
                u.timer_event[clock] = schedule(
                    k.calendar, due_s, _FAILS, u.number + clock * TIMER_ITEM, TIMER_STEPS[clock], u.number, 0
                )
    elif not runs and u.running_since_s != NONE:
        credit_running(k, u)
        u.running_since_s = NONE
        stops(k, u)
        for clock in range(TIMERS):
            u.timer_event[clock] = call_off(k.calendar, u.timer_event[clock])


@jit.compiled
def credit_running(k: Record, u: Record) -> None:
    """Bring a unit's running hours up to this second."""
    if u.running_since_s == NONE:
        return
    seconds = k.now - u.running_since_s
    k.ledger.concentrator_running_s += seconds
    u.running_since_s = k.now
    for clock in range(TIMERS):
        u.timer_remaining_s[clock] -= seconds


@jit.compiled
def starts_up(k: Record, u: Record) -> None:
    """A unit begins to run: it takes its time to reach concentration."""
    start_up_s = rules(k).concentrators_start_up_s
    if start_up_s > 0:
        due_s = k.now + start_up_s
        u.start_event = schedule(k.calendar, due_s, _TIMER, u.number, codes.UP_TO_CONCENTRATION, u.number, 0)
        reckon_low(k, u)


@jit.compiled
def stops(k: Record, u: Record) -> None:
    """A unit stops: its next start is a start from cold."""
    if u.start_event != NONE:
        u.start_event = call_off(k.calendar, u.start_event)
        reckon_low(k, u)


@jit.compiled
def up_to_concentration(k: Record, u: Record) -> None:
    """A unit has reached its concentration, unless it has drifted."""
    u.start_event = NONE
    reckon_low(k, u)


@jit.compiled
def reckon_low(k: Record, u: Record) -> None:
    """Let those on a unit breathe low concentration while it starts up or has drifted."""
    low = u.start_event != NONE or u.drifted
    if low == u.low:
        return
    slot = u.first_patient
    while slot != NONE:
        p = patient_at(k, slot)
        credit_served(k, p)
        p.low = low
        slot = p.unit_after
    u.low = low
