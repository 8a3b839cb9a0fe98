"""The folder for a laptop without a network: whole for its target, hashes, licences, and what its scripts say."""

from __future__ import annotations

import hashlib
import os
import platform
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import offline_folder
import pytest
from offline_folder import fill, licences, make, missing, requirements, target_of

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
HERE = f"{sys.version_info.major}.{sys.version_info.minor}"
LINUX, WINDOWS = target_of(["manylinux_2_28_x86_64"], "3.11"), target_of(["win_amd64"], "3.11")
needs_sh = pytest.mark.skipif(os.name == "nt", reason="install.sh is for Linux")


def a_wheel(folder, name, version="1.0", about="", files=()):
    """Write a wheel that holds its metadata and files with a text, and return its path."""
    stem = f"{name.replace('-', '_')}-{version}"
    path = folder / f"{stem}-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as opened:
        opened.writestr(f"{stem}.dist-info/METADATA", f"Name: {name}\nVersion: {version}\n{about}\n")
        for inside in files:
            opened.writestr(inside, f"text of {inside}")
    return path


def needs(*lines):
    """Return requirements as a wheel's metadata states them."""
    return "".join(f"Requires-Dist: {line}\n" for line in lines).rstrip()


def test_what_only_the_target_needs_is_missed(tmp_path):
    """A requirement for Windows alone counts for a folder for Windows, whatever makes it; so do versions."""
    own = a_wheel(tmp_path, "o2sim", about=needs("shell>=2", 'console; sys_platform == "win32"', "Log.Er"))
    others = [a_wheel(tmp_path, "shell", "1.9"), a_wheel(tmp_path, "log-er")]
    assert missing([own, *others], LINUX) == ["shell>=2"]
    assert missing([own, *others], WINDOWS) == ["console", "shell>=2"]


def test_extras_are_followed_where_they_are_asked_for(tmp_path):
    """An extra of o2sim, and the extra of another wheel that it asks for, down to what that needs."""
    own = a_wheel(tmp_path, "o2sim", about=needs('grid[fast]; extra == "sensitivity"'))
    grid = a_wheel(tmp_path, "grid", about=needs('speed; extra == "fast"', 'paper; extra == "docs"', "o2sim"))
    assert missing([own, grid], LINUX) == []
    assert missing([own], LINUX, ["sensitivity"]) == ["grid"]
    assert missing([own, grid], LINUX, ["sensitivity"]) == ["speed"]


@pytest.mark.parametrize(
    ("platforms", "python", "words"),
    [
        (["macosx_11_0_arm64"], "3.11", "allowed: win_amd64, or names of one machine"),
        (["win_amd64", "manylinux2014_x86_64"], "3.11", "found win_amd64, manylinux2014_x86_64"),
        (["manylinux2014_x86_64", "manylinux2014_aarch64"], "", "allowed: win_amd64"),
        (["win_amd64"], "3", "--python: found 3; allowed: a version such as 3.11"),
        ([], "3.99", "for another one name the --platform too"),
    ],
)
def test_a_machine_without_installer_is_refused(platforms, python, words):
    """What no installer is for is named, with what is allowed."""
    with pytest.raises(SystemExit, match=re.escape(words)):
        target_of(platforms, python)


def test_machines_by_pips_names():
    """System and processor as Python calls them there; without a name it is this machine."""
    arm = target_of(["manylinux_2_17_aarch64", "manylinux2014_aarch64"], "3.12")
    assert (arm.markers["platform_machine"], arm.markers["sys_platform"], arm.python) == (
        "aarch64",
        "linux",
        "3.12",
    )
    assert (WINDOWS.markers["platform_machine"], WINDOWS.markers["os_name"]) == ("AMD64", "nt")
    assert LINUX.pip_options[:2] == ["--platform", "manylinux_2_28_x86_64"]


def test_this_machine_is_named_as_python_names_it(monkeypatch):
    """Where nothing is asked pip chooses; a system without an installer is refused."""
    monkeypatch.setattr(platform, "system", lambda: "Linux")
    assert (target_of([], HERE).pip_options, target_of([], "").python) == ([], HERE)
    monkeypatch.setattr(platform, "system", lambda: "Darwin")
    with pytest.raises(SystemExit, match="this is Darwin, for which there is no installer"):
        target_of([], "")


def test_requirements_hold_every_hash(tmp_path):
    """Name, version and the SHA-256 of the file, as pip asks for them."""
    path = a_wheel(tmp_path, "log-er", "2.5")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    assert requirements([path]) == f"log-er==2.5 \\\n    --hash=sha256:{digest}\n"
    with pytest.raises(SystemExit, match="found a second version of log-er"):
        requirements([path, a_wheel(tmp_path, "log-er", "2.6")])


def test_licences_are_named_and_their_texts_given(tmp_path):
    """Expression, else one line, else classifiers; files of the wheel and of what it carries; none is said too."""
    files = ("a-1.0.dist-info/licenses/LICENSE", "a/vendored/COPYING.txt", "a/license.py", "a/core.py")
    a_wheel(tmp_path, "a", about="License-Expression: MIT\nLicense: other", files=files)
    a_wheel(tmp_path, "b", about="License: BSD")
    a_wheel(tmp_path, "c", about="License: First line\n  second line\nClassifier: License :: Free")
    a_wheel(tmp_path, "d")
    text = licences(tmp_path.glob("*.whl"))
    stated = re.findall(r"\n(\w) 1\.0\nLicence: (.*)\n", text)
    assert stated == [("a", "MIT"), ("b", "BSD"), ("c", "License :: Free"), ("d", "not named")]
    assert re.findall("text of (.*)", text) == list(files[:2])
    assert text.count("The wheel holds no licence file.") == 3
    assert "second line" in text


