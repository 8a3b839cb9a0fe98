"""Spells of shortfall: seconds credited to their clocks, and their end as a patient is served again or leaves."""

from __future__ import annotations

from o2sim.model.patient import Patient, Shortage
from o2sim.model.state import State
from o2sim.model.steps.shocks import credit_shocks


def credit_short(state: State, patient: Patient) -> None:
    """Credit a spell's seconds since they were last credited to root and cause."""
    spell = patient.short
    if spell is not None and spell.on:
        if state.shock_spells:
            credit_shocks(state, spell.root, spell.credited_s)
        state.ledger.short(patient, spell, state.now)


def end_short(state: State, patient: Patient) -> None:
    """Stop the clocks of a patient who is served again, or leaves; a shortfall of no length leaves no trace."""
    spell = patient.short
    if spell is None or not spell.on:
        return
    credit_short(state, patient)
    stop_supply_clock(spell)
    if spell.crossing is not None:
        spell.crossing.cancel()
        spell.crossing = None
    spell.on = False
    state.note("no longer short", patient.number, -1, spell.clock_s)
    if spell.begun_s < state.now:
        patient.served_since_s = state.now


def stop_supply_clock(spell: Shortage) -> None:
    """Let the supply clock of a spell stand still."""
    if spell.supply_crossing is not None:
        spell.supply_crossing.cancel()
        spell.supply_crossing = None
