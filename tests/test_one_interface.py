"""Commands with workers, a store and Ctrl-C, and beside their functions: the same bytes, and nothing run twice."""

from __future__ import annotations

import json

import pytest
from made_books import WHOLE, book
from small_books import TEXT, books, weekly
from test_cli import call
from test_which_to_buy import SCENARIO
from written_books import workbook

import o2sim
from o2sim.questions.fit.result import result
from o2sim.runs import study as study_module
from o2sim.typed import as_json

MORE = "Stopped in the run with 20 % more patients: that alone is missing from what is reported."


@pytest.fixture
def file(tmp_path):
    """Write the scenario of two offers to a file and return its path."""
    path = tmp_path / "offers.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return path


@pytest.fixture
def counted(monkeypatch):
    """Return a list that has (strategies, replication) of all that is run from here on."""
    real, seen = study_module.run_replication, []

    def run(scenario, names, seed, replication, engine):
        seen.append((tuple(names), replication))
        return real(scenario, names, seed, replication, engine)

    monkeypatch.setattr(study_module, "run_replication", run)
    return seen


def compare(file, *more):
    """Return what `compare --options` gives as JSON."""
    return call("compare", file, "--options", "--replications", "4", "--json", *more)


def report(file, out, *more):
    """Write a report with options; return its bytes and the exit code."""
    shown = call("report", file, "-o", out, "--force", "--replications", "4", "--options", *more)
    return out.read_bytes(), shown.exit_code


def test_compare_options_with_workers_and_a_store(file, tmp_path, counted):
    """One process, two, a new store and what is in it print the same; the second time nothing is run.

    With a precision one crew serves the pilot, the options, the list of what to buy and the busier year.
    """
    asked = ("--precision", "30 %")
    plain = compare(file, *asked, "--workers", "1")
    assert plain.exit_code == 0
    stored = [compare(file, *asked, "--store", tmp_path / "runs.o2store", "--workers", "1") for _ in range(2)]
    assert [run.stdout for run in stored] == [plain.stdout, plain.stdout]
    assert len(counted) == 2 * 3 * 4  # twice four replications of the pilot, of the options and of the busier year
    assert compare(file, *asked, "--workers", "2").stdout == plain.stdout


def test_a_report_with_workers_and_a_store(file, tmp_path, counted):
    """A page has the same bytes without a store, with a new one, and from it; what compare put there is used."""
    page, store = tmp_path / "page.html", tmp_path / "runs.o2store"
    plain = report(file, page)
    compare(file, "--store", store)
    before = len(counted)
    assert [report(file, page, "--store", store, "--workers", "1") for _ in range(2)] == [plain, plain]
    # As in the file, supply alone, and none or all of the notes to change a cylinder in time kept; then the chosen
    # option with supply alone.
    ran = [*(4 * ["cylinders only"]), "fleet 30"]
    assert counted[before:] == [((name,), k) for name in ran for k in range(4)]
    assert plain[1] == 0


def stop_at(monkeypatch, which):
    """Let Ctrl-C come before a replication, counted from 0 over all batches."""
    real, done = study_module.run_replication, []

    def run(*args):
        done.append(1)
        if len(done) == which + 1:
            raise KeyboardInterrupt
        return real(*args)

    monkeypatch.setattr(study_module, "run_replication", run)


def test_a_stop_in_the_busier_year_is_told(file, tmp_path, monkeypatch):
    """The exit code is 130, the rest is printed and written, and with a store the command goes on from there."""
    store, out = tmp_path / "runs.o2store", tmp_path / "out"
    plain = compare(file)
    stop_at(monkeypatch, 6)
    stopped = compare(file, "--store", store, "--out", out)
    assert stopped.exit_code == 130
    assert stopped.stderr.splitlines()[-1] == MORE
    told, whole = json.loads(stopped.stdout), json.loads(plain.stdout)
    assert told["decision"]["more_demand"] == {"factor": 1.2, "complete": False, "why_not": "the run was stopped"}
    del told["decision"]["more_demand"], whole["decision"]["more_demand"]
    assert told == whole
    assert (out / "options.csv").is_file()
    monkeypatch.undo()
    assert compare(file, "--store", store).stdout == plain.stdout
    stop_at(monkeypatch, 6)
    screen = call("compare", file, "--options", "--replications", "4")
    assert (screen.exit_code, screen.stderr.splitlines()[-1]) == (130, MORE)
    assert "What 20 % more patients would cost is not known: the run was stopped." in " ".join(
        screen.stdout.split()
    )


def test_a_report_stopped_in_the_busier_year_is_written(file, tmp_path, monkeypatch):
    """The page is there without that figure, and the exit code is 130; a later run gives the whole page."""
    page, store = tmp_path / "page.md", tmp_path / "runs.o2store"
    plain = report(file, page)
    stop_at(monkeypatch, 21)  # after the strategies, these with supply alone and other notes kept, the options
    text, code = report(file, page, "--store", store)
    assert (code, b"is not known: the run was stopped" in text) == (130, True)
    monkeypatch.undo()
    assert report(file, page, "--store", store) == plain


def test_a_stop_before_the_list_is_told(file, monkeypatch):
    """Ctrl-C while the list of what to buy is made leaves the decision and says what is missing."""

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("o2sim.questions.equipment.peaks.need_of_chunk", stop)
    told = compare(file)
    assert told.exit_code == 130
    assert told.stderr.splitlines()[-1] == (
        "Stopped before the list of what to buy: that and the run with 20 % more patients are missing."
    )
    decision = json.loads(told.stdout)["decision"]
    assert (decision["procurement"], decision["chosen"] in decision["options"]) == ([], True)


def test_fit_says_and_writes_the_same_as_command_and_function(tmp_path):
    """One workbook, one base: the JSON and the three files."""
    workbook_there, base = tmp_path / "books.xlsx", tmp_path / "base.yaml"
    workbook_there.write_bytes(book(WHOLE))
    base.write_text(TEXT, encoding="utf-8")
    typed = call("fit", workbook_there, "--base", base, "-o", tmp_path / "out.yaml", "--seed", "3", "--json")
    found = o2sim.fit(workbook_there, base, seed=3)
    (tmp_path / "again").mkdir()
    written = found.write(tmp_path / "again" / "out.yaml")
    names = ["out.yaml", "out-draws.csv", "out-fits.html"]
    assert json.loads(typed.stdout) == as_json(result(found, [str(tmp_path / name) for name in names]))
    assert [path.read_bytes() for path in written] == [(tmp_path / name).read_bytes() for name in names]


def test_hindcast_says_the_same_as_command_and_function(tmp_path):
    """One scenario, one workbook, as many replications: the JSON."""
    scenario, records = tmp_path / "reed.yaml", tmp_path / "reed.xlsx"
    scenario.write_text(TEXT, encoding="utf-8")
    records.write_bytes(workbook(books(stock=weekly(9, 9, 8, 8))))
    asked = {"replications": 100, "seed": 2, "engine": "reference"}
    words = [word for name, value in asked.items() for word in (f"--{name}", value)]
    typed = call("hindcast", scenario, records, "--json", *words)
    assert json.loads(typed.stdout) == as_json(o2sim.hindcast(scenario, records, **asked).record)