@pytest.fixture
def packages(monkeypatch):
    """Let pip find what o2sim needs: at first only what is needed here, then what is asked for by name."""

    def pip(command, *words):
        place = Path(words[words.index("--wheel-dir" if command == "wheel" else "--dest") + 1])
        if command == "wheel":
            a_wheel(place, "o2sim", about=needs("shell", 'console; sys_platform == "win32"'))
        elif "--no-deps" not in words:
            a_wheel(place, "shell")
        elif words[-1] != "nowhere":
            a_wheel(place, words[-1])

    monkeypatch.setattr(offline_folder, "_pip", pip)


@pytest.mark.parametrize(
    ("target", "installer", "ends"),
    [(LINUX, "install.sh", b"\n"), (WINDOWS, "install.bat", b"\r\n")],
    ids=["Linux", "Windows"],
)
def test_the_folder_is_whole(tmp_path, packages, target, installer, ends):
    """Wheels of the target, hashes, licences, its installer with its line ends, a check; no mark is left."""
    folder = tmp_path / "folder"
    make(folder, target, [])
    names = {path.name for path in folder.iterdir()}
    assert names == {"wheels", "requirements.txt", "LICENSES.txt", "READ-ME.txt", "check.py", installer}
    listed = re.findall(r"^(\w+)==", (folder / "requirements.txt").read_text(encoding="utf-8"), re.M)
    assert listed == (["console", "o2sim", "shell"] if target is WINDOWS else ["o2sim", "shell"])
    script = (folder / installer).read_bytes()
    assert (script.count(ends), b"--require-hashes" in script, b"@PYTHON@" in script) == (
        script.count(b"\n"),
        True,
        False,
    )
    assert installer in (folder / "READ-ME.txt").read_text(encoding="utf-8")


def test_a_folder_that_is_not_empty_is_left_alone(tmp_path, packages):
    """Somebody's files, or a file by that name, are refused before anything is made."""
    (tmp_path / "mine").write_text("mine", encoding="utf-8")
    for place in (tmp_path, tmp_path / "mine"):
        with pytest.raises(SystemExit, match="is there already; choose another folder"):
            make(place, LINUX, [])
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]


def test_a_folder_that_cannot_be_whole_is_taken_away(tmp_path, packages, monkeypatch):
    """What pip does not bring is named, and no half of a folder stays."""
    monkeypatch.setattr(offline_folder, "missing", lambda *_: ["nowhere"])
    monkeypatch.setattr(sys, "argv", ["offline_folder.py", str(tmp_path / "folder")])
    with pytest.raises(SystemExit, match="not whole, it lacks nowhere"):
        offline_folder.main()
    assert list(tmp_path.iterdir()) == []


def test_the_readme_asks_for_what_there_is():
    """Both commands of the README are understood: one for this machine, one for Windows."""
    shown = re.findall(r"^python3 \.ci/offline_folder\.py (.*)$", README, re.M)
    asked = [offline_folder.arguments(line.split()) for line in shown]
    assert [each.platform for each in asked] == [[], ["win_amd64"]]
    assert target_of(asked[1].platform, asked[1].python) == WINDOWS


@needs_sh
@pytest.mark.parametrize(
    ("python", "place", "words"),
    [
        (HERE, "taken", "taken is there already, and o2sim is not installed in it; name another folder"),
        ("2.7", "new", f"found Python {HERE} ({sys.executable}); this folder is for Python 2.7"),
    ],
    ids=["taken", "Python"],
)
def test_install_says_why_it_does_not(tmp_path, python, place, words):
    """A folder of something else, another Python: one line that says so, and nothing is made."""
    (tmp_path / "taken").mkdir()
    template = (offline_folder.TEMPLATES / "install.sh").read_text(encoding="utf-8")
    script = fill(template, target_of(["linux_x86_64"], "3.11")).replace("3.11", python)
    (tmp_path / "install.sh").write_text(script, encoding="utf-8")
    command = ["sh", str(tmp_path / "install.sh"), str(tmp_path / place)]
    done = subprocess.run(command, capture_output=True, text=True, env={**os.environ, "PYTHON": sys.executable})
    assert (done.returncode, done.stdout) == (1, "")
    assert (done.stderr.startswith("FAILED: "), words in done.stderr) == (True, True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["install.sh", "taken"]


@needs_sh
@pytest.mark.parametrize(
    ("program", "code", "words"),
    [
        ("exit 0", 0, "OK: o2sim is installed and works"),
        (
            '[ "$1" != check ] || { echo spoilt >&2; exit 3; }',
            1,
            "FAILED: o2sim check demo/district_hospital.yaml",
        ),
        (None, 1, "cannot be started (No such file or directory)"),
    ],
    ids=["all", "one fails", "none there"],
)
def test_check_says_ok_or_what_failed(tmp_path, program, code, words):
    """The check tries o2sim beside its Python, and names the command that failed with what it said."""
    (tmp_path / "python").symlink_to(sys.executable)
    if program is not None:
        (tmp_path / "o2sim").write_text(f"#!/bin/sh\n{program}\n", encoding="utf-8")
        (tmp_path / "o2sim").chmod(0o755)
    command = [str(tmp_path / "python"), str(offline_folder.TEMPLATES / "check.py")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert (done.returncode, words in done.stdout, done.stderr) == (code, True, "")
    assert ("spoilt" in done.stdout) == ("spoilt" in (program or ""))
