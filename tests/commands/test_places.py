"""Places that cannot be written are refused before the work; a write that fails at the end costs nothing else."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest
from test_cli import SCENARIO, call

from o2sim.commands import batch, places
from o2sim.errors import OutputError
from o2sim.looks import files
from o2sim.questions.compare import results_folder
from o2sim.runs import study as study_module

ONCE = ("--replications", "1", "--engine", "reference")
SIZE = ("size", "reed.yaml", "--strategy", "cylinders only", "--vary", "cylinders.fleet", "--engine", "reference")
IF = ("whatif", "reed.yaml", "--vary", "cylinders.fleet = 6, 7", *ONCE)
LONG = "x" * 245 + ".csv"  # short enough for a name, too long for the draft that is renamed to it
NO_ROOM = [
    (("compare", "reed.yaml", *ONCE, "--out", "/proc/out"), "/proc/out: cannot write there"),
    (("compare", "reed.yaml", *ONCE, "--convergence", "/proc/c.png"), "/proc/c.png: cannot be written"),
    (("compare", "reed.yaml", *ONCE, "--store", "/proc/s.o2store"), "/proc/s.o2store: cannot be"),
    (("report", "reed.yaml", "--replications", "1", "-o", "/proc/r.html"), "/proc/r.html: cannot be written"),
    ((*SIZE, "--csv", "/proc/x.csv"), "/proc/x.csv: cannot be written"),
    ((*SIZE, "--chart", "/proc/x.png"), "/proc/x.png: cannot be written"),
    ((*SIZE, "--write", "/proc/x.yaml"), "/proc/x.yaml: cannot be written"),
    ((*SIZE, "--sheets", "/proc/sheets"), "/proc/sheets: cannot be made"),
    ((*SIZE, "--sheets", "reed.yaml/sheets"), "reed.yaml is a file"),
    ((*IF, "--table", "/proc/x.csv"), "/proc/x.csv: cannot be written"),
    ((*IF, "--table", LONG), "cannot be written (File name too long)"),
    ((*IF, "--lines", "/proc/x.png"), "/proc/x.png: cannot be written"),
    ((*IF, "--store", "/proc/s.o2store"), "/proc/s.o2store: cannot be"),
    (("drivers", "reed.yaml", "--csv", "/proc/x.csv"), "/proc/x.csv: cannot be written"),
    (("equipment", "reed.yaml", *ONCE, "--csv", "/proc/x.csv"), "/proc/x.csv: cannot be written"),
    (("equipment", "reed.yaml", *ONCE, "--csv", "/dev/null", "--force"), "/dev/null: found no regular file"),
    (("trace", "reed.yaml", "--strategy", "mixed", "--replication", "0", "--csv", "/proc/x.csv"),
     "/proc/x.csv: cannot be written"),
    (("study", "posts.csv", "--base", "reed.yaml", "--csv", "/proc/x.csv"), "/proc/x.csv: cannot be written"),
    (("cylinder", "--table", "--us-size", "E", "--out", "/proc/x.html"), "/proc/x.html: cannot be written"),
    (("new", "/proc/x.yaml"), "/proc/x.yaml: cannot be written"),
    (("demo", "/proc/demo"), "/proc/demo: cannot write there"),
    (("describe", "reed.yaml", "-o", "/proc/x.md"), "/proc/x.md: cannot be written"),
]  # fmt: skip


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Go into a folder with a scenario and facilities."""
    (tmp_path / "reed.yaml").write_text(SCENARIO, encoding="utf-8")
    (tmp_path / "posts.csv").write_text("name,cylinders.fleet\nFern post,6\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.skipif(
    not os.path.isdir("/proc/self"), reason="needs a folder that nobody may write in, root included"
)
@pytest.mark.parametrize(("command", "said"), NO_ROOM, ids=lambda each: " ".join(each)[:50] if each else "")
def test_a_place_that_cannot_be_written_is_found_before_the_work(folder, monkeypatch, command, said):
    """Exit code 1 and the place, before a compiler starts or anything is simulated; nothing is left behind."""
    for module, name in ((batch, "make_ready"), (study_module, "simulate")):
        monkeypatch.setattr(module, name, lambda *_, **__: pytest.fail("it ran"))
    shown = call(*command)
    assert (shown.exit_code, shown.stdout) == (1, ""), shown.output
    assert said in shown.stderr
    assert sorted(path.name for path in folder.iterdir()) == ["posts.csv", "reed.yaml"]


