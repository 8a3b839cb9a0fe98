"""What must change, or must not, when the whole hospital is changed in a known way."""

from dataclasses import replace
from typing import Any

import pytest
from build import (
    CYLINDER,
    CYLINDER_FIRST,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    constant,
    cylinders,
    hospital,
    kind,
    resupply,
    run,
    units,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from random_hospitals import hospitals

from o2sim.draws import Draws
from o2sim.outcome import Cause, LogEntry
from o2sim.scenario.types.hospital import Concentrators, Grid, Hospital, Law, RegulatorSet, Splitters, Strategy

CASES = settings(max_examples=60, deadline=None, derandomize=True)
ORDERS = [CYLINDER, UNIT, UNIT_FIRST, CYLINDER_FIRST]
BUSY = (
    kind(admissions_per_day=4.0, duration_s=Law("exponential", (20.0 * HOUR,)), priority=2),
    kind("children", admissions_per_day=3.0, flow_ml_min=Law("uniform", (500.0, 3_000.0))),
)
GRID = Grid(Law("exponential", (8.0 * HOUR,)), Law("exponential", (2.0 * HOUR,)))
FAILING = Concentrators(
    2, 5_000, 4, 350.0, Law("exponential", (50.0 * HOUR,)), "running", Law("exponential", (30.0 * HOUR,))
)


def _busy(sources: tuple[str, ...], days: int = 20) -> Hospital:
    """Sources in, a hospital short of everything out."""
    return hospital(
        sources,
        horizon_s=days * DAY,
        warm_up_s=2 * DAY,
        tolerated_gap_s=600,
        response_time_s=300,
        patients=BUSY,
        cylinders=cylinders(
            fleet=12, full_gas=600 * LITRE, regulators=4, gauge_check_s=2 * HOUR, change_time_s=600
        )
        if "cylinder" in sources
        else None,
        resupply=replace(resupply(DAY, 8, 12, DAY), lead_time_s=Law("gamma", (2.0, 20.0 * HOUR)))
        if "cylinder" in sources
        else None,
        concentrators=FAILING if "concentrator" in sources else None,
        grid=GRID if "concentrator" in sources else None,
    )


def _everything(rules: Hospital, draws: Draws) -> dict[str, Any]:
    """A hospital and draws in, all of its outcome out in a form that compares."""
    outcome = run(rules, draws)
    return vars(outcome) | {"daily": outcome.daily.tolist()}


def _stocked(stock: int, rate: float, lead_s: float, days: int) -> Hospital:
    """(R, S) ordering at every review, no minimum, vehicle limit or closure; watched, no response time."""
    gas = {"full_gas": 600 * LITRE, "residual_gas": 3 * LITRE}  # no reserve: lost at residual pressure
    return hospital(
        horizon_s=60 * DAY,
        patients=(kind(admissions_per_day=rate, duration_s=Law("exponential", (20.0 * HOUR,))),),
        cylinders=cylinders(fleet=stock, regulators=10_000, change_time_s=60, **gas),
        resupply=replace(
            resupply(days * DAY, stock - 1, stock, DAY),
            lead_time_s=Law("gamma", (2.0, lead_s / 2)),
            minimum_order=0,
        ),
    )


STOCKS = (6, 9, 12, 16, 21, 27, 34)


@pytest.mark.parametrize(("rate", "lead_s", "days"), [(1.5, 2.0 * DAY, 1), (1.0, 4.0 * DAY, 3), (0.7, DAY, 7)])
def test_more_stock_never_brings_a_stock_out(rate: float, lead_s: float, days: int) -> None:
    """In each replication, once a stock is enough every greater one is too; and the stocks tried do differ."""
    # Up to the first stock-out of the smaller stock both hospitals do the same things at the same times: the same
    # cylinders are opened and emptied, so the same numbers are ordered on the same days, with the same lead times.
    had = []
    for replication in range(16):
        outcomes = [run(_stocked(stock, rate, lead_s, days), Draws(3, replication)) for stock in STOCKS]
        had.append([outcome.stock_outs > 0 for outcome in outcomes])
        assert had[-1] == sorted(had[-1], reverse=True)
    assert len({sum(row) for row in had}) >= 3


@pytest.mark.parametrize("sources", ORDERS)
def test_no_cylinder_and_no_power_leave_everybody_unserved(sources: tuple[str, ...]) -> None:
    """Every second of need is unserved, by the reason at the last source."""
    rules = replace(_busy(sources), grid=Grid(never_on=True), resupply=None)
    rules = replace(rules, cylinders=rules.cylinders and replace(rules.cylinders, fleet=0, full_at_start=0))
    outcome = run(rules, Draws(1, 0))
    cause = Cause.NO_CYLINDER if sources[-1] == "cylinder" else Cause.NO_POWER
    assert outcome.unserved_s[cause] == sum(outcome.unserved_s) == outcome.need_s > 0
    assert (outcome.cylinder_gas, outcome.concentrator_gas) == (0, 0)


@pytest.mark.parametrize("sources", ORDERS)
def test_a_perfect_supply_leaves_nobody_unserved(sources: tuple[str, ...]) -> None:
    """Stock, regulators and units without end, a steady grid, changes without delay."""
    rules = replace(_busy(sources), grid=None, resupply=None)
    plenty = cylinders(fleet=10_000, regulators=10_000)
    rules = replace(
        rules,
        cylinders=plenty if rules.cylinders else None,
        concentrators=units(count=200) if rules.concentrators else None,
    )
    outcome = run(rules, Draws(1, 0))
    assert sum(outcome.unserved_s) == sum(outcome.interruptions) == 0
    assert outcome.needed_gas == outcome.cylinder_gas + outcome.concentrator_gas > 0


TIMES = st.integers(0, 3 * DAY)


@st.composite
def _written(draw: Any) -> tuple[Hospital, dict[str, Any]]:
    """Draw a hospital and draws of whole seconds, one flow for all: twice the gas lasts twice as long."""
    sources = draw(st.sampled_from(ORDERS))
    spans = st.lists(st.integers(1, DAY), min_size=1, max_size=4)
    rules = hospital(
        sources,
        strategy=Strategy("s", sources, draw(st.booleans())),
        horizon_s=3 * DAY,
        warm_up_s=draw(st.sampled_from([0, 5 * HOUR])),
        tolerated_gap_s=draw(st.sampled_from([0, 60])),
        response_time_s=draw(st.sampled_from([0, 300])),
        patients=(
            kind(priority=draw(st.integers(1, 3))),
            kind("children", priority=2, if_unserved=draw(st.sampled_from(["wait", "transfer"]))),
        ),
        cylinders=cylinders(
            fleet=6,
            regulators=3,
            leak_ml_min=500,
            gauge_check_s=draw(st.sampled_from([0, HOUR])),
            change_time_s=60,
        ),
        resupply=resupply(draw(st.sampled_from([None, 6 * HOUR])), 4, 6, draw(st.integers(0, DAY))),
        concentrators=units(2, 2_000, 2, fails=True, clock=draw(st.sampled_from(["running", "calendar"]))),
        grid=Grid(constant(1), constant(1)),
    )
    stay = st.tuples(TIMES, st.integers(1, DAY), st.just(1_000), st.integers(0, 1))
    return rules, {
        "patients": draw(st.lists(stay, max_size=12)),
        "up": draw(spans),
        "down": draw(spans),
        "failures": {unit: draw(spans) for unit in range(2)},
        "repairs": {unit: draw(spans) for unit in range(2)},
        "spells": [(HOUR, draw(st.integers(HOUR, DAY)))],
    }


def _slower(rules: Hospital, written: dict[str, Any]) -> tuple[Hospital, dict[str, Any]]:
    """A hospital and its draws in, the same at half the speed out: all times and all gas doubled."""
    stock, supply = rules.cylinders, rules.resupply
    assert stock is not None
    assert supply is not None
    gas = {name: 2 * getattr(stock, name) for name in ("full_gas", "residual_gas", "lost_gas")}
    slow = {name: 2 * getattr(rules, name) for name in ("horizon_s", "warm_up_s", "tolerated_gap_s")}
    rules = replace(
        rules,
        **slow,
        response_time_s=2 * rules.response_time_s,
        cylinders=replace(
            stock, **gas, gauge_check_s=2 * stock.gauge_check_s, change_time_s=2 * stock.change_time_s
        ),
        resupply=replace(
            supply,
            review_s=None if supply.review_s is None else 2 * supply.review_s,
            lead_time_s=constant(2 * supply.lead_time_s.parameters[0]),
        ),
    )
    return rules, {
        "patients": [(2 * arrival, 2 * stay, flow, index) for arrival, stay, flow, index in written["patients"]],
        "spells": [(2 * start, 2 * end) for start, end in written["spells"]],
        **{name: [2 * value for value in written[name]] for name in ("up", "down")},
        **{
            name: {u: [2 * v for v in row] for u, row in written[name].items()} for name in ("failures", "repairs")
        },
    }


@CASES
@given(case=_written())
def test_scaling_all_times_by_two_leaves_shares_unchanged(case: tuple[Hospital, dict[str, Any]]) -> None:
    """Exactly: with every time and every content doubled, the log is the same at twice the times."""
    quick, slow = (
        run(rules, FixedDraws(**written)) for rules, written in ((case[0], case[1]), _slower(case[0], case[1]))
    )
    assert [(2 * e.time_s, e.step, e.item) for e in quick.log] == [(e.time_s, e.step, e.item) for e in slow.log]
    assert [2 * seconds for seconds in quick.unserved_s] == list(slow.unserved_s)
    assert (2 * quick.need_s, 2 * quick.cylinder_gas) == (slow.need_s, slow.cylinder_gas)
    assert (quick.interruptions, quick.orders) == (slow.interruptions, slow.orders)


@pytest.mark.parametrize("sources", ORDERS)
def test_replication_k_alone_equals_replication_k_of_many(sources: tuple[str, ...]) -> None:
    """Nothing is carried from one replication to the next."""
    rules = _busy(sources)
    many = [_everything(rules, Draws(7, replication)) for replication in range(4)]
    assert _everything(rules, Draws(7, 3)) == many[3]
    assert many[2]["log"] != many[3]["log"]


@CASES
@given(rules=hospitals(), seed=st.integers(0, 10_000))
def test_strategies_meet_the_same_patients_and_power_cuts(rules: Hospital, seed: int) -> None:
    """Need and time without grid do not depend on the strategy, nor on which strategy is run first."""
    others = [
        replace(
            _busy(sources),
            patients=rules.patients,
            grid=rules.grid,
            power=rules.power,
            staff=rules.staff,
            shocks=rules.shocks,
        )
        for sources in ORDERS
    ]
    others = [replace(item, horizon_s=rules.horizon_s, warm_up_s=rules.warm_up_s) for item in others]
    shared = Draws(seed, 1)
    together = [_everything(item, shared) for item in (*others, rules)]
    same = [(item["need_s"], item["needed_gas"], item["patients"], item["power_out_s"]) for item in together]
    assert len(set(same)) == 1
    assert together[::-1] == [_everything(item, Draws(seed, 1)) for item in (rules, *others[::-1])]


def test_strategies_order_with_the_same_lead_times() -> None:
    """Two strategies that order on the same day wait as long for it, however many orders went before."""
    lead_times: list[dict[int, int]] = []
    for sources in (CYLINDER, UNIT_FIRST):
        rules = _busy(sources)
        assert rules.resupply is not None
        rules = replace(rules, resupply=replace(rules.resupply, overtaking=True))
        orders = [entry for entry in run(rules, Draws(5, 0)).log if entry.step == "order"]
        lead_times.append({entry.time_s // DAY: entry.value - entry.time_s for entry in orders})
    common = lead_times[0].keys() & lead_times[1].keys()
    assert len(common) > 5
    assert len(lead_times[0]) != len(lead_times[1])
    assert [lead_times[0][day] for day in common] == [lead_times[1][day] for day in common]


def test_minutes_of_slack_do_not_hide_a_difference() -> None:
    """A cross-check of the doubling: to double the times alone, not the gas, does change the shares."""
    short = run(hospital(cylinders=cylinders(fleet=1)), FixedDraws([(0, HOUR)]))
    longer = run(hospital(cylinders=cylinders(fleet=1), horizon_s=2 * DAY), FixedDraws([(0, 2 * HOUR)]))
    assert (sum(short.unserved_s), sum(longer.unserved_s)) == (3 * MINUTE, 63 * MINUTE)


@pytest.mark.parametrize("sources", [CYLINDER, UNIT_FIRST])
def test_splitters_of_one_outlet_or_none_and_one_kind_of_set_are_as_without(sources: tuple[str, ...]) -> None:
    """The whole event log is the same as with so many regulators alone."""
    rules, draws = _busy(sources), Draws(7, 0)
    plain = run(rules, draws).log
    assert rules.cylinders is not None
    sets = (RegulatorSet(1, valve="bullnose"), RegulatorSet(3, 0, 15_000))
    for changes in ({"splitters": Splitters(9, 1)}, {"splitters": Splitters(0, 4)}, {"regulator_sets": sets}):
        changed = replace(rules, cylinders=replace(rules.cylinders, **changes))
        assert run(changed, draws).log == plain


@pytest.mark.parametrize("sources", [CYLINDER, UNIT_FIRST])
def test_more_splitters_never_leave_more_for_want_of_a_regulator(sources: tuple[str, ...]) -> None:
    """With gas in plenty: hours without a regulator fall with each splitter, and many outlets leave none."""
    rules = _busy(sources)
    assert rules.cylinders is not None
    plenty = replace(rules.cylinders, fleet=900, full_at_start=900, full_gas=6_000 * LITRE, regulators=2)
    lost = []
    for splitters in (None, Splitters(1, 3), Splitters(2, 3), Splitters(2, 200)):
        stock = replace(plenty, splitters=splitters)
        lost.append(run(replace(rules, cylinders=stock), Draws(7, 0)).unserved_s[Cause.NO_REGULATOR])
    assert lost == sorted(lost, reverse=True)
    assert lost[0] > lost[1] > lost[-1] == 0


COUNTED = ("interruption", "stock-out")


@CASES
@given(rules=hospitals(), seed=st.integers(0, 10_000))
def test_what_is_tolerated_moves_nothing(rules: Hospital, seed: int) -> None:
    """A gap tolerated for a minute or two hours changes what is counted, not who gets what and when."""
    assert _moved(replace(rules, tolerated_gap_s=MINUTE), Draws(seed, 0)) == _moved(
        replace(rules, tolerated_gap_s=2 * HOUR), Draws(seed, 0)
    )


def test_who_waits_for_a_shared_cylinder_is_not_let_in_by_counting() -> None:
    """After 40 min the cylinder lasts for two until the next look; a gap counted after 55 min changes nothing."""
    stock = cylinders(fleet=1, splitters=Splitters(1, 2), gauge_check_s=2 * HOUR, change_when="will_not_last")
    draws = FixedDraws([(0, 20 * HOUR, 200), (10 * MINUTE, 20 * HOUR, 400)])
    rules = hospital(cylinders=stock)
    logs = [_moved(replace(rules, tolerated_gap_s=minutes * MINUTE), draws) for minutes in (5, 45)]
    assert logs[0] == logs[1]


def _moved(rules: Hospital, draws: Draws) -> list[LogEntry]:
    """All of a log but what counts gaps."""
    return [entry for entry in run(rules, draws).log if entry.step not in COUNTED]
