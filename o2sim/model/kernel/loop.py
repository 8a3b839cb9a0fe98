"""The loop of the compiled engine: take the next event, run its step, settle; until the end of the horizon."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import (
    battery,
    bedside,
    codes,
    concentration,
    days,
    fetching,
    flow_steps,
    gaps,
    generator,
    jobs,
    losses,
    manifold,
    manifold_banks,
    moving,
    patients,
    power,
    repairs,
    resupply,
    sent_on,
    solar,
    staff,
)
from o2sim.model.kernel.allocation import settle
from o2sim.model.kernel.codes import RANK
from o2sim.model.kernel.events import event_at, next_time_s, schedule, take_next
from o2sim.model.kernel.layout import NONE, bank_at, order_at, patient_at, unit_at
from o2sim.model.kernel.levels import count_levels
from o2sim.model.kernel.records import RUN
from o2sim.scenario.types.hospital import DAY_S

_run = jit.records(RUN)


@jit.cached
def run(where: Whole) -> Whole:
    """Run one replication whose state stands at an address; return 0, or the status at which it stopped."""
    k = _run(where, 0)
    begin(k)
    while k.status == 0 and k.calendar.status == 0 and next_time_s(k.calendar, k.end_s) < k.end_s:
        k.now = next_time_s(k.calendar, k.end_s)
        event = event_at(k.calendar, take_next(k.calendar))
        k.steps += 1
        step(k, event.step, event.who, event.more)
        settle(k)
    k.now = k.end_s
    if k.status == 0 and k.calendar.status == 0:
        days.finish(k)
    return k.calendar.status if k.calendar.status != 0 else k.status


def begin(k: Record) -> None:
    """Schedule what is to come, from the start of the warm-up."""
    manifold_banks.fill_banks(k)
    schedule(k.calendar, k.midnight_s % DAY_S, RANK.DAY_BEGINS, 0, codes.DAY_BEGINS, NONE, 0)
    patients.next_arrival(k, 0)
    power.begin_power(k)
    for number in range(k.unit_count):
        repairs.new_life(k, unit_at(k, number))
    manifold.begin_manifold(k)
    resupply.begin_reviews(k)
    staff.begin_shifts(k)
    fetching.begin_store_days(k)
    losses.begin_losses(k)
    count_levels(k)


def step(k: Record, what: Whole, who: Whole, more: Whole) -> None:
    """Run one step."""
    if what <= codes.TASK_ENDS:
        _of_patients(k, what, who, more)
    elif what <= codes.FOUND_EMPTY:
        _at_the_bedside(k, what, who)
    elif what <= codes.BANK_CHANGED:
        _of_banks(k, what, bank_at(k, who))
    elif what <= codes.UP_TO_CONCENTRATION:
        _of_units(k, what, unit_at(k, who))
    elif what <= codes.FUEL_RUNS_OUT:
        _of_power(k, what, more)
    elif what == codes.REVIEW:
        resupply.review(k)
    elif what == codes.DELIVERY:
        resupply.delivery(k, order_at(k, who))
    elif what == codes.CYLINDER_LOST:
        losses.cylinder_lost(k)
    else:
        _of_wards(k, what, who, more)


def _of_patients(k: Record, what: Whole, who: Whole, more: Whole) -> None:
    if what == codes.DAY_BEGINS:
        days.day_begins(k)
        return
    if what == codes.PATIENT_ARRIVES:
        patients.patient_arrives(k, who)
        return
    p = patient_at(k, who)
    if what == codes.PATIENT_LEAVES:
        patients.patient_leaves(k, who, p)
    elif what == codes.NEED_ENDS:
        patients.need_ends(k, who, p)
    elif what == codes.ARRIVES_ELSEWHERE:
        sent_on.arrives_elsewhere(k, who, p)
    elif what == codes.TOLERANCE_CROSSED:
        gaps.tolerance_crossed(k, p)
    elif what == codes.TRANSFER_DUE:
        gaps.transfer_due(p)
    elif what == codes.FLOW_STEPS_DOWN:
        flow_steps.flow_steps_down(k, who, p)
    elif what == codes.TASK_ENDS:
        jobs.task_ends(k, who, p, more)


def _at_the_bedside(k: Record, what: Whole, who: Whole) -> None:
    if what == codes.SHIFT_CHANGES:
        staff.shift_changes(k)
    elif what == codes.GAUGE_CHECK:
        bedside.gauge_check(k, who)
    elif what == codes.CYLINDER_RUNS_OUT:
        bedside.cylinder_runs_out(k, who)
    elif what == codes.FOUND_EMPTY:
        bedside.found_empty(k, who)


def _of_wards(k: Record, what: Whole, who: Whole, more: Whole) -> None:
    if what == codes.FETCHED:
        jobs.fetched(k, who, patient_at(k, who))
    elif what == codes.UNIT_MOVED:
        moving.unit_moved(k, unit_at(k, who))
    elif what == codes.WARD_RESTOCKED:
        fetching.ward_restocked(k, who, more)
    elif what == codes.STORE_OPENS:
        fetching.store_opens(k)
    elif what == codes.GENERATOR_STARTED:
        k.busy -= 1
        generator.generator_starts(k)


def _of_banks(k: Record, what: Whole, bank: Record) -> None:
    if what == codes.BANK_SPENT:
        manifold.bank_spent(k, bank)
    elif what == codes.BANK_SEEN:
        manifold.spent_bank_seen(k, bank)
    elif what == codes.BANK_CHANGED:
        manifold.bank_changed(k, bank)


def _of_units(k: Record, what: Whole, u: Record) -> None:
    if what == codes.UNIT_FAILS:
        repairs.unit_fails(k, u)
    elif what == codes.UNIT_DRIFTS:
        repairs.unit_drifts(k, u)
    elif what == codes.UNIT_ALARMS:
        repairs.unit_alarms(k, u)
    elif what == codes.SERVICE_BEGINS:
        repairs.service_begins(k, u)
    elif what == codes.SERVICE_DONE:
        repairs.service_done(k, u)
    elif what == codes.REPAIR_DONE:
        repairs.repair_done(k, u)
    elif what == codes.ANALYSER_CHECK:
        repairs.analyser_check(k, u)
    elif what == codes.UP_TO_CONCENTRATION:
        concentration.up_to_concentration(k, u)


def _of_power(k: Record, what: Whole, more: Whole) -> None:
    if what == codes.POWER_LOST:
        power.power_lost(k)
    elif what == codes.POWER_RESTORED:
        power.power_restored(k)
    elif what == codes.LISTED_CUT:
        power.listed_cut(k, more)
    elif what == codes.LISTED_CUT_ENDS:
        power.listed_cut_ends(k, more)
    elif what == codes.VOLTAGE_LOST:
        power.voltage_lost(k, more)
    elif what == codes.VOLTAGE_RESTORED:
        power.voltage_restored(k, more)
    elif what == codes.BATTERY_EMPTY:
        battery.battery_empty(k)
    elif what == codes.BATTERY_LOW:
        battery.battery_low(k)
    elif what == codes.BATTERY_CHARGED:
        battery.battery_charged(k)
    elif what == codes.SUN_MOVES:
        solar.sun_moves(k)
    elif what == codes.HOURS_CHANGE:
        generator.hours_change(k, more == 1)
    else:
        _of_the_generator(k, what)


def _of_the_generator(k: Record, what: Whole) -> None:
    if what == codes.GENERATOR_STARTS:
        generator.generator_starts(k)
    elif what == codes.GENERATOR_FAILS:
        generator.generator_fails(k)
    elif what == codes.GENERATOR_REPAIRED:
        generator.generator_repaired(k)
    elif what == codes.FUEL_ORDERED:
        generator.fuel_ordered(k)
    elif what == codes.FUEL_DELIVERED:
        generator.fuel_delivered(k)
    elif what == codes.FUEL_RUNS_OUT:
        generator.fuel_runs_out(k)


jit.compile_file(globals())
