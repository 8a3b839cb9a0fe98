"""Given flow: what a patient gets, and who gets less than prescribed."""

from __future__ import annotations

from o2sim import jit
from o2sim.jit import Record, Whole
from o2sim.model.kernel.ledger import credit_served


@jit.compiled
def give(k: Record, p: Record, flow_ml_min: Whole) -> None:
    """Let a patient have a flow from now on; less than prescribed is reduced flow: served, but under-served."""
    if p.flowing:
        credit_served(k, p)
    p.given_ml_min = flow_ml_min
    _set_reduced(k, p, flow_ml_min < p.flow_ml_min)


@jit.compiled
def flow_stops(k: Record, p: Record) -> None:
    """Units give a patient nothing from now on."""
    credit_served(k, p)
    p.flowing = p.low = False
    _set_reduced(k, p, False)


@jit.compiled
def _set_reduced(k: Record, p: Record, reduced: Whole) -> None:
    if reduced != p.reduced:
        k.reduced_count += 1 if reduced else -1
        p.reduced = reduced
