"""Better sources: back from cylinders to units and outlets, from reduced flow nearer to the full one."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import NOT_KNOWN, may_return, most_spare_ml_min
from o2sim.model.kernel.bedside import release_cylinder
from o2sim.model.kernel.claims import seen_to
from o2sim.model.kernel.codes import SOURCE
from o2sim.model.kernel.connecting import begin_connecting, return_by_staff, takes_time
from o2sim.model.kernel.gaps import begin_gap
from o2sim.model.kernel.layout import NONE, number_at, open_at, patient_at, ward_at
from o2sim.model.kernel.manifold import connect_outlet, outlet_free
from o2sim.model.kernel.patients import release
from o2sim.model.kernel.queues import rank
from o2sim.model.kernel.reduced_flow import connect_on_units, may_take_two, on_units, raise_flow
from o2sim.model.kernel.sources import connect, first_source
from o2sim.model.kernel.staff import call_off_staff


def _rank_on_cylinders(k: Record) -> Whole:
    """Write those who are served by cylinders to `ranked`, in line; return how many."""
    count, place = 0, k.first_open
    while place != NONE:
        slot = open_at(k, place).first_on
        while slot != NONE:
            if patient_at(k, slot).flowing:
                count = rank(k, k.ranked, count, slot)
            slot = patient_at(k, slot).on_after
        place = open_at(k, place).after
    return count


def _rank_on_reduced_flow(k: Record) -> Whole:
    """Write those on reduced flow to `ranked`, in line; return how many."""
    count, slot = 0, k.first_reduced
    while slot != NONE:
        if patient_at(k, slot).flowing:
            count = rank(k, k.ranked, count, slot)
        slot = patient_at(k, slot).reduced_after
    return count


def _rank_returning(k: Record, outlets_too: Whole) -> Whole:
    """Write those on cylinders or outlets whom a unit may have room for to `ranked`, in line; return how many."""
    if not _any_may_return(k):
        return 0
    for ward in range(k.ward_count):
        ward_at(k, ward).least_flow = NOT_KNOWN
    count, place = 0, k.first_open
    while place != NONE:
        slot = open_at(k, place).first_on
        while slot != NONE:
            count = _rank_if_room(k, count, slot)
            slot = patient_at(k, slot).on_after
        place = open_at(k, place).after
    slot = k.first_present if outlets_too and k.manifold.patient_count > 0 else NONE
    while slot != NONE:
        if patient_at(k, slot).piped:
            count = _rank_if_room(k, count, slot)
        slot = patient_at(k, slot).after
    return count


def _rank_if_room(k: Record, count: Whole, slot: Whole) -> Whole:
    """Put one on a cylinder or outlet among `ranked` if units may have room; return how many are there."""
    p = patient_at(k, slot)
    may_return(k, p)
    if p.flowing and (p.flow_ml_min <= most_spare_ml_min(k, p.ward) or may_take_two(k, p)):
        return rank(k, k.ranked, count, slot)
    return count


def _any_may_return(k: Record) -> Whole:
    """Return True if units of some ward have enough to spare for the least flow that could return there."""
    for ward in range(k.ward_count):
        most = most_spare_ml_min(k, ward)
        if most > 0 and (most >= ward_at(k, ward).least_flow or k.rules.allocation_two_units):
            return True
    return False


def return_to_concentrators(k: Record) -> None:
    """Move patients from cylinders and outlets to units that have room, where the strategy puts units first.

    Where cylinders are no source of the strategy, those on a back-up go back in any case.
    """
    r = k.rules
    k.room_made = False
    by_order = r.strategy_return_to_concentrator and k.source_places[SOURCE.CONCENTRATOR] == 0
    if not k.has_bank or not (by_order or k.source_places[SOURCE.CYLINDER] == r.strategy_sources_count):
        return
    if k.on_cylinder + k.manifold.patient_count == 0:
        return
    for place in range(_rank_returning(k, by_order)):
        p = patient_at(k, number_at(k.ranked, place).value)
        source = on_units(k, p) if p.flowing else NONE
        if source == NONE:
            continue
        if k.hands_connect:
            return_by_staff(k, p)
        else:
            release(k, p)
            call_off_staff(k, p)  # who was to change the cylinder
            connect_on_units(k, p, source)


def return_to_outlets(k: Record) -> None:
    """Move patients from cylinders to free outlets, where the strategy puts the manifold before cylinders."""
    places = k.source_places
    if k.on_cylinder == 0 or not outlet_free(k) or places[SOURCE.MANIFOLD] > places[SOURCE.CYLINDER]:
        return
    for place in range(_rank_on_cylinders(k)):
        p = patient_at(k, number_at(k.ranked, place).value)
        if p.flowing and outlet_free(k):
            release_cylinder(k, p)
            call_off_staff(k, p)
            connect_outlet(k, p)


def raise_flows(k: Record) -> Whole:
    """Bring those on reduced flow nearer to what is prescribed, on the unit or by a move; True for a move."""
    moved = False
    for place in range(_rank_on_reduced_flow(k)):
        p = patient_at(k, number_at(k.ranked, place).value)
        raise_flow(k, p)
        moved = _move_to_more(k, p) or moved
    return moved


def _move_to_more(k: Record, p: Record) -> Whole:
    """Move a patient still on reduced flow to a source for all of it; True if that is done at once."""
    source = first_source(k, p) if p.reduced else NONE
    if source == NONE:
        return False
    if takes_time(k, p, source):
        if not seen_to(p):  # what flows goes on until all is at the bedside
            begin_connecting(k, p, source)
        return False
    release(k, p)  # a planned move: no gap, unless the cylinder opened gives nothing
    call_off_staff(k, p)
    begin_gap(k, p)
    connect(k, p, source)
    return True


def stop_moves(k: Record) -> None:
    """Call off the staff who were to move a patient who has the full flow again."""
    slot = k.first_present if k.takes_time else NONE
    while slot != NONE:
        p = patient_at(k, slot)
        if p.flowing and p.unit != NONE and seen_to(p) and not p.reduced:
            call_off_staff(k, p)
        slot = p.after


compile_file(globals())
