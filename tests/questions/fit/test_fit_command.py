"""`o2sim fit` as a user meets it: three files or none, what is printed, what is refused, that nobody is named."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner
from made_books import PATIENT, WHOLE, book
from scenario_texts import SMALL
from toy_parts import all_parts, cuts, fleet

import o2sim
from o2sim.cli import main
from o2sim.errors import O2simError
from o2sim.looks import files as files_module
from o2sim.questions.fit import fitting
from o2sim.records.books import Records
from o2sim.scenario.changing.joint import joint_draws

HERON_POINT = Path(__file__).parents[3] / "scenarios" / "heron_point_records.xlsx"
MARKER = "Zwxq"  # planted where names stand
NAMES = ["books.xlsx", "out-draws.csv", "out-fits.html", "out.yaml"]


def call(*words):
    """Run `o2sim` and return the result."""
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def books(tmp_path, monkeypatch):
    """Write a workbook, let it be fitted as the toy parts say, and go to its folder."""
    (tmp_path / "books.xlsx").write_bytes(book(WHOLE))
    monkeypatch.setattr(fitting, "parts_of", lambda *_: all_parts())
    monkeypatch.chdir(tmp_path)
    return tmp_path


def names(folder):
    """Return the names of the files in a folder."""
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture(scope="module")
def fitted_once(tmp_path_factory):
    """Fit the toy parts with seed 7, once for the tests that look at one fit; return its folder and its result."""
    folder = tmp_path_factory.mktemp("fitted")
    (folder / "books.xlsx").write_bytes(book(WHOLE))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(fitting, "parts_of", lambda *_: all_parts())
        patched.chdir(folder)
        return folder, call("fit", "books.xlsx", "-o", "out.yaml", "--seed", "7")


@pytest.fixture
def made(books, fitted_once):
    """Put the files of that fit beside the books of a test; return what was printed."""
    folder, done = fitted_once
    for path in folder.iterdir():
        (books / path.name).write_bytes(path.read_bytes())
    return done


def test_three_files_are_written_and_what_comes_next_runs(books, made):
    """The scenario, its draws and its page; `check` is content, and `compare` takes the draws."""
    assert (made.exit_code, names(books)) == (0, NAMES)
    assert made.stderr.splitlines()[-1] == "written to out.yaml, out-draws.csv, out-fits.html"
    steps = [
        shlex.split(line) for line in made.stdout.splitlines() if line.startswith("o2sim ") and "|" not in line
    ]
    assert [step[1] for step in steps] == ["check", "compare", "hindcast"]
    assert call(*steps[0][1:]).exit_code == 0
    one = ("--replications", "1", "--strategy", "cylinders only", "--engine", "reference", "--json")
    compared = call(*steps[1][1:], *one)
    assert compared.exit_code == 0
    assert json.loads(compared.stdout)["draws"]["rows"] == 24


def test_what_is_printed(made):
    """A table of keys, cautions, what no record gave with the rule first, what to do, whence it comes."""
    said = " ".join(made.stdout.split())
    parts = [
        "9 keys of the scenario are from the records", "patients.children.admissions 2 (", "Cautions:",
        "The reorder rule is in no book", "Not in the records", "resupply reorder_point", "What to do next:",
        "keep it as you keep the books", "prescribes nothing", "| seed 7",
    ]  # fmt: skip
    places = [said.find(each) for each in parts]
    assert places == sorted(places)
    assert min(places) >= 0


@pytest.mark.no_cover
def test_json(books):
    """One object on stdout, with the files."""
    printed = json.loads(call("fit", "books.xlsx", "-o", "out.yaml", "--json").stdout)
    assert printed["files"] == ["out.yaml", "out-draws.csv", "out-fits.html"]
    assert printed["scenario_hash"] == o2sim.load("out.yaml").hash
    assert printed["not_given"][0]["key"] == "resupply.reorder_point"


@pytest.mark.no_cover
def test_the_same_gives_the_same_bytes(books, made):
    """Written twice, each file is the same; over files that are there only with --force."""
    first = [(books / name).read_bytes() for name in NAMES]
    again = call("fit", "books.xlsx", "-o", "out.yaml", "--seed", "7")
    assert (again.exit_code, "is there already" in again.stderr) == (1, True)
    assert call("fit", "books.xlsx", "-o", "out.yaml", "--seed", "7", "--force").exit_code == 0
    assert [(books / name).read_bytes() for name in NAMES] == first


@pytest.mark.parametrize("name", ["out-draws.csv", "out-fits.html"])
def test_a_file_beside_that_is_there_already_stops_it(books, name):
    """Nothing is overwritten unasked, the files beside the scenario neither."""
    (books / name).write_text("mine", encoding="utf-8")
    refused = call("fit", "books.xlsx", "-o", "out.yaml")
    assert (refused.exit_code, f"{name}: is there already" in refused.stderr) == (1, True)
    assert ((books / name).read_text(encoding="utf-8"), "out.yaml" in names(books)) == ("mine", False)


def test_all_or_none(books, monkeypatch):
    """A disk that is full at the last file, and Ctrl-C, leave nothing behind."""
    for raised, code in ((OSError(28, "No space left on device"), 1), (KeyboardInterrupt(), 130)):
        real, done = Path.write_bytes, []

        def write(path, data, raised=raised, done=done, real=real):
            done.append(path)
            if len(done) == 3:
                raise raised
            return real(path, data)

        with monkeypatch.context() as patched:
            patched.setattr(Path, "write_bytes", write)
            stopped = call("fit", "books.xlsx", "-o", "out.yaml")
        assert (stopped.exit_code, names(books)) == (code, ["books.xlsx"])
        assert "Traceback" not in stopped.stderr


def test_ctrl_c_while_it_fits_leaves_nothing(books, monkeypatch):
    """The exit code is 130, in one line."""

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(fitting, "parts_of", stop)
    stopped = call("fit", "books.xlsx", "-o", "out.yaml")
    assert (stopped.exit_code, names(books)) == (130, ["books.xlsx"])
    assert stopped.stderr.splitlines()[-1] == "Stopped."


def test_a_broken_workbook_is_exit_code_2_with_all_errors(books):
    """Each error at its cell, as `records check` has them; nothing is written."""
    wrong = PATIENT | {"Flow at first L/min": "2,5", "Oxygen ended": "04/03/2026"}
    (books / "books.xlsx").write_bytes(book({"Patients on oxygen": [wrong]}))
    refused = call("fit", "books.xlsx", "-o", "out.yaml")
    assert (refused.exit_code, refused.stdout, names(books)) == (2, "", ["books.xlsx"])
    checked = json.loads(call("records", "check", "books.xlsx", "--json").stdout)
    assert len(checked["errors"]) == 2
    for each in checked["errors"]:
        assert f"{each['sheet']}, {each['cell']}" in refused.stderr


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("books.xlsx",), 2, "Missing option '-o'"),
        (("books.xlsx", "-o", "out.txt"), 2, "write a name that ends in .yaml or .yml"),
        (("none.xlsx", "-o", "out.yaml"), 2, "found no such file"),
        (("books.xlsx", "-o", "out.yaml", "--base", "none.yaml"), 2, "none.yaml: found no such file"),
        (("books.xlsx", "-o", "none/out.yaml"), 1, "found no folder none"),
        (("books.xlsx", "-o", "out.yaml", "--seed", "-1"), 2, "--seed"),
    ],
)
def test_what_cannot_be_done_is_refused_before_the_work(books, monkeypatch, words, code, said):
    """One message, its exit code, nothing written."""
    refused = call("fit", *words)
    assert (refused.exit_code, said in " ".join(refused.stderr.split()), names(books)) == (
        code, True, ["books.xlsx"],
    )  # fmt: skip


def test_a_base_and_the_files_that_it_names(books):
    """A base's own text is kept; a scenario that would not find its files is refused before the work."""
    (books / "base.yaml").write_text(f"# mine\n{SMALL}", encoding="utf-8")
    assert call("fit", "books.xlsx", "-o", "out.yaml", "--base", "base.yaml").exit_code == 0
    assert "# mine\nname: One bed\n" in (books / "out.yaml").read_text(encoding="utf-8")
    (books / "flows.csv").write_text("flow\n1\n2\n", encoding="utf-8")
    named = SMALL.replace("flow: 1 L/min", "flow: {empirical: {file: flows.csv, column: flow, unit: L/min}}")
    (books / "base.yaml").write_text(named, encoding="utf-8")
    (books / "other").mkdir()
    refused = call("fit", "books.xlsx", "-o", "other/out.yaml", "--base", "base.yaml")
    assert (refused.exit_code, "would miss the files it names" in refused.stderr) == (1, True)


