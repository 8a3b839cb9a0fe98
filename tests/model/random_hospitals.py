"""Random small hospitals for Hypothesis, and an audit of the state after every step."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest
from build import (
    CYLINDER,
    CYLINDER_FIRST,
    DAY,
    HOUR,
    LITRE,
    START,
    UNIT,
    UNIT_FIRST,
    cylinders,
    hospital,
    manifold,
)
from hypothesis import strategies as st
from random_units import unlike
from sized import LUCK, luck_of, sent_with_cylinders, sized

from o2sim.model import reference
from o2sim.model.bank import Unit
from o2sim.model.patient import Patient
from o2sim.model.state import State
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.hospital import (
    Allocation,
    Allotment,
    Backups,
    Battery,
    Bedside,
    ByOximeter,
    ByRelatives,
    Concentrators,
    Costs,
    Emergency,
    Fade,
    Fees,
    FlowStep,
    Funds,
    Generator,
    Grid,
    Hospital,
    Law,
    Manifold,
    Night,
    Noticed,
    PartDelivery,
    PatientClass,
    Power,
    Recorded,
    Refuel,
    RegulatorSet,
    Resupply,
    RoadClosure,
    SendPartUsed,
    Shock,
    ShockPatients,
    Shortfall,
    Solar,
    Splitters,
    Staff,
    StoreAccess,
    Strategy,
    Supplier,
    Surge,
    Transfer,
    Underfilled,
    Voltage,
    Ward,
    Window,
)
from o2sim.scenario.types.times import AS_BY_DAY
from o2sim.scenario.types.wards import AT_HAND

PIPED_FIRST, PIPED_LAST = ("manifold", "cylinder"), ("cylinder", "manifold")
UNIT_PIPED, ALL_THREE = ("concentrator", "manifold"), ("concentrator", "manifold", "cylinder")
ORDERS = [CYLINDER, UNIT, UNIT_FIRST, CYLINDER_FIRST]
PIPED = [("manifold",), PIPED_FIRST, PIPED_LAST, UNIT_PIPED, ALL_THREE]
MOST_STEPS_AT_ONCE = 3_000
MEANS = [600.0, 3_600.0, 20_000.0, 100_000.0]


def _law(*means: float) -> Any:
    mean = st.sampled_from(means)
    return st.one_of(
        mean.map(lambda value: Law("constant", (value,))),
        mean.map(lambda value: Law("exponential", (value,))),
        mean.map(lambda value: Law("uniform", (0.0, 2 * value))),
    )


TIMES = st.one_of(  # that hands take
    st.sampled_from([0, 0, 1, 300, 600]),
    st.sampled_from([Law("lognormal", (5.7, 0.69)), Law("exponential", (600.0,)), Law("uniform", (0.0, 3.0))]),
)
NIGHTS = st.builds(
    Night,
    response_time_s=st.one_of(st.none(), TIMES),
    change_time_s=st.one_of(st.none(), TIMES),
    connect_s=st.just(None),
)
STEPS_DOWN = (FlowStep(1_800, 0.6), FlowStep(6 * HOUR, 0.25))
# Eleven patients in three days, two of them at the same second and none on the second day.
REGISTER = tuple(zip(*[
    (0, 1_000, 7_200), (0, 500, 600), (9_000, 4_000, 100_000), (30_000, 2_000, 20_000), (30_000, 1_000, 1),
    (70_000, 4_000, 30_000), (86_399, 500, 3_600), (172_800, 1_000, 50_000), (180_000, 500, 900),
    (200_000, 2_000, 3_600), (259_199, 1_000, 86_400),
], strict=True))  # fmt: skip
REGISTERS = [
    Recorded("replay", -1, 3, *REGISTER),  # replayed, from the day before the horizon on
    Recorded("resample", 0, 3, *REGISTER),  # whole days drawn at random
    Recorded(
        "replay", 0, 12, (-90_000, -20, *REGISTER[0]), (500, 2_000, *REGISTER[1]), (95_000, 50, *REGISTER[2])
    ),
    Recorded("repeat by year", -400, 365, tuple(DAY * 34 + each for each in REGISTER[0]), *REGISTER[1:]),
]
CUTS = ((-7_200, 1_800), (40_000, 40_001), (90_000, 120_000))
RECORDS_OF_CUTS: list[dict[str, Any]] = [
    {"cuts": CUTS, "first_day": -1, "days": 20},
    {"cuts": CUTS, "first_day": -1, "days": 3, "use": "resample"},
    {
        "cuts": tuple((begin_s - 365 * DAY, end_s - 365 * DAY) for begin_s, end_s in CUTS),
        "first_day": -400,
        "days": 365,
        "use": "repeat by year",
    },
]
CLASSES = st.lists(
    st.builds(
        PatientClass,
        name=st.sampled_from(["newborns", "children", "adults"]),
        admissions_per_day=st.sampled_from([1.0, 4.0, 12.0]),
        hypoxaemic=st.sampled_from([0.5, 1.0]),
        flow_ml_min=_law(500.0, 1_000.0, 4_000.0, 7_000.0),
        duration_s=_law(*MEANS),
        priority=st.integers(1, 2),
        if_unserved=st.sampled_from(["wait", "transfer"]),
        surges=st.sampled_from([(), (Surge(START, Law("constant", (40_000.0,)), 3.0),)]),
        overdispersion=st.sampled_from([1.0, 1.0, 3.0]),
        flow_steps=st.sampled_from([(), STEPS_DOWN[:1], STEPS_DOWN]),
        recorded=st.sampled_from([None, None, *REGISTERS]),
        transfer=st.sampled_from([None, None, "never", Transfer(1_000, 2_000, oxygen_on_board=False)]),
        delivery=st.sampled_from([None, "nasal prongs", "nasopharyngeal catheter"]),
        size=st.sampled_from([None, "newborn", "infant", "adult"]),
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda kind: kind.name,
).map(tuple)


SETS = st.sampled_from(
    [
        (),
        (),
        (RegulatorSet(2, 0, 15_000), RegulatorSet(2, 100, 2_000)),
        (RegulatorSet(3, 0, 1_000, "bullnose"), RegulatorSet(2, 0, 15_000, "pin-index")),
        (RegulatorSet(1, 600, 6_000, "pin-index"), RegulatorSet(4, 0, 15_000, "bullnose")),
    ]
)
BEDSIDES = st.builds(
    Bedside,
    humidifiers=st.sampled_from([None, 0, 1, 3]),
    humidify_above_ml_min=st.sampled_from([None, 0, 900, 4_000]),
    delivery_sets=st.sampled_from([(), (("nasal prongs", 1),), (("nasal prongs", 0), ("face mask", 1))]),
)


@st.composite
def stock(draw: Any) -> Any:
    """Draw cylinders of 20 to 600 L, residual pressure at or above the loss of flow."""
    sets = draw(SETS)
    fleet, lost = draw(st.integers(0, 8)), draw(st.sampled_from([0, 1, 3])) * LITRE
    return cylinders(
        fleet=fleet,
        full_at_start=draw(st.integers(0, fleet)),
        full_gas=draw(st.sampled_from([20, 60, 600])) * LITRE + draw(st.integers(0, 999)),
        lost_gas=lost,
        residual_gas=lost + draw(st.sampled_from([0, 0, 1, 3 * LITRE])),
        regulators=sum(each.count for each in sets) or draw(st.integers(0, 5)),
        regulator_sets=sets,
        valve=draw(st.sampled_from([None, "bullnose"])),
        splitters=draw(st.sampled_from([None, Splitters(1, 2), Splitters(2, 4)])),
        leak_ml_min=draw(st.sampled_from([0, 100])),
        gauge_check_s=draw(st.sampled_from([0, 900, 7_200])),
        change_time_s=draw(TIMES),
        unusable=draw(st.sampled_from([0.0, 0.0, 0.3])),
        underfilled=draw(st.sampled_from([None, None, Underfilled(0.5, Law("uniform", (0.4, 0.9)))])),
        refused=draw(st.sampled_from([0.0, 0.0, 0.2])),
        losses_per_day=draw(st.sampled_from([0.0, 0.0, 1.0])),
        rack=draw(st.sampled_from(["oldest that lasts", "emptiest that lasts", "fullest"])),
        send_part_used=draw(st.sampled_from([None, SendPartUsed(500, 1), SendPartUsed(1_000, 0)])),
    )


@st.composite
def manifolds(draw: Any, gas: Any) -> Manifold:
    """Draw a manifold that takes the cylinders drawn, spent at or above their residual content."""
    keep = max(gas.residual_gas, gas.lost_gas)
    return manifold(
        bank=draw(st.integers(1, 3)),
        outlets=draw(st.integers(1, 6)),
        reserve=draw(st.integers(0, 2)),
        changeover_gas=keep + draw(st.sampled_from([0, 0, LITRE])),
        bank_change_time_s=draw(st.sampled_from([0, 1, 1_800])),
        gauge_check_s=draw(st.sampled_from([None, None, 2 * HOUR])),
        leak_ml_min=draw(st.sampled_from([0, 0, 100])),
    )


EMERGENCIES = st.one_of(
    st.builds(Emergency, up_to=st.integers(3, 8), lead_time_s=_law(0.0, 3_600.0), below=st.integers(1, 3)),
    st.builds(Emergency, up_to=st.integers(1, 8), lead_time_s=_law(0.0, 3_600.0), cover_s=st.just(2 * HOUR)),
    st.builds(
        Emergency,
        up_to=st.integers(1, 8),
        lead_time_s=_law(0.0, 3_600.0),
        days_of_cover_s=st.sampled_from([600, DAY, 7 * DAY]),
        vehicle_capacity=st.sampled_from([None, 2]),
        minimum_order=st.integers(1, 2),
    ),
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
    position_counts_above_permille=st.sampled_from([None, None, 0, 500]),
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
        "service_every_s": st.sampled_from([None, 5 * HOUR, 9 * HOUR]),
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
    start_below_permille=st.sampled_from([None, None, 0, 300, 1_000]),
)
FADES = st.builds(  # fast, since a run lasts days
    Fade, per_cycle=st.sampled_from([0.0, 0.01, 0.05]), per_year=st.sampled_from([0.0, 0.03, 0.15, 20.0])
)
BATTERIES = st.builds(
    Battery,
    usable_ws=st.sampled_from([0, 100, 3_600_000]),
    charge_w=st.sampled_from([0, 100, 10_000]),
    charge_permille=st.sampled_from([850, 1_000]),
    inverter_w=st.sampled_from([None, 100, 400, 800]),
    inverter_permille=st.sampled_from([900, 1_000]),
    reconnect_permille=st.sampled_from([10, 200]),
    gather=st.booleans(),
    age_s=st.sampled_from([0, 0, 3 * 365 * DAY]),
    fade=st.one_of(st.none(), FADES),
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
STAFF = st.builds(Staff, day=st.integers(1, 2), night=st.integers(1, 2), connect_s=st.one_of(st.just(0), TIMES))
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
    kept = draw(st.integers(0, stock.each[stock.places_for("bedside")[0]].fleet // 2)) if stock else 0
    wards = (
        Ward("north", first, sets, kept),
        Ward("south", units - first, stock.regulators - sets if stock else 0, kept if stock else 0),
    )
    patients = tuple(replace(kind, ward=draw(st.sampled_from(["north", "south"]))) for kind in whole.patients)
    moving_s = draw(st.sampled_from([None, 60, 1_800]))
    return replace(whole, wards=wards, patients=patients, moving_s=moving_s)


GRIDS = st.one_of(
    st.none(), st.just(Grid(never_on=True)), st.builds(Grid, up_s=_law(*MEANS), down_s=_law(*MEANS[:3]))
)


SHORTFALLS = st.builds(
    Shortfall,
    enough_permille=st.sampled_from([0, 500, 800]),
    recovery_s=st.sampled_from([0, 1, 300]),
    counted_by=st.sampled_from(["supply clock", "supply clock", "cause at crossing"]),
)
ALLOCATIONS = st.builds(
    Allocation,
    reduced_flow=st.sampled_from(["above rated flow", "above rated flow", "never", "any"]),
    two_units=st.booleans(),
    preempt=st.sampled_from([False, False, True]),
    reserve=st.sampled_from([0, 0, 1]),
)


NOTICED = st.builds(
    Noticed,
    by_relatives=st.one_of(
        st.none(), st.builds(ByRelatives, share=st.sampled_from([0.5, 1.0]), after_s=_law(60.0, 1_800.0))
    ),
    by_oximeter=st.one_of(
        st.none(),
        st.builds(ByOximeter, count=st.integers(1, 3), after_s=_law(60.0, 600.0), cut_by_power=st.booleans()),
    ),
)


BACKUPS = st.builds(
    Backups,
    classes=st.sampled_from([("newborns", "children", "adults"), ("adults",)]),
    count=st.integers(1, 4),
    open_time_s=_law(0.0, 60.0, 600.0),
    replace_below_permille=st.sampled_from([0, 500, 1_000]),
)


MORE_PATIENTS = st.builds(
    ShockPatients,
    multiplier=st.sampled_from([1.0, 2.0, 6.0]),
    length_s=_law(20_000.0, 100_000.0),
    after_s=st.sampled_from([0, 7_200]),
    classes=st.sampled_from([(), ("adults",), ("newborns", "children")]),
)
SHOCKS = st.lists(
    st.builds(
        Shock,
        name=st.sampled_from(["storm", "strike", "flood"]),
        rate_per_day=st.sampled_from([0.0, 0.2, 1.0, 8.0]),
        months=st.sampled_from([(), (1,), (1, 2, 12), (7,)]),
        severity=st.sampled_from([None, Law("exponential", (1.0,)), Law("lognormal", (0.0, 0.4))]),
        road_s=st.one_of(st.none(), _law(*MEANS)),
        power_s=st.one_of(st.none(), _law(*MEANS)),
        supplier_s=st.one_of(st.none(), _law(*MEANS)),
        patients=st.one_of(st.none(), MORE_PATIENTS),
        prepaid_lost=st.booleans(),
    ),
    max_size=2,
    unique_by=lambda shock: shock.name,
).map(tuple)


def paid(draw: Any, rules: Hospital) -> Hospital:
    """Draw a purse and prices for some; one number draws it all, to leave room for the rest."""
    luck = random.Random(draw(st.integers(0, 2**32 - 1)))
    pick = luck.choice
    if luck.random() < (0.3 if rules.resupply is not None else 0.7):
        return rules
    stock = rules.cylinders
    if stock is not None:
        stock = replace(stock, billing=pick(["whole", "by gas"]))
    funds = Funds(
        opening_cents=pick([0, 3_000, 5_000, 10**9]),
        allotment=pick([None, _allotment(luck)]),
        lapses=pick([None, 12]),
        fees=pick([None, Fees(pick([100, 900]), 0.6)]),
        pays_for=pick([("oxygen",), ("oxygen", "fuel", "parts"), ("parts", "fuel", "oxygen"), ("fuel", "parts")]),
        approval_s=pick([None, None, *_delays(luck)]),
        supplier=_supplier(luck),
    )
    costs = Costs(
        "USD",
        refill=pick([0.0, 10.0, 16.0]),
        trip=pick([0.0, 7.5]),
        transport_per_cylinder=pick([0.0, 1.5]),
        emergency_trip=pick([0.0, 5.0]),
        emergency_cylinder=0.25,
        fuel_per_litre=pick([1.1, 12.0]),
        repair=pick([4.0, 40.0]),
    )
    return replace(rules, cylinders=stock, funds=funds, costs=costs)


def _allotment(luck: random.Random) -> Allotment:
    every: Any = luck.choice([DAY, 20 * HOUR, 36 * HOUR, "month", "year"])
    amount, day, month = luck.choice([1_500, 4_000, 20_000]), luck.choice([1, 2, 31]), luck.choice([None, 1, 12])
    return Allotment(amount, every, day, month, luck.choice([None, *_delays(luck)]))


def _supplier(luck: random.Random) -> Supplier:
    terms: Any = luck.choice(["prepaid", "on delivery", "credit"])
    if terms != "credit":
        return Supplier(terms)
    limit = luck.choice([None, 0, 5_000, 20_000])
    return Supplier(terms, limit, luck.choice([0, 5 * HOUR, DAY]), luck.choice([True, False]))


def _delays(luck: random.Random) -> list[Law]:
    mean = luck.choice([0.0, 3_600.0, 40_000.0])
    return [Law("constant", (mean,)), Law("uniform", (0.0, 2 * mean + 1))]


@st.composite
def hospitals(draw: Any) -> Hospital:
    """Draw a hospital of one to four days with up to some hundred patients."""
    sources = draw(st.sampled_from(ORDERS + PIPED))
    with_units, piped = "concentrator" in sources, "manifold" in sources
    backups = draw(st.one_of(st.none(), BACKUPS)) if with_units else None
    with_cylinders = sources != UNIT or backups is not None
    gas = replace(draw(stock()), backup=backups) if with_cylinders else None
    takes_time = not piped and (gas is None or gas.splitters is None)
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
        shortfall=draw(st.one_of(st.just(Shortfall()), SHORTFALLS)),
        bedside=draw(st.one_of(st.just(Bedside()), BEDSIDES)),
        response_time_s=draw(TIMES),
        night=draw(st.one_of(st.just(AS_BY_DAY), NIGHTS)),
        patients=draw(CLASSES),
        cylinders=gas,
        manifold=draw(manifolds(gas)) if piped else None,
        staff=draw(st.one_of(st.none(), STAFF)) if takes_time else draw(st.sampled_from([None, Staff(2, 1)])),
        store=draw(STORES) if takes_time else AT_HAND,
        resupply=draw(st.one_of(st.none(), SUPPLY)) if with_cylinders else None,
        concentrators=draw(units()) if with_units else None,
        grid=draw(GRIDS) if with_units else None,
        power=draw(st.one_of(st.none(), POWERS)) if with_units else None,
        allocation=draw(ALLOCATIONS),
        noticed=draw(st.one_of(st.none(), NOTICED)),
        shocks=draw(st.one_of(st.just(()), SHOCKS)),
    )
    if takes_time and whole.staff and draw(st.booleans()):
        whole = replace(whole, night=replace(whole.night, connect_s=draw(TIMES)))
    whole = paid(draw, whole)
    generator = whole.power.generator if whole.power else None
    if whole.power and generator and whole.staff and draw(st.booleans()):
        power = replace(whole.power, generator=replace(generator, started_by_staff=True))
        whole = replace(whole, power=power)
    whole = draw(unlike(whole))
    luck = luck_of(draw(LUCK), whole)
    if luck.random() < 0.25:
        whole = sent_with_cylinders(luck, whole)
    if luck.random() < 0.4:
        whole = sized(luck, whole)
    apart = piped or (whole.cylinders is not None and whole.cylinders.regulator_sets)
    return whole if apart or draw(st.booleans()) else draw(parted(whole))


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
    stores, bank, piped = state.stores, state.bank, state.manifold
    return (
        repr(state.ledger),
        len(state.log or ()),
        len(state.clock.env._queue),  # type: ignore[attr-defined]
        [patient.number for _, patient in state.waiting],
        [(store.full, list(store.rack), list(store.empties), store.on_order) for store in stores],
        state.sets and list(state.sets.free),
        {number: list(batch) for store in stores for number, batch in store.on_the_way.items()},
        bank and [([patient.number for patient in unit.patients], unit.running_since_s) for unit in bank.units],
        bank and [([p.number for p in unit.expected], unit.ward, unit.on_the_move) for unit in bank.units],
        [([list(shelf) for shelf in store.bedside], store.held) for store in stores],
        [(key, task.patient and task.patient.order) for key, task in state.calls],
        {n: (p.units, p.given_ml_min, p.gap_since_s, p.cause) for n, p in state.present.items()},
        {n: p.cylinder and p.cylinder.content for n, p in state.present.items()},
        (
            {
                n: p.backup and (p.backup.kind, p.backup.content, p.backup.fresh, p.backup.opening)
                for n, p in state.present.items()
            },
            state.backups_out,
        ),
        piped and [(b.count, b.gas, b.spent, b.seen, b.task is None) for b in piped.banks],
        piped and ([patient.number for patient in piped.patients], piped.feeding),
    )


def idle_sources(state: State) -> list[str]:
    """Return what is wrong with the allocation: somebody waits, or is on a cylinder, though nothing is lacking."""
    order, wrong = state.rules.strategy.sources, []
    bank, stores, piped = state.bank, state.stores, state.manifold
    outlet = piped is not None and piped.feeding is not None and len(piped.patients) < piped.rules.outlets

    units = bank.units if bank is not None else []
    load_w = sum(round(unit.rules.power_w) for unit in units if unit.patients)
    limit_w, peak_w = state.chain.limit_w(), state.chain.peak_w()

    def rated(ward: int) -> int:
        """Return the most that one unit can give: one that works on the ward, else any."""
        here = [unit for unit in units if unit.ward == ward and unit.working and not unit.on_the_move] or units
        return max((unit.rules.rated_flow_ml_min for unit in here), default=0)

    def starts(unit: Unit, beside_w: int) -> bool:
        watts, surge = round(unit.rules.power_w), unit.rules.start_surge_permille
        within = surge is None or peak_w is None or beside_w + surge * watts / 1_000 <= peak_w
        return within and beside_w + watts <= limit_w

    def powered(unit: Unit) -> bool:
        return bool(unit.patients) or starts(unit, load_w)

    def unit_free(flow: int, ward: int) -> bool:
        spare = [
            (
                unit.rules.rated_flow_ml_min
                - sum(p.flow_from(unit.number) for p in unit.patients)
                - sum(p.claimed_ml_min for p in unit.expected),
                unit,
            )
            for unit in units
            if unit.working and len(unit.patients) + len(unit.expected) < unit.rules.outlets and powered(unit)
            if unit.ward == ward and not unit.on_the_move
        ]
        one = any(flow <= rest for rest, _ in spare)
        return one or (state.rules.allocation.two_units and rated(ward) < flow and two_free(flow, spare))

    def two_free(flow: int, spare: list[tuple[int, Unit]]) -> bool:
        """Return True if the unit with most to spare and another together give a flow and both can run."""
        first = max(spare, key=lambda each: (each[0], -each[1].number), default=None)
        if first is None or first[0] <= 0:
            return False
        beside_w = load_w + (0 if first[1].patients else round(first[1].rules.power_w))
        return any(
            first[0] + rest >= flow and (bool(unit.patients) or starts(unit, beside_w))
            for rest, unit in spare
            if unit is not first[1] and rest > 0
        )

    def in_part(flow: int, ward: int) -> bool:
        """Return True if a flow may be given in part."""
        rule = state.rules.allocation.reduced_flow
        return rule == "any" or (rule != "never" and flow > rated(ward))

    def set_free(patient: Patient, valve: str | None) -> bool:
        kinds = zip(state.sets.kinds, state.sets.free, strict=True) if state.sets is not None else ()
        return any(
            free > 0
            and each.low_ml_min <= patient.flow_ml_min <= each.high_ml_min
            and (each.valve == valve or None in (each.valve, valve))
            for each, free in kinds
        )

    def outlet_free(patient: Patient) -> bool:
        splitters = stores[0].rules.splitters if stores else None
        if splitters is None:
            return False
        spare = splitters.count - sum(len(each.patients) > 1 for each in state.open_cylinders.values())
        for each in state.open_cylinders.values():
            rules, left = each.rules, each.gas_left(state.now)
            keep = max(rules.residual_gas, rules.lost_gas)
            rate = sum(other.flow_ml_min for other in each.patients) + patient.flow_ml_min + rules.leak_ml_min
            lasts = (
                each.flowing
                and not each.backup
                and each.lead.ward == patient.ward
                and left > keep
                and left - rules.lost_gas >= rate
            )
            low, high = each.regulator.low_ml_min, each.regulator.high_ml_min
            room = len(each.patients) < splitters.outlets and (len(each.patients) > 1 or spare > 0)
            if lasts and room and low <= patient.flow_ml_min <= high:
                return True
        return False

    def served_beside(patient: Patient) -> bool:
        rules, here = state.rules.bedside, state.present.values()
        size, above = state.rules.patients[patient.class_index].size, rules.humidify_above_ml_min
        if above is None:
            above = {"newborn": 1_000, "infant": 2_000}.get(size or "", 4_000)
        dry = patient.flow_ml_min > above or "pharyngeal" in (patient.delivery or "")
        free = rules.humidifiers is None or sum(each.has_humidifier for each in here) < rules.humidifiers
        limits, used = dict(rules.delivery_sets), [each.delivery for each in here if each.has_delivery]
        most = limits.get(patient.delivery or "")
        return (free or not dry) and (most is None or used.count(patient.delivery) < most)

    def cylinder_free(patient: Patient) -> bool:
        if not stores or "cylinder" not in order:
            return False
        rules, ward = state.rules.allocation, state.wards[patient.ward]
        kept = rules.reserve if patient.priority > rules.reserve_priority else 0
        listed = state.rules.cylinders.use.bedside
        for store in stores:
            here = len(store.bedside[patient.ward]) - ward.held if store.bedside else 0
            some = here > 0 or len(store.fills) + len(store.rack) - store.held > kept
            meant = not listed or store.rules.name in listed
            if meant and some and ward.regulators_free > 0 and set_free(patient, store.rules.valve):
                return True
        return outlet_free(patient)

    for _, patient in state.waiting:
        flow = patient.flow_ml_min
        free = (
            unit_free(1 if in_part(flow, patient.ward) else flow, patient.ward) or cylinder_free(patient) or outlet
        )
        if served_beside(patient) and free and not patient.seen_to:
            wrong.append(f"patient {patient.number} waits beside a free source")
    for patient in state.reduced.values():
        free = unit_free(patient.flow_ml_min, patient.ward) or cylinder_free(patient) or outlet
        if free and not patient.seen_to:
            wrong.append(f"patient {patient.number} on reduced flow beside a free source")
    if outlet and order in (PIPED_FIRST, ALL_THREE):
        wrong += [f"patient {p.number} not on an outlet" for p in state.on_cylinder.values() if p.flowing]
    if order[0] == "concentrator" and state.rules.strategy.return_to_concentrator:
        on_outlets = piped.patients if piped is not None else []
        flowing = [p for p in [*state.on_cylinder.values(), *on_outlets] if p.flowing and not p.seen_to]
        wrong += [f"patient {p.number} not returned" for p in flowing if unit_free(p.flow_ml_min, p.ward)]
    return wrong


def gaps_in_log(outcome: Outcome, end_s: int) -> list[tuple[int, int, int, list[tuple[int, Cause]]]]:
    """Return every gap of a log: (patient, from, to, [(from, cause), ...]), read without the engine's totals."""
    open_gaps: dict[int, list[tuple[int, Cause]]] = {}
    gaps = []
    for entry in outcome.log:
        if entry.step == "gap begins":
            open_gaps[entry.item] = [(entry.time_s, Cause(entry.other))]
        elif entry.step == "cause changes":
            open_gaps[entry.item].append((entry.time_s, Cause(entry.other)))
        elif entry.step == "gap ends":
            spells = open_gaps.pop(entry.item)
            gaps.append((entry.item, spells[0][0], entry.time_s, spells))
    return gaps + [(patient, spells[0][0], end_s, spells) for patient, spells in open_gaps.items()]
