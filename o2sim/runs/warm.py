"""Loads the compiled engine as it is imported: workers forked from here share it instead of loading it each.

Loaded code takes 70 MB and a second and a half. It is loaded where it is kept already, by a run of one day of a
ward with one unit; nothing is compiled here.
"""

from __future__ import annotations

import gc
from contextlib import suppress

from o2sim.draws import Draws
from o2sim.model.run import is_ready, simulate
from o2sim.scenario.building.loading import loads

WARD = """
name: one unit
horizon: 1 day
warm_up: 0 days
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: 1 h}}
cylinders: {content: 6800 L, filling_pressure: 13.7 MPa, fleet: 2, regulators: 1}
resupply: {review: 1 day, reorder_point: 1, order_up_to: 2, lead_time: 1 day}
concentrators: {count: 1, rated_flow: 5 L/min, outlets: 1, power: 350 W}
strategies: {both: {sources: [concentrator, cylinder]}}
"""

with suppress(Exception):  # nothing depends on it: each worker loads what it lacks
    if is_ready("kernel"):
        simulate(loads(WARD), "both", Draws(0, 0), engine="kernel")
gc.collect()
gc.freeze()  # what is here is never looked through again, so that its pages stay shared
