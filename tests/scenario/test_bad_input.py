"""Malformed scenario files against the messages written down for them; none ends in anything but ScenarioError."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from scenario_texts import SMALL

from o2sim.errors import ScenarioError, plain
from o2sim.scenario import load, loads

FOLDER = Path(__file__).parent / "bad_input"


def expectations() -> dict[str, list[str]]:
    """Return the expected problems by name of file, from bad_input/expected.txt."""
    expected: dict[str, list[str]] = {}
    name = ""
    for line in (FOLDER / "expected.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("  "):
            expected[name].append(line.strip())
        elif not line.startswith("#"):
            name = line
            expected[name] = []
    return expected


def problems_of(path) -> list[str]:
    """Return the problems of a file that must be refused, as shown, without the name of the file."""
    with pytest.raises(ScenarioError) as error:
        load(path)
    shown = [str(problem) for problem in error.value.problems]
    file = plain(str(path))  # a name may hold a NUL
    assert all(each.startswith(file) for each in shown)
    return [each.removeprefix(file).removeprefix(":").strip() for each in shown]


def missing_parts(shown: str, expected: str) -> list[str]:
    """Return the parts of an expected message that are not shown; the first must begin what is shown."""
    first, *rest = expected.split(" ... ")
    if not shown.startswith(first):
        return [first]
    return [part for part in rest if part not in shown[len(first) :]]


def test_every_malformed_file_has_its_message_and_there_are_enough():
    """No file without an expectation, none expected without a file, at least thirty."""
    files = {path.name for path in FOLDER.glob("*.yaml")}
    assert files == set(expectations())
    assert len(files) >= 30


@pytest.mark.parametrize("name", expectations())
def test_a_malformed_file_is_refused_with_its_messages(name):
    """Exactly the problems written down: line, field, what was found, what to do."""
    shown, expected = problems_of(FOLDER / name), expectations()[name]
    assert len(shown) == len(expected) > 0
    assert [missing_parts(*pair) for pair in zip(shown, expected, strict=True)] == [[]] * len(expected)


ENCODED = {  # what cannot be kept as a text file, and the beginning of its only message
    "utf_16": (SMALL.encode("utf-16"), "1: this is UTF-16, UTF-32 or a binary file; allowed: UTF-8 text"),
    "utf_16_be": (b"\xfe\xff" + SMALL.encode("utf-16-be"), "1: this is UTF-16, UTF-32 or a binary file"),
    "utf_16_bare": (SMALL.encode("utf-16-le"), "1: this is UTF-16, UTF-32 or a binary file"),
    "utf_32": (SMALL.encode("utf-32"), "1: this is UTF-16, UTF-32 or a binary file"),
    "latin_1": (SMALL.replace("One bed", "Hôpital").encode("cp1252"), "1: found the byte 0xf4, which"),
    "latin_1_below": (SMALL.encode() + "# 25 °C\n".encode("latin-1"), "13: found the byte 0xb0"),
    "image": (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "1: found the byte 0x89"),
    "archive": (b"PK\x03\x04\x14\x00\x06\x00", "1: found the control character U+0003"),
    "zeros": (bytes(5_000), "1: this is UTF-16, UTF-32 or a binary file"),
    "null_inside": (SMALL.encode().replace(b"24 h", b"24\0h"), "6: found the control character U+0000"),
    "escape_inside": (SMALL.encode().replace(b"24 h", b"24\x1bh"), "6: found the control character U+001B"),
    "surrogate_bytes": (b"name: \xed\xa0\x80\n" + SMALL.encode()[14:], "1: found the byte 0xed"),
    "too_large": (SMALL.encode() + b"#" * 262_144, "the file is too large; allowed: at most 256 kB"),
    "endless_list": (b"a: [" + b"1," * 100_000 + b"]", "1: the file holds too many values; allowed: about 15000"),
}  # fmt: skip


@pytest.mark.parametrize("case", ENCODED)
def test_a_file_that_is_no_text_is_refused(case, tmp_path):
    """Wrong encodings, binary files and sizes: one problem, with the line where there is one."""
    content, expected = ENCODED[case]
    file = tmp_path / "scenario.yaml"
    file.write_bytes(content)
    (shown,) = problems_of(file)
    assert shown.startswith(expected)


def test_a_path_that_leads_to_no_file_is_refused(tmp_path):
    """A missing file, a folder, a file as folder and an impossible name are problems like others."""
    (tmp_path / "file").write_text(SMALL)
    assert problems_of(tmp_path / "none.yaml") == [
        "found no such file; allowed: the path of a scenario file (.yaml)"
    ]
    assert problems_of(tmp_path) == ["found a folder; allowed: a scenario file (name the file in it)"]
    assert problems_of(tmp_path / "file" / "x.yaml")[0].startswith("found no such file")
    assert len(problems_of("a\0b.yaml")) == 1
    assert len(problems_of("x" * 5_000)) == 1


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_without_waiting_for_it(tmp_path):
    """A named pipe nobody writes to would block for ever."""
    os.mkfifo(tmp_path / "pipe")
    assert problems_of(tmp_path / "pipe") == ["found no regular file; allowed: a scenario file"]


def test_a_file_that_may_not_be_read_is_refused(tmp_path, monkeypatch):
    """What the system says is told (simulated: whoever runs the tests may be allowed to read everything)."""
    file = tmp_path / "scenario.yaml"
    file.write_text(SMALL)

    def denied(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", denied)
    assert problems_of(file) == ["the file cannot be read: Permission denied"]


def test_a_text_that_is_no_file_has_a_name_too():
    """loads takes the name to show; a lone surrogate in the text is a problem and no exception of Python."""
    with pytest.raises(ScenarioError, match=r"form:1: found the control character U\+D800"):
        loads("name: \ud800\n", "form")
