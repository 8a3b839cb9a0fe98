"""Given flow: what a patient gets, and who gets less than prescribed."""

from __future__ import annotations

from o2sim.compiler import jit
from o2sim.compiler.jit import Record, Whole
from o2sim.model.kernel.layout import NONE, patient_at
from o2sim.model.kernel.ledger import credit_served


def give(k: Record, p: Record, flow_ml_min: Whole) -> None:
    """Let a patient have a flow from now on; less than prescribed is reduced flow: served, but under-served."""
    if p.flowing:
        credit_served(k, p)
    p.given_ml_min = flow_ml_min
    _set_reduced(k, p, flow_ml_min < p.flow_ml_min)


def flow_stops(k: Record, p: Record) -> None:
    """Units give a patient nothing from now on."""
    credit_served(k, p)
    p.flowing = p.low = False
    _set_reduced(k, p, False)


def _set_reduced(k: Record, p: Record, reduced: Whole) -> None:
    if reduced == p.reduced:
        return
    p.reduced = reduced
    if reduced:
        k.reduced_count += 1
        p.reduced_before, p.reduced_after = NONE, k.first_reduced
        if k.first_reduced != NONE:
            patient_at(k, k.first_reduced).reduced_before = p.slot
        k.first_reduced = p.slot
        return
    k.reduced_count -= 1
    if p.reduced_before == NONE:
        k.first_reduced = p.reduced_after
    else:
        patient_at(k, p.reduced_before).reduced_after = p.reduced_after
    if p.reduced_after != NONE:
        patient_at(k, p.reduced_after).reduced_before = p.reduced_before


jit.compile_file(globals())
