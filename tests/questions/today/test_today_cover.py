"""How long what is there lasts: arithmetic against figures worked out by hand and by an outside calculation."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from today_ward import DAY, HOUR, LITRE, MONDAY, TEXT, count, hospital, patients, quiet, ward

from o2sim.questions.today import cover
from o2sim.questions.today.cover import Change, Open
from o2sim.questions.today.runs import Runs
from o2sim.questions.today.unknown import unknown
from o2sim.scenario.types.hospital import Law
from o2sim.scenario.types.now import CountedCylinders, UnitsNow

BATTERY_WS = round(2_400 * HOUR)


def shared():
    """Return the three bedsides of the ward, its spares, and how these are used up."""
    one = hospital()
    beds, spare = cover.bedsides(one), cover.spares(one.now.cylinders, one.cylinders)
    return beds, spare, cover.shared_out(beds, spare)


def test_run_out_without_luck_against_the_ideal_gas_worked_out_apart():
    """6,400 L at 137 bar, off at 8 bar; 2, 1, 0.5 L/min at 80, 40, 110 bar; 3 full: each, pooled, in turn."""
    beds, spare, found = shared()
    flow = sum(each.flow_ml_min for each in beds)
    gas = sum(each.gas for each in beds) + sum(spare)
    assert [each.lasts_s / HOUR for each in beds] == pytest.approx([28.0292, 24.9148, 158.8321], abs=1e-4)
    assert cover.pooled_s(gas, flow) / HOUR == pytest.approx(131.9152, abs=1e-4)
    assert [each.bedside for each in found.changes] == [1, 0, 0]
    assert [each.second / HOUR for each in found.changes] == pytest.approx([24.915, 28.029, 78.248], abs=1e-3)
    assert (found.first_dry.bedside, found.first_dry.second / HOUR) == (1, pytest.approx(125.3528, abs=1e-4))
    assert found.stranded_gas / LITRE == pytest.approx(1378.1, abs=0.05)


def test_a_run_without_luck_goes_as_the_arithmetic_says():
    """Nobody comes, nothing is delivered: the last spare goes at 78.2 h, and the first bed is dry at 125.4 h."""
    one = quiet(hospital(count(on_order=(), next_review_s=30 * DAY)))
    seen = Runs(ward(), 1, "kernel")(one, 7 * DAY, 100)
    _, _, found = shared()
    bare_s, dry_s = found.changes[-1].second, found.first_dry.second
    assert seen.bare_s.tolist() == pytest.approx([bare_s] * 100, abs=2)
    assert seen.stock_out_s.tolist() == pytest.approx([dry_s + one.tolerated_gap_s] * 100, abs=3)


def test_constant_flow_by_hand():
    """31 full of 6,000 L at 5 L/min last 31 x 6,000 / 5 minutes."""
    assert cover.pooled_s(31 * 6_000 * LITRE, 5_000) / 60 == pytest.approx(37_200)
    assert cover.pooled_s(LITRE, 0) == math.inf


def test_nothing_flows_and_nothing_runs_dry():
    """Without a flow no bedside is dry, and no spare is used."""
    assert cover.shared_out([Open("adults", 0, 5.0)], [7.0]) == cover.Shared((), None, 0.0)
    assert cover.shared_out([], [7.0]).first_dry is None


def test_without_spares_the_first_to_run_out_is_dry():
    """Two beds, no spare: the shorter one, and what the other still holds."""
    found = cover.shared_out([Open("a", 10, 100.0), Open("b", 5, 100.0)], [])
    assert found == cover.Shared((), Change(0, 10.0), 50.0)


def test_part_used_spares_come_first_and_empty_ones_not_at_all():
    """Two on the rack, one of them at what a cylinder keeps, give one spare before the full ones."""
    one = hospital()
    keep, full = one.cylinders.residual_gas, one.cylinders.full_gas
    found = cover.spares(CountedCylinders(1, 0, (keep + 60, keep)), one.cylinders)
    assert found == [60.0, full - keep]


def test_what_nobody_read_is_a_mean_or_a_half():
    """An unknown flow is the mean of the class, an unread gauge half of what a full one gives; both are marked."""
    one = hospital(count(on_oxygen=(patients()[0], *patients(flow_ml_min=None, gas=None)[:1])))
    known, guessed = cover.bedsides(one)
    full = one.cylinders.full_gas - one.cylinders.residual_gas
    assert (known.assumed, guessed.assumed) == (False, True)
    assert (guessed.flow_ml_min, guessed.gas) == (2_000, full / 2)


UNITS = """concentrators: {count: 2, rated_flow: 5 L/min, outlets: 1, power: 350 W}
power:
  grid: {up: {exponential: {mean: 1 day}}, down: {lognormal: {median: 2 h, geometric_sd: 2.5}}}
  battery: {usable: 2.4 kWh, charge: 1 kW, inverter_efficiency: 90 %}
"""


def test_an_unknown_source_is_a_unit_while_an_outlet_is_left():
    """Two units of one outlet: the third has a cylinder nobody counted, half full, else one of the spare ones."""
    text = TEXT.replace("strategies: {cylinders: {sources: [cylinder]}}",
                        f"{UNITS}strategies: {{mixed: {{sources: [concentrator, cylinder]}}}}")  # fmt: skip
    one = hospital(count(on_oxygen=patients(source=None, gas=None), units=UnitsNow(2)), text)
    all_counted = replace(one, now=replace(one.now, cylinders=CountedCylinders(3, 37)))
    half = (one.cylinders.full_gas - one.cylinders.residual_gas) / 2
    assert [(each.of_class, each.gas) for each in cover.bedsides(one)] == [("newborns", half)]
    assert [each.gas for each in cover.bedsides(all_counted)] == [0.0]
    assert cover.units_running(one) == 2


def test_battery_cover_and_the_cut_that_outlasts_it_against_figures_worked_out_apart():
    """2.4 kWh through an inverter of 90 % carry two units of 350 W for 3.0857 h; a cut of lognormal(2 h, 2.5) that
    has lasted 1 h lasts longer with chance 0.28093."""
    hours = cover.battery_hours(BATTERY_WS, 1_000, 900, 700)
    law = Law("lognormal", (math.log(2 * HOUR), math.log(2.5)))
    assert hours == pytest.approx(3.0857, abs=1e-4)
    assert cover.outlasts(law, HOUR, hours * HOUR) == pytest.approx(0.28093, abs=1e-5)


def test_a_cut_of_unknown_age_against_the_memory_of_the_exponential():
    """Met at a random moment an exponential time has the same law to come; what cannot have lasted has no rest."""
    law = Law("exponential", (3_600.0,))
    assert cover.outlasts(law, None, 1_800) == pytest.approx(math.exp(-0.5), abs=1e-4)
    assert cover.outlasts(Law("constant", (60.0,)), 90, 1) == 0.0


def test_more_on_concentrators_than_these_have_outlets():
    """Three counted on two units of one outlet each: said, as the third waits in the run; two are no doubt."""
    alone = "strategies: {cylinders: {sources: [cylinder]}}"
    text = TEXT.replace(alone, f"{UNITS}strategies: {{both: {{sources: [concentrator, cylinder]}}}}")
    met = patients(source="concentrator", gas=None)
    said = [
        unknown(hospital(count(on_oxygen=each, units=UnitsNow(2)), text), 40, MONDAY.date())
        for each in (met, met[1:])
    ]
    doubt = (
        "3 were counted on concentrators, but 2 that work have 2 outlets: the others wait, or are given cylinders."
    )
    assert [doubt in each for each in said] == [True, False]
