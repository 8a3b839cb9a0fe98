"""Drawn hospitals that begin from a drawn count, and what became in the reference of what was counted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from counts import counted, counts
from hypothesis import strategies as st
from sized import unsized
from twins import twin_hospitals

from o2sim.draws import Draws
from o2sim.draws.count_record import ANYWHERE, NEVER_BACK, NOWHERE, ON_CYLINDER, WAITS, WORKS, Start
from o2sim.model.patient import Patient
from o2sim.model.reference import begin_reference
from o2sim.model.state import State
from o2sim.model.steps.delivery import lacks_delivery
from o2sim.scenario.types.hospital import Hospital

SOURCES = ("met waiting", "met on a unit", "met on a cylinder", "met anywhere")
BRANCHES = (
    *(f"{met}, goes on {how}" for met in SOURCES[2:] for how in ("a unit", "a cylinder", "waiting")),
    "met on a unit, goes on a unit", "met on a unit, goes on waiting", "met waiting, goes on waiting",
    "met on a cylinder that goes to the store", "met where there are no cylinders",
    "met anywhere, has a cylinder that nobody counted", "a device beside the source is missing",
    "flow has stepped down before", "need ends later than oxygen", "nobody counted who is on oxygen",
    "a register has its own of before", "a strategy without cylinders", "a cylinder part-used",
    "cylinders not accounted for", "an order on its way", "two orders on their way", "an order of today",
    "a unit works", "a unit in repair", "a unit waits for a technician", "a unit is never repaired",
    "a unit has drifted in part", "a unit is serviced on the way", "the grid is up", "the grid is down",
    "the voltage is bad", "the battery was read", "the tank was read", "the tank is dry",
    "the next review is known", "begun at midnight", "begun in the day",
)  # fmt: skip


@st.composite
def counted_hospitals(draw: Any) -> Hospital:
    """Draw a hospital without a manifold that begins from a count."""
    rules = draw(twin_hospitals().filter(lambda each: each.manifold is None).map(unsized))
    return counted(rules, draw(counts(rules)))


def reached(rules: Hospital, draws: Draws) -> set[str]:
    """Return which of BRANCHES a hospital reaches as it begins."""
    _, state = begin_reference(rules, draws)
    start = draws.start(rules)
    assert start is not None
    return {*_patients(state, start), *_things(rules, start), *_power(rules, start, state)}


def _patients(state: State, start: Start) -> Iterator[str]:
    for row in start.given:
        patient, source = state.present[int(row["number"])], int(row["source"])
        yield f"{SOURCES[source]}, goes on {_how(patient)}"
        if source == ON_CYLINDER and (patient.cylinder is None or patient.cylinder.content != row["content"]):
            yield "met on a cylinder that goes to the store" if state.store else "met where there are no cylinders"
        if source == ANYWHERE and patient.cylinder is not None and patient.cylinder.content == row["content"]:
            yield "met anywhere, has a cylinder that nobody counted"
        if _how(patient) == "waiting" and source != NOWHERE and lacks_delivery(state, patient):
            yield "a device beside the source is missing"
        if patient.steps_met:
            yield "flow has stepped down before"
        if patient.need_event is not None:
            yield "need ends later than oxygen"
    if state.rules.now is not None and state.rules.now.on_oxygen is None and len(start.given):
        yield "nobody counted who is on oxygen"
    if any(each.recorded and min(each.recorded.arrival_s) < 0 for each in state.rules.patients):
        yield "a register has its own of before"


def _how(patient: Patient) -> str:
    return "a unit" if patient.units else "a cylinder" if patient.cylinder is not None else "waiting"


def _things(rules: Hospital, start: Start) -> Iterator[str]:
    if rules.cylinders is None:
        yield "a strategy without cylinders"
    yield from ["a cylinder part-used"] * len(start.rack)
    if start["lost"]:
        yield "cylinders not accounted for"
    if len(start.coming):
        yield "an order on its way" if len(start.coming) == 1 else "two orders on their way"
    if start["orders_on_day"]:
        yield "an order of today"
    names = {WORKS: "a unit works", WAITS: "a unit waits for a technician", NEVER_BACK: "a unit is never repaired"}
    for unit in start.units:
        yield names.get(int(unit["repair_s"]), "a unit in repair")
        if unit["drift_age_s"] > 0:
            yield "a unit has drifted in part"
        if unit["service_s"] > 0:
            yield "a unit is serviced on the way"


def _power(rules: Hospital, start: Start, state: State) -> Iterator[str]:
    if rules.grid is not None:
        yield "the grid is up" if start["grid_up"] else "the grid is down"
    if not start["voltage_good"]:
        yield "the voltage is bad"
    if state.chain.battery is not None and start["battery_permille"] >= 0:
        yield "the battery was read"
    if state.chain.generator is not None and state.chain.generator.fuel is not None and start["fuel_ml"] >= 0:
        yield "the tank is dry" if start["fuel_ml"] == 0 else "the tank was read"
    if rules.resupply is not None and rules.resupply.review_s is not None and start["next_review_s"] >= 0:
        yield "the next review is known"
    yield "begun at midnight" if rules.warm_up_s == 0 else "begun in the day"
