"""Broken and hostile records through `fit` and `hindcast` as typed: exit code 2, one message, nothing written."""

from __future__ import annotations

import random
import time

import pytest
from click.testing import CliRunner
from made_books import WHOLE, book
from scenario_texts import SMALL
from test_broken_records import CASES, FILES
from test_fuzz_records import mutated_bytes, mutated_cells, mutated_part

from o2sim.cli import main
from o2sim.questions.fit import fitting

LONGEST_S = 5.0  # of the processor: a guard against what hangs
COMMANDS = {
    "fit": ("fit", "records.xlsx", "--base", "here.yaml", "-o", "out.yaml"),
    "hindcast": ("hindcast", "here.yaml", "records.xlsx", "--out", "out"),
}


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Be in a folder with a scenario."""
    (tmp_path / "here.yaml").write_text(SMALL, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(here, words, data):
    """Return the exit code, standard output and error, and new files of a command over records."""
    (here / "records.xlsx").write_bytes(data)
    begun = time.process_time()
    done = CliRunner().invoke(main, list(words))
    assert time.process_time() - begun < LONGEST_S
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert "Traceback" not in done.stderr
    return done, sorted({path.name for path in here.iterdir()} - {"here.yaml", "records.xlsx"})


@pytest.mark.parametrize("name", COMMANDS)
def test_broken_workbooks_are_refused_and_leave_nothing(here, name):
    """Each cell that `records check` refuses, and each file that is no workbook, is refused in the same words."""
    broken = [(book(rows), words) for rows, words in CASES] + [(data(), words) for data, words in FILES]
    for data, words in broken:
        done, new = run(here, COMMANDS[name], data)
        assert (done.exit_code, done.stdout, new) == (2, "", [])
        assert words in " ".join(done.stderr.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_records_that_are_not_there_are_refused(here, name):
    """Neither a file nor a folder; an empty folder."""
    words = [word.replace("records.xlsx", "gone") for word in COMMANDS[name]]
    for said in ("found no such file", "found no sheet of the template"):
        done = CliRunner().invoke(main, words)
        assert (done.exit_code, done.stdout, said in " ".join(done.stderr.split())) == (2, "", True)
        (here / "gone").mkdir(exist_ok=True)


def mutants(block, count):
    """Yield workbooks of all sheets with something changed in each."""
    whole = book(WHOLE, head=1)
    for case in range(count):
        luck = random.Random(f"fit {block} {case}")
        yield luck.choice([mutated_bytes, mutated_part, mutated_cells])(whole, luck)


def fuzz(here, block, count):
    """Fit mutants; return the exit codes. What is refused writes nothing, what is read all."""
    codes = []
    for data in mutants(block, count):
        done, new = run(here, (*COMMANDS["fit"], "--force"), data)
        assert (done.exit_code == 0) == ("out.yaml" in new)
        codes.append(done.exit_code)
        for name in new:
            (here / name).unlink()
    assert set(codes) <= {0, 2}
    return codes


def test_mutated_workbooks_are_fitted_or_refused(here, monkeypatch):
    """What is fitted is left out here, as it takes seconds: reading, writing and refusing are not."""
    monkeypatch.setattr(fitting, "parts_of", lambda *_: ())
    codes = fuzz(here, 0, 60)
    assert min(codes.count(0), codes.count(2)) > 3


@pytest.mark.slow
@pytest.mark.parametrize("block", range(1, 41))
def test_mutated_workbooks_are_fitted_in_earnest_or_refused(here, block):
    """The same of 2,000 others, fifty at a time, with the fits: neither a traceback nor a hang."""
    assert len(fuzz(here, block, 50)) == 50
