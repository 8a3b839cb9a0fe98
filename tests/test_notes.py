"""The notes for developers are short, stand in every folder, and name only what exists."""

import re
from pathlib import Path

import pytest
from house import PACKAGE, TODAY

ROOT = PACKAGE.parent
PLACES = sorted({path.parent for path in PACKAGE.rglob("*.py")})
NOTES = [
    ROOT / "DEVELOPERS.md",
    *sorted(ROOT.glob("tests/**/README.md")),
    *sorted(PACKAGE.rglob("README.md")),
]
WHEEL_ONLY = "o2sim/demo_hospitals/"
DEFINED = re.findall(r"def (test_\w+)", "\n".join(path.read_text() for path in ROOT.glob("tests/**/*.py")))


def files_named(text: str) -> list[str]:
    """Return what a text names in code: files of Python, folders, and what lies below a folder of the top."""
    code = re.findall(r"`([\w./-]+)`", text)
    top = re.compile(r"(o2sim|tests|scenarios|notebooks|\.ci|\.hooks)/")
    return [name for name in code if name.endswith((".py", "/")) or top.match(name)]


def is_there(name: str, note: Path) -> bool:
    """Return True where a name stands as seen from the note's folder, one above it, the package or its rooms."""
    above = [place for place in note.parents if place.is_relative_to(ROOT)]
    rooms = note.parent.glob(f"*/{name}") if note.parent.name == "questions" else ()
    return any((place / name).exists() for place in [*above, PACKAGE]) or any(rooms) or name == WHEEL_ONLY


def missing(text: str, note: Path) -> list[str]:
    """Return what a note names, or links to, and is not there."""
    links = [link.split("#")[0] for link in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in link]
    return [name for name in [*files_named(text), *links] if name and not is_there(name, note)]


def test_the_notes_for_all_are_short():
    """DEVELOPERS.md is at most 12 kB; what concerns one folder stands in that folder."""
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) <= 12_000


def test_every_folder_of_the_package_has_its_notes():
    """A new folder comes with a README.md."""
    assert [place for place in PLACES if not (place / "README.md").exists()] == []


@pytest.mark.parametrize("note", NOTES, ids=lambda note: str(note.relative_to(ROOT)))
def test_what_a_note_names_is_there(note):
    """Files, folders, links and tests that a note names exist."""
    text = note.read_text(encoding="utf-8")
    assert missing(text, note) == []
    assert [name for name in re.findall(r"`(test_\w+)`", text) if name not in DEFINED] == []


def test_a_file_that_has_moved_is_seen():
    """A path that is no longer there is found in code and in links, whatever stands beside it."""
    text = "`errors.py`, `o2sim/gone.py`, `gone/`, [text](gone/README.md) and `daily.csv`"
    assert missing(text, ROOT / "DEVELOPERS.md") == ["o2sim/gone.py", "gone/", "gone/README.md"]


def test_the_floors_of_the_notes_are_those_of_the_house():
    """The table in DEVELOPERS.md has all that stands in the package's top but the face, from the bottom up."""
    table = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## The floors")[1].split("\n\n", 2)[2]
    rows = [re.findall(r"`(\w+)(?:\.py|/)`", row.split("|")[1]) for row in re.findall(r"^\| .*", table, re.M)[1:]]
    named = [place for row in rows for place in row]
    levels = {place.split(".")[0]: level for level, floor in enumerate(TODAY.floors) for place in floor}
    there = {path.stem for path in PACKAGE.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()}
    assert set(named) == there - {"__init__", "__main__"}
    assert [levels[place] for place in named] == sorted(levels[place] for place in named)
