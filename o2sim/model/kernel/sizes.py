"""Sizes: of which size the cylinder is that a patient is given, as one is connected or as one is changed."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.claims import is_kept, regulator_free
from o2sim.model.kernel.layout import NONE, patient_at, store_at
from o2sim.model.kernel.on_cylinder import flow_of, flows, gas_left
from o2sim.model.kernel.opening import enough_gas, enough_to_take, next_content
from o2sim.model.kernel.packing import code
from o2sim.model.kernel.store import fits, has_any, in_store, runs_out_after_s, store_of
from o2sim.scenario.types.cylinder_size import MOST_SIZES
from o2sim.scenario.types.hospital import Cylinders

BEDSIDE, BACKUP, TRANSFER = range(3)  # uses of a size
LISTED = code(Cylinders, "choose", "listed")
_LAST = (1 << 62, 1 << 62)


def size_for(k: Record, use: Whole, place: Whole) -> Whole:
    """Return the size for a use at a place in the order of choice."""
    return k.sizes_for[use * MOST_SIZES + place]


def may_open(k: Record, p: Record, size: Whole) -> Whole:
    """Return True if there is a cylinder of a size for a patient: one kept on the ward, or one of the store.

    The last few of each size in the store may be kept for a high priority.
    """
    return is_kept(k, p.ward, size) or in_store(store_at(k, size)) > kept_back(k, p)


def kept_back(k: Record, p: Record) -> Whole:
    """Return how many cylinders of each size are kept for a higher priority."""
    r = k.rules
    return r.allocation_reserve if p.priority > r.allocation_reserve_priority else 0


def is_for(k: Record, p: Record, size: Whole) -> Whole:
    """Return True if a size for patients is one for a patient's flow: one for which there are sets, if any is."""
    if not k.several or has_any(k, p.flow_ml_min, size):
        return True
    for place in range(k.sizes_for_count[BEDSIDE]):
        if has_any(k, p.flow_ml_min, size_for(k, BEDSIDE, place)):
            return False
    return True


def any_to_open(k: Record, p: Record) -> Whole:
    """Return True if there is a cylinder for a patient, whether or not a set for it is free."""
    if not k.several:
        return may_open(k, p, 0)
    for place in range(k.sizes_for_count[BEDSIDE]):
        size = size_for(k, BEDSIDE, place)
        if is_for(k, p, size) and may_open(k, p, size):
            return True
    return False


def to_open(k: Record, p: Record) -> Whole:
    """Return the size of the cylinder to be opened for a patient without a set; NONE without one, or a set for it.

    The size that has been fetched, else the first by the rule of choosing.
    """
    if not k.several:
        return 0 if may_open(k, p, 0) and regulator_free(k, p, 0) else NONE
    if p.fetched_s == k.now and p.claimed_size != NONE:
        for place in range(k.sizes_for_count[BEDSIDE]):
            if size_for(k, BEDSIDE, place) == p.claimed_size and _fit_to_open(k, p, p.claimed_size):
                return p.claimed_size
    best, of_best = NONE, _LAST
    for place in range(k.sizes_for_count[BEDSIDE]):
        size = size_for(k, BEDSIDE, place)
        if _fit_to_open(k, p, size):
            if k.rules.cylinders_choose == LISTED:
                return size
            rank = _choice(k, p, size, p.flow_ml_min, k.now)
            if rank < of_best:
                best, of_best = size, rank
    return best


def _fit_to_open(k: Record, p: Record, size: Whole) -> Whole:
    return is_for(k, p, size) and may_open(k, p, size) and regulator_free(k, p, size)


def to_change(k: Record, c: Record, begins_s: Whole) -> Whole:
    """Return the size of the next cylinder in place of one, to flow from a second on; NONE without any.

    Of another size where the set on it fits, or another set is free and the patient alone on it. The size that has
    been fetched; else the first by the rule of choosing that lasts longer than what is left, if one does.
    """
    lead = patient_at(k, c.lead)
    if not k.several:
        return 0 if may_open(k, lead, 0) else NONE
    use = BACKUP if c.backup else BEDSIDE
    if lead.fetched and lead.claimed_size != NONE:
        for place in range(k.sizes_for_count[use]):
            if size_for(k, use, place) == lead.claimed_size and _fit_to_change(k, c, lead.claimed_size):
                return lead.claimed_size
    best, of_best, better, of_better, flow = NONE, _LAST, NONE, _LAST, flow_of(k, c)
    for place in range(k.sizes_for_count[use]):
        size = size_for(k, use, place)
        if not _fit_to_change(k, c, size):
            continue
        rank = (place, 0) if k.rules.cylinders_choose == LISTED else _choice(k, lead, size, flow, begins_s)
        if rank < of_best:
            best, of_best = size, rank
        if rank < of_better and is_better(k, c, size, begins_s):
            better, of_better = size, rank
    return best if better == NONE else better


def _fit_to_change(k: Record, c: Record, size: Whole) -> Whole:
    return may_open(k, patient_at(k, c.lead), size) and has_set(k, c, size)


def has_set(k: Record, c: Record, size: Whole) -> Whole:
    """Return True if a cylinder of a size could be put on in place of one: by the set on it, or by another."""
    if fits(k, c.kind, size):
        return True
    return c.patient_count == 1 and regulator_free(k, patient_at(k, c.lead), size)


def is_better(k: Record, c: Record, size: Whole, begins_s: Whole) -> Whole:
    """Return True if the next cylinder of a size can give more than what is left in one that flows."""
    s = store_at(k, size)
    best = next_content(k, patient_at(k, c.lead), s, enough_to_take(k, c, s, begins_s))
    if not flows(k, c):
        return best > 0
    return best - s.lost_gas > gas_left(k, c) - store_of(k, c).lost_gas


def _choice(k: Record, p: Record, size: Whole, flow_ml_min: Whole, begins_s: Whole) -> tuple[Whole, Whole]:
    """Return the place of a size among those that could be opened for a flow that begins at a second.

    The smallest that lasts until the next look first; those that do not last at the end, the one that lasts
    longest before the others.
    """
    s = store_at(k, size)
    enough = enough_gas(k, s, flow_ml_min, begins_s)
    content = next_content(k, p, s, enough)
    if content >= enough:
        return 0, s.full_gas
    return 1, -runs_out_after_s(content, s, flow_ml_min)


compile_file(globals())
