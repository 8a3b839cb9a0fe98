"""Shortfall: who is short of oxygen, since when, what would help; interruptions and stock-outs.

A spell goes on until there has been service without a break for as long as the recovery. Its clock counts the
short seconds, its supply clock those of root supply; both stand still, and keep their reading, while the patient
is served.
"""

from __future__ import annotations

from o2sim.model.patient import Patient, Shortage
from o2sim.model.rules import Rank
from o2sim.model.state import State
from o2sim.model.steps.roots import roots_of
from o2sim.model.steps.sources import reason
from o2sim.model.steps.spells import credit_short, end_short, stop_supply_clock
from o2sim.outcome import Cause, Root


def look_for_shortfall(state: State) -> None:
    """Bring the spells of all patients up to date: whose begin and end, and what their roots are now."""
    if state.rules.shortfall.as_before:
        return
    short = []
    for patient in state.present.values():
        if _is_short(state, patient):
            short.append(patient)
        elif patient.short is not None and patient.short.on:
            end_short(state, patient)
    short.sort(key=lambda patient: patient.order)
    for patient, (root, why) in zip(short, roots_of(state, short), strict=True):
        _bring_up_to_date(state, patient, root, why)


def _is_short(state: State, patient: Patient) -> bool:
    """Return True if a patient in need gets nothing, or too little of what is prescribed."""
    given = patient.given_ml_min if patient.flowing else 0
    return patient.needs and state.rules.shortfall.is_short(given, patient.flow_ml_min)


def _bring_up_to_date(state: State, patient: Patient, root: Root, why: Cause) -> None:
    spell = patient.short if patient.short is not None and patient.short.on else _begin(state, patient, root)
    cause = patient.cause if patient.cause is not None else reason(state, patient)
    if (root, cause, why) != (spell.root, spell.cause, spell.supply_cause):
        credit_short(state, patient)
        if root != spell.root:
            state.note("root changes", patient.number, root)
    spell.root, spell.cause, spell.supply_cause = root, cause, why
    _set_clocks(state, patient, spell)


def _begin(state: State, patient: Patient, root: Root) -> Shortage:
    """Go on with the spell, or begin a new one after service without a break for as long as the recovery."""
    spell, recovery_s = patient.short, state.rules.shortfall.recovery_s
    served_s = state.now - patient.served_since_s
    if spell is None or (served_s > 0 and served_s >= recovery_s):
        spell = patient.short = Shortage(state.now)
    spell.on, spell.root, spell.begun_s, spell.credited_s = True, root, state.now, state.now
    state.note("falls short", patient.number, root, spell.clock_s)
    return spell


def _set_clocks(state: State, patient: Patient, spell: Shortage) -> None:
    """Schedule when the clocks of a spell are at the tolerance, if they go."""
    tolerated_s = state.rules.tolerated_gap_s
    if not spell.interrupted and spell.crossing is None:
        due_s = state.now + max(0, tolerated_s - spell.clock_s)
        spell.crossing = state.clock.at(due_s, Rank.TOLERANCE_CROSSED, patient.number, interrupted, patient)
    if spell.root != Root.SUPPLY:
        stop_supply_clock(spell)
    elif not spell.stocked_out and spell.supply_crossing is None and _by_supply_clock(state):
        due_s = state.now + max(0, tolerated_s - spell.supply_s)
        spell.supply_crossing = state.clock.at(due_s, Rank.SUPPLY_CROSSED, patient.number, stocked_out, patient)


def _by_supply_clock(state: State) -> bool:
    return state.rules.shortfall.counted_by == "supply clock"


def interrupted(state: State, patient: Patient) -> None:
    """The clock of a spell is at the tolerance: an interruption, by the cause of most of its seconds."""
    credit_short(state, patient)
    spell = patient.short
    assert spell is not None
    spell.crossing = None
    _interruption(state, patient, spell)


def stocked_out(state: State, patient: Patient) -> None:
    """The supply clock of a spell is at the tolerance: a stock-out, by the cause of most of its seconds."""
    credit_short(state, patient)
    spell = patient.short
    assert spell is not None
    spell.supply_crossing = None
    _stock_out(state, patient, spell)


def _interruption(state: State, patient: Patient, spell: Shortage) -> None:
    """Count the interruption of a spell, once."""
    if spell.interrupted:
        return
    spell.interrupted = True
    by_crossing = not _by_supply_clock(state)
    cause = spell.cause if by_crossing else _most(spell.by_cause, spell.cause)
    state.note("interruption", patient.number, cause, spell.since_s)
    state.ledger.interruption(patient, cause, state.now)
    if by_crossing and cause.is_supply:
        _stock_out(state, patient, spell, cause)


def _stock_out(state: State, patient: Patient, spell: Shortage, cause: Cause | None = None) -> None:
    """Count the stock-out of a spell, once."""
    if spell.stocked_out:
        return
    spell.stocked_out = True
    cause = cause if cause is not None else _most(spell.supply_by_cause, spell.supply_cause)
    state.note("stock-out", patient.number, cause, spell.since_s)
    state.ledger.stock_out(patient, cause, state.now)


def _most(seconds: list[int], now: Cause) -> Cause:
    """Return the cause with most seconds, the lower number in ties; that of this second without any."""
    most = max(seconds)
    return now if most == 0 else Cause(seconds.index(most))


def count_turned_away(state: State, patient: Patient) -> None:
    """A patient leaves unserved, at once: an interruption, and a stock-out where the root is supply."""
    if state.rules.shortfall.as_before:
        return
    short = sorted(
        (each for each in state.present.values() if _is_short(state, each)), key=lambda each: each.order
    )
    found = roots_of(state, short)[short.index(patient)]
    _bring_up_to_date(state, patient, *found)
    spell = patient.short
    assert spell is not None
    _interruption(state, patient, spell)
    if spell.root == Root.SUPPLY and _by_supply_clock(state):
        _stock_out(state, patient, spell)
