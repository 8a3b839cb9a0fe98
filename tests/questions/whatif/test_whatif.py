"""What-if: points under the same luck, the long table, break-evens of known lines, and what is refused."""

import csv
import json
import sys
from concurrent.futures import ThreadPoolExecutor
from types import ModuleType

import numpy as np
import pytest
from test_sizing import WARD

from o2sim.errors import O2simError, ScenarioError
from o2sim.measures.measures import summarise
from o2sim.measures.names import ANY, CHANCE, COST, FILL, HOURS, STOCK_OUTS, SUPPLY_HOURS
from o2sim.outcome import SUPPLY_CAUSES
from o2sim.questions.whatif import point_runs
from o2sim.questions.whatif.break_even import (
    BY_CHANCE,
    BY_COST,
    BY_COST_IN_TARGET,
    BY_HOURS,
    Series,
    break_evens,
)
from o2sim.questions.whatif.whatif import MEASURES, whatif
from o2sim.runs.executors import Given
from o2sim.runs.store_file import open_store
from o2sim.runs.study import run_study
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of

SHORT = WARD.replace("horizon: 60 days", "horizon: 20 days")
CUTS = "power.grid.down = 1 h, 9 h"
REFILL = "costs.cylinders.refill = 1 USD, 40 USD"
PRICED = SHORT.replace("costs: {", "costs: {concentrators: {price: 4000 USD}, ")


def asked(*vary, text=SHORT, **more):
    """Return a what-if over a text."""
    return whatif(original_of(text), list(vary), **{"replications": 6, **more})


def test_a_point_is_the_study_of_the_scenario_written_so():
    """Every figure of a point is that of the changed file, run by itself with the same seed."""
    done = asked(CUTS, seed=3)
    changed = loads(SHORT.replace("down: 6 h", "down: 9 h"))
    point = done.result["points"][1]
    assert point["scenario_hash"] == changed.hash
    study = run_study(changed, replications=6, seed=3)
    shares = {name: sum(o.stock_outs > 0 for o in found) / 6 for name, found in study.outcomes.items()}
    assert {name: each[CHANCE]["estimate"] for name, each in point["strategies"].items()} == shares


def test_a_strategy_that_is_left_as_it_was_is_the_same_at_all_points(monkeypatch):
    """Power cuts are nothing to cylinders, nor are they run twice; units feel them."""
    ran = []
    run = point_runs.run_replication

    def noted(scenario, strategies, seed, replication, engine):
        ran.append((strategies, replication))
        return run(scenario, strategies, seed, replication, engine)

    monkeypatch.setattr(point_runs, "run_replication", noted)
    points = asked(CUTS, replications=2).result["points"]
    both, units = ("cylinders only", "concentrators only", "mixed"), ("concentrators only", "mixed")
    assert ran == [(both, 0), (both, 1), (units, 0), (units, 1)]
    assert points[0]["strategies"]["cylinders only"] == points[1]["strategies"]["cylinders only"]
    assert points[0]["strategies"]["mixed"] != points[1]["strategies"]["mixed"]


def test_the_long_table_has_a_row_for_each_point_strategy_and_measure():
    """Values and numbers as in the object; it is JSON, and HTML in a notebook."""
    done = asked(CUTS, "concentrators.count = 1, 2", strategies=["mixed"])
    rows = [dict(zip(done.columns, row, strict=True)) for row in done.rows()]
    assert len(rows) == 4 * len(MEASURES)
    assert {(r["power.grid.down"], r["concentrators.count"]) for r in rows} == {
        ("1 h", "1"), ("1 h", "2"), ("9 h", "1"), ("9 h", "2")
    }  # fmt: skip
    last = done.result["points"][-1]["strategies"]["mixed"][COST]
    assert (rows[-1]["measure"], rows[-1]["estimate"]) == (COST, last["mean"])
    assert json.loads(json.dumps(done.result)) == done.result
    assert "concentrators.count</th>" in done._repr_html_()


