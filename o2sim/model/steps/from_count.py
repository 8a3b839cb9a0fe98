"""From a count: a run begins with the patients, orders, units and power that were met, and goes on from there."""

from __future__ import annotations

import datetime as dt

from o2sim.draws.count_record import ANYWHERE, NEVER_BACK, ON_CYLINDER, ON_UNIT, WAITS, WORKS, Start
from o2sim.model.bank import Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import Rank, runs_out_after_s
from o2sim.model.state import State, call_off, there
from o2sim.model.steps.bedside import stay_on_cylinder
from o2sim.model.steps.claims import regulator_free
from o2sim.model.steps.delivery import lacks_delivery, take_delivery
from o2sim.model.steps.gaps import wait
from o2sim.model.steps.patients import admit, next_arrival
from o2sim.model.steps.reduced_flow import on_units
from o2sim.model.steps.repairs import begin_repair, live_on, set_clocks, wait_for_technician
from o2sim.model.steps.resupply import put_down
from o2sim.model.steps.road import arrives_s
from o2sim.model.steps.sources import first_source
from o2sim.model.steps.units import join, reckon_low
from o2sim.model.store import Order


def begin_from_count(state: State) -> None:
    """Take up what was counted: orders, units, then those on oxygen, each on the source on which they were met."""
    start = there(state.start)
    for row in start.coming:
        _come(state, *(int(value) for value in row))
    for unit in state.bank.units if state.bank is not None else ():
        _as_met(state, unit, start)
    for row in start.given:
        _take_up(state, *(int(value) for value in row))
    for unit in state.bank.units if state.bank is not None else ():
        if unit.start_event is not None:  # it has been running
            call_off(unit, "start_event")
            reckon_low(state, unit)
    next_arrival(state, start["next"])
    state.take_stock()
    state.clock.at(state.now, Rank.TIMER_ENDS, 0, taken_up)


def taken_up(_state: State) -> None:
    """All that was counted is in its place: `settle` looks for what those who wait may have."""


def _come(state: State, number: int, count: int, due_s: int, day: int, nth: int) -> None:
    """Let an order that was on its way come, as far as road and calendar let it."""
    if state.store is None or state.rules.resupply is None:
        return
    order = Order(number, [count], arrives_s(state, due_s), emergency=False, day=dt.date.fromordinal(day), nth=nth)
    put_down(state, order)


def _as_met(state: State, unit: Unit, start: Start) -> None:
    """Let a unit go on with the rest of its life, or of its repair; one beyond those counted begins new."""
    met = start.units[unit.number]
    repair_s, life_s, drift_s, drift_age_s, service_s, failed, renewed = (int(value) for value in met)
    unit.failed, unit.renewed = failed, renewed
    if repair_s == WORKS:
        live_on(state, unit, life_s)
        set_clocks(state, unit, drift_s, drift_age_s, service_s)
        return
    unit.working = False
    if repair_s == WAITS:
        wait_for_technician(state, unit, failed - 1)
    elif repair_s != NEVER_BACK:
        if state.technicians_free is not None:
            state.technicians_free -= 1
        begin_repair(state, unit, repair_s)


def _take_up(state: State, number: int, source: int, unit: int, content: int, cylinders: int) -> None:
    """Leave a patient on the source on which they were met, if all is there for it; else they wait for any."""
    patient = admit(state, number)
    patient.cylinders = cylinders
    if _met_on_cylinder(state, patient, source) and _stays_on_cylinder(state, patient, content):
        return
    if unit >= 0 and state.bank is not None:
        take_delivery(state, patient)
        join(state, patient, state.bank.units[unit], patient.flow_ml_min)
        return
    connect = None
    if source == ON_UNIT and not lacks_delivery(state, patient):
        connect = on_units(state, patient)
    elif source in (ON_CYLINDER, ANYWHERE):
        connect = first_source(state, patient)
    if connect is None:
        wait(state, patient)
        return
    take_delivery(state, patient)
    connect(state, patient)


def _met_on_cylinder(state: State, patient: Patient, source: int) -> bool:
    """Return True for a patient met on a cylinder, or who has one of those that nobody has counted.

    Where it is not known on what a patient was met, the order of sources says who has one of these.
    """
    store, order = state.store, state.rules.strategy.sources
    if store is None or source != ANYWHERE:
        return store is not None and source == ON_CYLINDER
    no_unit = order[0] == "cylinder" or on_units(state, patient) is None
    has_one = "cylinder" in order and store.lost > 0 and no_unit
    if has_one and not lacks_delivery(state, patient) and regulator_free(state, patient, store):
        store.lost -= 1
        store.in_use += 1
        return True
    return False


def _stays_on_cylinder(state: State, patient: Patient, content: int) -> bool:
    """Leave a patient on the cylinder met; if it is empty, or a device is missing, it goes to the store."""
    store, rules = there(state.store), state.cylinder_rules
    flows = runs_out_after_s(content, rules, patient.flow_ml_min) > 0
    if flows and regulator_free(state, patient, store) and not lacks_delivery(state, patient):
        take_delivery(state, patient)
        stay_on_cylinder(state, patient, content)
        return True
    store.put_back(content, patient.flow_ml_min)
    return False
