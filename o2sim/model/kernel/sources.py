"""Sources: which one a patient gets, whom it is taken from, or why there is none."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bank import all_down, lacks_power
from o2sim.model.kernel.bedside import connect_cylinder
from o2sim.model.kernel.claims import has_backup
from o2sim.model.kernel.codes import CAUSE, LOG, SOURCE, WAY
from o2sim.model.kernel.connecting import hands_come, keep_source, needs_hands
from o2sim.model.kernel.delivery import delivery_would_do, lacks_delivery
from o2sim.model.kernel.gaps import wait
from o2sim.model.kernel.layout import NONE, note, number_at, patient_at
from o2sim.model.kernel.manifold import connect_outlet, outlet_free, outlets_reason
from o2sim.model.kernel.patients import release
from o2sim.model.kernel.queues import before
from o2sim.model.kernel.reduced_flow import (
    connect_on_units,
    connect_reduced,
    may_share,
    may_take_two,
    on_units,
    shared_source,
    takes_reduced,
    two_lack_power,
    unit_would_do,
)
from o2sim.model.kernel.sizes import any_to_open, to_open
from o2sim.model.kernel.splitters import cylinder_would_do, join_cylinder, outlet_for
from o2sim.model.kernel.staff import call_off_staff


def connect(k: Record, p: Record, source: Whole) -> None:
    """Connect a patient to a source that was found."""
    if source == WAY.BY_UNIT or source == WAY.BY_TWO:
        connect_on_units(k, p, source)
    elif source == WAY.BY_REDUCED:
        connect_reduced(k, p)
    elif source == WAY.BY_CYLINDER:
        connect_cylinder(k, p)
    elif source == WAY.BY_SPLITTER:
        join_cylinder(k, p)
    else:
        connect_outlet(k, p)


def find_source(k: Record, p: Record) -> Whole:
    """Return how to connect a patient: with room, by making way, in part; NONE where nobody can serve."""
    if not p.needs and p.arrival_s != k.now and p.task == NONE:
        return NONE  # one without need is not connected a second time
    source = first_source(k, p)
    if source != NONE or needs_hands(k, p):
        return source
    if _may_preempt(k, p):
        source = _made_way(k, p)
    if source == NONE and not lacks_delivery(k, p):
        source = shared_source(k, p)
    return source


def _may_preempt(k: Record, p: Record) -> Whole:
    return k.rules.allocation_preempt and p.needs


def _made_way(k: Record, p: Record) -> Whole:
    """Take a lower priority's source; what is taken stands on the ward and need not be fetched."""
    if not _make_way(k, p):
        return NONE
    p.fetched_s = k.now
    return first_source(k, p)


def would_make_way(k: Record, p: Record) -> Whole:
    """Return True if somebody could be displaced, or give up a part of a flow, for a patient."""
    if _may_preempt(k, p) and _lower(k, p) != NONE:
        return True
    return not lacks_delivery(k, p) and may_share(k, p)


def come_to_connect(k: Record, p: Record) -> Whole:
    """Staff come to connect a patient, if there still is what to; a lower priority gives way now, if need be."""
    if p.claim == NONE:
        source = first_source(k, p)
        if source == NONE and not p.flowing and _may_preempt(k, p):
            source = _made_way(k, p)
        if source != NONE:
            keep_source(k, p, source)
        elif p.flowing or not would_make_way(k, p):
            return False
    hands_come(k, p)
    return True


def first_source(k: Record, p: Record) -> Whole:
    """Return the first source for the full flow, NONE if none has room or a device is missing."""
    return NONE if lacks_delivery(k, p) else _source_with_room(k, p)


def _source_with_room(k: Record, p: Record) -> Whole:
    """Return the first source in the strategy's order that gives the full flow, NONE if none does."""
    r = k.rules
    for place in range(r.strategy_sources_count):
        source = number_at(r.strategy_sources, place).value
        if source == SOURCE.CONCENTRATOR:
            by_units = on_units(k, p)
            if by_units != NONE:
                return by_units
        elif source == SOURCE.MANIFOLD:
            if outlet_free(k):
                return WAY.BY_OUTLET
        elif k.has_store:
            if has_backup(k, p) or to_open(k, p) != NONE:
                return WAY.BY_CYLINDER
            if outlet_for(k, p) != NONE:
                return WAY.BY_SPLITTER
    return NONE


def _make_way(k: Record, p: Record) -> Whole:
    """Take, from the last in line of a lower priority, a source that is enough; return True if there is one."""
    best = _lower(k, p)
    if best == NONE:
        return False
    other = patient_at(k, best)
    note(k, LOG.DISPLACED, other.number, p.number, -1)
    release(k, other)
    call_off_staff(k, other)
    other.displaced = True
    wait(k, other)
    return True


def _lower(k: Record, p: Record) -> Whole:
    """Return the last in line of a lower priority on the ward whose source would do, NONE if there is none."""
    best, slot = NONE, k.first_present
    while slot != NONE:
        other = patient_at(k, slot)
        if (
            other.ward == p.ward
            and other.flowing
            and other.priority > p.priority
            and (best == NONE or before(patient_at(k, best), other))
        ):
            if delivery_would_do(k, p, other) and _would_do(k, p, other):
                best = slot
        slot = other.after
    return best


def _would_do(k: Record, p: Record, other: Record) -> Whole:
    """Return True if what serves another would serve this patient in its place."""
    if other.cylinder != NONE:
        return cylinder_would_do(k, p, other)
    if other.piped:
        return True
    return unit_would_do(k, p, other, other.unit) or unit_would_do(k, p, other, other.second_unit)


def reason(k: Record, p: Record) -> Whole:
    """Return why the last source in the strategy's order cannot serve a patient, or what is missing beside one."""
    if lacks_delivery(k, p) and _source_with_room(k, p) != NONE:
        return CAUSE.NO_DELIVERY_SET
    r = k.rules
    last = number_at(r.strategy_sources, r.strategy_sources_count - 1).value
    if last == SOURCE.CYLINDER:
        return CAUSE.NO_REGULATOR if any_to_open(k, p) else CAUSE.NO_CYLINDER
    if last == SOURCE.MANIFOLD:
        return outlets_reason(k)
    return units_reason(k, p)


def units_reason(k: Record, p: Record) -> Whole:
    """Return why no unit of the ward can serve a patient, or give one on reduced flow enough."""
    r, two, flow = k.rules, may_take_two(k, p), p.flow_ml_min  # the least that would do
    if takes_reduced(k, p):
        flow = max(1, -(-r.shortfall_enough_permille * flow // 1_000)) if p.flowing else 1
    if flow > r.concentrators_rated_flow_ml_min * (2 if two else 1):
        return CAUSE.FLOW_TOO_HIGH
    if lacks_power(k, flow, p.ward) or (two and two_lack_power(k, flow, p.ward)):
        return CAUSE.NO_POWER
    if all_down(k, p.ward):
        return CAUSE.CONCENTRATOR_DOWN
    return CAUSE.CONCENTRATORS_FULL


compile_file(globals())
