"""Allocation: `settle`, the only place where anybody is given a source; see the step of this name."""

from __future__ import annotations

from o2sim import jit
from o2sim.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.bedside import (
    CYLINDER,
    begin_change,
    change_watched,
    connect_cylinder,
    may_open,
    on_cylinder_in_order,
    release_cylinder,
)
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.gaps import begin_response, call_off_staff, on_duty, set_cause, stop_waiting, wait
from o2sim.model.kernel.layout import NONE, note, note_code, number_at, patient_at, rules, unit_at, waiting_at
from o2sim.model.kernel.patients import patient_leaves, release, send_on, transfer
from o2sim.model.kernel.power import carry_load
from o2sim.model.kernel.queues import leave_line
from o2sim.model.kernel.store import keep_gas, runs_out_after_s
from o2sim.model.kernel.units import any_working, connect_unit, lacks_power, unit_with_room
from o2sim.outcome import Cause

_NO_REGULATOR, _NO_CYLINDER, _TOO_HIGH, _NO_POWER, _DOWN, _FULL, _STAFF = (
    int(cause)
    for cause in (
        Cause.NO_REGULATOR,
        Cause.NO_CYLINDER,
        Cause.FLOW_TOO_HIGH,
        Cause.NO_POWER,
        Cause.CONCENTRATOR_DOWN,
        Cause.CONCENTRATORS_FULL,
        Cause.WAITING_FOR_STAFF,
    )
)
_DISPLACED = note_code("displaced")
_BY_UNIT, _BY_CYLINDER = 0, 1


@jit.compiled
def settle(k: Record) -> None:
    """Answer calls; serve the line by priority, then arrival; bring others back to units; name the causes.

    Last, what now runs is taken from battery and tank.
    """
    _serve(k)
    if k.call_count > 0:
        while k.call_count > 0 and k.busy < on_duty(k):  # a cylinder opened just now gives nothing
            _serve(k)
        for place in range(k.call_count):
            slot = waiting_at(k.calls, place).slot
            if patient_at(k, slot).gap_since_s != NONE:
                set_cause(k, slot, patient_at(k, slot), _STAFF)
    place = 0
    while place < k.line_count:
        slot = waiting_at(k.line, place).slot
        p = patient_at(k, slot)
        if not p.needs:  # given oxygen without need, or weaned late: does without
            patient_leaves(k, slot, p)
            continue
        set_cause(k, slot, p, _reason(k, p))
        if p.transfers and (p.displaced or p.arrival_s == k.now):
            transfer(k, slot, p)
        elif p.transfer_due:
            send_on(k, slot, p)
        else:
            place += 1
    carry_load(k)


@jit.compiled
def _serve(k: Record) -> None:
    if k.call_count > 0:
        _answer_calls(k)
    _serve_line(k)
    if rules(k).allocation_preempt:
        _serve_line(k)  # the displaced, and whoever they displace in turn
    if k.stock_came:
        change_watched(k)
    if k.room_made:
        _return_to_concentrators(k)
        _serve_line(k)  # with the cylinders and regulators that came free


@jit.compiled
def _answer_calls(k: Record) -> None:
    """Begin the jobs of those first in line while somebody is free; the rest wait for staff."""
    while k.call_count > 0 and k.busy < on_duty(k):
        slot = waiting_at(k.calls, 0).slot
        k.call_count = leave_line(k.calls, k.call_count, slot)
        p = patient_at(k, slot)
        if p.task == codes.RESPOND:
            begin_response(k, slot, p)
        else:
            begin_change(k, slot, p)


