"""Timed change: staff reckon when a cylinder will lose its flow, note the time, and come a little before it."""

from __future__ import annotations

from o2sim.compiler.jit import Record, compile_file
from o2sim.model.kernel.layout import patient_at
from o2sim.model.kernel.on_cylinder import flow_of
from o2sim.model.kernel.opening import first_look_s, last_look_s, next_look_s
from o2sim.model.kernel.store import runs_out_after_s, store_of
from o2sim.model.patient import FOREVER_S


def reckon_note(k: Record, c: Record) -> None:
    """Reckon when staff come by their note, from what the gauge reads now and the flow."""
    r = k.rules
    reckoned_s = k.now + runs_out_after_s(c.content - c.gauge_error_gas, store_of(k, c), flow_of(k, c))
    last_s, noting_s = reckoned_s - k.longest_change_s, k.now
    if next_look_s(k, k.now + 1) <= last_s:
        noting_s = first_look_s(k, patient_at(k, c.lead), last_look_s(k, last_s), c.run_out_s)
    c.noted_s = FOREVER_S
    if noting_s <= c.run_out_s:
        c.noted_s = max(noting_s, reckoned_s - r.cylinders_timed_margin_s)


compile_file(globals())
