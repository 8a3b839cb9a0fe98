"""Better sources: back from cylinders to units and outlets, from reduced flow nearer to the full one."""

from __future__ import annotations

from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.model.steps.bedside import release_cylinder
from o2sim.model.steps.connecting import begin_connecting, return_by_staff, takes_time
from o2sim.model.steps.gaps import begin_gap
from o2sim.model.steps.manifold import connect_outlet, outlet_free
from o2sim.model.steps.patients import release
from o2sim.model.steps.reduced_flow import on_units, raise_flow
from o2sim.model.steps.sources import come_to_connect, first_source
from o2sim.model.steps.staff import call_off_staff


def return_to_concentrators(state: State) -> None:
    """Move patients from cylinders and outlets to units that have room, where the strategy puts units first.

    Where cylinders are no source of the strategy, those on a back-up go back in any case.
    """
    state.room_made = False
    strategy = state.rules.strategy
    by_order = strategy.return_to_concentrator and strategy.place("concentrator") == 0
    if state.bank is None or not (by_order or "cylinder" not in strategy.sources):
        return
    piped = state.manifold.patients if state.manifold is not None and by_order else []
    for patient in sorted([*state.on_cylinder.values(), *piped], key=lambda patient: patient.order):
        connect = on_units(state, patient) if patient.flowing else None
        if connect is None:
            continue
        if state.hands_connect:
            return_by_staff(state, patient)
        else:
            release(state, patient)
            call_off_staff(state, patient)  # who was to change the cylinder
            connect(state, patient)


def return_to_outlets(state: State) -> None:
    """Move patients from cylinders to free outlets, where the strategy puts the manifold before cylinders."""
    place = state.rules.strategy.place
    if state.manifold is None or not state.on_cylinder or place("manifold") > place("cylinder"):
        return
    for patient in sorted(state.on_cylinder.values(), key=lambda patient: patient.order):
        if patient.flowing and outlet_free(state):
            release_cylinder(state, patient)
            call_off_staff(state, patient)
            connect_outlet(state, patient)


def raise_flows(state: State) -> bool:
    """Bring those on reduced flow nearer to what is prescribed, on the unit or by a move; True for a move."""
    moved = False
    for patient in sorted(state.reduced.values(), key=lambda patient: patient.order):
        raise_flow(state, patient)
        moved = _move_to_more(state, patient) or moved
    return moved


def _move_to_more(state: State, patient: Patient) -> bool:
    """Move a patient still on reduced flow to a source for all of it; True if that is done at once."""
    connect = first_source(state, patient) if patient.number in state.reduced else None
    if connect is None:
        return False
    if takes_time(state, patient, connect):
        if not patient.seen_to:  # what flows goes on until all is at the bedside
            begin_connecting(state, patient, connect, come_to_connect)
        return False
    release(state, patient)  # a planned move: no gap, unless the cylinder opened gives nothing
    call_off_staff(state, patient)
    begin_gap(state, patient)
    connect(state, patient)
    return True


def stop_moves(state: State) -> None:
    """Call off the staff who were to move a patient who has the full flow again."""
    for patient in state.present.values() if state.takes_time else ():
        on_unit = patient.flowing and patient.unit is not None
        if on_unit and patient.seen_to and patient.number not in state.reduced:
            call_off_staff(state, patient)