@pytest.mark.parametrize("option", ["-o", "--out"])
def test_an_address_is_no_place_to_write(folder, option):
    """An address as of the web is refused by its text; no folder of its name is made."""
    command = ("report", option) if option == "-o" else ("compare", option)
    shown = call(command[0], "reed.yaml", option, "http://host/r.html")
    assert (shown.exit_code, (folder / "http:").exists()) == (2, False)
    assert "http://host/r.html: found an address; allowed: the path of a file" in " ".join(shown.stderr.split())


FULL_AT_THE_END = [
    (("equipment", "reed.yaml", *ONCE, "--csv", "x.csv"), "egulator"),
    (("study", "posts.csv", "--base", "reed.yaml", "--replications", "1", "--csv", "x.csv"), "Fern post"),
    (("trace", "reed.yaml", "--strategy", "mixed", "--replication", "0", "--csv", "x.csv"), "replication 0"),
    (("cylinder", "--table", "--us-size", "E", "--out", "x.html"), "EXAMPLE"),
    (("report", "reed.yaml", "--replications", "1", "-o", "x.html"), "# Oxygen for Reed Bank health centre"),
    ((*IF, "--table", "x.csv"), "What if cylinders.fleet"),
    (("compare", "reed.yaml", *ONCE, "--convergence", "x.png"), "To decide by"),
]  # fmt: skip


@pytest.mark.parametrize(("command", "said"), FULL_AT_THE_END, ids=lambda each: each[0])
def test_what_was_computed_is_printed_before_a_write_that_fails(folder, monkeypatch, command, said):
    """On a disk that is full by then the result is on the screen, the error after it, and the exit code is 1."""

    def full(path, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    shown = call(*command)
    assert shown.exit_code == 1, shown.output
    assert said in shown.stdout
    name = command[-1]
    assert shown.stderr.splitlines()[-1] == f"Error: {name}: cannot be written (No space left on device)"
    assert [path.name for path in folder.glob("*x.*")] == []


def test_one_place_that_fails_costs_no_other(folder):
    """The folder goes away meanwhile: the table beside it is written all the same, and both are named."""
    (folder / "gone").mkdir()
    shutil.rmtree(folder / "gone")
    jobs = [(Path(name), lambda path: files.write_text(path, "1\n")) for name in ("gone/a.csv", "b.csv")]
    with pytest.raises(OutputError, match=r"gone.a\.csv: cannot be written \(No such file or directory\)"):
        places.write_all(jobs)
    assert (folder / "b.csv").read_text() == "1\n"


def test_a_forged_manifest_is_no_proof(folder):
    """What a manifest lists is never deleted; only names that o2sim gives are moved aside."""
    out = folder / "out"
    out.mkdir()
    mine = {"letter.txt": "dear", "stock-old.svg": "<svg/>", "notes.csv": "1"}
    for name, text in mine.items():
        (out / name).write_text(text)
    listed = {name: results_folder._sha256(out / name) for name in mine}
    (out / "manifest.json").write_text(json.dumps({"written_by": "o2sim", "files": listed}))
    shown = call("compare", "reed.yaml", *ONCE, "--out", "out")
    assert shown.exit_code == 0, shown.stderr
    assert {path.name: path.read_text() for path in out.rglob("*") if path.name in mine} == mine
    assert (out / "earlier" / "stock-old.svg").is_file()