@pytest.mark.no_cover
def test_a_hindcast_is_proposed_where_there_are_counts(books, monkeypatch):
    """Without stock card, midnights and months it would be refused."""
    for parts, proposed in (((cuts(),), False), ((cuts(), fleet()), True)):
        monkeypatch.setattr(fitting, "parts_of", lambda *_, parts=parts: parts)
        made = call("fit", "books.xlsx", "-o", "out.yaml", "--force")
        assert (made.exit_code, "o2sim hindcast out.yaml books.xlsx" in made.stdout) == (0, proposed)


@pytest.mark.no_cover
def test_books_without_doubt_have_no_table_of_draws(books, monkeypatch):
    """Where nothing varies there is nothing to draw: two files, and no --draws in what comes next."""
    monkeypatch.setattr(fitting, "parts_of", lambda *_: (fleet(),))
    made = call("fit", "books.xlsx", "-o", "out.yaml")
    assert (made.exit_code, names(books)) == (0, [each for each in NAMES if "draws" not in each])
    assert "--draws" not in made.stdout


@pytest.mark.no_cover
def test_no_name_comes_through(books, monkeypatch):
    """What stands in columns that are not ours, above the heads and in Place is in no file and no word."""
    monkeypatch.undo()
    monkeypatch.chdir(books)
    rows = {**WHOLE, "Patients on oxygen": [{**row, "Ward bed": MARKER} for row in WHOLE["Patients on oxygen"]]}
    rows["Place"] = [{**row, "Hospital": f"{MARKER} hospital"} for row in WHOLE["Place"]]
    (books / "books.xlsx").write_bytes(book({**rows, "Notes": [{"Who": MARKER}]}))
    made = call("fit", "books.xlsx", "-o", "out.yaml")
    assert made.exit_code == 0
    shown = [made.stdout, made.stderr, *((books / name).read_text(encoding="utf-8") for name in NAMES[1:])]
    assert [text for text in shown if MARKER in text] == []


