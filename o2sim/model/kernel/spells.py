"""Spells of shortfall: seconds credited to their clocks, and their end as a patient is served again or leaves."""

from __future__ import annotations

from o2sim.compiler.jit import Record, compile_file
from o2sim.model.kernel.codes import LOG, ROOT
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.layout import NONE, counted_at, note, ward_at
from o2sim.model.kernel.ledger import interrupted_days
from o2sim.model.kernel.shocks import credit_shocks
from o2sim.outcome import LENGTHS_S, SHORTFALLS_S

_LENGTHS_S, _SHORTFALLS_S = LENGTHS_S, SHORTFALLS_S


def credit_short(k: Record, p: Record) -> None:
    """Credit a spell's seconds since they were last credited to root and cause, and what they exceed."""
    if not p.short:
        return
    since_s, seconds = p.short_credited_s, k.now - p.short_credited_s
    p.short_credited_s = k.now
    if seconds == 0:
        return
    ledger = k.ledger
    ledger.short_s[p.short_root] += seconds
    if k.shock_count > 0:
        credit_shocks(k, p.short_root, since_s)
    ward_at(k, p.ward).short_s += seconds
    counted_at(k, p.class_index).short_s += seconds
    p.short_by_cause[p.short_cause] += seconds
    for place in range(len(_LENGTHS_S)):
        after_s = max(_LENGTHS_S[place], k.rules.tolerated_gap_s) - p.short_clock_s
        if 0 <= after_s < seconds and since_s + after_s >= k.midnight_s:
            ledger.longer[place] += 1
    interrupted_days(k, since_s + max(0, k.rules.tolerated_gap_s - p.short_clock_s), k.now)
    p.short_clock_s += seconds
    if p.short_root == ROOT.SUPPLY:
        p.short_supply_s += seconds
        p.supply_by_cause[p.short_supply_cause] += seconds
    if k.now > k.midnight_s:
        ledger.longest_spell_s = max(ledger.longest_spell_s, p.short_clock_s)
        while p.supply_over < len(_SHORTFALLS_S) and p.short_supply_s > _SHORTFALLS_S[p.supply_over]:
            ledger.supply_over[p.supply_over] += 1
            p.supply_over += 1


def end_short(k: Record, p: Record) -> None:
    """Stop the clocks of a patient who is served again, or leaves; a shortfall of no length leaves no trace."""
    if not p.short:
        return
    credit_short(k, p)
    p.supply_crossing = call_off(k, p.supply_crossing)
    p.crossing = call_off(k, p.crossing)
    p.short = False
    k.short_count -= 1
    note(k, LOG.NO_LONGER_SHORT, p.number, NONE, p.short_clock_s)
    if p.short_begun_s < k.now:
        p.served_since_s = k.now


compile_file(globals())
