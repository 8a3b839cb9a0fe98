"""Concentrators: patients on and off, flow given, loss of supply, clocks of a running unit, concentration."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.backup import expect_backup
from o2sim.model.kernel.bank import (
    attach,
    detach,
    flow_from,
    has_power,
    has_room,
    powered,
    reckon_spare,
    unit_with_room,
)
from o2sim.model.kernel.codes import LOG, RANK, STEP
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import attended, end_gap, lose_supply, set_responding, wait
from o2sim.model.kernel.layout import NONE, note, number_at, on_unit, patient_at, rules_of, unit_at
from o2sim.model.kernel.ledger import credit_served
from o2sim.model.kernel.records import TIMERS
from o2sim.model.kernel.staff import call_off_staff
from o2sim.model.rules import FAILURE

TIMER_STEPS = (STEP.UNIT_FAILS, STEP.UNIT_DRIFTS, STEP.UNIT_ALARMS, STEP.SERVICE_BEGINS)
TIMER_ITEM = 1 << 20  # of the nth clock of a unit: n times this and the unit's number (see rules)
assert FAILURE == 0


def connect_unit(k: Record, p: Record) -> None:
    """Put a patient on the unit with room that comes first."""
    join(k, p, unit_at(k, unit_with_room(k, p.flow_ml_min, p.ward, NONE)), p.flow_ml_min)


def join(k: Record, p: Record, u: Record, flow_ml_min: Whole) -> None:
    """Put a patient on a unit for a flow."""
    attach(k, p.slot, u, flow_ml_min)
    p.unit = u.number
    end_gap(k, p)
    give(k, p, flow_ml_min)
    p.flowing, p.flow_since_s = True, k.now
    note(k, LOG.ON_CONCENTRATOR, p.number, u.number, -1)
    _run_clock(k, u)
    p.low = u.low


def move_unit(k: Record, p: Record, u: Record) -> None:
    """Move a patient to another unit by plan, without a gap."""
    flow_ml_min = p.given_ml_min
    release_unit(k, p)
    join(k, p, u, flow_ml_min)


def join_second(k: Record, p: Record, u: Record, flow_ml_min: Whole) -> None:
    """Let a second unit give a part of a patient's flow."""
    attach(k, p.slot, u, flow_ml_min)
    give(k, p, p.given_ml_min + flow_ml_min)
    p.second_unit, p.second_ml_min = u.number, flow_ml_min
    note(k, LOG.SECOND_CONCENTRATOR, p.number, u.number, flow_ml_min)
    _run_clock(k, u)
    p.low = breathes_low(k, p)


def release_unit(k: Record, p: Record) -> None:
    """Take a patient off the unit that serves, or that was lost and is being responded to."""
    if p.unit != NONE and p.flowing:
        flow_stops(k, p)
        _leave(k, p, unit_at(k, p.unit))
        if p.second_unit != NONE:
            _leave(k, p, unit_at(k, p.second_unit))
    set_responding(k, p, False)
    p.unit = p.second_unit = NONE
    p.second_ml_min = 0


def _leave(k: Record, p: Record, u: Record) -> None:
    detach(k, p.slot, u, flow_from(p, u.number))
    k.room_made = True
    _run_clock(k, u)


def leave_second(k: Record, p: Record) -> None:
    """Take a patient on two units off the second."""
    give(k, p, p.given_ml_min - p.second_ml_min)
    second = unit_at(k, p.second_unit)
    detach(k, p.slot, second, p.second_ml_min)
    p.second_unit, p.second_ml_min = NONE, 0
    p.low = breathes_low(k, p)
    k.room_made = True
    _run_clock(k, second)


def turn_down(k: Record, p: Record) -> None:
    """Take what one needs less off the units, the second one first; who is given less than that keeps it."""
    less = max(0, p.given_ml_min - p.flow_ml_min)
    k.room_made = k.room_made or less > 0
    if p.second_unit != NONE:
        part = min(less, p.second_ml_min)
        if part == p.second_ml_min:
            leave_second(k, p)
        else:
            second = unit_at(k, p.second_unit)
            second.load_ml_min -= part
            reckon_spare(k, second)
            p.second_ml_min -= part
            p.given_ml_min -= part
        less -= part
    u = unit_at(k, p.unit)
    u.load_ml_min -= less
    reckon_spare(k, u)
    give(k, p, p.given_ml_min - less)


def cut_off(k: Record, u: Record, by_plan: Whole) -> None:
    """A unit gives nothing any more: its patients lose their supply, or are moved by plan."""
    lost, count = u.patient_count, 0
    for nth in range(lost):  # those on it in scratch, by number
        slot = on_unit(k, u.number, nth).value
        place = nth
        while (
            place > 0 and patient_at(k, number_at(k.scratch, place - 1).value).number > patient_at(k, slot).number
        ):
            number_at(k.scratch, place).value = number_at(k.scratch, place - 1).value
            place -= 1
        number_at(k.scratch, place).value = slot
    if lost > 0:
        k.running -= 1
        k.running_w -= u.watts
    k.outlets_used -= lost
    u.patient_count, u.load_ml_min = 0, 0
    reckon_spare(k, u)
    for place in range(lost):
        slot = number_at(k.scratch, place).value
        if not _falls_back(k, patient_at(k, slot), u):
            number_at(k.scratch, count).value = slot
            count += 1
    for place in range(count):
        flow_stops(k, patient_at(k, number_at(k.scratch, place).value))
    _run_clock(k, u)
    for place in range(count):
        slot = number_at(k.scratch, place).value
        p = patient_at(k, slot)
        if by_plan:
            p.unit = NONE
            call_off_staff(k, p)  # from a move to another source
            attended(k, p)
            wait(k, p)
        else:
            expect_backup(k, p)
            lose_supply(k, p)


