"""Random small hospitals for Hypothesis, and an audit of the state after every step."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from build import CYLINDER, CYLINDER_FIRST, DAY, HOUR, LITRE, START, UNIT, UNIT_FIRST, cylinders, hospital
from hypothesis import strategies as st

from o2sim.model import reference
from o2sim.model.bank import Unit
from o2sim.model.state import State
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types import (
    Allocation,
    Battery,
    Concentrators,
    Emergency,
    Generator,
    Grid,
    Hospital,
    Law,
    PartDelivery,
    PatientClass,
    Power,
    Refuel,
    Resupply,
    RoadClosure,
    Solar,
    Staff,
    StoreAccess,
    Strategy,
    Surge,
    Transfer,
    Underfilled,
    Voltage,
    Ward,
    Window,
)

ORDERS = [CYLINDER, UNIT, UNIT_FIRST, CYLINDER_FIRST]
MOST_STEPS_AT_ONCE = 3_000
MEANS = [600.0, 3_600.0, 20_000.0, 100_000.0]


def _law(*means: float) -> Any:
    mean = st.sampled_from(means)
    return st.one_of(
        mean.map(lambda value: Law("constant", (value,))),
        mean.map(lambda value: Law("exponential", (value,))),
        mean.map(lambda value: Law("uniform", (0.0, 2 * value))),
    )


CLASSES = st.lists(
    st.builds(
        PatientClass,
        name=st.sampled_from(["newborns", "children", "adults"]),
        admissions_per_day=st.sampled_from([1.0, 4.0, 12.0]),
        hypoxaemic=st.sampled_from([0.5, 1.0]),
        flow_ml_min=_law(500.0, 1_000.0, 4_000.0),
        duration_s=_law(*MEANS),
        priority=st.integers(1, 2),
        if_unserved=st.sampled_from(["wait", "transfer"]),
        surges=st.sampled_from([(), (Surge(START, Law("constant", (40_000.0,)), 3.0),)]),
        overdispersion=st.sampled_from([1.0, 1.0, 3.0]),
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda kind: kind.name,
).map(tuple)


@st.composite
def stock(draw: Any) -> Any:
    """Draw cylinders of 20 to 600 L, residual pressure at or above the loss of flow."""
    fleet, lost = draw(st.integers(0, 8)), draw(st.sampled_from([0, 1, 3])) * LITRE
    return cylinders(
        fleet=fleet,
        full_at_start=draw(st.integers(0, fleet)),
        full_gas=draw(st.sampled_from([20, 60, 600])) * LITRE + draw(st.integers(0, 999)),
        lost_gas=lost,
        residual_gas=lost + draw(st.sampled_from([0, 0, 1, 3 * LITRE])),
        regulators=draw(st.integers(0, 5)),
        leak_ml_min=draw(st.sampled_from([0, 100])),
        gauge_check_s=draw(st.sampled_from([0, 900, 7_200])),
        change_time_s=draw(st.sampled_from([0, 1, 600])),
        unusable=draw(st.sampled_from([0.0, 0.0, 0.3])),
        underfilled=draw(st.sampled_from([None, None, Underfilled(0.5, Law("uniform", (0.4, 0.9)))])),
        refused=draw(st.sampled_from([0.0, 0.0, 0.2])),
        losses_per_day=draw(st.sampled_from([0.0, 0.0, 1.0])),
    )


EMERGENCIES = st.one_of(
    st.builds(Emergency, up_to=st.integers(3, 8), lead_time_s=_law(0.0, 3_600.0), below=st.integers(1, 3)),
    st.builds(Emergency, up_to=st.integers(1, 8), lead_time_s=_law(0.0, 3_600.0), cover_s=st.just(2 * HOUR)),
)
SPELL = RoadClosure(None, START + dt.timedelta(1), 0.5, Law("exponential", (40_000.0,)))
SUPPLY = st.builds(
    Resupply,
    review_s=st.sampled_from([None, 6 * HOUR, DAY]),
    reorder_point=st.integers(0, 8),
    order_up_to=st.integers(1, 8),
    lead_time_s=_law(0.0, 3_600.0, 40_000.0),
    vehicle_capacity=st.sampled_from([None, 1, 3]),
    minimum_order=st.integers(0, 2),
    overtaking=st.booleans(),
    road_closures=st.sampled_from(
        [
            (),
            (RoadClosure(START, START),),
            (SPELL,),
        ]
    ),
    own_cylinders=st.booleans(),
    part_delivery=st.sampled_from([None, PartDelivery(0.5, Law("uniform", (0.2, 1.0)))]),
    supplier_outages=st.sampled_from([(), (SPELL,)]),
    no_delivery=st.sampled_from([(), (6,), (0, 5)]),
    emergency=st.one_of(st.none(), EMERGENCIES),
)


FIELD = st.fixed_dictionaries(
    {
        "start_up_s": st.sampled_from([0, 1, 300]),
        "never_repaired": st.sampled_from([0.0, 0.3]),
        "cut_damage": st.sampled_from([0.0, 0.3]),
        "crew": st.sampled_from([None, 1, 2]),
        "drift_s": st.one_of(st.none(), _law(*MEANS[:3])),
        "alarm_permille": st.sampled_from([None, 700, 820, 880]),
        "analyser_check_s": st.sampled_from([None, 2 * HOUR]),
        "service_every_s": st.sampled_from([None, 5 * HOUR]),
        "service_time_s": st.sampled_from([0, HOUR]),
    }
)
EVENING, NOON = Window(18 * HOUR, 2 * HOUR, (0, 3, 4, 5)), Window(11 * HOUR, 13 * HOUR)
GENERATORS = st.builds(
    Generator,
    start_delay_s=st.sampled_from([0, 600]),
    night_delay_s=st.just(3_600),
    night=st.just(EVENING),
    start_chance=st.sampled_from([1.0, 0.6]),
    running_failure_s=st.one_of(st.none(), _law(*MEANS)),
    repair_s=_law(*MEANS[:3]),
    hours=st.sampled_from([(), (NOON, EVENING)]),
    power_w=st.sampled_from([None, 300, 800]),
    base_load_w=st.sampled_from([0, 100]),
    idle_ml_h=st.sampled_from([0, 950]),
    per_kw_ml_h=st.just(260),
    tank_ml=st.sampled_from([None, 3_000]),
    refuel=st.one_of(st.none(), st.builds(Refuel, reorder_ml=st.just(1_000), lead_time_s=_law(*MEANS[:3]))),
)
BATTERIES = st.builds(
    Battery,
    usable_ws=st.sampled_from([0, 100, 3_600_000]),
    charge_w=st.sampled_from([0, 100, 10_000]),
    charge_permille=st.sampled_from([850, 1_000]),
    inverter_w=st.sampled_from([None, 100, 400, 800]),
    inverter_permille=st.sampled_from([900, 1_000]),
    reconnect_permille=st.sampled_from([10, 200]),
)
POWERS = st.builds(
    Power,
    load_shedding=st.sampled_from([(), (EVENING,)]),
    voltage=st.one_of(st.none(), st.builds(Voltage, good_s=_law(*MEANS), bad_s=_law(*MEANS[:2]))),
    stabiliser=st.booleans(),
    generator=st.one_of(st.none(), GENERATORS),
    battery=st.one_of(st.none(), BATTERIES),
    solar=st.one_of(st.none(), st.just(Solar(1_000, Law("uniform", (0.0, 1.2)), 6 * HOUR, 18 * HOUR))),
    shed_first=st.sampled_from(["number", "patients"]),
)
STAFF = st.builds(Staff, day=st.integers(1, 2), night=st.integers(1, 2), connect_s=st.sampled_from([0, 0, 1, 300]))
STORES = st.builds(
    StoreAccess, fetch_by_day_s=st.sampled_from([0, 0, 300]), fetch_by_night_s=st.sampled_from([0, 0, 1_200])
)


@st.composite
def units(draw: Any) -> Concentrators:
    """Draw 0 to 3 concentrators, which fail by either clock or never, and the rules of the field for some."""
    fails = draw(st.booleans())
    failure, repair = draw(_law(*MEANS)), draw(_law(*MEANS))
    field = draw(st.booleans())
    return Concentrators(
        count=draw(st.integers(0, 3)),
        rated_flow_ml_min=draw(st.sampled_from([1_000, 5_000])),
        outlets=draw(st.integers(1, 4)),
        power_w=350.0,
        failure_s=failure if fails else None,
        failure_clock=draw(st.sampled_from(["running", "calendar"])),
        repair_s=repair if fails or field else None,
        **(draw(FIELD) if field else {}),
    )


@st.composite
def parted(draw: Any, whole: Hospital) -> Hospital:
    """Draw two wards: classes, units and regulators dealt out between them, some cylinders kept there."""
    units = whole.concentrators.count if whole.concentrators else 0
    stock = whole.cylinders
    first = draw(st.integers(0, units))
    sets = draw(st.integers(0, stock.regulators)) if stock else 0
    kept = draw(st.integers(0, stock.fleet // 2)) if stock else 0
    wards = (
        Ward("north", first, sets, kept),
        Ward("south", units - first, stock.regulators - sets if stock else 0, kept if stock else 0),
    )
    patients = tuple(
        dataclasses.replace(kind, ward=draw(st.sampled_from(["north", "south"]))) for kind in whole.patients
    )
    moving_s = draw(st.sampled_from([None, 60, 1_800]))
    return dataclasses.replace(whole, wards=wards, patients=patients, moving_s=moving_s)


GRIDS = st.one_of(
    st.none(), st.just(Grid(never_on=True)), st.builds(Grid, up_s=_law(*MEANS), down_s=_law(*MEANS[:3]))
)


@st.composite
def hospitals(draw: Any) -> Hospital:
    """Draw a hospital of one to four days with up to some hundred patients."""
    sources = draw(st.sampled_from(ORDERS))
    with_cylinders, with_units = "cylinder" in sources, "concentrator" in sources
    tolerated_s = draw(st.sampled_from([0, 60, 600]))
    after_s, travel_s = draw(st.sampled_from([0, 3_600])), draw(st.sampled_from([0, 5_000]))
    sent_on = Transfer(tolerated_s + after_s, travel_s, draw(st.booleans()))
    whole = hospital(
        sources,
        strategy=Strategy("s", sources, draw(st.booleans())),
        horizon_s=draw(st.integers(1, 4)) * DAY,
        warm_up_s=draw(st.sampled_from([0, 5 * HOUR, DAY])),
        tolerated_gap_s=tolerated_s,
        transfer=draw(st.sampled_from([None, None, sent_on])),
        response_time_s=draw(st.sampled_from([0, 1, 300])),
        patients=draw(CLASSES),
        cylinders=draw(stock()) if with_cylinders else None,
        resupply=draw(st.one_of(st.none(), SUPPLY)) if with_cylinders else None,
        concentrators=draw(units()) if with_units else None,
        grid=draw(GRIDS) if with_units else None,
        power=draw(st.one_of(st.none(), POWERS)) if with_units else None,
        staff=draw(st.one_of(st.none(), STAFF)),
        store=draw(STORES),
        allocation=draw(
            st.sampled_from([Allocation(), Allocation(), Allocation(preempt=True), Allocation(reserve=1)])
        ),
    )
    generator = whole.power.generator if whole.power else None
    if whole.power and generator and whole.staff and draw(st.booleans()):
        power = dataclasses.replace(whole.power, generator=dataclasses.replace(generator, started_by_staff=True))
        whole = dataclasses.replace(whole, power=power)
    return draw(parted(whole)) if draw(st.booleans()) else whole


@contextmanager
def audited(look: Callable[[State, Callable[[State], None]], None] | None = None) -> Iterator[None]:
    """Run a look at the state after every step, and fail, rather than hang, where the clock stands still."""
    settle, steps_at = reference.settle, Counter[int]()

    def settle_and_look(state: State) -> None:
        settle(state)
        if look is not None:
            look(state, settle)
        steps_at[state.now] += 1
        assert steps_at[state.now] < MOST_STEPS_AT_ONCE, "the clock stands still"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reference, "settle", settle_and_look)
        yield


def settled(state: State, settle: Callable[[State], None]) -> None:
    """Assert that a second settle changes nothing and that no source stands idle beside somebody waiting."""
    before = snapshot(state)
    settle(state)
    after = snapshot(state)
    assert [pair for pair in zip(before, after, strict=True) if pair[0] != pair[1]] == []
    assert idle_sources(state) == []


def snapshot(state: State) -> tuple[object, ...]:
    """Return all that a step can change, in a form that compares."""
    store, bank = state.store, state.bank
    return (
        repr(state.ledger),
        len(state.log or ()),
        len(state.clock.env._queue),  # type: ignore[attr-defined]
        [patient.number for _, patient in state.waiting],
        store and (store.full, list(store.rack), list(store.empties), store.regulators_free, store.on_order),
        bank and [([patient.number for patient in unit.patients], unit.running_since_s) for unit in bank.units],
        bank and [([p.number for p in unit.expected], unit.ward, unit.on_the_move) for unit in bank.units],
        store and ([list(shelf) for shelf in store.bedside], store.held),
        [(key, task.patient and task.patient.number) for key, task in state.calls],
        {n: (p.unit, p.content, p.gap_since_s, p.cause) for n, p in state.present.items()},
    )


def idle_sources(state: State) -> list[str]:
    """Return what is wrong with the allocation: somebody waits, or is on a cylinder, for want of nothing."""
    order, wrong = state.rules.strategy.sources, []
    bank, store = state.bank, state.store

    running = sum(bool(unit.patients) for unit in bank.units) if bank is not None else 0
    most = state.chain.most_running()

    def powered(unit: Unit) -> bool:
        return running < most or (bool(unit.patients) and most > 0)

    def unit_free(flow: int, ward: int) -> bool:
        spare = [
            unit.rules.rated_flow_ml_min - sum(patient.flow_ml_min for patient in (*unit.patients, *unit.expected))
            for unit in (bank.units if bank is not None else [])
            if unit.working and len(unit.patients) + len(unit.expected) < unit.rules.outlets and powered(unit)
            if unit.ward == ward and not unit.on_the_move
        ]
        return any(flow <= rest for rest in spare)

    def shelf(ward: int, priority: int) -> bool:
        if store is None or "cylinder" not in order or state.wards[ward].regulators_free <= 0:
            return False
        kept = state.rules.allocation.reserve if priority > state.rules.allocation.reserve_priority else 0
        here = len(store.bedside[ward]) - state.wards[ward].held
        return here > 0 or len(store.fills) + len(store.rack) - store.held > kept

    for _, patient in state.waiting:
        if patient.claim is not None or patient.task is not None:
            continue  # a source is on its way, or staff are asked to connect one
        if unit_free(patient.flow_ml_min, patient.ward) or shelf(patient.ward, patient.priority):
            wrong.append(f"patient {patient.number} waits beside a free source")
    if order == UNIT_FIRST and state.rules.strategy.return_to_concentrator:
        flowing = [p for p in state.on_cylinder.values() if p.flowing and p.task is None and p.claim is None]
        wrong += [f"patient {p.number} not returned" for p in flowing if unit_free(p.flow_ml_min, p.ward)]
    return wrong


def gaps_in_log(outcome: Outcome, end_s: int) -> list[tuple[int, int, list[tuple[int, Cause]]]]:
    """Return every gap of a log as (from, to, [(from, cause), ...]), read back without the engine's totals."""
    open_gaps: dict[int, list[tuple[int, Cause]]] = {}
    gaps = []
    for entry in outcome.log:
        if entry.step == "gap begins":
            open_gaps[entry.item] = [(entry.time_s, Cause(entry.other))]
        elif entry.step == "cause changes":
            open_gaps[entry.item].append((entry.time_s, Cause(entry.other)))
        elif entry.step == "gap ends":
            spells = open_gaps.pop(entry.item)
            gaps.append((spells[0][0], entry.time_s, spells))
    return gaps + [(spells[0][0], end_s, spells) for spells in open_gaps.values()]
