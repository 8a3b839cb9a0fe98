"""Moving a concentrator: an idle unit of another ward is taken to the ward where somebody waits."""

from __future__ import annotations

from o2sim.model.bank import Unit
from o2sim.model.patient import Patient
from o2sim.model.rules import MOVING, Rank
from o2sim.model.state import State
from o2sim.model.steps.reduced_flow import takes_reduced


def move_units(state: State) -> None:
    """Have idle units moved to wards where somebody waits whom they could serve, one at a time to each ward.

    By the place in line of who waits; the lowest-numbered working unit of another ward that has power and serves
    nobody. Porters do it, no nurse is needed.
    """
    bank = state.bank
    if bank is None or state.rules.moving_s is None:
        return
    for _, patient in state.waiting:
        coming = any(unit.on_the_move and unit.ward == patient.ward for unit in bank.units)
        if coming or not _stays(state, patient):
            continue
        least = 1 if takes_reduced(state, patient) else patient.flow_ml_min
        for unit in bank.units:
            idle = not unit.patients and not unit.expected
            if unit.ward != patient.ward and idle and unit.has_room(least) and bank.can_start(unit):
                _move(state, unit, patient.ward, state.rules.moving_s)
                break


def _stays(state: State, patient: Patient) -> bool:
    """Return True for a patient who waits for a source and does not leave at this instant."""
    leaves = patient.transfers and (patient.displaced or patient.arrival_s == state.now)
    return patient.needs and not (patient.seen_to or leaves or patient.transfer_due)


def _move(state: State, unit: Unit, ward: int, moving_s: int) -> None:
    state.note("move begins", unit.number, ward)
    state.ledger.concentrators_moved += 1
    unit.on_the_move, unit.ward = True, ward
    state.clock.at(state.now + moving_s, Rank.TIMER_ENDS, MOVING + unit.number, unit_moved, unit)


def unit_moved(state: State, unit: Unit) -> None:
    """A unit is in place on another ward and belongs to it from now on."""
    unit.on_the_move = False
    state.room_made = True
    state.note("unit moved", unit.number, unit.ward)
