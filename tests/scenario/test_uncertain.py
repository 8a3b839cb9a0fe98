"""Uncertain numbers in a scenario: read by the field's rules at each end, run at the likely one, told, hashed."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from scenario_texts import SMALL, WHOLE, with_values
from test_sizing import WARD

from o2sim.cli import main
from o2sim.errors import O2simError, ScenarioError
from o2sim.questions.drivers.settings import LAWS
from o2sim.questions.drivers.values import at_shares, likely_values, text_of
from o2sim.scenario import load, loads
from o2sim.scenario.changing.override import original, original_of
from o2sim.scenario.changing.ranges import at_texts, with_ranges

SCENARIOS = Path(__file__).parents[2] / "scenarios"
VALLEY = SCENARIOS / "uncertain_valley.yaml"
MARKED = [  # what the text says, what is uncertain instead, its path
    ("admissions: 8 / day", "admissions: {low: 6 / day, likely: 8 / day, high: 70 / week}",
     "patients.children.admissions"),
    ("median: 2 h", "median: {low: 1 h, likely: 2 h, high: 6 h}", "power.grid.down.lognormal.median"),
    ("geometric_sd: 2.5", "geometric_sd: {low: 2, likely: 2.5, high: 3}",
     "power.grid.down.lognormal.geometric_sd"),
    ("fleet: 40", "fleet: {low: 38, likely: 40, high: 50}", "cylinders.fleet"),
    ("fill_temperature: 25 degC", "fill_temperature: {low: 15 degC, likely: 25 degC, high: 35 degC}",
     "cylinders.fill_temperature"),
    ("flow: 0.5 L/min", "flow: {low: 0.3 L/min, likely: 0.5 L/min, high: 1 L/min}", "patients.newborns.flow"),
    ("chance_per_day: 5 %", "chance_per_day: {low: 1 %, likely: 5 %, high: 9 %}",
     "resupply.road_closures[1].chance_per_day"),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "path"), MARKED)
def test_a_scenario_with_a_range_is_the_one_with_its_likely_value(before, after, path):
    """Quantities, whole and plain numbers, parameters of laws, entries of lists: hospitals at the likely value."""
    plain, marked = loads(WHOLE), loads(WHOLE.replace(before, after, 1))
    assert WHOLE.count(before) >= 1
    assert marked.hospitals == plain.hospitals
    assert [item.path for item in marked.uncertain] == [path]
    assert marked.hash != plain.hash


def test_prices_and_factors_of_months_have_ranges_too():
    """Money in its currency, and one entry of a list of twelve."""
    text = WARD.replace("refill: 10 USD", "refill: {low: 8 USD, likely: 10 USD, high: 30 USD}").replace(
        "duration: {exp",
        "season: {monthly_factors: [1, 1, 1, 1, 1, {low: 1, likely: 2, high: 3}, 1, 1, 1, 1, 1, 1]}, duration: "
        "{exp",
    )
    found = {item.path: item.numbers for item in loads(text).uncertain}
    assert found == {
        "patients.all.season.monthly_factors[6]": (1.0, 2.0, 3.0),
        "costs.cylinders.refill": (8.0, 10.0, 30.0),
    }


def test_the_hash_covers_the_range_and_not_how_it_is_written():
    """60 min is an hour; another end is another scenario."""
    ranges = ["{low: 1 h, likely: 2 h, high: 6 h}", "{high: 6 h, low: 60 min, likely: 2 h}",
              "{low: 1 h, likely: 2 h, high: 7 h}"]  # fmt: skip
    hashes = [loads(WHOLE.replace("median: 2 h", f"median: {each}")).hash for each in ranges]
    assert hashes[0] == hashes[1] != hashes[2]


def test_numbers_are_in_the_unit_of_the_likely_one():
    """20 a week are 2.857 a day; 3 days are 72 h; degrees are no multiples."""
    text = SMALL.replace("1 / day", "{low: 0.5 / day, likely: 1 / day, high: 14 / week}").replace(
        "duration: 24 h", "duration: {low: 720 min, likely: 24 h, high: 3 days}"
    )
    rate, stay = loads(text).uncertain
    assert rate.numbers == (0.5, 1.0, 2.0)
    assert (stay.numbers, stay.unit, stay.texts[2]) == ((12.0, 24.0, 72.0), "h", "3 days")


def test_a_point_is_the_scenario_written_so():
    """Texts at the uncertain numbers give the hospitals and the hash of a file with these values."""
    text = WHOLE.replace("median: 2 h", "median: {low: 1 h, likely: 2 h, high: 6 h}")
    source = original_of(text)
    assert at_texts(source, {}).hash == loads(WHOLE).hash
    changed = at_texts(source, {"power.grid.down.lognormal.median": "6 h"})
    assert changed.hash == loads(WHOLE.replace("median: 2 h", "median: 6 h")).hash
    assert changed.uncertain == ()


def test_ranges_given_beside_the_file_hold_for_all_strategies():
    """A field that a strategy states for itself takes the value too; a range in the file is replaced."""
    source = with_ranges(original(VALLEY), {"cylinders.fleet": ("38", "40", "44"),
                                            "power.grid.down.median": ("3 h", "4 h", "5 h")})  # fmt: skip
    found = {item.path: item for item in source.scenario.uncertain}
    assert len(found) == 12
    assert found["cylinders.fleet"].places == ("cylinders.fleet", "strategies.mixed.cylinders.fleet")
    assert found["power.grid.down.median"].texts == ("3 h", "4 h", "5 h")
    changed = at_texts(source, {"cylinders.fleet": "44", "power.grid.down.median": "5 h"})
    fleets = [hospital.cylinders.fleet for hospital in changed.hospitals.values() if hospital.cylinders]
    assert fleets == [44, 44]


@pytest.mark.parametrize(
    ("path", "texts", "said"),
    [
        ("about", ("a", "b", "c"), "found a mapping of low, likely, high"),
        ("start", ("1", "2", "3"), "a date such as"),
        ("power.grid.down.median", ("3 h", "2 h", "4 h"), "low <= likely <= high"),
        ("resupply.reorder_point", ("1", "30", "41"), "order_up_to"),
        ("cylinders.flet", ("1", "2", "3"), "did you mean fleet"),
    ],
)
def test_a_range_that_cannot_be_is_refused(path, texts, said):
    """Texts and dates have no range; the order counts; the ends are checked together with the rest."""
    with pytest.raises(ScenarioError, match=said) as refused:
        with_ranges(original(VALLEY), {path: texts})
    assert f"with {path} = " in str(refused.value)


def test_a_value_set_by_other_commands_takes_the_place_of_a_range():
    """What-if and size change the scenario at its likely values."""
    source = original(VALLEY)
    changed = with_values(source, {"power.grid.down.median": "9 h"})
    assert changed.uncertain == ()
    assert changed.hospitals["mixed"].grid != source.scenario.hospitals["mixed"].grid


def test_the_demo_has_no_range_that_does_nothing():
    """Each end of each uncertain number makes another scenario than the likely one."""
    source = original(VALLEY)
    plain = at_texts(source, {}).hash
    for item in source.scenario.uncertain:
        for text in (item.texts[0], item.texts[2]):
            assert at_texts(source, {item.path: text}).hash != plain


@pytest.mark.parametrize(
    "command",
    [
        ["check"], ["describe"], ["run", "--strategy", "mixed", "--replications", "1"],
        ["compare", "--replications", "1", "--json"],
        ["whatif", "--vary", "concentrators.count = 2, 3", "--replications", "1"],
    ],
    ids=lambda command: command[0],
)  # fmt: skip
def test_every_command_says_that_it_takes_the_likely_values(command, tmp_path):
    """One line on stderr, so that JSON stays JSON."""
    text = SMALL.replace("fleet: 4", "fleet: {low: 2, likely: 4, high: 6}").replace("cylinders only:", "mixed:")
    text = text.replace("name: One bed", "name: One bed\nhorizon: 10 days")
    text += "concentrators: {count: 2, rated_flow: 5 L/min, power: 300 W}\n"
    file = tmp_path / "ward.yaml"
    file.write_text(text)
    done = CliRunner().invoke(main, [command[0], str(file), *command[1:]])
    assert done.exit_code == 0, done.output
    assert (
        done.stderr.count("1 value is uncertain; this takes the likely one. `o2sim drivers` shows what it does.")
        == 1
    )


def test_a_study_and_a_report_say_so_as_well(tmp_path):
    """On stderr, and on the page itself."""
    text = SMALL.replace("name: One bed", "name: One bed\nhorizon: 10 days")
    file, page = tmp_path / "ward.yaml", tmp_path / "page.html"
    file.write_text(text.replace("fleet: 4", "fleet: {low: 2, likely: 4, high: 6}"))
    rows = tmp_path / "rows.csv"
    rows.write_text("name,patients.child.admissions\nA,1 / day\nB,2 / day\n")
    done = CliRunner().invoke(main, ["study", str(rows), "--base", str(file), "--replications", "1"])
    assert (done.exit_code, done.stderr.count("1 value is uncertain")) == (0, 1)
    done = CliRunner().invoke(main, ["report", str(file), "-o", str(page), "--replications", "2"])
    assert done.exit_code == 0, done.output
    assert "1 value is uncertain; this takes the likely one." in page.read_text()


def test_too_many_and_full_lists_are_told_once():
    """A hundred ranges are enough; sixty problems too."""
    classes = "".join(
        f"  c{n}: {{admissions: {{low: 1 / day, likely: 2 / day, high: 3 / day}}, flow: 1 L/min, "
        "duration: {low: 1 h, likely: 2 h, high: 3 h}, priority: {low: 1, likely: 2, high: 3}}\n"
        for n in range(40)
    )
    text = SMALL.replace("  child:\n    admissions: 1 / day\n    flow: 1 L/min\n    duration: 24 h\n", classes)
    with pytest.raises(ScenarioError, match="found 120 uncertain numbers; allowed: at most 100"):
        loads(text)
    with pytest.raises(ScenarioError) as refused:
        loads(text.replace("likely: 2 h", "likely: 9 h").replace("likely: 2 /", "likely: 9 /"))
    assert len(refused.value.problems) <= 61


def test_draws_of_the_laws_against_their_means():
    """PERT has the mean (a + 4 m + b)/6 (Malcolm and others 1959), triangular (a + m + b)/3, uniform (a + b)/2."""
    import numpy as np

    items = loads(SMALL.replace("duration: 24 h", "duration: {low: 10 h, likely: 20 h, high: 60 h}")).uncertain
    even = (np.arange(4000)[:, None] + 0.5) / 4000
    means = {law: float(at_shares(items, even, law).mean()) for law in LAWS}
    assert means["pert"] == pytest.approx(25, abs=2e-3)
    assert means["triangular"] == pytest.approx(30, abs=2e-3)
    assert means["uniform"] == pytest.approx(35, abs=2e-3)
    variance = float(at_shares(items, even, "triangular").var())
    assert variance == pytest.approx((10**2 + 20**2 + 60**2 - 200 - 600 - 1200) / 18, rel=1e-3)


def test_whole_numbers_stay_whole_and_reach_their_ends():
    """A uniform draw of 2..4 gives 2, 3 and 4 a third of the time each."""
    import numpy as np

    items = loads(SMALL.replace("fleet: 4", "fleet: {low: 2, likely: 3, high: 4}")).uncertain
    even = (np.arange(300)[:, None] + 0.5) / 300
    drawn = at_shares(items, even, "uniform")[:, 0]
    assert [int((drawn == number).sum()) for number in (2, 3, 4)] == [100, 100, 100]
    assert text_of(items[0], 4.0) == "4"
    with pytest.raises(O2simError, match="pert, triangular, uniform"):
        at_shares(items, even, "normal")


def test_a_drawn_value_reads_back_as_itself():
    """Very small and very large values are written without an exponent, which a file may not hold."""
    text = SMALL.replace("1 / day", "{low: 0.00001 / day, likely: 0.00002 / day, high: 0.3 / day}")
    source = original_of(text)
    (item,) = source.scenario.uncertain
    assert likely_values([item]).tolist() == [0.00002]
    assert text_of(item, 0.0000123456) == "0.0000123456 / day"
    assert text_of(item, 1234567.0) == "1234567 / day"
    changed = at_texts(source, {item.path: text_of(item, 0.0000123456)})
    assert changed.hospitals["cylinders only"].patients[0].admissions_per_day == pytest.approx(1.23456e-5)


def test_every_shipped_scenario_without_ranges_says_nothing():
    """Only the demo of it has uncertain numbers."""
    marked = [path.stem for path in sorted(SCENARIOS.glob("*.yaml")) if load(path).uncertain]
    assert marked == ["uncertain_valley"]