def _falls_back(k: Record, p: Record, lost: Record) -> Whole:
    """Leave a patient who had two units on the other, on reduced flow; False where there was no other."""
    if p.second_unit == NONE:
        return False
    other = p.unit if p.second_unit == lost.number else p.second_unit
    give(k, p, p.given_ml_min - flow_from(p, lost.number))
    p.unit, p.second_unit, p.second_ml_min = other, NONE, 0
    p.low = breathes_low(k, p)
    note(k, LOG.REDUCED_FLOW, p.number, other, p.given_ml_min)
    return True


def resume(k: Record, u: Record) -> None:
    """Let a unit that works and has power serve again, as it did, those it lost whose response is not over."""
    k.units_changed = True
    if not (u.working and has_power(k, u)):
        return
    k.room_made = True
    slot = u.first_lost
    while slot != NONE:
        p = patient_at(k, slot)
        after = p.lost_after
        flow_ml_min = min(p.given_ml_min, p.flow_ml_min)
        if has_room(u, flow_ml_min):
            set_responding(k, p, False)
            call_off_staff(k, p)
            join(k, p, u, flow_ml_min)
        slot = after


def _run_clock(k: Record, u: Record) -> None:
    """Start or stop the clocks of a unit that starts or stops running (powered, working, serving)."""
    k.units_changed = True
    runs = powered(k) and u.working and u.patient_count > 0
    if runs and u.running_since_s == NONE:
        u.running_since_s = k.now
        starts_up(k, u)
        for clock in range(TIMERS):
            if u.timer_set[clock]:
                due_s, item = k.now + u.timer_remaining_s[clock], u.number + clock * TIMER_ITEM
                step = TIMER_STEPS[clock]
                u.timer_event[clock] = schedule(k, due_s, RANK.UNIT_FAILS, item, step, u.number, 0)
    elif not runs and u.running_since_s != NONE:
        credit_running(k, u)
        u.running_since_s = NONE
        stops(k, u)
        for clock in range(TIMERS):
            u.timer_event[clock] = call_off(k, u.timer_event[clock])


def credit_running(k: Record, u: Record) -> None:
    """Bring a unit's running hours up to this second."""
    if u.running_since_s == NONE:
        return
    seconds = k.now - u.running_since_s
    k.ledger.concentrator_running_s += seconds
    u.running_s += seconds
    u.running_since_s = k.now
    for clock in range(TIMERS):
        u.timer_remaining_s[clock] -= seconds


def starts_up(k: Record, u: Record) -> None:
    """A unit begins to run: it takes its time to reach concentration."""
    start_up_s = rules_of(k, u).start_up_s
    if start_up_s > 0:
        due_s = k.now + start_up_s
        u.start_event = schedule(k, due_s, RANK.TIMER_ENDS, u.number, STEP.UP_TO_CONCENTRATION, u.number, 0)
        reckon_low(k, u)


def stops(k: Record, u: Record) -> None:
    """A unit stops: its next start is a start from cold."""
    if u.start_event != NONE:
        u.start_event = call_off(k, u.start_event)
        reckon_low(k, u)


def up_to_concentration(k: Record, u: Record) -> None:
    """A unit has reached its concentration, unless it has drifted."""
    u.start_event = NONE
    reckon_low(k, u)


def drifts_low(k: Record, u: Record) -> None:
    """A unit has drifted below 82 % oxygen."""
    note(k, LOG.UNIT_DRIFTS_LOW, u.number, u.patient_count, -1)
    u.drifted = True
    reckon_low(k, u)


def reckon_low(k: Record, u: Record) -> None:
    """Let those on a unit breathe low concentration while it starts up or has drifted."""
    low = u.start_event != NONE or u.drifted
    if low == u.low:
        return
    u.low = low
    for place in range(u.patient_count):
        p = patient_at(k, on_unit(k, u.number, place).value)
        credit_served(k, p)
        p.low = breathes_low(k, p)


def breathes_low(k: Record, p: Record) -> Whole:
    """Return True if a unit that serves a patient gives low concentration."""
    if p.unit == NONE:
        return False
    return unit_at(k, p.unit).low or (p.second_unit != NONE and unit_at(k, p.second_unit).low)


def give(k: Record, p: Record, flow_ml_min: Whole) -> None:
    """Let a patient have a flow from now on; less than prescribed is reduced flow: served, but under-served."""
    if p.flowing:
        credit_served(k, p)
    p.given_ml_min = flow_ml_min
    _set_reduced(k, p, flow_ml_min < p.flow_ml_min)


def flow_stops(k: Record, p: Record) -> None:
    """Units give a patient nothing from now on."""
    credit_served(k, p)
    p.flowing = p.low = False
    _set_reduced(k, p, False)


def _set_reduced(k: Record, p: Record, reduced: Whole) -> None:
    if reduced == p.reduced:
        return
    p.reduced = reduced
    if reduced:
        k.reduced_count += 1
        p.reduced_before, p.reduced_after = NONE, k.first_reduced
        if k.first_reduced != NONE:
            patient_at(k, k.first_reduced).reduced_before = p.slot
        k.first_reduced = p.slot
        return
    k.reduced_count -= 1
    if p.reduced_before == NONE:
        k.first_reduced = p.reduced_after
    else:
        patient_at(k, p.reduced_before).reduced_after = p.reduced_after
    if p.reduced_after != NONE:
        patient_at(k, p.reduced_after).reduced_before = p.reduced_before


compile_file(globals())
