"""`o2sim demo`: every demo hospital in a folder of one's own, and nothing of the reader's overwritten."""

from __future__ import annotations

import json
import os
import shlex
from importlib import resources
from pathlib import Path

import pytest
from click.testing import CliRunner

import o2sim
from o2sim.cli import main
from o2sim.errors import O2simError
from o2sim.looks.screen import WIDTH
from o2sim.questions.demo.demo import PACKED, demo_files

SCENARIOS = Path(__file__).parents[3] / "scenarios"
SHIPPED = {path.name: path.read_bytes() for path in SCENARIOS.iterdir() if path.is_file()}
TAKEN = "is there already; choose another folder, or overwrite it with --force"


def call(*args):
    """Run `o2sim demo` and return click's result."""
    return CliRunner().invoke(main, ["demo", *map(str, args)])


def held(folder):
    """Return the content of a folder's files by name."""
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_demo_writes_what_is_shipped(tmp_path):
    """Every scenario and table, byte for byte, into a folder made for it; the screen names each and fits."""
    shown = call(tmp_path / "new" / "demo")
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert held(tmp_path / "new" / "demo") == SHIPPED
    assert [name for name in SHIPPED if name not in shown.stdout] == []
    said = [line for line in shown.stdout.splitlines() if str(tmp_path) not in line]
    assert max(map(len, said)) <= WIDTH


def test_what_to_do_next_can_be_copied(tmp_path, monkeypatch):
    """The commands shown stand on one line each, and run as they stand, in a folder with a space in its name."""
    monkeypatch.chdir(tmp_path)
    shown = call("two words").stdout.splitlines()
    lines = [line.partition(": ")[2] for line in shown if line.startswith("  - ")]
    commands = [shlex.split(line) for line in lines]
    assert [command[:3] for command in commands] == [
        ["o2sim", "compare", "two words/district_hospital.yaml"],
        ["o2sim", "study", "two words/province.csv"],
        ["o2sim", "records", "check"],
    ]
    few = [["--replications", "2"] if command[1] in ("compare", "study") else [] for command in commands]
    runs = [CliRunner().invoke(main, command[1:] + more) for command, more in zip(commands, few, strict=True)]
    assert [run.exit_code for run in runs] == [0, 0, 0]


def test_demo_as_json(tmp_path):
    """With --json stdout is one object: what was written, what each hospital is, what to do next."""
    said = json.loads(call(tmp_path, "--json").stdout)
    names = [each["file"] for each in said["scenarios"]] + said["tables"] + said["records"]
    assert (said["version"], said["folder"], sorted(names)) == (
        o2sim.__version__,
        str(tmp_path),
        sorted(SHIPPED),
    )
    first = o2sim.load(tmp_path / said["scenarios"][0]["file"])
    assert (said["scenarios"][0]["name"], said["scenarios"][0]["about"]) == (first.name, first.about)
    assert said["next"][0] == f"o2sim compare {tmp_path}/district_hospital.yaml"