def test_who_does_the_work_and_how_it_is_cut_changes_nothing(tmp_path):
    """Threads that finish in any order, pieces of two with a store, and one after the other say the same."""
    fields = CUTS, "concentrators.count = 1, 2"
    plain = asked(*fields).result
    with ThreadPoolExecutor(3) as threads:
        assert asked(*fields, run_options={"crew": Given(threads)}).result == plain
    with open_store(tmp_path / "points.o2store", "whatif") as store:
        assert asked(*fields, run_options={"store": store, "chunk_size": 4}).result == plain
        assert asked(*fields, run_options={"store": store}).result == plain


def test_a_point_says_what_a_comparison_says():
    """Chance, stock-outs, hours and litres of each strategy with their intervals, and money, to the digit."""
    point = asked("concentrators.repair = 5 days", text=PRICED, seed=4).result["points"][0]["strategies"]
    compared = summarise(run_study(loads(PRICED), replications=6, seed=4))["strategies"]
    for name, found in compared.items():
        for measure in (CHANCE, ANY, STOCK_OUTS, HOURS, FILL):
            assert point[name][measure] == found[measure]
        assert point[name][COST]["mean"] == found[COST]["mean"]
        parts = [found["unserved_hours_by_cause"][cause.label]["mean"] for cause in SUPPLY_CAUSES]
        assert point[name][SUPPLY_HOURS]["mean"] == pytest.approx(sum(parts))


def known(failed, hours, cost):
    """Return a strategy with these means exactly, spread over 40 replications."""
    n = 40
    spread = np.linspace(-1, 1, n)
    return {
        CHANCE: (np.arange(n) < failed * n).astype(float), SUPPLY_HOURS: hours + spread, COST: cost + 0.1 * spread
    }  # fmt: skip


def test_break_evens_of_lines_that_are_known():
    """Two straight lines cross where algebra says; the other criteria change where theirs do."""
    numbers = (0.0, 10.0, 20.0)
    points = tuple(
        {"a": known(0.125 + 0.0125 * x, 5 + x, 100), "b": known(0.25, 20.0, 90 + 2 * x)} for x in numbers
    )  # a fails less up to 10, has fewer hours below 15, costs less above 5
    found = {each.by: each for each in break_evens(Series(numbers, points), 0.3, None, 0.95)}
    assert set(found) == {BY_CHANCE, BY_HOURS, BY_COST, BY_COST_IN_TARGET}
    assert found[BY_HOURS].value == pytest.approx(15)
    assert found[BY_COST].value == pytest.approx(5)
    assert (found[BY_HOURS].begins, found[BY_HOURS].ends) == ("a", "b")
    assert (found[BY_COST].begins, found[BY_COST].ends) == ("b", "a")
    assert found[BY_HOURS].seen_in == 1.0
    assert found[BY_HOURS].low == pytest.approx(15)  # the same spread for both: the crossing is certain
    assert found[BY_CHANCE].between == (10, 20)


def test_a_break_even_by_chance_against_the_normal_law():
    """Noise on one line: its interval is that of the mean over the slope, within a tenth."""
    rng = np.random.default_rng(5)
    n = 400
    noise = rng.normal(0, 20, n)
    flat = np.zeros(n)
    points = tuple(
        {"a": {CHANCE: flat, SUPPLY_HOURS: 10 * x + noise}, "b": {CHANCE: flat, SUPPLY_HOURS: np.full(n, 50.0)}}
        for x in (0.0, 10.0)
    )
    (found,) = break_evens(Series((0.0, 10.0), points), 0.05, None, 0.95)
    middle, half = 5 - noise.mean() / 10, 1.96 * noise.std() / np.sqrt(n) / 10
    assert found.value == pytest.approx(middle)
    assert (found.low, found.high) == pytest.approx((middle - half, middle + half), abs=0.1 * half * 2)


