"""Repairs: failures, surges, technicians, the monitor's alarm, analyser checks and preventive service."""

from __future__ import annotations

import numpy as np

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.philox import uniform
from o2sim.model.kernel.ages import CALENDAR, next_life_s, stop_life, unit_draw
from o2sim.model.kernel.bank import set_working
from o2sim.model.kernel.codes import LOG, RANK, STEP, STREAM
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.funds import pay_for_repair
from o2sim.model.kernel.layout import NONE, note, rules_of, unit_at
from o2sim.model.kernel.records import TIMERS
from o2sim.model.kernel.units import cut_off, drifts_low, reckon_low, resume
from o2sim.model.rules import FULL_PERMILLE, LOW_PERMILLE, SERVICE

_FAILURE, _DRIFT, _ALARM, _SERVICE = range(TIMERS)


def begin_units(k: Record) -> None:
    """Let the units that work begin their lives, each at its age, and the others wait for a repair."""
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.working:
            new_life(k, u)
        else:
            u.failed += 1
            send_for_repair(k, u, 0)


def new_life(k: Record, u: Record) -> None:
    """Draw how long a new or repaired unit works."""
    live_on(k, u, next_life_s(k, u))
    renew(k, u)


def live_on(k: Record, u: Record, life_s: Whole) -> None:
    """Let a unit fail after so long; -1: it never does."""
    if life_s >= 0:
        if rules_of(k, u).failure_clock == CALENDAR:
            due_s = u.fails_s = k.now + life_s
            u.fail_event = schedule(k, due_s, RANK.UNIT_FAILS, u.number, STEP.UNIT_FAILS, u.number, 0)
        else:
            u.timer_set[_FAILURE], u.timer_remaining_s[_FAILURE] = True, life_s


def renew(k: Record, u: Record) -> None:
    """Set the running clocks of a new, repaired or serviced unit: drift, alarm, the next service."""
    c, falls_s = rules_of(k, u), -1
    if c.drift_s.kind >= 0:
        falls_s = unit_draw(k, c.drift_s, STREAM.CONCENTRATOR_DRIFT, u, u.renewed, 1)
    set_clocks(k, u, falls_s, 0, c.service_every_s)
    u.renewed += 1


def set_clocks(k: Record, u: Record, drift_s: Whole, drift_age_s: Whole, service_s: Whole) -> None:
    """Set how long a unit runs until it drifts low, which it has approached so long, alarms, and is serviced."""
    alarm_permille = rules_of(k, u).alarm_permille
    u.drifted = False
    if drift_s >= 0:
        u.timer_set[_DRIFT], u.timer_remaining_s[_DRIFT] = True, drift_s
        if alarm_permille != NONE:
            share = FULL_PERMILLE - alarm_permille
            alarm_s = (drift_age_s + drift_s) * share // (FULL_PERMILLE - LOW_PERMILLE) - drift_age_s
            u.timer_set[_ALARM], u.timer_remaining_s[_ALARM] = True, max(np.int64(drift_age_s > 0), alarm_s)
    if service_s >= 0:
        u.timer_set[_SERVICE], u.timer_remaining_s[_SERVICE] = True, service_s
    reckon_low(k, u)


def unit_fails(k: Record, u: Record) -> None:
    """A concentrator fails; its patients lose their supply and the repair begins."""
    note(k, LOG.UNIT_FAILS, u.number, u.patient_count, -1)
    _take_out(k, u)


def _take_out(k: Record, u: Record) -> None:
    """Put a unit out of service until it is repaired, if it ever is."""
    k.ledger.concentrator_failures += 1
    set_working(k, u, False)
    u.fail_event = call_off(k, u.fail_event)
    u.check_event = call_off(k, u.check_event)
    u.service_event = call_off(k, u.service_event)
    cut_off(k, u, False)
    stop_life(k, u)
    failure = u.failed
    u.failed += 1
    share = rules_of(k, u).never_repaired
    if share > 0 and uniform(k.seed, k.replication, STREAM.NEVER_REPAIRED, u.word, failure) < share:
        note(k, LOG.UNIT_WRITTEN_OFF, u.number, -1, -1)
        k.ledger.concentrators_written_off += 1
    else:
        send_for_repair(k, u, failure)


def send_for_repair(k: Record, u: Record, failure: Whole) -> None:
    """Let a unit be repaired, or wait for a technician or for the money."""
    if k.first_for_technician != NONE or k.technicians_free == 0:
        wait_for_technician(k, u, failure)
    elif pay_for_repair(k, u):
        _send_technician(k, u, failure)
    else:
        note(k, LOG.REPAIR_LACKS_MONEY, u.number, -1, -1)
        wait_for_technician(k, u, failure)


