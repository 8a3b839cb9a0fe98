"""Cylinders that go with a patient who is sent on, as many as the way takes, with a set; and come back."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.model.patient import Patient
from o2sim.model.rules import ON_THE_WAY, Rank, runs_out_after_s
from o2sim.model.state import State
from o2sim.model.steps.claims import give_regulator, regulator_free, take_regulator
from o2sim.model.steps.opening import note_fewest
from o2sim.model.steps.resupply import consider_review, credit_shelf
from o2sim.model.steps.sizes import kept_back
from o2sim.model.steps.stock import consider_emergency
from o2sim.model.store import CylinderStore
from o2sim.scenario.types.hospital import Transfer


@dataclass(frozen=True, slots=True)
class Journey:
    """A patient on the way with cylinders of the place."""

    patient: Patient
    store: CylinderStore  # of their size
    kind: int  # of the regulator set
    unopened: int  # of the cylinders, the last ones


def go_with_cylinders(state: State, patient: Patient, rule: Transfer) -> bool:
    """Let full cylinders and a set go with a patient; False where no size for it has as many, or no set is free.

    One and a half times what flow and leak take on the way, in cylinders that give all that a full one can. What
    is used is drawn from one after the other as they leave.
    """
    for place in state.sizes_for.get("transfer", ()):
        store = state.stores[place]
        count = needed(store, patient, rule)
        spare = min(len(store.fills), store.in_store - kept_back(state, patient))
        if 0 < count <= spare and regulator_free(state, patient, store):
            _leave(state, patient, rule, store, count)
            return True
    return False


def needed(store: CylinderStore, patient: Patient, rule: Transfer) -> int:
    """Return how many full cylinders of a size a patient is given for the way; 0 where they give nothing."""
    usable = store.rules.full_gas - store.rules.lost_gas
    gas = (patient.flow_ml_min + store.rules.leak_ml_min) * rule.travel_s
    return max(1, -(-3 * gas // (2 * usable))) if usable > 0 else 0


def _leave(state: State, patient: Patient, rule: Transfer, store: CylinderStore, count: int) -> None:
    credit_shelf(state)
    contents, ledger = store.send_with(patient.number, count), state.ledger
    unopened, gas = _draw(contents, store, patient.flow_ml_min, rule.travel_s)
    journey = Journey(patient, store, take_regulator(state, patient, store), unopened)
    state.journeys[patient.number] = journey
    ledger.with_cylinders += 1
    ledger.transfer_cylinders += count
    ledger.transfer_gas += gas
    ledger.drawn(store, gas)
    ledger.opened_by_size[store.number] += count - unopened
    ledger.cylinders_opened += count - unopened
    note_fewest(state, store)
    state.note("cylinders go with a patient", patient.number, count, gas)
    due_s = state.now + rule.travel_s + rule.back_after_s
    state.clock.at(due_s, Rank.DELIVERY, ON_THE_WAY + patient.number, back_from_the_way, journey)
    consider_review(state, store, emptied=False)
    consider_emergency(state)


def _draw(contents: list[int], store: CylinderStore, flow_ml_min: int, seconds: int) -> tuple[int, int]:
    """Draw a flow for some seconds from cylinders in turn; return how many stay unopened, and the gas drawn."""
    rate, gas = flow_ml_min + store.rules.leak_ml_min, 0
    for place, content in enumerate(contents):
        if seconds == 0:
            return len(contents) - place, gas
        lasts_s = min(seconds, runs_out_after_s(content, store.rules, flow_ml_min))
        contents[place] -= lasts_s * rate
        seconds -= lasts_s
        gas += lasts_s * rate
    return 0, gas


def back_from_the_way(state: State, journey: Journey) -> None:
    """The cylinders and the set are back: unopened ones to the shelf, the others to the rack or the empties."""
    store, patient = journey.store, journey.patient
    del state.journeys[patient.number]
    credit_shelf(state)
    count = len(store.on_the_way[patient.number])
    empty = store.back_from(patient.number, patient.flow_ml_min, journey.unopened)
    give_regulator(state, patient.ward, journey.kind)
    state.ledger.cylinders_emptied += empty
    state.stock_came = True
    state.note("cylinders back from a transfer", patient.number, count, empty)
    if empty:
        consider_review(state, store)
    consider_emergency(state)
