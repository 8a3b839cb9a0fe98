"""Simulate a strategy of a scenario under given draws: a pure function whatever the engine."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np

from o2sim.compiler import jit
from o2sim.draws import Draws
from o2sim.draws.admissions import Need
from o2sim.errors import O2simError
from o2sim.model.invariants import require
from o2sim.model.kernel.engine import read_log, run_kernel
from o2sim.model.ledger import need_in_horizon, unrecognised_in_horizon
from o2sim.model.reference import run_reference
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import Hospital, Scenario

ENGINES = ("kernel", "reference")
_OF_OUTCOME = tuple(part.name for part in fields(Outcome))


def engine_at_hand(engine: str) -> str:
    """Return the engine asked for, the reference in place of the compiled one where nothing can compile it."""
    return "reference" if engine == "kernel" and not jit.COMPILER else engine


def is_ready(engine: str) -> bool:
    """Return True unless the engine has to be compiled first, which takes about half a minute."""
    return engine != "kernel" or jit.is_kept("loop")


def make_ready(engine: str, hospital: Hospital) -> None:
    """Compile the engine if it has to be, by a run of a hospital."""
    if not is_ready(engine):
        run_kernel(hospital, Draws(0, 0))


def simulate(
    scenario: Scenario, strategy: str, draws: Draws, engine: str = "kernel", log: bool = False
) -> Outcome:
    """Return what happens under one strategy with these draws; the log is kept only when asked for.

    Without a compiler the reference engine runs in place of the compiled one, with the same result.
    Raises O2simError for an unknown engine or strategy, InvariantError if a balance is broken.
    """
    if engine not in ENGINES:
        raise O2simError(f"engine: found {engine!r}; allowed: {', '.join(ENGINES)}")
    if strategy not in scenario.hospitals:
        raise O2simError(f"strategy: found {strategy!r}; allowed: {', '.join(scenario.strategies)}")
    hospital = scenario.hospitals[strategy]
    return (_by_kernel if engine_at_hand(engine) == "kernel" else _by_reference)(hospital, draws, log)


def _by_reference(hospital: Hospital, draws: Draws, log: bool) -> Outcome:
    state, events = run_reference(hospital, draws, log)
    totals = {part.name: getattr(state.ledger, part.name) for part in fields(state.ledger)}
    table, midnight_s, end_s = draws.patients(hospital), hospital.counted_from_s, hospital.end_s
    arrivals, patients, need_s, gas = need_in_horizon(table, midnight_s, end_s, len(hospital.patients))
    missed_s = unrecognised_in_horizon(table, midnight_s, end_s)
    return _outcome(
        hospital,
        draws,
        Need(tuple(arrivals), tuple(patients), need_s, gas, missed_s),
        totals,
        days_with_unserved=len(state.ledger.days_unserved),
        opening_gas_by_size=tuple(state.opening_gas),
        closing_gas_by_size=tuple(state.gas_of(store) for store in state.stores),
        opening_usable_gas_by_size=tuple(state.opening_usable),
        closing_usable_gas_by_size=tuple(state.usable_of(store) for store in state.stores),
        fewest_full_by_size=tuple(store.fewest_full for store in state.stores),
        fewest_full=state.fewest_full,
        unit_running_s=tuple(state.levels.unit_running_s),
        at_once=state.levels.outcome(),
        events=events,
        daily=np.array(state.daily, dtype=np.int32),
        log=tuple(state.log or ()),
    )


def _by_kernel(hospital: Hospital, draws: Draws, log: bool) -> Outcome:
    finished = run_kernel(hospital, draws, log)
    need = draws.need(hospital)
    return _outcome(hospital, draws, need, finished.totals, **finished.found, log=read_log(finished.log))


def _outcome(hospital: Hospital, draws: Draws, need: Need, totals: dict[str, Any], **found: Any) -> Outcome:
    """Return what either engine found, with what the patients alone decide; check the balances of need."""
    served_s = totals["served_cylinder_s"] + totals["served_concentrator_s"]
    require(
        need.seconds == served_s + sum(totals["unserved_s"]) + totals["transferred_s"], "patient-seconds of need"
    )
    delivered = totals["cylinder_gas"] + totals["concentrator_gas"]
    not_given = totals["unserved_gas"] + totals["missing_gas"] + totals["transferred_gas"]
    require(need.gas == delivered + not_given, "litres of need")
    shared = {name: totals[name] for name in _OF_OUTCOME if name in totals}
    shared = {name: tuple(value) if isinstance(value, list) else value for name, value in shared.items()}
    for name in ("opening_gas", "closing_gas", "opening_usable_gas", "closing_usable_gas"):
        found[name] = sum(found[f"{name}_by_size"])
    return Outcome(
        replication=draws.replication,
        horizon_s=hospital.horizon_s,
        arrivals=sum(need.arrivals),
        patients=sum(need.patients),
        arrivals_by_class=need.arrivals,
        patients_by_class=need.patients,
        need_s=need.seconds,
        unrecognised_s=need.unrecognised_s,
        needed_gas=need.gas,
        **shared,
        **found,
    )
