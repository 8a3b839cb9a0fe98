"""`o2sim size` as a user meets it: the answer in words, JSON, chart and CSV, and what it refuses."""

import json

import pytest
from click.testing import CliRunner
from test_sizing import WARD

from o2sim.cli import main


@pytest.fixture
def ward(tmp_path):
    """Return a scenario file."""
    path = tmp_path / "ward.yaml"
    path.write_text(WARD.replace("horizon: 60 days", "horizon: 30 days").replace("warm_up: 7", "warm_up: 2"))
    return path


def run(*arguments):
    """Return what a call gives."""
    return CliRunner().invoke(main, ["size", *map(str, arguments)])


def test_the_answer_stands_first_and_its_parts_follow(ward, tmp_path):
    """Words, curve, rules of thumb, provenance; the chart and the curve are written."""
    chart, table = tmp_path / "curve.svg", tmp_path / "curve.csv"
    done = run(ward, "--strategy", "cylinders only", "--replications", 60, "--range", "20..60 step 10", "--target",
               "10 %", "--chart", chart, "--csv", table)  # fmt: skip
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("Under “cylinders only” cylinders.fleet ")
    wanted = (
        "is enough",
        "in at most 10 in 100 runs of 30 days",
        "One batch at the largest",
        "Rule of thumb",
        "seed 1",
    )
    for said in wanted:
        assert said.lower() in " ".join(done.stdout.lower().split())
    assert "<svg" in chart.read_text()
    head, *rows = table.read_text().splitlines()
    assert head == "cylinders.fleet,replications,failures,estimate,low,high,status,annual_cost"
    assert len(rows) == 5


def test_json_is_one_object_with_its_provenance(ward):
    """The result by search, nothing else on stdout."""
    done = run(ward, "--strategy", "cylinders only", "--vary", "resupply.reorder_point = 14, 19",
               "--replications", 59,
               "--target", "40 %", "--causes", "no cylinder", "--json", "--seed", 4)  # fmt: skip
    result = json.loads(done.stdout)
    assert result["method"]["name"] == "search"
    assert {"version", "scenario_hash", "seed", "replications", "engine"} <= result.keys()
    assert result["seed"] == 4


def test_sheets_are_written_into_a_folder(ward, tmp_path):
    """Three pages after the answer; they are not written over, nor into a file, and not without an answer."""
    command = ["--strategy", "cylinders only", "--range", "40, 60", "--replications", 59, "--sheets"]
    done = run(ward, *command, tmp_path / "wall")
    assert done.exit_code == 0, done.output
    assert len(list((tmp_path / "wall").glob("*.html"))) == 3
    assert "is there already" in run(ward, *command, tmp_path / "wall").stderr
    assert "that is a file; name a folder" in run(ward, *command, ward).stderr
    none = run(
        ward, "--strategy", "cylinders only", "--range", "15, 16", "--replications", 59, "--sheets", tmp_path / "x"
    )
    assert (none.exit_code, "nothing to hang on a wall" in none.stderr) == (1, True)
    assert "None of the values tried" in none.stdout


def test_no_value_is_enough_and_why(ward):
    """The best value, the causes and what to try."""
    done = run(ward, "--strategy", "cylinders only", "--range", "15, 16", "--replications", 59)
    said = " ".join(done.stdout.split())
    assert "None of the values tried is shown to be enough" in said
    assert "What to try: raise the upper end of the range" in said


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["--strategy", "mixd"], 2, "no strategy is named 'mixd'; known: 'cylinders only'"),
        (["--strategy", "mixed", "--range", "1..2", "--vary", "a = 1"], 2, "--range goes with one --vary"),
        (["--strategy", "mixed", "--chart", "x.pdf"], 2, "write a name that ends in .png or .svg"),
        (["--strategy", "mixed", "--chart", "x.png", "--vary", "a", "--vary", "b"], 2, "--chart shows one --vary"),
        (["--strategy", "mixed", "--range", " "], 2, "--range is empty"),
        (["--strategy", "mixed", "--range", "20..10"], 1, "a range that rises"),
        (["--strategy", "mixed", "--vary", "cylinders.flet = 1, 2"], 1, "the key 'flet' is unknown"),
        (["--strategy", "mixed", "--target", "five"], 1, "target: found 'five'"),
        (["--strategy", "mixed", "--replications", "20"], 1, "it takes at least 59"),
        (["--strategy", "concentrators only"], 1, "cures none of its shortfalls"),
    ],
)
def test_what_is_refused(ward, arguments, code, message):
    """Each with its exit code, in one message and without a traceback."""
    done = run(ward, *arguments)
    assert (done.exit_code, done.stdout) == (code, "")
    assert message in " ".join(done.stderr.split())


def test_a_file_that_is_there_is_kept(ward, tmp_path):
    """Before any work, unless --force."""
    table = tmp_path / "curve.csv"
    table.write_text("mine")
    done = run(ward, "--strategy", "mixed", "--csv", table)
    assert done.exit_code == 1
    assert table.read_text() == "mine"


def test_ctrl_c_reports_what_is_done(ward, monkeypatch):
    """Exit code 130, the curve so far."""
    from o2sim.questions.size import candidate_runs

    run_one, calls = candidate_runs.run_replication, []

    def stop(*arguments):
        calls.append(1)
        if len(calls) > 62:
            raise KeyboardInterrupt
        return run_one(*arguments)

    monkeypatch.setattr(candidate_runs, "run_replication", stop)
    done = run(ward, "--strategy", "mixed", "--range", "16..18", "--replications", 200)
    assert done.exit_code == 130
    assert "not all done" in done.stdout
