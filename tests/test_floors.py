"""The floors of the package: imports go down only, and each heavy library lives in one place."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "o2sim"
FLOORS = {
    **dict.fromkeys(
        (
            "",
            "errors",
            "units",
            "unit_factors",
            "gas",
            "jit",
            "link_once",
            "settings",
            "shown",
            "tabular",
            "typed",
        ),
        0,
    ),
    **{
        "scenario": 1,
        "draws": 2,
        "outcome": 3,
        "model": 4,
        "analysis": 5,
        "report": 6,
        "cli": 7,
        "web": 7,
        "__main__": 8,
    },
}
HOMES = {
    "simpy": ("o2sim.model.reference",),
    "numba": ("o2sim.jit", "o2sim.link_once"),
    "llvmlite": ("o2sim.jit",),
    "matplotlib": ("o2sim.report",),
    "click": ("o2sim.cli",),
}
Sources = dict[str, str]  # module name: source


def _package() -> Sources:
    paths = {path.relative_to(PACKAGE.parent).with_suffix(""): path for path in PACKAGE.rglob("*.py")}
    return {".".join(name.parts).removesuffix(".__init__"): path.read_text() for name, path in paths.items()}


def _imports(source: str, modules: Sources) -> Iterator[str]:
    """Every import of a source, wherever it stands; of `from a import b` the module a.b where there is one.

    The package itself gives only its version to those inside: its public names come back as "public names".
    """
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = node.module if node.level == 0 and node.module else "a relative import"
            for alias in node.names:
                whole = f"{above}.{alias.name}"
                if above == "o2sim" and whole not in modules and alias.name != "__version__":
                    yield "public names"
                else:
                    yield whole if whole in modules else above
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "o2sim":
            yield "o2sim" if node.attr == "__version__" or f"o2sim.{node.attr}" in modules else "public names"


def _place(module: str) -> str:
    return (module + "..").split(".")[1]


def faults(modules: Sources) -> list[str]:
    """Sources in, every import that goes up, sideways, or to a library that lives elsewhere, and star imports."""
    inside = {
        name: source for name, source in modules.items() if name != "o2sim"
    }  # which shows names of all floors
    found = [f"{name}: import *" for name, source in modules.items() if "import *" in source]
    for name, source in inside.items():
        for target in set(_imports(source, modules)):
            top, here, there = target.split(".")[0], _place(name), _place(target)
            if top in HOMES and not any(f"{name}.".startswith(f"{home}.") for home in HOMES[top]):
                found.append(f"{name}: {top} belongs in {' or '.join(HOMES[top])}")
            elif target in ("a relative import", "public names"):
                found.append(f"{name}: {target}")
            elif top == "o2sim" and here != there and FLOORS[there] >= max(FLOORS[here], 1):
                found.append(f"{name}: imports {target}, which is not below it")
    return found + [f"{' -> '.join(cycle)}: a cycle" for cycle in _cycles(inside)]


def _cycles(modules: Sources) -> list[list[str]]:
    """One path round for each import cycle met, function-level imports included."""
    graph = {name: sorted(set(_imports(source, modules)) & modules.keys()) for name, source in modules.items()}
    done: set[str] = set()
    cycles: list[list[str]] = []

    def visit(name: str, path: list[str]) -> None:
        if name in path:
            cycles.append([*path[path.index(name) :], name])
        elif name not in done:
            for target in graph[name]:
                visit(target, [*path, name])
            done.add(name)

    for name in graph:
        visit(name, [])
    return cycles


def test_every_import_goes_down() -> None:
    """The package as it is has no fault."""
    modules = _package()
    assert len(modules) > 20
    assert faults(modules) == []


def test_every_place_has_a_floor() -> None:
    """A new file or folder at the top of the package must be given a floor here."""
    assert {_place(name) for name in _package()} <= FLOORS.keys()


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("o2sim.model.rules", "from o2sim.analysis.study import run_study"),
        ("o2sim.scenario.types", "def f():\n    import o2sim.outcome"),
        ("o2sim.draws.laws", "from o2sim import report"),
        ("o2sim.web.app", "import o2sim.cli"),
        ("o2sim.report.tables", "from ..cli import main"),
        ("o2sim.analysis.cost", "from simpy import Environment"),
        ("o2sim.analysis.cost", "import matplotlib.pyplot as plt"),
        ("o2sim.model.reference_two", "import simpy"),
        ("o2sim.report.screen", "import click"),
        ("o2sim.gas", "from o2sim.errors import *"),
        ("o2sim.model.bank", "from o2sim import summarise"),
        ("o2sim.model.bank", "import o2sim\no2sim.summarise()"),
        ("o2sim.errors", "import o2sim.units"),  # units imports errors: a cycle
    ],
)
def test_a_planted_fault_is_seen(module: str, source: str) -> None:
    """An import that goes up, to the side, round in a circle or to a library's wrong place is found."""
    modules = {"o2sim.report": "", **_package()}
    planted = faults({**modules, module: source + "\n" + modules.get(module, "")})
    assert any(module in fault for fault in planted)
