"""Moving a concentrator: an idle unit of another ward is taken to the ward where somebody waits."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import can_start, has_room, reckon_spare
from o2sim.model.kernel.claims import seen_to
from o2sim.model.kernel.codes import LOG, RANK, STEP
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.layout import NONE, note, patient_at, unit_at, waiting_at
from o2sim.model.kernel.reduced_flow import takes_reduced
from o2sim.model.rules import MOVING


def move_units(k: Record) -> None:
    """Have idle units moved to wards where somebody waits whom they could serve, one at a time to each ward.

    By the place in line of who waits; the lowest-numbered working unit of another ward that has power and serves
    nobody. Porters do it, no nurse is needed.
    """
    moving_s = k.rules.moving_s
    if moving_s == NONE or not k.has_bank:
        return
    for place in range(k.line_count):
        p = patient_at(k, waiting_at(k.line, place).slot)
        if not _stays(k, p) or _on_its_way(k, p.ward):
            continue
        least = 1 if takes_reduced(k, p) else p.flow_ml_min
        for number in range(k.unit_count):
            u = unit_at(k, number)
            idle = u.patient_count == 0 and u.expected_count == 0
            if u.ward != p.ward and idle and has_room(u, least) and can_start(k, u, k.running_w):
                _move(k, u, p.ward, moving_s)
                break


def _on_its_way(k: Record, ward: Whole) -> Whole:
    """Return True if a unit is on the move to a ward."""
    for number in range(k.unit_count):
        if unit_at(k, number).on_the_move and unit_at(k, number).ward == ward:
            return True
    return False


def _stays(k: Record, p: Record) -> Whole:
    """Return True for a patient who waits for a source and does not leave at this instant."""
    leaves = p.transfers and (p.displaced or p.arrival_s == k.now)
    return p.needs and not (seen_to(p) or leaves or p.transfer_due)


def _move(k: Record, u: Record, ward: Whole, moving_s: Whole) -> None:
    note(k, LOG.MOVE_BEGINS, u.number, ward, -1)
    k.ledger.concentrators_moved += 1
    u.on_the_move = True
    reckon_spare(k, u)  # for the ward that it leaves
    u.ward = ward
    schedule(k, k.now + moving_s, RANK.TIMER_ENDS, MOVING + u.number, STEP.UNIT_MOVED, u.number, 0)


def unit_moved(k: Record, u: Record) -> None:
    """A unit is in place on another ward and belongs to it from now on."""
    u.on_the_move = False
    reckon_spare(k, u)
    k.room_made = True
    note(k, LOG.UNIT_MOVED, u.number, u.ward, -1)


compile_file(globals())
