"""The key of kept code: it changes with every source that compiled code may be made from, however deep it lies."""

import ast
import shutil
from pathlib import Path

import pytest

from o2sim.compiler import kept_code

PACKAGE = Path(kept_code.__file__).parents[1]
DEEP = ["scenario/building/deep/laws.py", "model/kernel/new.py", "draws/laws/normal.py", "compiler/link.py"]


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """The sources of the key, copied."""
    for path in kept_code.sources(PACKAGE):
        place = tmp_path / path.relative_to(PACKAGE)
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, place)
    return tmp_path


def test_a_copy_has_the_same_key(copied: Path) -> None:
    """The key is of names within the package and of contents, wherever the package lies."""
    assert kept_code.key(copied, "") == kept_code.key(PACKAGE, "")
    assert kept_code.key(copied, "another numba") != kept_code.key(copied, "")


def test_a_change_in_any_file_changes_the_key(copied: Path) -> None:
    """A line more in one file, a file that has moved and one that is gone give keys that all differ."""
    files = kept_code.sources(copied)
    keys = {kept_code.key(copied, "")}
    for path in files:
        before = path.read_bytes()
        path.write_bytes(before + b"\n")
        keys.add(kept_code.key(copied, ""))
        path.write_bytes(before)
    files[-1].rename(files[-1].with_name("moved.py"))
    keys.add(kept_code.key(copied, ""))
    files[-1].with_name("moved.py").unlink()
    keys.add(kept_code.key(copied, ""))
    assert len(keys) == len(files) + 3


@pytest.mark.parametrize("name", DEEP)
def test_a_file_in_a_subfolder_changes_the_key(copied: Path, name: str) -> None:
    """A new file counts at any depth, and so does a change in it."""
    keys = [kept_code.key(copied, "")]
    (copied / name).parent.mkdir(parents=True, exist_ok=True)
    for content in ("A = 1\n", "A = 2\n"):
        (copied / name).write_text(content)
        keys.append(kept_code.key(copied, ""))
    assert len(set(keys)) == 3


def imported(path: Path) -> set[Path]:
    """Return the files of the package that one of its files imports."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    places = [PACKAGE.joinpath(*name.split(".")[1:]) for name in names if name.split(".")[0] == "o2sim"]
    found = [*(place.with_suffix(".py") for place in places), *(place / "__init__.py" for place in places)]
    return {each for each in found if each.is_file() and each != PACKAGE / "__init__.py"}


def test_all_that_compiled_code_imports_is_in_the_key() -> None:
    """All files with compiled functions, what they import, and what that imports, are in the key."""
    marks = ("@jit.compiled", "@jit.cached", "compile_file(globals())")
    pending = {path for path in PACKAGE.rglob("*.py") if any(mark in path.read_text() for mark in marks)}
    assert len(pending) > 20
    found: set[Path] = set()
    while pending:
        path = pending.pop()
        found.add(path)
        pending |= imported(path) - found
    assert found <= set(kept_code.sources(PACKAGE))
