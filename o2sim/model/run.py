"""Scenario, strategy and draws in, Outcome out: a pure function whatever the engine."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from o2sim.draws import Draws
from o2sim.errors import O2simError
from o2sim.model.invariants import require
from o2sim.model.ledger import need_in_horizon, unrecognised_in_horizon
from o2sim.model.reference import run_reference
from o2sim.model.state import State
from o2sim.outcome import Outcome
from o2sim.scenario.types import Scenario

ENGINES = ("reference",)


def simulate(
    scenario: Scenario, strategy: str, draws: Draws, engine: str = "reference", log: bool = False
) -> Outcome:
    """Return what happens under one strategy with these draws; the log is kept only when asked for.

    Raises O2simError for an unknown engine or strategy, InvariantError if a balance is broken.
    """
    if engine not in ENGINES:
        raise O2simError(f"engine: found {engine!r}; allowed: {', '.join(ENGINES)}")
    if strategy not in scenario.hospitals:
        raise O2simError(f"strategy: found {strategy!r}; allowed: {', '.join(scenario.strategies)}")
    return _outcome(*run_reference(scenario.hospitals[strategy], draws, log))


def _outcome(state: State, events: int) -> Outcome:
    ledger, rules = state.ledger, state.rules
    arrivals, patients, need_s, needed_gas = need_in_horizon(
        state.table, state.midnight_s, rules.end_s, len(rules.patients)
    )
    served_s = ledger.served_cylinder_s + ledger.served_concentrator_s
    require(need_s == served_s + sum(ledger.unserved_s) + ledger.transferred_s, "patient-seconds of need")
    delivered = ledger.cylinder_gas + ledger.concentrator_gas
    not_given = ledger.unserved_gas + ledger.missing_gas + ledger.transferred_gas
    require(needed_gas == delivered + not_given, "litres of need")
    shared = {f.name for f in fields(Outcome)} & {f.name for f in fields(ledger)}
    totals = {name: getattr(ledger, name) for name in shared}
    totals |= {name: tuple(value) for name, value in totals.items() if isinstance(value, list)}
    return Outcome(
        replication=state.draws.replication,
        horizon_s=rules.horizon_s,
        days_with_unserved=len(ledger.days_unserved),
        arrivals=sum(arrivals),
        patients=sum(patients),
        arrivals_by_class=tuple(arrivals),
        patients_by_class=tuple(patients),
        need_s=need_s,
        unrecognised_s=unrecognised_in_horizon(state.table, state.midnight_s, rules.end_s),
        needed_gas=needed_gas,
        opening_gas=state.opening_gas,
        closing_gas=state.gas_in_cylinders(),
        opening_usable_gas=state.opening_usable,
        closing_usable_gas=state.usable_gas(),
        unit_running_s=tuple(state.levels.unit_running_s),
        at_once=state.levels.outcome(),
        events=events,
        daily=np.array(state.daily, dtype=np.int32),
        log=tuple(state.log or ()),
        **totals,
    )
