"""Concentrators that differ, by hand: which one comes first, who waits for a repair, how many start on what."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from build import DAY, HOUR, UNIT, FixedDraws, constant, hospital, run, steps, units

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Outcome
from o2sim.planning.units import carried
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import (
    Allocation,
    Battery,
    Concentrators,
    Generator,
    Grid,
    Hospital,
    Law,
    Power,
    Scenario,
    UnitGroup,
)

engines = pytest.mark.parametrize("engine", ["reference", "kernel"])
GRID = Grid(constant(1), constant(1))


def of_models(*models: tuple[str, int, dict[str, Any]], **more: Any) -> Concentrators:
    """Return units by rows of (model, count, what differs from a unit of 5 L/min, 4 outlets and 350 W)."""
    groups, first = [], 0
    for name, count, changes in models:
        rules = replace(units(count), **changes, **more)
        groups.append(UnitGroup(name, rules, first, count, working=count))
        first += count
    return replace(groups[0].rules, count=first, listed=tuple(groups))


def by(rules: Hospital, engine: str, draws: Draws | None = None) -> Outcome:
    """Return the outcome of a hospital by an engine."""
    scenario = Scenario("test", "", "test.yaml", "0" * 16, {"s": rules})
    return simulate(scenario, "s", draws or Draws(1, 0), engine, log=True)


@pytest.mark.parametrize(("flow", "unit"), [(4_000, 1), (5_000, 1), (6_000, 0)])
def test_the_smallest_unit_that_fits_comes_first(flow: int, unit: int) -> None:
    """One of 10 L/min, then two of 5: up to 5 L/min come from the first of these, more from the large one."""
    bank = of_models(("ten", 1, {"rated_flow_ml_min": 10_000}), ("five", 2, {}))
    rules = hospital(UNIT, concentrators=bank, allocation=Allocation(first_unit="smallest that fits"))
    outcome = run(rules, FixedDraws(patients=[(0, HOUR, flow)]))
    assert steps(outcome, "on concentrator") == [f"00:00:00 on concentrator: 0 {unit}"]


def test_a_small_unit_gives_a_part_only_where_no_larger_one_works() -> None:
    """8 L/min come from the large unit; where there is none, 5 of the 8 from a small one."""
    bank = of_models(("five", 1, {}), ("ten", 1, {"rated_flow_ml_min": 10_000, "outlets": 1}))
    rules = hospital(UNIT, concentrators=bank)
    lone = replace(rules, concentrators=of_models(("five", 1, {})))
    eight = [(0, HOUR, 8_000)]
    assert steps(run(rules, FixedDraws(patients=eight)), "on concentrator", "reduced flow") == [
        "00:00:00 on concentrator: 0 1"
    ]
    assert steps(run(lone, FixedDraws(patients=eight)), "reduced flow") == ["00:00:00 reduced flow: 0 0 5000"]


def test_units_that_do_not_work_wait_for_a_repair_from_the_first_second() -> None:
    """One of three works; a crew of one repairs the others in order, 10 h each, and no failure is counted."""
    law = constant(1)
    bank = replace(units(3), failure_s=Law("exponential", (1e12,)), repair_s=law, crew=1)
    group = UnitGroup("", bank, 0, 3, working=1)
    rules = hospital(UNIT, concentrators=replace(bank, listed=(group,)))
    lives = dict.fromkeys(range(3), (10 * DAY, 10 * DAY))
    draws = FixedDraws(patients=(), failures=lives, repairs={1: (10 * HOUR,), 2: (10 * HOUR,)})
    outcome = run(rules, draws)
    assert steps(outcome, "repair done") == ["10:00:00 repair done: 1", "20:00:00 repair done: 2"]
    assert outcome.concentrator_failures == 0


STARTS = [(1_000, 1_000, 2_500, 1), (1_000, 2_000, 2_500, 2), (2_000, 2_000, 2_500, 4), (1_000, None, None, 2)]
STARTS += [(1_000, None, 2_500, 2), (800, None, 2_500, 2), (700, 1_200, 2_500, 1)]


@engines
@pytest.mark.parametrize(("inverter_w", "peak_w", "surge", "expected"), STARTS)
def test_units_start_one_by_one_on_the_battery(
    inverter_w: int, peak_w: int | None, surge: int | None, expected: int, engine: str
) -> None:
    """n x 350 W within the inverter, and (n - 1) x 350 W + 2.5 x 350 W within its peak, twice it unless stated."""
    bank = replace(units(6, outlets=1), start_surge_permille=surge)
    power = Power(battery=Battery(50 * 350 * HOUR, 350, inverter_w=inverter_w, peak_w=peak_w))
    rules = hospital(UNIT, concentrators=bank, grid=GRID, power=power)
    draws = FixedDraws(patients=[(second, DAY) for second in range(6)], up=[HOUR], down=[2 * HOUR])
    if engine == "kernel":  # whose draws are those of laws
        rules = replace(rules, grid=Grid(constant(HOUR), constant(DAY)), horizon_s=2 * HOUR)
        kinds = (
            replace(rules.patients[0], admissions_per_day=300.0, duration_s=constant(DAY), if_unserved="transfer"),
        )
        outcome = by(replace(rules, patients=kinds), engine)
    else:
        outcome = run(rules, draws)
    on_battery = outcome.at_once.units_on_battery
    assert len(on_battery) - 1 == expected == carried(bank, inverter_w, power.battery.start_limit_w)[0]


def test_units_stay_shed_until_the_grid_is_back() -> None:
    """On a battery that starts one of three, the two others are lost at once and served again with the grid."""
    bank = replace(units(3, outlets=1), start_surge_permille=2_500)
    power = Power(battery=Battery(50 * 350 * HOUR, 350, inverter_w=1_000, peak_w=1_000))
    rules = hospital(UNIT, concentrators=bank, grid=GRID, power=power)
    outcome = run(rules, FixedDraws(patients=[(0, DAY), (1, DAY), (2, DAY)], up=[HOUR], down=[2 * HOUR]))
    assert [entry.item for entry in outcome.log if entry.step == "supply lost"] == [2, 1]
    assert sum(outcome.unserved_s) == 2 * 2 * HOUR


def test_a_generator_starts_no_more_than_its_peak() -> None:
    """900 W beside a base load of 100 W: one unit starts (875 W), a second would take 1,225 W of 800 W."""
    bank = replace(units(2, outlets=1), start_surge_permille=2_500)
    generator = Generator(0, 0, power_w=2_000, base_load_w=100, peak_w=1_000)
    rules = hospital(UNIT, concentrators=bank, grid=GRID, power=Power(generator=generator))
    outcome = run(rules, FixedDraws(patients=[(0, DAY), (1, DAY)], up=[HOUR], down=[2 * HOUR]))
    assert outcome.at_once.units_on_generator == (0, 2 * HOUR)


def test_shedding_stops_units_until_their_watts_fit() -> None:
    """1,000 W for 350 W, 600 W and 350 W: the last stops, and the two others run on 950 W."""
    bank = of_models(("five", 1, {}), ("ten", 1, {"power_w": 600.0}), ("five", 1, {}), outlets=1)
    power = Power(battery=Battery(50 * 350 * HOUR, 350, inverter_w=1_000))
    rules = hospital(UNIT, concentrators=bank, grid=GRID, power=power)
    outcome = run(rules, FixedDraws(patients=[(0, DAY), (1, DAY), (2, DAY)], up=[HOUR], down=[2 * HOUR]))
    assert [entry.item for entry in outcome.log if entry.step == "supply lost"] == [2]


PLAIN = """
horizon: 60 days
response_time: 5 min
patients: {{all: {{admissions: 6 / day, hypoxaemic: 100 %, flow: {{uniform: {{low: 1 L/min, high: 7 L/min}}}},
  duration: {{exponential: {{mean: 2 days}}}}}}}}