def test_a_budget_leaves_out_what_is_too_dear():
    """The dear one is best where money is no matter; within the budget there is nobody beyond 5."""
    numbers = (0.0, 10.0)
    points = tuple({"a": known(0.1, 1, 100), "b": known(0.5, 9, 90 + 2 * x)} for x in numbers)
    by = [each.by for each in break_evens(Series(numbers, points), 0.05, None, 0.95)]
    assert by == [BY_COST]
    found = break_evens(Series(numbers, points), 0.05, 95.0, 0.95)
    assert [(each.by, each.begins, each.ends) for each in found] == [
        (BY_CHANCE, "b", None), (BY_HOURS, "b", None), (BY_COST, "b", "a")
    ]  # fmt: skip


def test_break_evens_are_told_at_each_value_of_the_other_fields():
    """Along the refill's price for one unit and for four, in the unit of the field; a field of words has none."""
    done = asked(REFILL, "concentrators.count = 1, 4", "cylinders.gauge_check = watched, 2 h", text=PRICED,
                 strategies=["cylinders only", "mixed"])  # fmt: skip
    found = done.result["break_evens"]
    along = [each for each in found if each["field"] == "costs.cylinders.refill" and each["by"] == BY_COST]
    assert [tuple(each["at"].values()) for each in along] == [
        ("1", "watched"), ("1", "2 h"), ("4", "watched"), ("4", "2 h")
    ]  # fmt: skip
    assert {(each["from"], each["to"], each["unit"]) for each in along} == {("cylinders only", "mixed", "USD")}
    assert all(1 < each["value"] < 40 for each in along)
    assert along[0]["value"] < along[2]["value"]  # four units have to be paid for by dearer gas
    assert all(each["field"] != "cylinders.gauge_check" for each in found)


def test_ctrl_c_keeps_whole_points():
    """The second point was cut short, so only the first is told."""

    def stop(done, total):
        if done == 8:
            raise KeyboardInterrupt

    result = asked(CUTS, progress=stop).result
    assert not result["complete"]
    assert [len(result["points"]), result["points_asked_for"], result["replications"]] == [1, 2, 6]


@pytest.mark.parametrize(
    ("vary", "more", "error", "message"),
    [
        ([], {}, O2simError, "found nothing to vary"),
        (["power.grid.down"], {}, O2simError, "found no values; allowed: power.grid.down = 1 h, 2 h"),
        ([CUTS, CUTS], {}, O2simError, "a field twice"),
        ([CUTS], {"strategies": ["mixd"]}, O2simError, "no strategy is named 'mixd'"),
        (["cylinders.fleet = 30, many"], {}, ScenarioError, "with cylinders.fleet = many"),
        ([CUTS], {"replications": 0}, O2simError, "at least 1 replication"),
    ],
)
def test_what_is_refused(vary, more, error, message):
    """Before anything is run, each with what was found and what is allowed."""
    with pytest.raises(error) as raised:
        asked(*vary, **more)
    assert message in str(raised.value)