def test_what_is_there_already_is_kept(tmp_path):
    """One file in the way: it is named, and nothing is written; with --force it is overwritten, others stay."""
    (tmp_path / "province.csv").write_text("mine", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("mine too", encoding="utf-8")
    shown = call(tmp_path)
    assert (shown.exit_code, shown.stdout) == (1, "")
    assert shown.stderr == f"Error: {tmp_path / 'province.csv'}: {TAKEN}\n"
    assert held(tmp_path) == {"province.csv": b"mine", "notes.txt": b"mine too"}
    assert call(tmp_path, "--force").exit_code == 0
    assert held(tmp_path) == {**SHIPPED, "notes.txt": b"mine too"}


def test_a_link_in_the_way_is_not_followed(tmp_path):
    """A link by a demo's name is there already; --force puts the file in its place and leaves what it led to."""
    (tmp_path / "elsewhere").write_text("mine", encoding="utf-8")
    folder = tmp_path / "demo"
    folder.mkdir()
    (folder / "province.csv").symlink_to(tmp_path / "elsewhere")
    (folder / "city_hospital.yaml").symlink_to(tmp_path / "nowhere")
    assert f"{folder / 'city_hospital.yaml'}: {TAKEN}" in call(folder).stderr
    assert call(folder, "--force").exit_code == 0
    assert held(folder) == SHIPPED
    assert (tmp_path / "elsewhere").read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["demo", "elsewhere"]


def test_a_link_to_a_folder_is_a_folder(tmp_path):
    """Somebody whose demo folder is a link gets the files where it leads."""
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert call(tmp_path / "link").exit_code == 0
    assert held(tmp_path / "real") == SHIPPED


def in_the_way(tmp_path):
    """Put things into a folder that no demo folder can be made of."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "nowhere").symlink_to(tmp_path / "none")
    (tmp_path / "full" / "province.csv").mkdir(parents=True)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("file", "found a file; allowed: the name of a folder"),
        ("file/inside", "cannot write there (Not a directory)"),
        ("loop", "cannot write there (File exists)"),
        ("nowhere", "cannot write there (File exists)"),
        ("x" * 300, "cannot write there (File name too long)"),
        ("full", "found a folder; move it away, or choose another folder"),
    ],
    ids=lambda value: value[:12],
)
def test_what_cannot_be_a_folder_is_refused(tmp_path, name, words):
    """A file, a loop, a link that leads nowhere, a name too long: one message, exit code 1, nothing written."""
    in_the_way(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    shown = call(tmp_path / name, "--force")
    assert (shown.exit_code, shown.stdout) == (1, "")
    assert shown.stderr.startswith(f"Error: {tmp_path / name}")
    assert words in shown.stderr
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="whoever may write everywhere cannot be refused"
)
def test_a_folder_that_may_not_be_written_is_refused(tmp_path):
    """The system's own reason is given."""
    (tmp_path / "locked").mkdir()
    (tmp_path / "locked").chmod(0o555)
    assert "locked: cannot write there (Permission denied)" in call(tmp_path / "locked").stderr


def test_a_disk_that_fills_up_leaves_nothing(tmp_path, monkeypatch):
    """Where one of the files cannot be written none is left (simulated: the second one meets a full disk)."""
    real, written = Path.write_bytes, []

    def filling(path, content):
        if written:
            raise OSError(28, "No space left on device")
        written.append(path)
        return real(path, content)

    monkeypatch.setattr(Path, "write_bytes", filling)
    shown = call(tmp_path)
    assert (shown.exit_code, shown.stderr) == (
        1,
        f"Error: {tmp_path}: cannot write there (No space left on device)\n",
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("as_json", [[], ["--json"]], ids=["screen", "json"])
def test_a_folder_whose_name_is_no_text(tmp_path, as_json):
    """A name that is no UTF-8 is written to as it is, and shown with question marks."""
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff\xfe"))
    shown = call(folder, *as_json)
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert "??/district_hospital.yaml" in shown.stdout
    assert held(folder) == SHIPPED


@pytest.mark.parametrize(
    ("args", "words"), [([], "Missing argument"), ([" "], "the name is empty"), (["a", "b"], "unexpected")]
)
def test_one_folder_is_named(args, words):
    """None, an empty name, two: usage errors."""
    shown = call(*args)
    assert (shown.exit_code, words in shown.stderr) == (2, True)


def test_a_name_that_looks_like_an_option(tmp_path, monkeypatch):
    """The commands to go on with do not take the folder for an option."""
    monkeypatch.chdir(tmp_path)
    assert "compare ./-x/district_hospital.yaml" in call("--", "-x").stdout


def test_the_installed_package_has_them_inside(tmp_path):
    """Those packed in the wheel come first; of other files and of a neighbour's folder nothing is taken."""
    packed = tmp_path / "site" / "o2sim" / PACKED
    packed.mkdir(parents=True)
    for name in ("a.yaml", "b.csv", "c.xlsx", "notes.txt"):
        (packed / name).write_text(name, encoding="utf-8")
    assert demo_files(packed.parent) == {"a.yaml": b"a.yaml", "b.csv": b"b.csv", "c.xlsx": b"c.xlsx"}
    assert demo_files(resources.files("o2sim")) == SHIPPED


def test_an_installation_without_demos_says_so(tmp_path):
    """Beside an installed package a folder `scenarios` is somebody else's: it is not taken for the demos."""
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "other.yaml").write_text("name: other", encoding="utf-8")
    with pytest.raises(O2simError, match="found no demo hospitals"):
        demo_files(tmp_path / "o2sim")
