"""What no staff could prevent, through the command line: beside each strategy's figures, whoever works."""

from __future__ import annotations

import csv
import json

import pytest
from test_cli import SCENARIO, call, stop_after
from test_result_schema import problems

import o2sim
from o2sim.errors import O2simError
from o2sim.measures.supply_alone import RUNS, SHOWN
from o2sim.runs.supply_alone import MARK

RULE = "shortfall: {enough: 50 %, recovery: 5 min, counted_by: supply clock}\n"
QUICK = (
    SCENARIO.replace("fleet: 6, ", "fleet: 6, change_time: 1 min, gauge_check: 1 h, ")
    + RULE
    + "response_time: 1 min\n"
)
CARELESS = (
    QUICK.replace("change_time: 1 min", "change_time: 40 min")
    .replace("gauge_check: 1 h", "gauge_check: 9 h, missed_check: {day: 20 %, night: 40 %}")
    .replace("response_time: 1 min", "response_time: 50 min")
    + "staff: {day: 1, night: 1, connect_time: 20 min}\n"
)
RUNS_OF = ("--replications", 12, "--seed", 3)


@pytest.fixture
def written(tmp_path):
    """Return a function that writes a scenario and returns its path."""

    def write(text, name="ward.yaml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def beside(path, *more):
    """Return the whole object that `compare --supply-alone --json` prints."""
    shown = call("compare", path, "--supply-alone", "--json", *RUNS_OF, *more)
    assert shown.exit_code == 0, shown.stderr
    return json.loads(shown.stdout)


def alone(found):
    """Return the companion's figures by strategy."""
    return {name: each["supply_alone"] for name, each in found["supply_alone"]["strategies"].items()}


def test_the_companion_is_the_same_however_the_staff_work(written):
    """Response, change, gauge checks, missed ones and staff are varied: bit for bit the same companion figures."""
    quick, careless = beside(written(QUICK)), beside(written(CARELESS, "careless.yaml"))
    assert alone(careless) == alone(quick)
    hours = [found["strategies"]["cylinders only"]["short_patient_hours"]["mean"] for found in (quick, careless)]
    assert hours[1] > hours[0]  # in the file it does matter


def test_it_stands_beside_the_figures_which_stay(written):
    """All else in the object is as without it, the file's side has the same figures, and the schema knows it."""
    path = written(QUICK)
    found, before = beside(path), json.loads(call("compare", path, "--json", *RUNS_OF).stdout)
    said = found.pop("supply_alone")
    assert found == before
    assert problems({**found, "supply_alone": said}, "compare") == []
    assert said["scenario_hash"] == before["scenario_hash"] + MARK
    for name, each in said["strategies"].items():
        file = before["strategies"][name]
        assert each["as_in_file"] == {measure: file[measure] for measure in SHOWN}


def test_handling_is_the_difference(written):
    """Of every strategy and measure the file's mean is the companion's and that of handling together."""
    for each in beside(written(CARELESS))["supply_alone"]["strategies"].values():
        for measure in SHOWN:
            file, bare, between = (each[run][measure] for run in RUNS)
            middle = "estimate" if measure == "stock_out_probability" else "mean"
            assert file[middle] == pytest.approx(bare[middle] + between["mean"], abs=1e-9)


def test_who_works_changes_nothing(written):
    """Two processes, and a precision that fixes the number, give what one process gives of that number."""
    path = written(QUICK)
    assert beside(path, "--workers", 2)["supply_alone"] == beside(path, "--workers", 1)["supply_alone"]
    found = beside(path, "--precision", "20 %", "--replications", 200)
    fixed = found["precision"]["replications_needed"]
    assert found["supply_alone"]["replications"] == found["replications"] == min(200, fixed)


def test_a_store_keeps_the_two_apart(written, tmp_path, monkeypatch):
    """Both are in it under hashes of their own; the same again runs nothing, and gives the same."""
    path, store = written(QUICK), tmp_path / "runs.o2store"
    first = beside(path, "--store", store)
    batches = json.loads(call("runs", store, "--json").stdout)["batches"]
    of_file = first["scenario_hash"]
    assert [each["scenario_hash"] for each in batches] == [of_file] * 3 + [f"{of_file}{MARK}"] * 3
    stop_after(0, monkeypatch)
    assert beside(path, "--store", store) == first


def test_ctrl_c_in_the_companion_leaves_the_rest_whole(written, monkeypatch):
    """After 12 replications as in the file and 5 of the companion these 5 stand side by side; the code is 130."""
    path = written(QUICK)
    whole, five = beside(path), beside(path, "--replications", 5)
    stop_after(17, monkeypatch)
    shown = call("compare", path, "--supply-alone", "--json", *RUNS_OF)
    found = json.loads(shown.stdout)
    assert shown.exit_code == 130
    assert "The companion run (supply alone) was stopped after 5 replications; all else is whole." in shown.stderr
    assert found["strategies"] == whole["strategies"]
    assert found["supply_alone"] == {**five["supply_alone"], "complete": False}


@pytest.mark.parametrize(("count", "said"), [(4, "Stopped after 4 of 12"), (12, "before its first replication")])
def test_ctrl_c_before_the_companion(written, monkeypatch, count, said):
    """There is no companion then, and what is done is reported; on the screen too."""
    path = written(QUICK)
    stop_after(count, monkeypatch)
    shown = call("compare", path, "--supply-alone", *RUNS_OF)
    assert shown.exit_code == 130
    assert said in shown.stderr
    assert "To decide by" in shown.stdout
    assert "What no staff could prevent" not in shown.stdout


def test_the_folder_has_it(written, tmp_path):
    """A table of both runs and of handling, the companion's replications, and its hash in the manifest."""
    path, out = written(QUICK), tmp_path / "out"
    found = beside(path, "--out", out)
    with (out / "supply-alone.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {row["run"] for row in rows} == set(RUNS.values())
    assert len(rows) == 3 * len(RUNS) * len(SHOWN)
    deficit = found["supply_alone"]["strategies"]["mixed"]["supply_alone"]["oxygen_deficit_patient_hours"]["mean"]
    wanted = ("mixed", "supply alone", "oxygen_deficit_patient_hours")
    (row,) = [row for row in rows if (row["strategy"], row["run"], row["measure"]) == wanted]
    assert float(row["estimate"]) == deficit
    manifest = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["companion_hash"] == found["supply_alone"]["scenario_hash"]
    with (out / "supply-alone-replications.csv").open(encoding="utf-8") as file:
        assert len(list(csv.DictReader(file))) == 36


def test_the_screen_says_how_much_is_handling(written):
    """A sentence under the answer and a table with a plain heading."""
    shown = call("compare", written(CARELESS), "--supply-alone", *RUNS_OF)
    assert "What no staff could prevent" in shown.stdout
    assert "If hands, eyes and the way to the store cost no time," in shown.stdout
    assert "  supply alone" in shown.stdout


def test_in_python_it_is_the_same(written):
    """The function gives the object of the command, a data frame of it, and refuses one that was not run."""
    path = written(QUICK)
    found = o2sim.compare(path, supply_alone=True, replications=12, seed=3)
    assert json.loads(json.dumps(found.summary)) == beside(path)
    assert list(found.to_frame(of="supply alone")["run"].unique()) == list(RUNS.values())
    assert "What no staff could prevent" in found._repr_html_()
    with pytest.raises(O2simError, match="supply_alone=True"):
        o2sim.compare(found.study).to_frame(of="supply alone")


def test_of_options_the_picked_ones_are_shown(written):
    """With a limit the decision has the block as well, and the object both parts."""
    path = written(QUICK)
    shown = call("compare", path, "--supply-alone", "--target", "50 %", *RUNS_OF)
    assert "What no staff could prevent" in shown.stdout
    assert {"decision", "supply_alone"} <= set(beside(path, "--target", "50 %"))


def test_counted_as_before_it_goes_by_unserved_hours(written):
    """Without the rule of shortfall there are no short hours: unserved ones take their place."""
    old = "shortfall: {enough: 0 %, recovery: 0 min, counted_by: cause at crossing}\n"
    path = written(QUICK.replace(RULE, old))
    assert beside(path)["supply_alone"]["strategies"]["mixed"]["as_in_file"]["short_patient_hours"] is None
    table = call("compare", path, "--supply-alone", *RUNS_OF).stdout.split("To decide by")[0]
    assert "Unserved patient-hours" in table