def test_the_command_writes_table_and_charts(tmp_path):
    """Words on the screen, the long table, both charts; one run."""
    from click.testing import CliRunner

    from o2sim.cli import main

    ward = tmp_path / "ward.yaml"
    ward.write_text(PRICED)
    table, heat, lines = tmp_path / "w.csv", tmp_path / "heat.svg", tmp_path / "lines.svg"
    command = ["whatif", str(ward), "--vary", REFILL, "--vary", "concentrators.count = 1, 4",
               "--replications", "6", "--table", str(table), "--heat", str(heat),
               "--lines", str(lines)]  # fmt: skip
    done = CliRunner().invoke(main, command)
    assert done.exit_code == 0, done.output
    said = " ".join(done.stdout.split())
    for wanted in (
        "What if costs.cylinders.refill (1 USD, 40 USD)",
        "Best strategy changes at",
        "seed 1",
        "40 USD / 4",
    ):
        assert wanted in said
    with table.open() as file:
        assert len(list(csv.DictReader(file))) == 4 * 3 * len(MEASURES)
    assert "<svg" in heat.read_text()
    assert "<svg" in lines.read_text()
    again = CliRunner().invoke(main, command)
    assert (again.exit_code, "is there already" in again.stderr) == (1, True)


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["--heat", "x.png"], 2, "--heat needs two fields"),
        (["--lines", "x.jpg"], 2, "--lines x.jpg: write a name that ends in .png or .svg"),
        (["--table", "x.xls"], 2, "--table x.xls: write a name that ends in .csv or .parquet"),
        (["--lines", "x.png", "--measure", "cost"], 2, "the scenario states no prices"),
        (["--target", "0 %"], 1, "allowed: a share above 0"),
        (["--strategy", "none"], 2, "no strategy is named 'none'"),
    ],
)
def test_what_the_command_refuses(tmp_path, arguments, code, message):
    """One message and its exit code."""
    from click.testing import CliRunner

    from o2sim.cli import main

    ward = tmp_path / "ward.yaml"
    ward.write_text(SHORT.replace("costs: {cylinders: {price: 240 USD, life: 10 years, refill: 10 USD}}", ""))
    done = CliRunner().invoke(main, ["whatif", str(ward), "--vary", CUTS, *arguments])
    assert (done.exit_code, done.stdout) == (code, "")
    assert message in " ".join(done.stderr.split())


def test_parquet_is_refused_before_the_work_where_its_package_is_missing(monkeypatch, tmp_path):
    """The message names the package and what to do."""
    from o2sim.looks.files import require_parquet

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(O2simError, match=r"x.parquet: Parquet needs the package pyarrow.*or write .csv instead"):
        require_parquet(tmp_path / "x.parquet")


def test_parquet_keeps_numbers_as_numbers(monkeypatch, tmp_path):
    """A column of numbers has nulls for what is empty, any other is texts (a stand-in plays the package)."""
    from o2sim.looks.files import write_parquet

    library, parquet = ModuleType("pyarrow"), ModuleType("pyarrow.parquet")
    library.table = dict
    parquet.write_table = lambda table, path: path.write_text(json.dumps(table))
    monkeypatch.setitem(sys.modules, "pyarrow", library)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", parquet)
    path = tmp_path / "x.parquet"
    write_parquet(path, ("name", "value"), [["a", 1.5], ["b", ""]])
    assert json.loads(path.read_text()) == {"name": ["a", "b"], "value": [1.5, None]}
    with pytest.raises(O2simError, match="cannot be written"):
        write_parquet(tmp_path / "none" / "x.parquet", ("name",), [["a"]])


def test_a_what_if_goes_on_from_its_store(monkeypatch, tmp_path):
    """The second time nothing is run and the same is said; a comparison is not laid on top of it."""
    from click.testing import CliRunner

    from o2sim.cli import main
    from o2sim.runs import study

    ward, store = tmp_path / "ward.yaml", str(tmp_path / "points.o2store")
    ward.write_text(PRICED)
    asked_for = ["--vary", "concentrators.count = 1, 4", "--replications", "6", "--store", store, "--json"]
    first = CliRunner().invoke(main, ["whatif", str(ward), *asked_for])
    assert first.exit_code == 0, first.output

    def run_again(*_args, **_more):
        raise AssertionError("something was run that was in the store")

    monkeypatch.setattr(study, "simulate", run_again)
    assert CliRunner().invoke(main, ["whatif", str(ward), *asked_for]).stdout == first.stdout
    other = CliRunner().invoke(main, ["compare", str(ward), "--replications", "6", "--store", store])
    assert (other.exit_code, "holds the points of a what-if" in other.stderr) == (1, True)


def test_a_time_that_is_drawn_may_be_varied_as_a_number():
    """The response of the file is a law; its points are plain times, or its median."""
    text = SHORT.replace("response_time: 0 min", "response_time: {lognormal: {median: 5 min, geometric_sd: 2}}")
    for field in ("response_time", "response_time.median", "night.response_time"):
        result = asked(f"{field} = 1 min, 40 min", text=text).result
        assert [point["values"][field] for point in result["points"]] == ["1 min", "40 min"]
        assert len({point["scenario_hash"] for point in result["points"]}) == 2