@jit.compiled
def _serve_line(k: Record) -> None:
    """Connect each waiting patient to the first source with room, passing over those nobody can serve."""
    preempt, joined = rules(k).allocation_preempt, k.joined
    place = 0
    while place < k.line_count:
        slot = waiting_at(k.line, place).slot
        p = patient_at(k, slot)
        if p.joined > joined:  # during this round: asked for in the next
            place += 1
            continue
        arrives = p.arrival_s == k.now  # one without need is not connected a second time
        source = _first_source(k, p) if p.needs or arrives else NONE
        if source == NONE and p.needs and preempt and _make_way(k, p):
            source = _first_source(k, p)
        if source == NONE:
            place += 1
            continue
        stop_waiting(k, slot, p)
        p.displaced = False
        if source == _BY_UNIT:
            connect_unit(k, slot, p)
        else:
            connect_cylinder(k, slot, p)


@jit.compiled
def _first_source(k: Record, p: Record) -> Whole:
    """Return the first source in the strategy's order that has room, NONE if none has."""
    r = rules(k)
    for place in range(r.strategy_sources_count):
        if number_at(r.strategy_sources, place).value == CYLINDER:
            if k.has_store and may_open(k, p) and k.regulators_free > 0:
                return _BY_CYLINDER
        elif k.has_bank and unit_with_room(k, p.flow_ml_min) != NONE:
            return _BY_UNIT
    return NONE


@jit.compiled
def _make_way(k: Record, p: Record) -> Whole:
    """Take, from the last in line of a lower priority, a source that is enough; return True if there is one."""
    best, slot = NONE, k.first_present
    while slot != NONE:
        other = patient_at(k, slot)
        if other.flowing and other.priority > p.priority:
            if best == NONE or other.priority >= patient_at(k, best).priority:  # by number among equals
                if _would_do(k, p, other):
                    best = slot
        slot = other.after
    if best == NONE:
        return False
    other = patient_at(k, best)
    note(k, _DISPLACED, other.number, p.number, -1)
    other.supply_event = call_off(k.calendar, other.supply_event)
    call_off_staff(k, best, other)
    release(k, best, other)
    other.displaced = True
    wait(k, best, other)
    return True


@jit.compiled
def _would_do(k: Record, p: Record, other: Record) -> Whole:
    """Return True if what serves another would serve this patient in its place."""
    r = rules(k)
    if other.content != NONE:
        seconds = k.now - other.flow_since_s
        left = other.content - seconds * (other.flow_ml_min + r.cylinders_leak_ml_min)
        return left > keep_gas(r) and runs_out_after_s(left, r, p.flow_ml_min) > 0
    load = unit_at(k, other.unit).load_ml_min - other.flow_ml_min + p.flow_ml_min
    return load <= r.concentrators_rated_flow_ml_min


@jit.compiled
def _reason(k: Record, p: Record) -> Whole:
    """Return why the last source in the strategy's order cannot serve a patient."""
    r = rules(k)
    if number_at(r.strategy_sources, r.strategy_sources_count - 1).value == CYLINDER:
        return _NO_REGULATOR if may_open(k, p) else _NO_CYLINDER
    if p.flow_ml_min > r.concentrators_rated_flow_ml_min:
        return _TOO_HIGH
    if lacks_power(k, p.flow_ml_min):
        return _NO_POWER
    if k.unit_count > 0 and not any_working(k):
        return _DOWN
    return _FULL


@jit.compiled
def _return_to_concentrators(k: Record) -> None:
    """Move patients from cylinders to units that have room, where the strategy puts units first."""
    r = rules(k)
    k.room_made = False
    if not k.has_bank or not r.strategy_return_to_concentrator:
        return
    if number_at(r.strategy_sources, 0).value == CYLINDER or k.first_on_cylinder == NONE:
        return
    count = on_cylinder_in_order(k, False)
    for place in range(count):
        slot = number_at(k.scratch, place).value
        p = patient_at(k, slot)
        if p.flowing and unit_with_room(k, p.flow_ml_min) != NONE:
            p.supply_event = call_off(k.calendar, p.supply_event)
            call_off_staff(k, slot, p)  # who was to change the cylinder
            release_cylinder(k, slot, p)
            connect_unit(k, slot, p)