concentrators: {{rated_flow: 5 L/min, outlets: 2, power: 350 W, {more}}}
power:
  grid: {{up: {{exponential: {{mean: 20 h}}}}, down: {{exponential: {{mean: 3 h}}}}}}
  battery: {{usable: 3 kWh, charge: 500 W, inverter: 1000 W}}
allocation: {{two_units: true}}
strategies: {{only: {{sources: [concentrator]}}}}
"""
FAILS = "failure: {exponential: {mean: 200 h}}, repair: {exponential: {mean: 50 h}}, crew: 1"


@engines
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("count: 5", "models: {a: {outlets: 2}}, units: [{model: a, count: 5}]"),
        ("count: 5", "models: {a: {outlets: 2}, b: {}}, units: [{model: a, count: 2}, {model: b, count: 3}]"),
        (f"count: 5, {FAILS}", f"units: [{{count: 2}}, {{count: 3, owned: true}}], {FAILS}"),
    ],
    ids=["one named model", "two models alike", "rows of like units that fail"],
)
def test_models_that_do_not_differ_change_nothing(one: str, other: str, engine: str) -> None:
    """The same events and outcome bit for bit: what never fails draws nothing, like units draw by number."""
    found = [by(loads(PLAIN.format(more=more)).hospitals["only"], engine, Draws(3, 1)) for more in (one, other)]
    assert found[0] == found[1]


def test_one_more_bought_unit_shifts_nobody() -> None:
    """Each unit of a model fails when it did before, whatever is bought beside it."""
    models = f"models: {{a: {{}}, b: {{outlets: 3}}}}, {FAILS.replace(', crew: 1', '')}, failure_clock: calendar"
    rows = "units: [{{model: a, count: 2, owned: true}}, {{model: a, count: {}}}, {{model: b, count: 2}}]"
    times: list[dict[int | str, list[int]]] = []
    for bought in (1, 2):
        rules = loads(PLAIN.format(more=f"{models}, {rows.format(bought)}")).hospitals["only"]
        items = rules.concentrators.items if rules.concentrators else ()
        log = by(rules, "reference").log
        fails = {
            item: [e.time_s for e in log if e.step == "unit fails" and e.item == n] for n, item in enumerate(items)
        }
        times.append(fails)
    before, after = times
    assert {item: after[item] for item in before} == before
    assert list(after.keys() - before.keys()) == ["a, bought, 1"]
