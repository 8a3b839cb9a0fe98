"""A battery of 0 kWh, as a what-if may ask for: it works as none in both engines; panels on it are refused."""

import pytest

from o2sim.errors import ScenarioError
from o2sim.questions.whatif.whatif import whatif
from o2sim.runs.study import run_replication
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of

ZERO = "battery: {usable: 0 kWh, charge: 600 W}"
SET = "generator: {power: 2 kW, start_delay: 20 min, start_chance: 80 %, running_failure: 60 h, repair: 1 day"
TEXT = f"""\
name: Dark evenings
start: 2027-01-01
horizon: 20 days
patients: {{adults: {{admissions: 3 / day, flow: 2 L/min, duration: {{exponential: {{mean: 40 h}}}}}}}}
concentrators: {{count: 3, rated_flow: 5 L/min, power: 350 W, start_up: 5 min}}
power: {{grid: {{up: {{exponential: {{mean: 20 h}}}}, down: {{exponential: {{mean: 4 h}}}}}}}}
strategies:
  grid: {{sources: [concentrator]}}
  nothing: {{sources: [concentrator], power: {{{ZERO}}}}}
  set: {{sources: [concentrator], power: {{{SET}}}}}}}
  set and nothing: {{sources: [concentrator], power: {{{ZERO}, {SET}}}}}}}
  set when low: {{sources: [concentrator], power: {{{ZERO}, {SET}, start_when: battery low}}}}}}
"""
SUNNY = TEXT.split("strategies:")[0].replace("power: {grid", f"power: {{{ZERO}, solar: {{peak: 2 kW}}, grid")


@pytest.mark.parametrize("engine", ["kernel", "reference"])
def test_a_battery_of_zero_is_as_good_as_none(engine):
    """Time without power and unserved are those of the grid alone, and of the generator alone, to the second."""
    names = ("grid", "nothing", "set", "set and nothing", "set when low")
    ran = dict(zip(names, run_replication(loads(TEXT), names, 1, 0, engine), strict=True))
    dark = {name: (each.without_power_s, each.unserved_s) for name, each in ran.items()}
    assert 0 < dark["set"][0] < dark["grid"][0]
    assert dark["nothing"] == dark["grid"]
    assert dark["set and nothing"] == dark["set when low"] == dark["set"]


def test_both_engines_say_the_same_of_it():
    """Every outcome, bit for bit."""
    scenario = loads(TEXT)
    one, other = (run_replication(scenario, list(scenario.strategies), 1, 1, e) for e in ("kernel", "reference"))
    assert one == other


def test_panels_on_a_battery_of_zero_are_refused_with_what_to_do():
    """In the file, and at a value of a what-if, before any run: no sun would come in, whatever they are."""
    with pytest.raises(
        ScenarioError, match=r"found 0 kWh beside solar; allowed: more than 0 Wh .* write usable: 3 kWh"
    ):
        loads(SUNNY)
    whole = original_of(SUNNY.replace("usable: 0 kWh", "usable: 3 kWh"))
    with pytest.raises(ScenarioError, match="found 0 kWh beside solar"):
        whatif(whole, "power.battery.usable = 3 kWh, 0 kWh", replications=1)
