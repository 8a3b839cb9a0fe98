"""Fields set anew: through the loader, for one strategy or for all, with errors that name the change."""

import pytest
from scenario_texts import with_values

from o2sim.errors import ScenarioError
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original, original_of, stated

TEXT = """
name: One ward
patients:
  adults: {admissions: 2 / day, flow: {triangular: {low: 1 L/min, mode: 2 L/min, high: 4 L/min}}, duration: 24 h}
  "dr. who": {admissions: 1 / day, flow: 1 L/min, duration: 12 h}
cylinders: {water_capacity: 47 L, fleet: 20, regulators: 4}
resupply:
  reorder_point: 10
  order_up_to: 18
  lead_time: {gamma: {mean: 3 days, sd: 1 days}}
  road_closures: [{from: 2027-02-01, to: 2027-02-10}, {chance_per_day: 5 %, length: 3 days}]
concentrators: {count: 2, rated_flow: 5 L/min, power: 350 W}
power: {grid: {up: {exponential: {mean: 36 h}}, down: {lognormal: {median: 2 h, geometric_sd: 2.5}}}}
strategies:
  cylinders only: {sources: [cylinder]}
  small: {sources: [concentrator, cylinder], cylinders: {fleet: 8}, power: {grid: {down: 3 h}}}
"""


def written(text: str, *changes: tuple[str, str]):
    """Return the scenario of a text in which the author had written the values themselves."""
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    return loads(text)


@pytest.mark.parametrize(
    ("path", "value", "before", "after"),
    [
        ("resupply.lead_time.mean", "5 days", "mean: 3 days", "mean: 5 days"),
        ("resupply.lead_time.gamma.mean", "5 days", "mean: 3 days", "mean: 5 days"),
        ("resupply.lead_time", "2 days", "{gamma: {mean: 3 days, sd: 1 days}}", "2 days"),
        ("resupply.lead_time", "{gamma: {mean: 2 h, sd: 1 h}}", "mean: 3 days, sd: 1 days", "mean: 2 h, sd: 1 h"),
        ("resupply.road_closures[2].chance_per_day", "20 %", "chance_per_day: 5 %", "chance_per_day: 20 %"),
        ("patients.adults.flow.mode", "3 L/min", "mode: 2 L/min", "mode: 3 L/min"),
        ("patients.dr. who.duration", "6 h", "duration: 12 h", "duration: 6 h"),
        ("concentrators.oxygen_monitor", "true", "power: 350 W", "power: 350 W, oxygen_monitor: true"),
        ("strategies.small.cylinders.fleet", "9", "fleet: 8", "fleet: 9"),
    ],
)  # fmt: skip
def test_a_value_set_is_the_value_written(path, value, before, after):
    """The hash is that of a file in which the value stands, so the loader has seen it."""
    assert with_values(original_of(TEXT), {path: value}).hash == written(TEXT, (before, after)).hash


def test_nothing_set_is_the_file_itself():
    """No change keeps the hash; a change and back as well."""
    source = original_of(TEXT)
    assert with_values(source, {}).hash == loads(TEXT).hash
    assert with_values(source, {"cylinders.regulators": "4"}).hash == loads(TEXT).hash


def test_a_change_for_all_replaces_what_strategies_state():
    """A fleet of their own does not hide the change; one strategy's change leaves the others."""
    source = original_of(TEXT)
    fleets = [h.cylinders.fleet for h in with_values(source, {"cylinders.fleet": "30"}).hospitals.values()]
    assert fleets == [30, 30]
    one = with_values(source, {"cylinders.fleet": "30"}, "small")
    assert [h.cylinders.fleet for h in one.hospitals.values()] == [20, 30]


def test_a_law_changed_for_one_strategy_leaves_that_of_all():
    """The parameter is set in a copy of the law, since a strategy can only state a law whole."""
    source = original_of(TEXT.replace(", power: {grid: {down: 3 h}}", ""))
    changed = with_values(source, {"power.grid.down.median": "4 h"}, "small")
    wanted = "power: {grid: {down: {lognormal: {median: 4 h, geometric_sd: 2.5}}}}"
    text = TEXT.replace("power: {grid: {down: 3 h}}", wanted)
    assert changed.hash == loads(text).hash


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("cylinders.fleet", "nine", "with cylinders.fleet = nine: cylinders.fleet: found 'nine'; allowed: a"),
        ("cylinders.fleeet", "9", "the key 'fleeet' is unknown"),
        ("cilinders.fleet", "9", "the key 'cilinders' is unknown"),
        ("cilinders.fleet", "9", "did you mean cylinders?"),
        ("cylinders..fleet", "9", "found the field 'cylinders..fleet'; allowed: a dotted path"),
        ("", "9", "found no field"),
        ("cylinders.fleet", " ", "found no value; allowed: one value"),
        ("cylinders.fleet", "1\n2", "allowed: one value"),
        ("cylinders.fleet", "{a", "not YAML"),
        ("cylinders.fleet", "*x", "found the alias *x"),
        ("cylinders.fleet", "!!int 4", "found the tag"),
        ("resupply.road_closures[3].length", "1 h", "found a list, in which there is no [3]"),
        ("power.grid.down.median", "1 h", "found '3 h', in which there is no median"),
        ("strategies.smal.cylinders.fleet", "9", "found the strategy 'smal'; allowed: strategies.NAME.FIELD"),
        ("resupply.reorder_point", "19", "found reorder_point 19, order_up_to 18"),
    ],
)  # fmt: skip
def test_what_cannot_be_set_is_refused(path, value, message):
    """Every refusal names the change, what was found and what is allowed."""
    with pytest.raises(ScenarioError) as error:
        with_values(original_of(TEXT, "ward.yaml"), {path: value})
    assert message in str(error.value)
    assert "ward.yaml" in str(error.value)


def test_what_is_stated_is_told_as_written():
    """A strategy's own statement comes first; a default is None."""
    source = original_of(TEXT)
    assert stated(source, "cylinders.fleet", "small") == "8"
    assert stated(source, "cylinders.fleet", "cylinders only") == "20"
    assert stated(source, "resupply.lead_time.sd", "small") == "1 days"
    assert stated(source, "resupply.road_closures[2].length", "small") == "3 days"
    assert stated(source, "cylinders.leak", "small") is None


def test_a_file_is_read_with_what_lies_beside_it(tmp_path):
    """A CSV file named by the scenario is found again; a strategy without a section gets one."""
    (tmp_path / "stays.csv").write_text("hours\n10\n20\n")
    text = TEXT.replace("duration: 24 h", "duration: {empirical: {file: stays.csv, column: hours, unit: h}}")
    (tmp_path / "ward.yaml").write_text(text)
    source = original(tmp_path / "ward.yaml")
    changed = with_values(source, {"staff": "{day: 2, night: 1}"}, "small")
    assert [h.staff is None for h in changed.hospitals.values()] == [True, False]
    assert changed.file == source.file


def test_without_a_list_of_strategies_the_scenario_itself_is_changed():
    """Strategies that the sections suggest cannot be told apart in the file."""
    source = original_of(TEXT.split("strategies:")[0])
    changed = with_values(source, {"cylinders.fleet": "30"}, "mixed")
    assert changed.hospitals["mixed"].cylinders.fleet == 30
