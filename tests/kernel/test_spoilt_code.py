"""Kept code that is spoilt is made anew, and where none can be kept it is left aside, with one line on stderr."""

import errno
import os
import pickle
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

import pytest
from small_ward import WARD as STATED

from o2sim.compiler import jit, kept_code

if not jit.COMPILES:
    pytest.skip("nothing is compiled", allow_module_level=True)
WARD = STATED.replace("{all: {", "{all: {recognised: 100 %, ")  # which nobody doubts
PACKAGE_HOME = Path(kept_code.__file__).parents[2]
PROGRAM = """
from o2sim.compiler import jit

@jit.cached
def thirds(a):
    return a / 3

@jit.cached
def halves(a):
    return a / 2

if __name__ == "__main__":
    print(thirds(5), sum(thirds.stats.cache_hits.values()))
"""


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of their own for what these tests keep, in a process that has said nothing yet."""
    (tmp_path / "small.py").write_text(PROGRAM)
    monkeypatch.setattr(kept_code, "folder", lambda: tmp_path / "kept")
    monkeypatch.setattr(kept_code, "_said", [])
    return tmp_path / "kept"


def call(folder: Path, name: str = "thirds") -> tuple[float, int]:
    """Call a function of the program as a new process would; return the result, and how often code was found."""
    spec = spec_from_file_location("small", folder.parent / "small.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    function = getattr(module, name)
    return function(5), sum(function.stats.cache_hits.values())


def only_file(folder: Path) -> Path:
    """The one file of a folder."""
    (path,) = folder.iterdir()
    return path


def test_what_is_kept_is_found_again(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second process compiles nothing, and nobody says anything."""
    assert call(kept) == (5 / 3, 0)
    assert call(kept) == (5 / 3, 1)
    assert only_file(kept).name.startswith("small.thirds-")
    assert capsys.readouterr() == ("", "")


def flipped(found: bytes) -> bytes:
    """The same with one bit another."""
    half = len(found) // 2
    return found[:half] + bytes([found[half] ^ 1]) + found[half + 1 :]


WRONG = pickle.dumps({"of": "another program"})
SPOILS: dict[str, Callable[[Path], Any]] = {
    "empty": lambda path: path.write_bytes(b""),
    "cut short": lambda path: path.write_bytes(path.read_bytes()[:-1]),
    "cut to a few bytes": lambda path: path.write_bytes(path.read_bytes()[:40]),
    "random": lambda path: path.write_bytes(random.Random(3).randbytes(5_000)),
    "one bit": lambda path: path.write_bytes(flipped(path.read_bytes())),
    "the wrong thing": lambda path: path.write_bytes(WRONG),
    "the wrong thing, with its checksum": lambda path: kept_code._write(path, WRONG),
    "no pickle, with its checksum": lambda path: kept_code._write(path, b""),
    "another function": lambda path: path.write_bytes(next(path.parent.glob("small.halves-*")).read_bytes()),
}


