"""Output that nobody reads, or that cannot be written, costs no file and shows no traceback."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from test_cli import SCENARIO

from o2sim.commands.streams import Outlet

ONCE = ("--replications", "1", "--engine", "reference")


@pytest.fixture
def folder(tmp_path):
    """Return a folder with the scenario in it."""
    (tmp_path / "reed.yaml").write_text(SCENARIO, encoding="utf-8")
    return tmp_path


def shell(folder, command):
    """Run a command of o2sim in a shell, where standard output may be anything; return what ended."""
    line = f"{sys.executable} -m o2sim {command}"
    return subprocess.run(line, shell=True, cwd=folder, capture_output=True, text=True)


@pytest.mark.skipif(os.name != "posix", reason="closes a stream as a POSIX shell does")
@pytest.mark.parametrize(
    ("to", "code", "said"),
    [
        (">&-", 1, "Error: the output cannot be written (it is closed; give it a place, such as > result.txt)"),
        ("> /dev/full", 1, "Error: the output cannot be written (No space left on device)"),
        ("| true; exit ${PIPESTATUS[0]}", 0, "files written to out"),
        (">/dev/null 2>&-", 0, ""),
    ],
    ids=["closed", "full", "reader gone", "stderr closed"],
)
def test_files_are_written_whatever_becomes_of_the_output(folder, to, code, said):
    """The results folder is whole though standard output is closed, full or read by nobody; the end says why."""
    command = f"compare reed.yaml {' '.join(ONCE)} --out out {to}"
    done = subprocess.run(
        ["bash", "-c", f"{sys.executable} -m o2sim {command}"], cwd=folder, capture_output=True, text=True
    )
    assert (done.returncode, "Traceback" in done.stderr) == (code, False), done.stderr
    assert (done.stderr.splitlines() or [""])[-1].endswith(said)
    assert (folder / "out" / "manifest.json").is_file()


@pytest.mark.skipif(os.name != "posix", reason="closes a stream as a POSIX shell does")
@pytest.mark.parametrize("command", ["--help", "schema", "describe reed.yaml", "check reed.yaml", "new -"])
def test_a_closed_output_is_one_message(folder, command):
    """Every command says that its output is closed, in one line and without a traceback."""
    done = shell(folder, f"{command} >&-")
    said = "Error: the output cannot be written (it is closed; give it a place, such as > result.txt)"
    assert (done.returncode, done.stderr.splitlines()[-1]) == (1, said)


class Full:
    """A stream on a full disk."""

    def write(self, _text):
        """Fail."""
        raise OSError(28, "No space left on device")

    def flush(self):
        """Fail."""
        raise OSError(28, "No space left on device")


def test_only_the_first_failure_is_kept_and_nothing_more_is_tried():
    """What follows the first failure goes nowhere, and counts as written."""
    outlet = Outlet(Full())
    assert [outlet.write("abc"), outlet.write("d"), outlet.flush()] == [3, 1, None]
    assert outlet.failure == "No space left on device"
