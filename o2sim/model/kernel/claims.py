"""Claims: a source that is being fetched or connected for a patient is nobody else's."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.events import call_off
from o2sim.model.kernel.layout import NONE, set_at, unit_at, ward_at
from o2sim.model.kernel.spare import reckon_spare
from o2sim.model.kernel.store import free_set

# What a patient's claim says beside a unit's number and NONE; as in patient.py of the reference, less one.
FROM_STORE, FROM_WARD, REPLACEMENT = -2, -3, -4


def claim_unit(k: Record, p: Record, number: Whole) -> None:
    """Keep room on a unit for a patient."""
    u = unit_at(k, number)
    u.expected_count += 1
    u.expected_ml_min += p.flow_ml_min
    reckon_spare(k, u)
    p.claim, p.claimed_ml_min = number, p.flow_ml_min


def claim_cylinder(k: Record, p: Record) -> None:
    """Keep a regulator of the ward and a cylinder for a patient: one kept on the ward, else one of the store."""
    take_regulator(k, p)
    p.claim = FROM_WARD if on_ward(k, p.ward) > 0 else FROM_STORE
    _hold(k, p, p.claim, 1)


def claim_replacement(k: Record, p: Record) -> None:
    """Keep a cylinder of the central store for one whose cylinder is to be changed."""
    p.claim = REPLACEMENT
    _hold(k, p, p.claim, 1)


def drop_claim(k: Record, p: Record) -> None:
    """Let go of whatever is kept for a patient; a fetch under way is called off."""
    p.fetch_event = call_off(k.calendar, p.fetch_event)
    p.fetched = False
    claim = p.claim
    p.claim = NONE
    if claim == NONE:
        return
    if claim >= 0:
        u = unit_at(k, claim)
        u.expected_count -= 1
        u.expected_ml_min -= p.claimed_ml_min
        reckon_spare(k, u)
        k.room_made = True
        return
    _hold(k, p, claim, -1)
    if claim != REPLACEMENT:
        give_regulator(k, p.ward, p.set_kind)


def _hold(k: Record, p: Record, claim: Whole, count: Whole) -> None:
    if claim == FROM_WARD:
        ward_at(k, p.ward).held += count
    else:
        k.held += count


def regulator_free(k: Record, p: Record) -> Whole:
    """Return True if the patient's ward has a regulator set for the flow that nobody uses."""
    return ward_at(k, p.ward).regulators_free > 0 and free_set(k, p.flow_ml_min) != NONE


def take_regulator(k: Record, p: Record) -> Whole:
    """Take a regulator set of the patient's ward into use; return its kind."""
    kind = free_set(k, p.flow_ml_min)
    set_at(k, kind).free -= 1
    ward_at(k, p.ward).regulators_free -= 1
    p.set_kind = kind
    return kind


def give_regulator(k: Record, ward: Whole, kind: Whole) -> None:
    """Give a regulator set back to its ward."""
    set_at(k, kind).free += 1
    ward_at(k, ward).regulators_free += 1


def seen_to(p: Record) -> Whole:
    """Return True if a source is on its way to a patient, or staff are asked to come."""
    return p.claim != NONE or p.task != NONE


def on_ward(k: Record, ward: Whole) -> Whole:
    """Return how many cylinders kept on a ward are nobody's yet."""
    return ward_at(k, ward).shelf.count_ - ward_at(k, ward).held if k.stocks_wards else 0


jit.compile_file(globals())
