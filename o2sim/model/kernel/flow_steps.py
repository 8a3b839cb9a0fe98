"""Flow steps: the flow is turned down as a patient improves."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel import codes
from o2sim.model.kernel.bedside import reckon_gauge_again
from o2sim.model.kernel.codes import LOG, RANK
from o2sim.model.kernel.events import schedule
from o2sim.model.kernel.layout import NONE, class_at, flow_step_at, note, open_at
from o2sim.model.kernel.ledger import credit_served, credit_unserved, step_flow
from o2sim.model.kernel.manifold import turn_outlet_down
from o2sim.model.kernel.opening import credit_cylinder
from o2sim.model.kernel.spare import may_return
from o2sim.model.kernel.units import turn_down


def next_flow_step(k: Record, slot: Whole, p: Record) -> None:
    """Schedule the next step of a patient's flow, if it comes before the patient leaves."""
    p.step_event = NONE
    kind = class_at(k, p.class_index)
    while p.steps_met < kind.flow_steps_count and step_flow(k, p, p.steps_met) == p.flow_ml_min:
        p.steps_met += 1  # it changes nothing
    if p.steps_met == kind.flow_steps_count:
        return
    due_s = p.arrival_s + flow_step_at(kind.flow_steps, p.steps_met).after_s
    if due_s < p.leave_s:
        step = codes.FLOW_STEPS_DOWN
        p.step_event = schedule(k.calendar, due_s, RANK.FLOW_STEPS_DOWN, p.number, step, slot, 0)


def flow_steps_down(k: Record, slot: Whole, p: Record) -> None:
    """A patient needs less from now on, on any source and also in a gap."""
    flow_ml_min = step_flow(k, p, p.steps_met)
    p.steps_met += 1
    note(k, LOG.FLOW_STEPPED_DOWN, p.number, -1, flow_ml_min)
    if p.cylinder != NONE:
        credit_cylinder(k, open_at(k, p.cylinder))
    elif p.flowing:
        credit_served(k, p)
    if p.gap_since_s != NONE:
        credit_unserved(k, p)
    p.flow_ml_min = flow_ml_min
    if p.cylinder != NONE or p.piped:
        may_return(k, p)
    if p.flowing and p.cylinder != NONE:
        p.given_ml_min = flow_ml_min
        reckon_gauge_again(k, p.cylinder, k.now + 1)  # the looks of this instant are over
        k.room_made = True  # a unit may have room for what is needed now
    elif p.flowing and p.piped:
        turn_outlet_down(k, p)
        k.room_made = True
    elif p.flowing:
        turn_down(k, slot, p)
    next_flow_step(k, slot, p)


jit.compile_file(globals())
