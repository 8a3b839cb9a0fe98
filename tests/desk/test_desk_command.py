"""The command `o2sim desk`: where it may listen, what it opens, what it refuses."""

import os
import stat
import subprocess
import sys

import pytest
from click.testing import CliRunner

from o2sim.cli import main
from o2sim.desk.door import Door, DoorFolder


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.4", "::", "evil.example"])
def test_the_desk_is_not_for_a_network(host, tmp_path):
    """Any host but this computer is refused before anything is opened, and what to do instead is said."""
    found = CliRunner().invoke(main, ["desk", str(tmp_path), "--host", host])
    assert found.exit_code == 2
    assert "127.0.0.1 only" in found.output
    assert "print “Oxygen for the night”" in found.output
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "said"),
    [("nowhere", "found no such file or folder"), ("notes.txt", "found a file that is no scenario")],
)
def test_a_place_that_is_none_is_refused(name, said, tmp_path):
    """What is no folder and no scenario is named, with what is allowed."""
    (tmp_path / "notes.txt").write_text("x")
    found = CliRunner().invoke(main, ["desk", str(tmp_path / name)])
    assert (found.exit_code, said in found.output) == (2, True)


def test_other_commands_load_no_server():
    """The libraries of the desk are imported only when it runs."""
    code = "import sys, o2sim.cli; print([m for m in ('starlette', 'uvicorn', 'multipart') if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_the_server_loads_no_compiler_and_no_drawing():
    """What serves pages stays small: the engine, its compiler, arrays and drawings are its child's."""
    heavy = "('numba', 'matplotlib', 'numpy', 'pandas', 'pint', 'scipy')"
    code = f"import sys, o2sim.desk.server; print([m for m in {heavy} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_only_the_first_desk_of_a_folder_has_its_lock(tmp_path):
    """A second one for the same folder opens a window on the first; after that has ended it is the first."""
    first, second = (DoorFolder(tmp_path, tmp_path / "state") for _ in range(2))
    assert (first.is_first(), second.is_first()) == (True, False)
    first.leave()
    assert second.is_first()
    second.leave()


@pytest.mark.skipif(os.name == "nt", reason="modes are those of POSIX")
def test_nobody_else_can_read_pass_and_key(tmp_path):
    """The folder and all files with a secret in it are their user's alone."""
    keys, door = DoorFolder(tmp_path, tmp_path / "state"), Door(4711, "/0123", "secret")
    keys.keep(door)
    keys.start_page(keys.start_link(door), "Go on")
    modes = {stat.S_IMODE(each.stat().st_mode) for each in keys.folder.iterdir()}
    assert (modes, stat.S_IMODE(keys.folder.stat().st_mode)) == ({0o600}, 0o700)


def test_a_door_is_kept_for_half_a_day(tmp_path):
    """Within 12 hours an open tab goes on; after that port, path and pass are new."""
    keys, door = DoorFolder(tmp_path, tmp_path / "state"), Door(4711, "/0123", "secret")
    keys.keep(door)
    file = keys.folder / "door.json"
    assert keys.kept() == door
    old = file.stat().st_mtime - 12 * 3600 - 1
    os.utime(file, (old, old))
    assert keys.kept() is None
