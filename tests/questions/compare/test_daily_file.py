"""daily.csv: only where it is asked for, written as the replications come, and the same as from a held study."""

from __future__ import annotations

import csv
import errno
import json

import pytest
from test_cli import SCENARIO, call, stop_after

import o2sim
from o2sim.errors import OutputError
from o2sim.outcome import DAILY_COLUMNS
from o2sim.questions.compare import daily_file
from o2sim.questions.compare.results_folder import daily_of
from o2sim.runs.study import run_study


@pytest.fixture
def file(tmp_path):
    """Write the scenario to a file and return its path."""
    path = tmp_path / "reed.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return path


def test_daily_counts_are_written_where_asked_for(file, tmp_path):
    """Without --daily there are none; with it those of every replication, listed in the manifest."""
    out = tmp_path / "out"
    assert call("compare", file, "--replications", 3, "--out", out).exit_code == 0
    assert not (out / "daily.csv").exists()
    assert call("compare", file, "--replications", 3, "--out", out, "--daily").exit_code == 0
    daily_of(run_study(o2sim.load(file), replications=3, keep_daily=True))(tmp_path / "held.csv")
    assert (out / "daily.csv").read_bytes() == (tmp_path / "held.csv").read_bytes()
    assert "daily.csv" in json.loads((out / "manifest.json").read_text(encoding="utf-8"))["files"]
    assert not list(out.glob(".*"))
    assert call("compare", file, "--replications", 3, "--out", out).exit_code == 0
    assert not (out / "daily.csv").exists()  # not of this run


def test_a_held_study_and_one_run_again_write_the_same(tmp_path):
    """A study without daily counts is run again for the file."""
    scenario = o2sim.loads(SCENARIO)
    for keep in (True, False):
        daily_of(run_study(scenario, replications=2, keep_daily=keep))(tmp_path / f"{keep}.csv")
    assert (tmp_path / "True.csv").read_bytes() == (tmp_path / "False.csv").read_bytes()


def test_daily_counts_of_a_stopped_run_are_of_whole_replications(file, tmp_path, monkeypatch):
    """Ctrl-C after two replications: 28 days of each under each of three strategies."""
    stop_after(2, monkeypatch)
    shown = call("compare", file, "--replications", 9, "--out", tmp_path / "out", "--daily")
    assert shown.exit_code == 130
    with (tmp_path / "out" / "daily.csv").open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    seen = [(row["strategy"], row["replication"]) for row in rows[::28]]
    assert len(rows) == 2 * 28 * 3
    assert seen == [(n, k) for n in ("cylinders only", "concentrators only", "mixed") for k in ("0", "1")]
    assert set(DAILY_COLUMNS) < set(rows[0])


def test_daily_without_a_folder_is_refused(file):
    """There is nowhere to put it."""
    shown = call("run", file, "--strategy", "mixed", "--daily")
    assert shown.exit_code == 2
    assert "--daily: say into which folder; add --out FOLDER" in shown.stderr


def test_a_foreign_daily_file_is_in_the_way_only_of_another(file, tmp_path):
    """Somebody's own daily.csv stays: it stops a run that would write one, before the work, and no other."""
    (tmp_path / "daily.csv").write_text("mine", encoding="utf-8")
    shown = call("compare", file, "--replications", 1, "--out", tmp_path, "--daily")
    assert shown.exit_code == 1
    assert "daily.csv would be overwritten" in shown.stderr
    assert call("compare", file, "--replications", 1, "--out", tmp_path).exit_code == 0
    assert (tmp_path / "daily.csv").read_text(encoding="utf-8") == "mine"


def test_a_disk_that_fills_up_is_said_and_nothing_stays(file, tmp_path, monkeypatch):
    """The rows are written during the run: an error there ends it, with the folder named."""

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(daily_file, "write_rows", full)
    shown = call("compare", file, "--replications", 2, "--out", tmp_path / "out", "--daily")
    assert shown.exit_code == 1
    assert "out: writing failed (No space left on device)" in shown.stderr
    assert list((tmp_path / "out").iterdir()) == []
    assert issubclass(OutputError, o2sim.O2simError)