def _send_technician(k: Record, u: Record, failure: Whole) -> None:
    """Let somebody of the crew, if one is counted, go to a unit and repair it."""
    law, travel_s = rules_of(k, u).travel_s, 0
    if k.rules.concentrators_crew != NONE:
        k.technicians_free -= 1
        if law.kind >= 0:
            travel_s = unit_draw(k, law, STREAM.TECHNICIAN_TRAVEL, u, failure, 0)
    _repair(k, u, failure, travel_s)


def begin_waiting_repairs(k: Record) -> None:
    """Money has come: repairs that waited for it begin, in order of failure, as far as it goes."""
    while k.first_for_technician != NONE and k.technicians_free != 0:
        if not pay_for_repair(k, unit_at(k, k.first_for_technician)):
            return
        waits = _next_for_technician(k)
        _send_technician(k, waits, waits.for_technician)


def _next_for_technician(k: Record) -> Record:
    """Take the first out of the units that wait for a technician, or for money."""
    waits = unit_at(k, k.first_for_technician)
    k.first_for_technician = waits.next_for_technician
    return waits


def wait_for_technician(k: Record, u: Record, failure: Whole) -> None:
    """Put a unit at the end of those that wait for a technician, or for money."""
    u.for_technician, u.next_for_technician = failure, NONE
    if k.first_for_technician == NONE:
        k.first_for_technician = u.number
    else:
        unit_at(k, k.last_for_technician).next_for_technician = u.number
    k.last_for_technician = u.number


def _repair(k: Record, u: Record, failure: Whole, travel_s: Whole) -> None:
    law = rules_of(k, u).repair_s
    begin_repair(k, u, travel_s + unit_draw(k, law, STREAM.CONCENTRATOR_REPAIR, u, failure, 1))


def begin_repair(k: Record, u: Record, repair_s: Whole) -> None:
    """Let a unit that is out of order be repaired after so long."""
    k.in_repair += 1
    due_s = k.now + repair_s
    schedule(k, due_s, RANK.REPAIR_DONE, u.number, STEP.REPAIR_DONE, u.number, 0)


def repair_done(k: Record, u: Record) -> None:
    """A concentrator works again; the technician, if crews are counted, goes on to the next that waits."""
    note(k, LOG.REPAIR_DONE, u.number, -1, -1)
    k.in_repair -= 1
    if k.rules.concentrators_crew != NONE:
        if k.first_for_technician != NONE and pay_for_repair(k, unit_at(k, k.first_for_technician)):
            waits = _next_for_technician(k)
            _repair(k, waits, waits.for_technician, 0)
        else:
            k.technicians_free += 1
    set_working(k, u, True)
    new_life(k, u)
    resume(k, u)


def surge(k: Record) -> None:
    """The grid comes back: its surge may destroy units in order, where no stabiliser keeps it from them."""
    if not k.has_bank or k.rules.power_stabiliser:
        return
    for number in range(k.unit_count):
        u = unit_at(k, number)
        damage = rules_of(k, u).cut_damage
        if damage > 0 and u.working:
            if uniform(k.seed, k.replication, STREAM.SURGE, u.word, k.cut_number) < damage:
                unit_fails(k, u)


def unit_drifts(k: Record, u: Record) -> None:
    """A unit falls below 82 % oxygen: the next check with an analyser finds it."""
    u.timer_set[_DRIFT] = False
    drifts_low(k, u)
    every_s = rules_of(k, u).analyser_check_s
    if every_s != NONE:
        due_s = k.now + (k.midnight_s - k.now) % every_s
        u.check_event = schedule(k, due_s, RANK.GAUGE_CHECK, u.number, STEP.ANALYSER_CHECK, u.number, 0)


def analyser_check(k: Record, u: Record) -> None:
    """A unit is found below 82 % oxygen and taken out."""
    note(k, LOG.ANALYSER_CHECK, u.number, u.patient_count, -1)
    _take_out(k, u)


def unit_alarms(k: Record, u: Record) -> None:
    """The oxygen monitor alarms: the unit is taken out before it falls below 82 %."""
    note(k, LOG.UNIT_ALARMS, u.number, u.patient_count, -1)
    _take_out(k, u)


def service_begins(k: Record, u: Record) -> None:
    """A unit is due for preventive service; its patients are moved by plan, without a loss of supply."""
    note(k, LOG.SERVICE_BEGINS, u.number, u.patient_count, -1)
    set_working(k, u, False)
    u.check_event = call_off(k, u.check_event)  # nothing is left for the analyser to find
    k.ledger.services += 1
    cut_off(k, u, True)
    due_s = k.now + rules_of(k, u).service_time_s
    item = u.number + SERVICE
    u.service_event = schedule(k, due_s, RANK.REPAIR_DONE, item, STEP.SERVICE_DONE, u.number, 0)


def service_done(k: Record, u: Record) -> None:
    """A serviced unit gives its full concentration again."""
    note(k, LOG.SERVICE_DONE, u.number, -1, -1)
    set_working(k, u, True)
    renew(k, u)
    resume(k, u)


compile_file(globals())
