"""Days: the count at each midnight, the start of the horizon, and the end of the run."""

from __future__ import annotations

from o2sim.compiler.jit import Record, compile_file
from o2sim.model.kernel.backup import change_backups
from o2sim.model.kernel.codes import RANK, STEP
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.invariants import check_whole_run
from o2sim.model.kernel.layout import NONE, day_row, patient_at, store_at, unit_at
from o2sim.model.kernel.ledger import clear_ledger, credit_served, credit_unserved, gap_length
from o2sim.model.kernel.levels import clear_levels, credit_levels
from o2sim.model.kernel.manifold_gas import credit_manifold
from o2sim.model.kernel.power import credit_power
from o2sim.model.kernel.resupply import credit_shelf
from o2sim.model.kernel.spells import credit_short
from o2sim.model.kernel.stock import close_book, consider_by_the_book, gas_of, stock_book, take_stock, usable_of
from o2sim.model.kernel.units import credit_running
from o2sim.scenario.types.hospital import DAY_S


def day_begins(k: Record) -> None:
    """Close the stock book; from the start of the horizon on, where the counters start afresh, count the state."""
    if k.has_store:
        close_book(k)
    if k.now == k.midnight_s:
        _begin_horizon(k)
    if k.now >= k.midnight_s:
        row = day_row(k, k.daily_count).values
        k.daily_count += 1
        _count_state(k, row)
        if k.has_store:
            stock_book(k, row)
    change_backups(k)
    consider_by_the_book(k)
    if k.now + DAY_S < k.end_s:
        schedule(k, k.now + DAY_S, RANK.DAY_BEGINS, 0, STEP.DAY_BEGINS, NONE, 0)


def _count_state(k: Record, row: Record) -> None:
    """Count cylinders and patients as outcome.DAILY_COLUMNS."""
    patients, gaps, flow, on_units, reduced, slot = 0, 0, 0, 0, 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        patients += p.needs
        flow += p.flow_ml_min if p.needs else 0
        gaps += p.gap_since_s != NONE
        on_units += p.flowing and p.unit != NONE
        reduced += p.reduced and p.needs
        slot = p.after
    full, rack, in_use, empties, on_order, away = 0, 0, k.manifold.on_banks, 0, 0, 0
    for size in range(k.store_count):
        s = store_at(k, size)
        full += s.full
        rack += s.rack.count_
        in_use += s.in_use
        empties += s.empties.count_
        on_order += s.on_order
        away += s.away_count + s.on_the_way
    row[0], row[1], row[2], row[3], row[4] = full, rack, in_use, empties, on_order
    row[5], row[6], row[7], row[8], row[9], row[10] = patients, gaps, on_units, flow, away, reduced


def _begin_horizon(k: Record) -> None:
    credit_all(k)
    check_whole_run(k)
    clear_ledger(k)
    k.booked_gas = 0
    clear_levels(k)
    take_stock(k)


def finish(k: Record) -> None:
    """Close the books at the end of the horizon."""
    credit_all(k)
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.gap_since_s != NONE:
            gap_length(k, p.gap_since_s, k.now)
        slot = p.after
    check_whole_run(k)
    for size in range(k.store_count):
        s = store_at(k, size)
        s.closing_gas, s.closing_usable = gas_of(k, s), usable_of(k, s)


def credit_all(k: Record) -> None:
    """Bring every running total up to this second."""
    slot = k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if p.flowing:
            credit_served(k, p)
        elif p.gap_since_s != NONE:
            credit_unserved(k, p)
        credit_short(k, p)
        slot = p.after
    for number in range(k.unit_count):
        credit_running(k, unit_at(k, number))
    credit_manifold(k)
    credit_shelf(k)
    credit_power(k)
    credit_levels(k)


compile_file(globals())
