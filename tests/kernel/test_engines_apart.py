"""The engines share rules and constants, no code of their own; steps have the same names and places in both."""

import ast
from pathlib import Path

MODEL = Path(__file__).parents[2] / "o2sim" / "model"
# The reference hands functions to staff and porters; the kernel knows their jobs by number, all in one file.
BY_NUMBER = dict.fromkeys(("answer_calls", "task_ends", "fetched"), "allocation")
REFERENCE = ("o2sim.model.steps", "o2sim.model.reference", "o2sim.model.state")


def imported(path: Path) -> set[str]:
    """Return the modules that a source file imports from."""
    tree = ast.parse(path.read_text())
    return {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)} | {
        alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names
    }


def functions(engine: str) -> dict[str, list[str]]:
    """Return the functions of each file of an engine's folder, in their order."""
    return {
        path.stem: [node.name for node in ast.parse(path.read_text()).body if isinstance(node, ast.FunctionDef)]
        for path in (MODEL / engine).glob("*.py")
    }


def test_every_file_of_steps_has_one_of_the_kernel() -> None:
    """Whoever changes a rule finds it in both engines under one name; the kernel has files of its own besides."""
    steps, kernel = functions("steps"), functions("kernel")
    assert len(steps) > 20
    assert set(steps) - set(kernel) == set()


def test_a_step_stands_in_the_file_of_the_same_name() -> None:
    """A function that both engines have under one name is in the same file of each."""
    place = {name: file for file, names in functions("kernel").items() for name in names if name[0] != "_"}
    both = {name: file for file, names in functions("steps").items() for name in names if name in place}
    assert len(both) > 150
    assert {name: place[name] for name, file in both.items() if place[name] != file} == BY_NUMBER


def test_steps_come_in_the_same_order() -> None:
    """What both files of one name have stands in the same order in both, private or not."""
    kernel = {file: [name.lstrip("_") for name in names] for file, names in functions("kernel").items()}
    for file, names in functions("steps").items():
        steps = [name.lstrip("_") for name in names]
        there = [name for name in kernel[file] if name in steps]
        assert there == [name for name in steps if name in kernel[file]], file


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
