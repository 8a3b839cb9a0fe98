"""Shortfall: who is short of oxygen, since when, what would help; interruptions and stock-outs."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.codes import LOG, RANK, ROOT, STEP
from o2sim.model.kernel.events import call_off, schedule
from o2sim.model.kernel.layout import NONE, note, number_at, patient_at
from o2sim.model.kernel.ledger import OF_SUPPLY, count_interruption, count_stock_out, is_too_little
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.queues import rank
from o2sim.model.kernel.roots import root_of, take_back, why_none
from o2sim.model.kernel.sources import reason
from o2sim.model.kernel.spells import credit_short, end_short
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Shortfall

_CAUSES = len(Cause)
_BY_SUPPLY_CLOCK = code(Shortfall, "counted_by", "supply clock")


def look_for_shortfall(k: Record) -> None:
    """Bring the spells of all patients up to date: whose begin and end, and what their roots are now."""
    if k.counts_gaps or (k.short_count + k.gap_count == 0 and not _too_little_given(k)):
        return
    count = _rank_short(k, True)
    for place in range(count):
        p = patient_at(k, number_at(k.ranked, place).value)
        p.root_now = root_of(k, p)
    take_back(k)
    for place in range(count):
        slot = number_at(k.ranked, place).value
        _bring_up_to_date(k, patient_at(k, slot))


def _too_little_given(k: Record) -> Whole:
    """Return True if one of those on reduced flow, who are few, has too little."""
    slot = k.first_reduced if k.reduced_count > 0 else NONE
    while slot != NONE:
        p = patient_at(k, slot)
        if is_too_little(k, p.given_ml_min, p.flow_ml_min):
            return True
        slot = p.reduced_after
    return False


def _rank_short(k: Record, ends: Whole) -> Whole:
    """Write those who are short to `ranked`, in line, and end the spells of the others; return how many are."""
    count, slot = 0, k.first_present
    while slot != NONE:
        p = patient_at(k, slot)
        if _is_short(k, p):
            count = rank(k, k.ranked, count, slot)
        elif ends and p.short:
            end_short(k, p)
        slot = p.after
    return count


def _is_short(k: Record, p: Record) -> Whole:
    """Return True if a patient in need gets nothing, or too little of what is prescribed."""
    return p.needs and (not p.flowing or is_too_little(k, p.given_ml_min, p.flow_ml_min))


def _bring_up_to_date(k: Record, p: Record) -> None:
    root = p.root_now
    why = why_none(k, p, root)
    if not p.short:
        _begin(k, p, root)
    cause = p.cause if p.cause != NONE else reason(k, p)
    if root != p.short_root or cause != p.short_cause or why != p.short_supply_cause:
        credit_short(k, p)
        if root != p.short_root:
            note(k, LOG.ROOT_CHANGES, p.number, root, NONE)
    p.short_root, p.short_cause, p.short_supply_cause = root, cause, why
    _set_clocks(k, p)


def _begin(k: Record, p: Record, root: Whole) -> None:
    """Go on with the spell, or begin a new one after service without a break for as long as the recovery."""
    served_s = k.now - p.served_since_s
    if served_s > 0 and served_s >= k.rules.shortfall_recovery_s:
        p.spell_since_s, p.short_clock_s, p.short_supply_s = k.now, 0, 0
        p.interrupted = p.stocked_out = False
        for cause in range(_CAUSES):
            p.short_by_cause[cause] = p.supply_by_cause[cause] = 0
    p.short, p.short_root, p.short_begun_s, p.short_credited_s = True, root, k.now, k.now
    k.short_count += 1
    note(k, LOG.FALLS_SHORT, p.number, root, p.short_clock_s)


def _set_clocks(k: Record, p: Record) -> None:
    """Schedule when the clocks of a spell are at the tolerance, if they go."""
    r = k.rules
    if not p.interrupted and p.crossing == NONE:
        due_s = k.now + max(0, r.tolerated_gap_s - p.short_clock_s)
        p.crossing = schedule(k, due_s, RANK.TOLERANCE_CROSSED, p.number, STEP.INTERRUPTED, p.slot, 0)
    if p.short_root != ROOT.SUPPLY:
        p.supply_crossing = call_off(k, p.supply_crossing)
    elif not p.stocked_out and p.supply_crossing == NONE and r.shortfall_counted_by == _BY_SUPPLY_CLOCK:
        due_s = k.now + max(0, r.tolerated_gap_s - p.short_supply_s)
        p.supply_crossing = schedule(k, due_s, RANK.SUPPLY_CROSSED, p.number, STEP.STOCKED_OUT, p.slot, 0)


def interrupted(k: Record, p: Record) -> None:
    """The clock of a spell is at the tolerance: an interruption, by the cause of most of its seconds."""
    p.crossing = NONE
    credit_short(k, p)
    _interruption(k, p)


def stocked_out(k: Record, p: Record) -> None:
    """The supply clock of a spell is at the tolerance: a stock-out, by the cause of most of its seconds."""
    p.supply_crossing = NONE
    credit_short(k, p)
    _stock_out(k, p, _most(p.supply_by_cause, p.short_supply_cause))


def _interruption(k: Record, p: Record) -> None:
    """Count the interruption of a spell, once."""
    if p.interrupted:
        return
    p.interrupted = True
    by_crossing = k.rules.shortfall_counted_by != _BY_SUPPLY_CLOCK
    cause = p.short_cause if by_crossing else _most(p.short_by_cause, p.short_cause)
    note(k, LOG.INTERRUPTION, p.number, cause, p.spell_since_s)
    count_interruption(k, p, cause)
    if by_crossing and OF_SUPPLY[cause]:
        _stock_out(k, p, cause)


def _stock_out(k: Record, p: Record, cause: Whole) -> None:
    """Count the stock-out of a spell, once."""
    if p.stocked_out:
        return
    p.stocked_out = True
    note(k, LOG.STOCK_OUT, p.number, cause, p.spell_since_s)
    count_stock_out(k, p, cause)


def _most(seconds: Record, now: Whole) -> Whole:
    """Return the cause with most seconds, the lower number in ties; that of this second without any."""
    best, most = now, 0
    for cause in range(_CAUSES):
        if seconds[cause] > most:
            best, most = cause, seconds[cause]
    return best


def count_turned_away(k: Record, p: Record) -> None:
    """A patient leaves unserved, at once: an interruption, and a stock-out where the root is supply."""
    if k.counts_gaps:
        return
    count = _rank_short(k, False)
    for place in range(count):
        first = patient_at(k, number_at(k.ranked, place).value)
        first.root_now = root_of(k, first)
    take_back(k)
    _bring_up_to_date(k, p)
    _interruption(k, p)
    if p.short_root == ROOT.SUPPLY and k.rules.shortfall_counted_by == _BY_SUPPLY_CLOCK:
        _stock_out(k, p, _most(p.supply_by_cause, p.short_supply_cause))


compile_file(globals())