def test_the_function_reads_books_or_takes_them(books):
    """A path or Records, a base as a path or a Scenario; it writes where asked, and not twice."""
    found = o2sim.fit("books.xlsx", one_bed := o2sim.loads(SMALL), seed=3)
    assert (found.seed, found.base.hash) == (3, one_bed.hash)
    assert o2sim.fit(o2sim.read_records("books.xlsx"), one_bed, seed=3).text == found.text
    assert [path.name for path in found.write("out.yaml")] == ["out.yaml", "out-draws.csv", "out-fits.html"]
    assert o2sim.load("out.yaml").hash == found.scenario.hash
    with pytest.raises(O2simError, match="is there already"):
        found.write("out.yaml")
    with pytest.raises(O2simError, match="found int; allowed: records, or the path of a workbook"):
        o2sim.fit(3)


def test_several_files_are_written_together(tmp_path):
    """Without any there is nothing to do; each has its bytes."""
    files_module.write_together({})
    files_module.write_together({tmp_path / "a": b"1", tmp_path / "b": b"2"})
    assert [(tmp_path / name).read_bytes() for name in names(tmp_path)] == [b"1", b"2"]


@pytest.mark.slow
def test_the_demo_workbook_gives_a_scenario_that_runs(tmp_path):
    """A year of books of an invented hospital: most keys are given, no range misses its points, the draws run."""
    found = o2sim.fit(HERON_POINT)
    assert isinstance(o2sim.read_records(HERON_POINT), Records)
    assert len(found.values) >= 25
    assert joint_draws(found.draws, found.scenario).rows == 200
    for line in found.text.splitlines():
        assert not re.search(r"\bnan\b|\binf\b", line)
    scenario, draws, _ = found.write(tmp_path / "heron.yaml")
    compared = call("compare", scenario, "--draws", draws, "--replications", "20", "--json")
    assert compared.exit_code == 0
    assert call("study", tmp_path, "--draws", draws, "--replications", "20", "--json").exit_code == 0
