"""Repairs: failures, surges, technicians, the monitor's alarm, analyser checks and preventive service."""

from __future__ import annotations

from o2sim.model.bank import Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import ALARM, DRIFT, FAILURE, SERVICE, Rank, alarm_after_s, next_multiple_s
from o2sim.model.state import State, call_off
from o2sim.model.steps.ages import next_life_s, stop_life
from o2sim.model.steps.funds import pay_for_repair
from o2sim.model.steps.gaps import attended, wait
from o2sim.model.steps.staff import call_off_staff
from o2sim.model.steps.units import RunningTimer, cut_off, drifts_low, reckon_low, resume


def begin_units(state: State) -> None:
    """Let the units that work begin their lives, each at its age, and the others wait for a repair."""
    for unit in state.bank.units if state.bank is not None else ():
        if unit.working:
            new_life(state, unit)
        else:
            unit.failed += 1
            send_for_repair(state, unit, 0)


def new_life(state: State, unit: Unit) -> None:
    """Draw how long a new or repaired unit works."""
    live_on(state, unit, next_life_s(unit))
    renew(state, unit)


def live_on(state: State, unit: Unit, life_s: int) -> None:
    """Let a unit fail after so long; -1: it never does."""
    if life_s >= 0:
        if unit.rules.failure_clock == "calendar":
            due_s = unit.fails_s = state.now + life_s
            unit.fail_event = state.clock.at(due_s, Rank.UNIT_FAILS, unit.number, unit_fails, unit)
        else:
            unit.timers[FAILURE] = RunningTimer(life_s, FAILURE, unit_fails)


def renew(state: State, unit: Unit) -> None:
    """Set the running clocks of a new, repaired or serviced unit: drift, alarm, the next service."""
    every_s = unit.rules.service_every_s
    falls_s = -1 if unit.drifts is None else unit.drifts[unit.renewed]
    set_clocks(state, unit, falls_s, 0, -1 if every_s is None else every_s)
    unit.renewed += 1


def set_clocks(state: State, unit: Unit, drift_s: int, drift_age_s: int, service_s: int) -> None:
    """Set how long a unit runs until it drifts low, which it has approached so long, alarms, and is serviced."""
    rules = unit.rules
    unit.drifted = False
    if drift_s >= 0:
        unit.timers[DRIFT] = RunningTimer(drift_s, DRIFT, unit_drifts)
        if rules.alarm_permille is not None:
            alarm_s = alarm_after_s(drift_age_s + drift_s, rules.alarm_permille) - drift_age_s
            unit.timers[ALARM] = RunningTimer(max(drift_age_s > 0, alarm_s), ALARM, unit_alarms)
    if service_s >= 0:
        unit.timers[SERVICE] = RunningTimer(service_s, SERVICE, service_begins)
    reckon_low(state, unit)


def unit_fails(state: State, unit: Unit) -> None:
    """A concentrator fails; its patients lose their supply and the repair begins."""
    state.note("unit fails", unit.number, len(unit.patients))
    _take_out(state, unit)


def _take_out(state: State, unit: Unit) -> None:
    """Put a unit out of service until it is repaired, if it ever is."""
    state.ledger.concentrator_failures += 1
    unit.working = False
    for event in (unit.fail_event, unit.check_event, unit.service_event):
        if event is not None:
            event.cancel()
    cut_off(state, unit)
    stop_life(state, unit)
    failure, unit.failed = unit.failed, unit.failed + 1
    share = unit.rules.never_repaired
    if share > 0 and state.draws.draw("never repaired", unit.item, failure) < share:
        state.note("unit written off", unit.number)
        state.ledger.concentrators_written_off += 1
    else:
        send_for_repair(state, unit, failure)


def send_for_repair(state: State, unit: Unit, failure: int) -> None:
    """Let a unit be repaired, or wait for a technician or for the money."""
    if state.for_technician or state.technicians_free == 0:
        wait_for_technician(state, unit, failure)
    elif pay_for_repair(state, unit):
        _send_technician(state, unit, failure)
    else:
        state.note("repair lacks money", unit.number)
        wait_for_technician(state, unit, failure)


