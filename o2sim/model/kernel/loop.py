"""The loop of the compiled engine: take the next event, run its step, settle; until the end of the horizon."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import (
    allocation,
    backup_in_use,
    battery,
    bedside,
    claims,
    days,
    from_count,
    gaps,
    generator,
    manifold,
    manifold_gas,
    moving,
    patients,
    power,
    repairs,
    resupply,
    shortfall,
    staff,
    stock,
    transfers,
    units,
)
from o2sim.model.kernel.allocation import settle
from o2sim.model.kernel.codes import RANK, STEP
from o2sim.model.kernel.events import next_time_s, schedule, take_next
from o2sim.model.kernel.layout import NONE, bank_at, journey_at, order_at, patient_at, start_at, store_at, unit_at
from o2sim.model.kernel.levels import count_levels
from o2sim.model.kernel.records import RUN
from o2sim.scenario.types.hospital import DAY_S

_run = jit.records(RUN)
PAUSED = -1  # status: the run goes on where it stands when it is called again


@jit.cached
def run(where: Whole) -> Whole:
    """Run the replication whose state stands at an address; return 0, or the status at which it stopped.

    It returns PAUSED at `pause_at` steps, 1 or more, so that Python hears signals: compiled code hears none.
    """
    k = _run(where, 0)
    if k.steps == 0:
        begin(k)
    while k.status == 0 and k.calendar.status == 0 and next_time_s(k, k.end_s) < k.end_s:
        if k.steps >= k.pause_at:
            return PAUSED
        k.now = next_time_s(k, k.end_s)
        event = take_next(k)
        k.steps += 1
        what = event.step  # the event's place may be used again by its own step
        step(k, what, event.who, event.more)
        if not _only_counts(what):
            settle(k)
    k.now = k.end_s
    if k.status == 0 and k.calendar.status == 0:
        days.finish(k)
    return k.calendar.status if k.calendar.status != 0 else k.status


def _only_counts(what: Whole) -> Whole:
    """Return True for a step that counts and moves nothing."""
    return what in (STEP.TOLERANCE_CROSSED, STEP.INTERRUPTED, STEP.STOCKED_OUT)


def begin(k: Record) -> None:
    """Schedule what is to come, from the start of the warm-up."""
    manifold_gas.fill_banks(k)
    schedule(k, k.midnight_s % DAY_S, RANK.DAY_BEGINS, 0, STEP.DAY_BEGINS, NONE, 0)
    counted = start_at(k, 0).present
    if counted:
        from_count.count_stock(k)
    power.begin_power(k)
    if counted:
        from_count.begin_from_count(k)
    else:
        patients.next_arrival(k, 0)
        for number in range(k.unit_count):
            repairs.new_life(k, unit_at(k, number))
    manifold.begin_manifold(k)
    resupply.begin_reviews(k)
    staff.begin_shifts(k)
    claims.begin_store_days(k)
    stock.begin_losses(k)
    count_levels(k)


def step(k: Record, what: Whole, who: Whole, more: Whole) -> None:
    """Run one step."""
    if what <= STEP.TASK_ENDS:
        _of_patients(k, what, who, more)
    elif what <= STEP.FOUND_EMPTY:
        _at_the_bedside(k, what, who)
    elif what <= STEP.BANK_CHANGED:
        _of_banks(k, what, bank_at(k, who))
    elif what <= STEP.UP_TO_CONCENTRATION:
        _of_units(k, what, unit_at(k, who))
    elif what <= STEP.FUEL_RUNS_OUT:
        _of_power(k, what, more)
    elif what == STEP.REVIEW:
        resupply.review(k)
    elif what == STEP.DELIVERY:
        resupply.delivery(k, order_at(k, who))
    elif what == STEP.CYLINDER_LOST:
        stock.cylinder_lost(k, store_at(k, who))
    elif what == STEP.BACK_FROM_THE_WAY:
        transfers.back_from_the_way(k, journey_at(k, who))
    else:
        _of_wards(k, what, who, more)


def _of_patients(k: Record, what: Whole, who: Whole, more: Whole) -> None:
    if what == STEP.DAY_BEGINS:
        days.day_begins(k)
        return
    if what == STEP.PATIENT_ARRIVES:
        patients.patient_arrives(k, who)
        return
    p = patient_at(k, who)
    if what == STEP.PATIENT_LEAVES:
        patients.patient_leaves(k, p)
    elif what == STEP.NEED_ENDS:
        patients.need_ends(k, p)
    elif what == STEP.ARRIVES_ELSEWHERE:
        patients.arrives_elsewhere(k, p)
    elif what == STEP.TOLERANCE_CROSSED:
        gaps.tolerance_crossed(k, p)
    elif what == STEP.INTERRUPTED:
        shortfall.interrupted(k, p)
    elif what == STEP.STOCKED_OUT:
        shortfall.stocked_out(k, p)
    elif what == STEP.TRANSFER_DUE:
        gaps.transfer_due(p)
    elif what == STEP.FLOW_STEPS_DOWN:
        patients.flow_steps_down(k, p)
    elif what == STEP.TASK_ENDS:
        allocation.task_ends(k, p, more)


def _at_the_bedside(k: Record, what: Whole, who: Whole) -> None:
    if what == STEP.SHIFT_CHANGES:
        staff.shift_changes(k)
    elif what == STEP.GAUGE_CHECK:
        bedside.gauge_check(k, who)
    elif what == STEP.CYLINDER_RUNS_OUT:
        bedside.cylinder_runs_out(k, who)
    elif what == STEP.BACKUP_OPENS:
        backup_in_use.backup_opens(k, patient_at(k, who))
    elif what == STEP.FOUND_EMPTY:
        bedside.found_empty(k, who)


def _of_wards(k: Record, what: Whole, who: Whole, more: Whole) -> None:
    if what == STEP.FETCHED:
        allocation.fetched(k, patient_at(k, who))
    elif what == STEP.UNIT_MOVED:
        moving.unit_moved(k, unit_at(k, who))
    elif what == STEP.WARD_RESTOCKED:
        claims.ward_restocked(k, who, more)
    elif what == STEP.STORE_OPENS:
        claims.store_opens(k)
    elif what == STEP.GENERATOR_STARTED:
        k.busy -= 1
        generator.generator_starts(k)
    elif what == STEP.TAKEN_UP:
        from_count.taken_up(k)


def _of_banks(k: Record, what: Whole, bank: Record) -> None:
    if what == STEP.BANK_SPENT:
        manifold.bank_spent(k, bank)
    elif what == STEP.BANK_SEEN:
        manifold.spent_bank_seen(k, bank)
    elif what == STEP.BANK_CHANGED:
        manifold.bank_changed(k, bank)


def _of_units(k: Record, what: Whole, u: Record) -> None:
    if what == STEP.UNIT_FAILS:
        repairs.unit_fails(k, u)
    elif what == STEP.UNIT_DRIFTS:
        repairs.unit_drifts(k, u)
    elif what == STEP.UNIT_ALARMS:
        repairs.unit_alarms(k, u)
    elif what == STEP.SERVICE_BEGINS:
        repairs.service_begins(k, u)
    elif what == STEP.SERVICE_DONE:
        repairs.service_done(k, u)
    elif what == STEP.REPAIR_DONE:
        repairs.repair_done(k, u)
    elif what == STEP.ANALYSER_CHECK:
        repairs.analyser_check(k, u)
    elif what == STEP.UP_TO_CONCENTRATION:
        units.up_to_concentration(k, u)


def _of_power(k: Record, what: Whole, more: Whole) -> None:
    if what == STEP.POWER_LOST:
        power.power_lost(k)
    elif what == STEP.POWER_RESTORED:
        power.power_restored(k)
    elif what == STEP.LISTED_CUT:
        power.listed_cut(k, more)
    elif what == STEP.LISTED_CUT_ENDS:
        power.listed_cut_ends(k, more)
    elif what == STEP.VOLTAGE_LOST:
        power.voltage_lost(k, more)
    elif what == STEP.VOLTAGE_RESTORED:
        power.voltage_restored(k, more)
    elif what == STEP.BATTERY_EMPTY:
        battery.battery_empty(k)
    elif what == STEP.BATTERY_LOW:
        battery.battery_low(k)
    elif what == STEP.BATTERY_CHARGED:
        battery.battery_charged(k)
    elif what == STEP.SUN_MOVES:
        battery.sun_moves(k)
    elif what == STEP.HOURS_CHANGE:
        generator.hours_change(k, more == 1)
    else:
        _of_the_generator(k, what)


def _of_the_generator(k: Record, what: Whole) -> None:
    if what == STEP.GENERATOR_STARTS:
        generator.generator_starts(k)
    elif what == STEP.GENERATOR_FAILS:
        generator.generator_fails(k)
    elif what == STEP.GENERATOR_REPAIRED:
        generator.generator_repaired(k)
    elif what == STEP.FUEL_ORDERED:
        generator.fuel_ordered(k)
    elif what == STEP.FUEL_DELIVERED:
        generator.fuel_delivered(k)
    elif what == STEP.FUEL_RUNS_OUT:
        generator.fuel_runs_out(k)


jit.compile_file(globals())
