"""The two engines share rules and constants, never code of their own."""

import ast
from pathlib import Path

MODEL = Path(__file__).parents[2] / "o2sim" / "model"
REFERENCE = ("o2sim.model.steps", "o2sim.model.reference", "o2sim.model.state")


def imported(path: Path) -> set[str]:
    """A source file in, the modules it imports from out."""
    tree = ast.parse(path.read_text())
    return {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)} | {
        alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names
    }


def test_the_kernel_imports_nothing_of_the_reference() -> None:
    """A rule copied by import would be wrong in both engines at once."""
    files = sorted((MODEL / "kernel").glob("*.py"))
    assert len(files) > 20
    wrong = [(path.name, name) for path in files for name in imported(path) if name.startswith(REFERENCE)]
    assert wrong == []


def test_the_reference_imports_nothing_of_the_kernel() -> None:
    """Only run.py knows both."""
    files = [path for path in MODEL.glob("*.py") if path.name != "run.py"] + list((MODEL / "steps").glob("*.py"))
    assert len(files) > 40
    wrong = [(path.name, name) for path in files for name in imported(path) if "model.kernel" in name]
    assert wrong == []
