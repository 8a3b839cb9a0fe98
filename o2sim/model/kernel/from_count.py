"""From a count: a run begins with the patients, orders, units and power that were met, and goes on from there."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.draws.count_record import ANYWHERE, NEVER_BACK, ON_CYLINDER, ON_UNIT, WAITS, WORKS
from o2sim.model.kernel import chain, store
from o2sim.model.kernel.bank import set_working
from o2sim.model.kernel.bedside import stay_on_cylinder
from o2sim.model.kernel.claims import regulator_free
from o2sim.model.kernel.codes import RANK, SOURCE, STEP
from o2sim.model.kernel.delivery import lacks_delivery, take_delivery
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.gaps import wait
from o2sim.model.kernel.layout import (
    NONE,
    coming_at,
    given_at,
    number_at,
    patient_at,
    start_at,
    store_at,
    unit_at,
    unit_met_at,
)
from o2sim.model.kernel.patients import admit, next_arrival
from o2sim.model.kernel.reduced_flow import on_units
from o2sim.model.kernel.repairs import begin_repair, live_on, set_clocks, wait_for_technician
from o2sim.model.kernel.resupply import put_down
from o2sim.model.kernel.road import arrives_s
from o2sim.model.kernel.sources import connect, first_source
from o2sim.model.kernel.stock import take_stock
from o2sim.model.kernel.units import join, reckon_low


def count_stock(k: Record) -> None:
    """Begin with the cylinders, the charge and the fuel that were counted, and what was numbered before."""
    start = start_at(k, 0)
    if k.has_store:
        store.count(k)
    chain.begin_with(k, start.battery_permille, start.fuel_ml)
    k.orders, k.orders_day, k.orders_on_day = start.orders, start.orders_day, start.orders_on_day


def begin_from_count(k: Record) -> None:
    """Take up what was counted: orders, units, then those on oxygen, each on the source on which they were met."""
    start = start_at(k, 0)
    for place in range(start.coming_count):
        _come(k, coming_at(start.coming, place))
    for number in range(k.unit_count):
        _as_met(k, unit_at(k, number), unit_met_at(start.units, number))
    for place in range(start.given_count):
        _take_up(k, given_at(start.given, place))
    for number in range(k.unit_count):
        u = unit_at(k, number)
        if u.start_event != NONE:  # it has been running
            u.start_event = call_off(k, u.start_event)
            reckon_low(k, u)
    next_arrival(k, start.next)
    take_stock(k)
    schedule(k, k.now, RANK.TIMER_ENDS, 0, STEP.TAKEN_UP, NONE, 0)


def taken_up(_k: Record) -> None:
    """All that was counted is in its place: `settle` looks for what those who wait may have."""


def _come(k: Record, order: Record) -> None:
    """Let an order that was on its way come, as far as road and calendar let it."""
    if k.has_store and k.rules.has_resupply:
        store_at(k, 0).loaded = order.count_
        put_down(k, order.number, arrives_s(k, order.due_s), False, order.day, order.nth)


def _as_met(k: Record, u: Record, met: Record) -> None:
    """Let a unit go on with the rest of its life, or of its repair; one beyond those counted begins new."""
    u.failed, u.renewed = met.failed, met.renewed
    if met.repair_s == WORKS:
        live_on(k, u, met.life_s)
        set_clocks(k, u, met.drift_s, met.drift_age_s, met.service_s)
        return
    set_working(k, u, False)
    if met.repair_s == WAITS:
        wait_for_technician(k, u, u.failed - 1)
    elif met.repair_s != NEVER_BACK:
        if k.rules.concentrators_crew != NONE:
            k.technicians_free -= 1
        begin_repair(k, u, met.repair_s)


def _take_up(k: Record, met: Record) -> None:
    """Leave a patient on the source on which they were met, if all is there for it; else they wait for any."""
    slot = admit(k, met.number)
    if slot == NONE:
        return
    p = patient_at(k, slot)
    p.cylinders = met.cylinders
    if _met_on_cylinder(k, p, met.source) and _stays_on_cylinder(k, p, met.content):
        return
    if met.unit >= 0 and k.has_bank:
        take_delivery(k, p)
        join(k, p, unit_at(k, met.unit), p.flow_ml_min)
        return
    source = NONE
    if met.source == ON_UNIT and not lacks_delivery(k, p):
        source = on_units(k, p)
    elif met.source == ON_CYLINDER or met.source == ANYWHERE:
        source = first_source(k, p)
    if source == NONE:
        wait(k, p)
        return
    take_delivery(k, p)
    connect(k, p, source)


def _met_on_cylinder(k: Record, p: Record, source: Whole) -> Whole:
    """Return True for a patient met on a cylinder, or who has one of those that nobody has counted.

    Where it is not known on what a patient was met, the order of sources says who has one of these.
    """
    if not k.has_store or source != ANYWHERE:
        return k.has_store and source == ON_CYLINDER
    order, last = k.rules.strategy_sources, k.rules.strategy_sources_count - 1
    first_choice = number_at(order, 0).value == SOURCE.CYLINDER
    s = store_at(k, 0)
    if s.lost < 1 or not (first_choice or number_at(order, last).value == SOURCE.CYLINDER):
        return False
    if not first_choice and on_units(k, p) != NONE:
        return False
    if lacks_delivery(k, p) or not regulator_free(k, p, 0):
        return False
    s.lost -= 1
    s.in_use += 1
    return True


def _stays_on_cylinder(k: Record, p: Record, content: Whole) -> Whole:
    """Leave a patient on the cylinder met; if it is empty, or a device is missing, it goes to the store."""
    flows = store.runs_out_after_s(content, store_at(k, 0), p.flow_ml_min) > 0
    if flows and regulator_free(k, p, 0) and not lacks_delivery(k, p):
        take_delivery(k, p)
        stay_on_cylinder(k, p, content)
        return True
    store.put_back(store_at(k, 0), content, p.flow_ml_min, 0, False)
    return False


compile_file(globals())
