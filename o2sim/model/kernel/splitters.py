"""Flow splitters: patients share a cylinder, each at a flow of its own, when no regulator set is free."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.bedside import reckon_gauge_again
from o2sim.model.kernel.codes import LOG
from o2sim.model.kernel.gaps import end_gap
from o2sim.model.kernel.layout import NONE, note, open_at, patient_at, set_at
from o2sim.model.kernel.on_cylinder import flow_of, flows, gas_left, put_on
from o2sim.model.kernel.opening import RESIDUAL, credit_cylinder, enough_gas
from o2sim.model.kernel.queues import before
from o2sim.model.kernel.store import reads, runs_out_after_s, store_of


def outlet_for(k: Record, p: Record) -> Whole:
    """Return the place of the open cylinder that a patient can join, NONE if there is none.

    It flows, holds enough, is not waiting for a change, has a flowmeter that can be set to the flow, and a free
    outlet or a splitter to spare. The smallest range first, then one that has its splitter already, then the one
    that lasts longest.
    """
    if not k.rules.has_cylinders_splitters:
        return NONE
    best, place = NONE, k.first_open
    while place != NONE:
        c = open_at(k, place)
        if _can_join(k, p, c) and (best == NONE or _sooner(k, p, c, open_at(k, best))):
            best = place
        place = c.after
    return best


def _sooner(k: Record, p: Record, c: Record, other: Record) -> Whole:
    """Return True if one of two cylinders is joined rather than the other."""
    width, other_width = _width(k, c), _width(k, other)
    if width != other_width:
        return width < other_width
    if c.kind != other.kind:
        return c.kind < other.kind
    if (c.patient_count == 1) != (other.patient_count == 1):
        return c.patient_count != 1
    lasts_s, other_lasts_s = _lasts_s(k, p, c), _lasts_s(k, p, other)
    if lasts_s != other_lasts_s:
        return lasts_s > other_lasts_s
    return c.number < other.number


def _width(k: Record, c: Record) -> Whole:
    return set_at(k, c.kind).high_ml_min - set_at(k, c.kind).low_ml_min


def _lasts_s(k: Record, p: Record, c: Record) -> Whole:
    return runs_out_after_s(gas_left(k, c), store_of(k, c), flow_of(k, c) + p.flow_ml_min)


def _can_join(k: Record, p: Record, c: Record) -> Whole:
    return (
        flows(k, c)
        and not c.backup
        and patient_at(k, c.lead).ward == p.ward
        and patient_at(k, c.lead).task == NONE
        and _has_outlet(k, c)
        and reads(k, c.kind, p.flow_ml_min)
        and _lasts(k, c, flow_of(k, c) + p.flow_ml_min)
    )


def _has_outlet(k: Record, c: Record) -> Whole:
    r = k.rules
    if c.patient_count > 1:
        return c.patient_count < r.cylinders_splitters_outlets
    return r.cylinders_splitters_outlets > 1 and fitted(k) < r.cylinders_splitters_count


def fitted(k: Record) -> Whole:
    """Return the number of splitters in use: of cylinders with more than one patient."""
    count, place = 0, k.first_open
    while place != NONE:
        count += open_at(k, place).patient_count > 1
        place = open_at(k, place).after
    return count


def _lasts(k: Record, c: Record, flow_ml_min: Whole) -> Whole:
    """Return True if the gauge does not read as low, and the gas is enough for a flow by the rule of changing."""
    s, left = store_of(k, c), gas_left(k, c)
    least = 0 if k.rules.cylinders_change_when == RESIDUAL else enough_gas(k, s, flow_ml_min, k.now)
    enough = left >= least and runs_out_after_s(left, s, flow_ml_min) > 0
    return enough and left > s.keep_gas + max(0, c.gauge_error_gas)


def join_cylinder(k: Record, p: Record) -> None:
    """Put a patient on an open cylinder through a splitter, without a break for those on it."""
    place = outlet_for(k, p)
    c = open_at(k, place)
    content, lead = credit_cylinder(k, c), patient_at(k, c.lead)
    put_on(k, p, place)
    end_gap(k, p)
    p.flowing, p.flow_since_s = True, k.now
    p.given_ml_min = p.flow_ml_min
    note(k, LOG.JOINS_CYLINDER, p.number, lead.number, content)
    if before(p, lead):
        c.lead = p.slot
    reckon_gauge_again(k, place, k.now)


def cylinder_would_do(k: Record, p: Record, other: Record) -> Whole:
    """Return True if the cylinder of another, or the outlet on it, would serve this patient in its place."""
    c = open_at(k, other.cylinder)
    if c.backup:  # which stays with its patient
        return False
    if not reads(k, c.kind, p.flow_ml_min):
        return False
    if c.patient_count == 1:
        left, s = gas_left(k, c), store_of(k, c)
        return left > s.keep_gas and runs_out_after_s(left, s, p.flow_ml_min) > 0
    flow = flow_of(k, c) - other.flow_ml_min + p.flow_ml_min
    return patient_at(k, c.lead).task == NONE and _lasts(k, c, flow)


compile_file(globals())
