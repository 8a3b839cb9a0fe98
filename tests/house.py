"""The floors of the package as a table, and what in its sources goes against them."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "o2sim"
FACE = "o2sim"  # shows names of all floors, and is imported by nobody inside
Sources = Mapping[str, str]  # module name: source


@dataclass(frozen=True)
class House:
    """Which places there are, from the bottom up; a place is a file, or a folder with all that is in it.

    What stands in a place may import from its own and those below. Places of one floor do not know each other,
    but for the doors: from one place to another.
    """

    floors: tuple[tuple[str, ...], ...]
    homes: Mapping[str, tuple[str, ...]]  # a library that lives in one place: modules, as patterns
    doors: frozenset[tuple[str, str]] = frozenset()
    face_gives: tuple[str, ...] = ()  # names that those inside may take from the package itself
    _level: dict[str, int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        """Number the floors."""
        self._level.update({place: level for level, floor in enumerate(self.floors) for place in floor})

    def place(self, module: str) -> str | None:
        """Return the place that a module stands in, the innermost; None for one that has none."""
        name = module.removeprefix("o2sim").removeprefix(".")
        while name and name not in self._level:
            name = name.rpartition(".")[0]
        return name if name in self._level and (name or module == FACE) else None

    def may_take(self, here: str, there: str) -> bool:
        """Return True where a place may import from another."""
        return here == there or self._level[there] < self._level[here] or (here, there) in self.doors


# One room for each question.
TODAY = House(
    floors=(
        ("errors", "version", "wiring"),
        ("settings", "tabular", "typed", "shown"),
        ("compiler",),
        ("quantities",),
        ("scenario.text",),
        ("scenario.keys.field", "scenario.keys.sources"),
        ("scenario.keys.record",),
        ("scenario.types",),
        ("scenario.keys",),
        ("scenario.building",),
        ("scenario.checks",),
        ("scenario.changing",),
        ("scenario",),
        ("records",),
        ("draws",),
        ("outcome",),
        ("model",),
        ("statistics",),
        ("fits",),
        ("money",),
        ("runs",),
        ("measures",),
        ("planning",),
        ("looks",),
        ("commands", "questions"),
        tuple(
            f"questions.{room}"
            for room in (
                "bedside", "check", "choose", "compare", "demo", "documents", "drivers", "equipment", "facilities",
                "fit", "hindcast", "records", "report", "size", "store", "today", "trace", "whatif",
            )
        ),
        ("questions.compare.command",),  # which also shows which to buy
        ("desk",),
        ("cli",),
        ("__main__", ""),
    ),
    homes={
        "simpy": ("o2sim.model.reference",),
        "numba": ("o2sim.compiler.*",),
        "llvmlite": ("o2sim.compiler.*",),
        "matplotlib": ("o2sim.looks.*", "o2sim.questions.*chart*"),
        "jinja2": ("o2sim.looks.html",),
        "markupsafe": ("o2sim.looks.*", "o2sim.desk.*"),
        "openpyxl": ("o2sim.records.xlsx", "o2sim.records.template"),
        "defusedxml": ("o2sim.records.xlsx",),
        "click": ("o2sim.cli", "o2sim.commands.*", "o2sim.questions.*.command", "o2sim.desk.command"),
        "starlette": ("o2sim.desk.*",),
        "uvicorn": ("o2sim.desk.server",),
    },
    doors=frozenset({("money", "planning")})  # how many patients at once; planning needs only draws and model
    | frozenset(
        (f"questions.{here}", f"questions.{there}")
        for here, others in {
            "bedside": ("check",),
            "choose": ("compare", "equipment"),
            "documents": (
                "check", "choose", "drivers", "equipment", "facilities", "fit", "hindcast", "records", "size",
                "today", "whatif",
            ),
            "drivers": ("compare", "whatif"),
            "report": ("check", "choose", "compare"),
            "size": ("bedside", "compare"),
            "whatif": ("compare",),
        }.items()
        for there in others
    ),
)  # fmt: skip


def package() -> Sources:
    """Return the sources of the package by module name."""
    paths = {path.relative_to(PACKAGE.parent).with_suffix(""): path for path in PACKAGE.rglob("*.py")}
    return {".".join(name.parts).removesuffix(".__init__"): path.read_text() for name, path in paths.items()}


def faults(house: House, modules: Sources) -> list[str]:
    """Return what goes up, sideways, in a circle, to a library that lives elsewhere, and star imports."""
    arrows = {name: set(_imports(source, modules, house.face_gives)) for name, source in modules.items()}
    found = [f"{name}: import *" for name, source in modules.items() if "import *" in source]
    found += [f"{name}: stands on no floor" for name in modules if house.place(name) is None]
    for name, targets in arrows.items():
        for target in sorted(targets):
            found += _fault(house, name, target)
    return found + [f"{' -> '.join(circle)}: a circle" for circle in circles(arrows)]


def _fault(house: House, name: str, target: str) -> list[str]:
    homes = house.homes.get(target.split(".")[0])
    here, there = house.place(name), house.place(target)
    if homes and not any(fnmatch(name, home) for home in homes):
        return [f"{name}: {target} belongs in {' or '.join(homes)}"]
    if target in ("a relative import", "public names"):
        return [f"{name}: {target}"]
    if target.split(".")[0] == "o2sim" and None not in (here, there) and not house.may_take(here, there):
        return [f"{name}: imports {target}, which is not below it"]
    return []


def _imports(source: str, modules: Sources, face_gives: tuple[str, ...]) -> Iterator[str]:
    """Yield every module that a source imports, wherever it stands there, or names in a string.

    Of `from a import b` the module a.b where there is one. What is taken from the face is "public names", unless
    the face gives it. An import for the type checker alone counts as any other.
    """
    for node in _nodes(source):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name != FACE or not face_gives)
        elif isinstance(node, ast.ImportFrom):
            above = node.module if node.level == 0 and node.module else "a relative import"
            for alias in node.names:
                whole = f"{above}.{alias.name}"
                if above != FACE or whole in modules:
                    yield whole if whole in modules else above
                elif alias.name not in face_gives:
                    yield "public names"
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == FACE:
            if node.attr not in face_gives:
                yield f"{FACE}.{node.attr}" if f"{FACE}.{node.attr}" in modules else "public names"
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield from _named(node.value, modules)


@cache
def _nodes(source: str) -> tuple[ast.AST, ...]:
    """Return the parts of a source that can name a module; read once, as each planted fault changes one file."""
    kinds = (ast.Import, ast.ImportFrom, ast.Attribute, ast.Constant)
    return tuple(node for node in ast.walk(ast.parse(source)) if isinstance(node, kinds))


def _named(text: str, modules: Sources) -> Iterator[str]:
    """Yield the module of the package that a string names, alone or with a name in it."""
    name = text if text.startswith(f"{FACE}.") else ""
    while name.count("."):
        if name in modules:
            yield name
            return
        name = name.rpartition(".")[0]


def circles(arrows: Mapping[str, set[str]]) -> list[list[str]]:
    """Return one way round for each circle of files that is met."""
    done: set[str] = set()
    found: list[list[str]] = []

    def visit(name: str, path: list[str]) -> None:
        if name in path:
            found.append([*path[path.index(name) :], name])
        elif name not in done:
            for target in sorted(arrows[name] & arrows.keys() - {name}):
                visit(target, [*path, name])
            done.add(name)

    for name in arrows:
        visit(name, [])
    return found