def _send_technician(state: State, unit: Unit, failure: int) -> None:
    """Let somebody of the crew, if one is counted, go to a unit and repair it."""
    travel_s = 0
    if state.technicians_free is not None:
        state.technicians_free -= 1
        if unit.rules.travel_s is not None:
            travel_s = state.draws.travel(unit.rules.travel_s, unit.item)[failure]
    _repair(state, unit, failure, travel_s)


def begin_waiting_repairs(state: State) -> None:
    """Money has come: repairs that waited for it begin, in order of failure, as far as it goes."""
    while state.for_technician and state.technicians_free != 0:
        if not pay_for_repair(state, state.for_technician[0][0]):
            return
        _send_technician(state, *state.for_technician.popleft())


def wait_for_technician(state: State, unit: Unit, failure: int) -> None:
    """Put a unit at the end of those that wait for a technician, or for money."""
    state.for_technician.append((unit, failure))


def _repair(state: State, unit: Unit, failure: int, travel_s: int) -> None:
    assert unit.repairs is not None
    begin_repair(state, unit, travel_s + unit.repairs[failure])


def begin_repair(state: State, unit: Unit, repair_s: int) -> None:
    """Let a unit that is out of order be repaired after so long."""
    state.levels.in_repair += 1
    due_s = state.now + repair_s
    state.clock.at(due_s, Rank.REPAIR_DONE, unit.number, repair_done, unit)


def repair_done(state: State, unit: Unit) -> None:
    """A concentrator works again; the technician, if crews are counted, goes on to the next that waits."""
    state.note("repair done", unit.number)
    state.levels.in_repair -= 1
    if state.technicians_free is not None:
        if state.for_technician and pay_for_repair(state, state.for_technician[0][0]):
            _repair(state, *state.for_technician.popleft(), 0)
        else:
            state.technicians_free += 1
    unit.working = True
    new_life(state, unit)
    resume(state, unit)


def surge(state: State) -> None:
    """The grid comes back: its surge may destroy units in order, where no stabiliser keeps it from them."""
    if state.bank is None or state.chain.rules.stabiliser:
        return
    for unit in state.bank.units:
        damage = unit.rules.cut_damage
        if damage and unit.working and state.draws.draw("surge", unit.item, state.cut_number) < damage:
            unit_fails(state, unit)


def unit_drifts(state: State, unit: Unit) -> None:
    """A unit falls below 82 % oxygen: the next check with an analyser finds it."""
    del unit.timers[DRIFT]
    drifts_low(state, unit)
    if unit.rules.analyser_check_s is not None:
        due_s = next_multiple_s(state.now, unit.rules.analyser_check_s, state.midnight_s)
        unit.check_event = state.clock.at(due_s, Rank.GAUGE_CHECK, unit.number, analyser_check, unit)


def analyser_check(state: State, unit: Unit) -> None:
    """A unit is found below 82 % oxygen and taken out."""
    state.note("analyser check", unit.number, len(unit.patients))
    _take_out(state, unit)


def unit_alarms(state: State, unit: Unit) -> None:
    """The oxygen monitor alarms: the unit is taken out."""
    state.note("unit alarms", unit.number, len(unit.patients))
    _take_out(state, unit)


def service_begins(state: State, unit: Unit) -> None:
    """A unit is due for preventive service; its patients are moved by plan, without a loss of supply."""
    state.note("service begins", unit.number, len(unit.patients))
    unit.working = False
    call_off(unit, "check_event")  # nothing is left for the analyser to find
    state.ledger.services += 1
    cut_off(state, unit, then=_move)
    due_s = state.now + unit.rules.service_time_s
    item = unit.number + SERVICE
    unit.service_event = state.clock.at(due_s, Rank.REPAIR_DONE, item, service_done, unit)


def _move(state: State, patient: Patient) -> None:
    patient.unit = None
    call_off_staff(state, patient)  # from a move to another source
    attended(state, patient)
    wait(state, patient)


def service_done(state: State, unit: Unit) -> None:
    """A serviced unit gives its full concentration again."""
    state.note("service done", unit.number)
    unit.working = True
    renew(state, unit)
    resume(state, unit)