def test_what_luck_alone_separates_is_joined():
    """Units feel longer cuts, cylinders do not; with the dearest refills the cost is higher in every pair."""
    done = asked(CUTS, REFILL, text=PRICED, replications=40)
    found = done.result["clear"]
    groups = {
        (e["field"], tuple(e["at"].values()), e["strategy"], e["measure"]): e["groups"] for e in found["joined"]
    }
    down, refill = "power.grid.down", "costs.cylinders.refill"
    assert groups[down, ("1 USD",), "cylinders only", SUPPLY_HOURS] == [["1 h", "9 h"]]
    assert groups[down, ("1 USD",), "concentrators only", SUPPLY_HOURS] == [["1 h"], ["9 h"]]
    assert groups[refill, ("1 h",), "cylinders only", COST] == [["1 USD"], ["40 USD"]]
    assert groups[refill, ("1 h",), "cylinders only", CHANCE] == [["1 USD", "40 USD"]]
    assert (found["value_comparisons"], found["strategy_comparisons"]) == (3 * 3 * 4, 3 * 4 * 6)
    leaders = [point["by"][COST] for point in found["leaders"]]
    assert [each["strategy"] for each in leaders[::2]] == ["cylinders only"] * 2
    assert list(done.to_frame("joined").columns)[-1] == "no_clear_difference"
    assert len(done.to_frame("leaders")) == 4 * 3


def test_every_figure_on_the_screen_has_its_interval():
    """Each cell of a point has three figures, with brackets each."""
    from o2sim.questions.whatif.text import best_tables

    (table,) = best_tables(asked(CUTS, text=PRICED).result)
    for cell in (cell for row in table.rows for cell in row[1:]):
        assert all(line.count("(") == 1 for line in cell.split("\n")), cell
        assert cell.count("\n") == 2


@pytest.mark.parametrize(
    ("written", "proposed"),
    [((), ["--heat", "--lines"]), (("--lines",), ["--heat"]), (("--lines", "--heat", "--table"), [])],
)
def test_what_was_just_drawn_is_not_proposed(written, proposed):
    """Of the drawings only those that the command did not make."""
    from o2sim.questions.whatif.text import next_steps

    said = " ".join(next_steps(asked(CUTS, "concentrators.count = 1, 2").result, written))
    assert [option for option in ("--heat", "--lines", "--table") if option in said] == proposed


def test_a_single_point_run_once_is_said_as_one_and_not_to_be_drawn():
    """There is no line through one point, and one replication is no replications."""
    from o2sim.questions.whatif.text import done, next_steps

    result = {**asked("concentrators.count = 1").result, "replications": 1}
    assert not [step for step in next_steps(result) if "Draw it" in step]
    assert done(result) == "1 replication a point"


NIGHTS = """\
horizon: 10 days
patients: {all: {admissions: 5 / day, flow: 1 L/min, duration: 4 days}}
concentrators: {count: 1, rated_flow: 100 L/min, outlets: 50, power: 350 W}
power:
  load_shedding: [{from: "22:00", to: "05:00"}]
  battery: {usable: 3 kWh, charge: 2 kW, fade: {per_year: 3 %, heat: 33 degC}}
strategies: {units: {sources: [concentrator]}}
"""


def test_a_battery_that_carries_the_night_when_new_no_longer_does_at_three_years():
    """One unit for 7 h 43 min when new, 6 h 20 min at three years, through nights of seven hours."""
    done = asked("power.battery.age = 0 days, 1 year, 3 years", text=NIGHTS, replications=2, engine="reference")
    points = done.result["points"]
    assert [each["strategies"]["units"][CHANCE]["estimate"] for each in points] == [0, 0, 1]