@pytest.mark.parametrize("spoil", SPOILS.values(), ids=SPOILS.keys())
def test_what_is_spoilt_is_made_anew(
    spoil: Callable[[Path], Any], kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The result is the same, one line says so, and the next process finds it sound."""
    call(kept)
    call(kept, "halves")
    spoil(next(kept.glob("small.thirds-*")))
    assert call(kept) == (5 / 3, 0)
    said = (
        f"Note: compiled code in {kept} was spoilt; it is compiled anew (the engine takes about half a minute).\n"
    )
    assert capsys.readouterr() == ("", said)
    assert call(kept) == (5 / 3, 1)
    assert capsys.readouterr() == ("", "")


def failing(number: int) -> Callable[..., Any]:
    """What fails as the system does."""

    def fail(*_args: object, **_more: object) -> None:
        raise OSError(number, os.strerror(number))

    return fail


@pytest.mark.parametrize(
    ("place", "number"),
    [
        ("write_bytes", errno.ENOSPC),  # the disk is full
        ("mkdir", errno.ENOSPC),
        ("mkdir", errno.EROFS),  # it may only be read
        ("write_bytes", errno.EACCES),
        ("replace", errno.EACCES),
    ],
)
def test_where_nothing_can_be_written_code_is_not_kept(
    place: str, number: int, kept: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The results are the same, one line for two functions says why, and nothing half done is left."""
    monkeypatch.setattr(kept_code.Path, place, failing(number))
    assert [call(kept), call(kept, "halves")] == [(5 / 3, 0), (2.5, 0)]
    out, said = capsys.readouterr()
    assert (out, said.count("\n")) == ("", 1)
    assert said.startswith(f"Note: compiled code cannot be kept ({kept}: {os.strerror(number)}); ")
    assert list(kept.glob("*")) == []


def test_a_file_in_place_of_the_folder(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No folder can be made where a file is: the code is left aside, and so is the file."""
    kept.write_text("mine")
    assert call(kept) == (5 / 3, 0)
    assert not kept_code.is_kept("small")
    assert capsys.readouterr().err.startswith(f"Note: compiled code cannot be kept ({kept}: ")
    assert kept.read_text() == "mine"


def test_a_folder_in_place_of_a_file(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What cannot be read is left aside, with one line though it cannot be replaced either."""
    call(kept)
    path = only_file(kept)
    path.unlink()
    path.mkdir()
    assert call(kept) == (5 / 3, 0)
    assert capsys.readouterr().err.count("\n") == 1
    assert only_file(kept) == path


def test_what_is_spoilt_and_may_only_be_read(
    kept: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line says that it is spoilt and cannot be replaced."""
    call(kept)
    only_file(kept).write_bytes(b"")
    for place in ("unlink", "write_bytes"):
        monkeypatch.setattr(kept_code.Path, place, failing(errno.EROFS))
    assert call(kept) == (5 / 3, 0)
    said = capsys.readouterr().err
    assert said.startswith(
        f"Note: compiled code in {kept} was spoilt and cannot be replaced (Read-only file system)"
    )
    assert said.count("\n") == 1


def test_what_may_only_be_read_is_used(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound code in a folder that may only be read is found, and nothing is said."""
    call(kept)
    for place in ("unlink", "write_bytes", "mkdir", "replace"):
        monkeypatch.setattr(kept_code.Path, place, failing(errno.EROFS))
    assert call(kept) == (5 / 3, 1)
    assert kept_code._said == []


def test_no_home(kept: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a home folder the code is left aside."""

    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(kept_code, "folder", homeless)
    assert (call(kept), kept_code.is_kept("small")) == ((5 / 3, 0), False)
    assert capsys.readouterr().err.count("\n") == 1


def test_what_another_process_has_kept_meanwhile_is_enough(
    kept: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file that cannot be replaced because others read it is as good as the one that was to replace it."""
    call(kept)
    path = only_file(kept)
    monkeypatch.setattr(kept_code.Path, "replace", failing(errno.EACCES))
    kept_code._write(path, b"the same")
    assert only_file(kept) == path
    path.unlink()
    with pytest.raises(PermissionError):
        kept_code._write(path, b"the same")


def test_what_another_process_has_removed_is_not_spoken_of(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only the process that removes a spoilt file says so."""
    kept_code._remove(kept / "gone.code")
    assert capsys.readouterr().err == ""


def test_workers_say_nothing(
    kept: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line is enough for all processes of a run: the first says it."""
    monkeypatch.setattr(kept_code, "parent_process", lambda: "the first")
    monkeypatch.setattr(kept_code.Path, "mkdir", failing(errno.ENOSPC))
    assert call(kept) == (5 / 3, 0)
    assert capsys.readouterr() == ("", "")


def test_is_kept_looks_at_what_is_in_the_files(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Code is kept if it is sound; all that is spoilt goes, with one line."""
    assert not kept_code.is_kept("small")
    call(kept)
    call(kept, "halves")
    assert (kept_code.is_kept("small"), kept_code.is_kept("sma")) == (True, False)
    assert capsys.readouterr().err == ""
    for path in kept.iterdir():
        path.write_bytes(b"")
    assert not kept_code.is_kept("small")
    assert (list(kept.iterdir()), capsys.readouterr().err.count("\n")) == ([], 1)


def test_another_numba_keeps_code_its_own_way(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where numba has other inner names, its own files lie in the folder; where it cannot, one line says so."""
    monkeypatch.setattr(kept_code, "_inner_names", lambda: None)
    assert (call(kept), call(kept)) == ((5 / 3, 0), (5 / 3, 1))
    assert [path.suffix for path in sorted(kept.rglob("small.thirds-*"))] == [".nbc", ".nbi"]
    monkeypatch.setattr("numba.core.dispatcher.Dispatcher.enable_caching", failing(errno.ENOSPC))
    assert call(kept) == (5 / 3, 0)
    assert len(kept_code._said) == 1


def test_functions_without_a_file_or_with_others_variables_are_not_kept(kept: Path) -> None:
    """The source of a function must tell all about it."""
    number = 3
    space: dict[str, Any] = {}
    exec("def double(a): return 2 * a", space)
    assert jit.cached(lambda a: a * number)(2) == 6
    assert jit.cached(space["double"])(2) == 4
    assert list(kept.glob("*")) == []


def start(program: list[str], folder: Path) -> subprocess.Popen[str]:
    """Start a Python program that keeps code in a folder."""
    env = os.environ | {"NUMBA_CACHE_DIR": str(folder), "PYTHONPATH": str(PACKAGE_HOME)}
    pipe = subprocess.PIPE
    return subprocess.Popen([sys.executable, *program], env=env, stdout=pipe, stderr=pipe, text=True)


def test_two_processes_that_keep_the_same_at_once(tmp_path: Path) -> None:
    """Both give the result and say nothing; one file is left, which a third process finds."""
    path = tmp_path / "small.py"
    path.write_text(PROGRAM)
    both = [start([str(path)], tmp_path / "kept") for _ in range(2)]
    assert {process.communicate()[1] for process in both} == {""}
    assert start([str(path)], tmp_path / "kept").communicate() == (f"{5 / 3} 1\n", "")
    assert len([each for each in (tmp_path / "kept").rglob("*") if each.is_file()]) == 1


def run_ward(folder: Path, *options: str) -> tuple[int, str, list[str]]:
    """Run a scenario on the command line; return the exit code, the result, and the lines on stderr."""
    (folder / "ward.yaml").write_text(WARD)
    asked = ["--strategy", "mixed", "--replications", "2", "--json", *options]
    process = start(["-m", "o2sim", "run", str(folder / "ward.yaml"), *asked], folder / "kept")
    out, said = process.communicate()
    return process.returncode, out, said.splitlines()


def copied_code(folder: Path) -> Path:
    """Copy the code that these tests run with, so that all need not be compiled; return where it is."""
    copy = folder / "kept" / "o2sim" / kept_code.folder().name
    shutil.copytree(kept_code.folder(), copy)
    return copy


@pytest.mark.parametrize("name", ["sampling", pytest.param("loop", marks=pytest.mark.slow)])
def test_the_command_line_with_spoilt_code(name: str, tmp_path: Path) -> None:
    """A run with spoilt code ends well with its result; one line speaks of it, and none when it is run again."""
    copy = copied_code(tmp_path)
    wanted = run_ward(tmp_path)
    assert wanted[::2] == (0, [])
    kept = list(copy.glob(f"{name}.*.code"))  # several where the same sources lie in several places
    for path in kept:
        path.write_bytes(path.read_bytes()[:1_000])
    code, result, said = run_ward(tmp_path)
    assert (code, result) == (0, wanted[1])
    assert kept
    assert [line for line in said if "spoilt" in line] == [
        f"Note: compiled code in {copy} was spoilt; it is compiled anew (the engine takes about half a minute)."
    ]
    assert run_ward(tmp_path) == wanted


def test_the_command_line_where_no_code_can_be_kept(tmp_path: Path) -> None:
    """A run that finds a file in place of the folder ends well with its result and one line."""
    (tmp_path / "kept").write_text("")
    code, result, said = run_ward(tmp_path, "--engine", "reference")
    (tmp_path / "kept").unlink()
    copied_code(tmp_path)
    assert (code, result, []) == run_ward(tmp_path, "--engine", "reference")
    assert (len(said), "cannot be kept" in said[0]) == (1, True)
