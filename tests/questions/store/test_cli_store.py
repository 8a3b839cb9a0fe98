"""`--workers`, `--store`, `o2sim runs` and `o2sim study` from outside."""

from __future__ import annotations

import csv
import json
import sys

import pytest
from test_cli import SCENARIO as TEXT
from test_cli import call

import o2sim
from o2sim.measures.result_rows import replication_columns, replication_rows
from o2sim.questions.facilities import facility_study as facility_module
from o2sim.questions.facilities import tables as facility_table
from o2sim.questions.store import listing as store_list
from o2sim.runs import executors
from o2sim.runs.study import run_study

CSV = """name,patients.adults.admissions,cylinders.fleet
Fern post,0.5 / day,
Moss post,2 / day,9
"""


@pytest.fixture
def place(tmp_path):
    """Write a scenario and a CSV of facilities; return the folder."""
    (tmp_path / "reed.yaml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "posts.csv").write_text(CSV, encoding="utf-8")
    return tmp_path


def study(place, *options, facilities="posts.csv"):
    """Run `o2sim study` on the CSV over the scenario."""
    few = () if "--replications" in options else ("--replications", "3")
    return call("study", place / facilities, "--base", place / "reed.yaml", *few, *options)


@pytest.mark.parametrize(
    "command", [["compare"], ["run", "--strategy", "mixed"], ["equipment"]], ids=lambda c: c[0]
)
def test_workers_and_store_change_nothing_of_what_is_printed(place, command):
    """The JSON is byte for byte the same without a store, with a new one, and from it alone."""
    options = [*command, place / "reed.yaml", "--replications", "3", "--json"]
    plain = call(*options)
    stored = [call(*options, "--store", place / "runs.o2store", "--workers", "1") for _ in range(2)]
    assert plain.exit_code == 0
    assert [run.stdout for run in stored] == [plain.stdout, plain.stdout]


def test_a_store_of_another_scenario_is_refused_in_one_line(place):
    """The exit code is 1, stdout is empty, the reason names both."""
    call("compare", place / "reed.yaml", "--replications", "1", "--store", place / "runs.o2store")
    (place / "reed.yaml").write_text(TEXT.replace("fleet: 6", "fleet: 7"), encoding="utf-8")
    shown = call("compare", place / "reed.yaml", "--replications", "1", "--store", place / "runs.o2store")
    assert (shown.exit_code, shown.stdout) == (1, "")
    assert shown.stderr.splitlines()[-1].startswith("Error: ")
    assert "holds runs of another scenario, 'Reed Bank health centre'" in shown.stderr


def test_workers_and_cluster_together_are_a_usage_error(place):
    """One of them; and a cluster that does not answer is told."""
    shown = call("compare", place / "reed.yaml", "--workers", "2", "--cluster", "tcp://127.0.0.1:9")
    assert (shown.exit_code, "give either --workers or --cluster" in shown.stderr) == (2, True)


def test_a_cluster_is_asked_by_its_address(place, monkeypatch):
    """The address goes to the cluster, whose errors are errors of o2sim."""

    def refuse(address):
        raise executors.WorkerError(f"cluster {address!r}: no scheduler answers there")

    monkeypatch.setattr(executors, "Cluster", refuse)
    shown = call("compare", place / "reed.yaml", "--cluster", "tcp://127.0.0.1:9")
    assert (shown.exit_code, shown.stderr) == (
        1,
        "Error: cluster 'tcp://127.0.0.1:9': no scheduler answers there\n",
    )


def test_runs_lists_a_store(place):
    """Scenario, hash, strategies, replications and engine are told; JSON has the same."""
    store = place / "runs.o2store"
    call("run", place / "reed.yaml", "--strategy", "mixed", "--replications", "2", "--store", store)
    shown = call("runs", store)
    assert shown.exit_code == 0
    for word in ("Reed Bank health centre (", "mixed", "2 of 2", "kernel", "runs of one scenario"):
        assert word in " ".join(shown.stdout.split())
    (batch,) = json.loads(call("runs", store, "--json").stdout)["batches"]
    assert (batch["scenarios"], batch["replications"], batch["complete"]) == (["Reed Bank health centre"], 2, True)
    assert batch["finished"].endswith("+00:00")


def test_export_is_the_replications_table_of_out(place):
    """Each cell that --out writes of a replication is in the export, the same."""
    store, table = place / "runs.o2store", place / "rows.csv"
    call("compare", place / "reed.yaml", "--replications", "2", "--store", store)
    assert call("runs", store, "--csv", table).exit_code == 0
    found = run_study(o2sim.loads(TEXT), replications=2)
    heads = replication_columns(found)
    with table.open(encoding="utf-8") as file:
        exported = [[row[head] for head in heads] for row in csv.DictReader(file)]
    assert exported == [[str(cell) for cell in row] for row in replication_rows(found)]
    assert len(exported) == 6
    assert call("runs", store, "--csv", table).exit_code == 1  # it is there already


def test_parquet_without_duckdb(place, monkeypatch):
    """Who lacks the extra is told its name, and nothing is left behind."""
    store = place / "runs.o2store"
    call("compare", place / "reed.yaml", "--replications", "1", "--store", store)
    monkeypatch.setitem(sys.modules, "duckdb", None)
    shown = call("runs", store, "--parquet", place / "rows.parquet")
    assert (shown.exit_code, "pip install duckdb" in shown.stderr) == (1, True)
    assert not (place / "rows.parquet").exists()


def test_parquet_holds_what_csv_holds(place):
    """Read back by DuckDB the rows are those of the CSV; a place that cannot be written is told."""
    duckdb = pytest.importorskip("duckdb")
    store, table = place / "posts.o2store", place / "rows.parquet"
    study(place, "--store", store)
    assert call("runs", store, "--parquet", table, "--csv", place / "rows.csv").exit_code == 0
    counted = (
        "SELECT scenario, strategy, count(*), sum(patients), sum(stock_outs) FROM {} GROUP BY ALL ORDER BY ALL"
    )
    assert (
        duckdb.sql(counted.format(f"'{table}'")).fetchall()
        == duckdb.sql(counted.format(f"'{place / 'rows.csv'}'")).fetchall()
    )
    shown = call("runs", store, "--parquet", place / "none" / "rows.parquet")
    assert (shown.exit_code, "found no folder" in shown.stderr) == (1, True)


def test_study_prints_and_writes_the_facilities(place):
    """The screen has totals and each facility, the CSV one row a facility and strategy, both the same figures."""
    shown = study(place, "--csv", place / "out.csv")
    assert shown.exit_code == 0
    for word in ("2 of 2 facilities, 3 replications", "Fern post", "All facilities together", "| seed 1 | 3 repl"):
        assert word in shown.stdout
    with (place / "out.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    told = json.loads(study(place, "--json").stdout)
    assert [(row["facility"], row["strategy"]) for row in rows] == [
        (item["facility"], name) for item in told["facilities"] for name in item["strategies"]
    ]
    first = told["facilities"][0]["strategies"]["cylinders only"]
    assert float(rows[0]["unserved_patient_hours"]) == first["unserved_patient_hours"]["mean"]
    assert float(rows[0]["stock_out_probability_high"]) == first["stock_out_probability"]["high"]


def test_study_tells_all_bad_facilities_and_runs_none(place, monkeypatch):
    """Exit code 2 and every problem; with --skip-bad the others are run and the bad ones told."""
    (place / "bad.csv").write_text(CSV + "Bog post,many,\nDune post,,none\n", encoding="utf-8")
    monkeypatch.setattr(facility_module, "run_facilities", lambda *_: pytest.fail("it ran"))
    shown = study(place, facilities="bad.csv")
    assert (shown.exit_code, shown.stdout) == (2, "")
    assert shown.stderr.splitlines()[0] == "2 facilities cannot be run"
    assert "bad.csv:4: patients.adults.admissions: found 'many'" in shown.stderr
    assert "bad.csv:5: cylinders.fleet: found 'none'" in shown.stderr
    monkeypatch.undo()
    shown = study(place, "--skip-bad", "--json", facilities="bad.csv")
    assert (shown.exit_code, len(json.loads(shown.stdout)["facilities"])) == (0, 2)
    assert "2 facilities are left out:" in shown.stderr
    shown = study(place, "--skip-bad", "--strategy", "none such", facilities="bad.csv")
    assert (shown.exit_code, shown.stderr.splitlines()[0]) == (2, "4 facilities cannot be run")


def test_a_stopped_study_reports_whole_facilities(place, monkeypatch):
    """Ctrl-C gives exit code 130 and what is finished; before the first that is nothing, said in words."""
    real = facility_module.run_facilities

    def stopped_after(count):
        def run(*args):
            figures = real(*args)
            for _ in range(count):
                yield next(figures)
            raise KeyboardInterrupt

        monkeypatch.setattr(facility_module, "run_facilities", run)
        return study(place)

    one, none = stopped_after(1), stopped_after(0)
    assert (one.exit_code, none.exit_code) == (130, 130)
    assert "1 of 2 facilities" in one.stdout
    assert one.stderr.splitlines()[-1] == "Stopped after 1 of 2 facilities; only those are reported."
    assert "No facility was finished" in none.stdout


def test_study_warns_once_of_what_is_doubtful_in_many(place, monkeypatch):
    """A doubtful point of the base is told once for all facilities, and long lists are cut."""
    (place / "reed.yaml").write_text(TEXT.replace("warm_up: 7 days", "warm_up: 0 days"), encoding="utf-8")
    shown = study(place)
    doubts = [line for line in shown.stderr.splitlines() if line.startswith("Warning: warm_up")]
    assert len(doubts) == 1
    assert doubts[0].endswith("(Fern post and 1 more)")
    monkeypatch.setattr(sys.modules["o2sim.questions.facilities.command"], "WARNINGS_TOLD", 0)
    assert "more points are doubtful" in study(place).stderr


def test_long_lists_are_cut_on_the_screen_only(place, monkeypatch):
    """Many facilities show the worst off, many batches the first; JSON has all."""
    monkeypatch.setattr(facility_table, "MOST_SHOWN", 1)
    monkeypatch.setattr(store_list, "MOST_SHOWN", 1)
    store = place / "posts.o2store"
    shown = study(place, "--store", store)
    assert "The 1 facilities in which even the best strategy leaves most" in " ".join(shown.stdout.split())
    assert "Moss post" in shown.stdout
    assert "Fern post" not in shown.stdout
    assert "The first 1 of 6; --json has all." in call("runs", store).stdout
    assert len(json.loads(call("runs", store, "--json").stdout)["batches"]) == 6
    assert facility_table.problem_lines(["a", "b", "c"], 3, most=2)[-1] == "  and 1 more problems"


def test_facilities_of_other_classes_and_without_prices_share_a_store(place):
    """A class that a facility lacks is an empty cell in the export, as is money where there are no prices."""
    folder = place / "two"
    folder.mkdir()
    (folder / "a.yaml").write_text(TEXT, encoding="utf-8")
    plain = TEXT.replace("Reed Bank", "Ash").replace("adults:", "children:")
    plain = plain.replace("costs: {cylinders: {refill: 18 USD}}\n", "")
    (folder / "b.yaml").write_text(plain, encoding="utf-8")
    store, table = place / "two.o2store", place / "two.csv"
    options = ["--strategy", "mixed", "--replications", "1", "--store", store]
    shown = call("study", folder, *options)
    assert shown.exit_code == 0
    assert "Cost, " not in shown.stdout
    call("runs", store, "--csv", table)
    with table.open(encoding="utf-8") as file:
        ash, reed = csv.DictReader(file)
    assert (ash["patients: adults"], ash["cost_per_year"], ash["currency"]) == ("", "", "")
    assert (reed["patients: children"], reed["currency"]) == ("", "USD")
    assert int(ash["patients: children"]) == int(ash["patients"]) > 0
    shown = call("study", folder, "--strategy", "mixed", "--replications", "1", "--csv", place / "out.csv")
    assert shown.exit_code == 0
