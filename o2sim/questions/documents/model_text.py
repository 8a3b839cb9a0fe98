"""What the model's own code says of itself: order of events, steps, rules, draws, balances, software.

Everything is read from docstrings and tables of the code, so that a rule added to it appears by itself.
"""

from __future__ import annotations

import dataclasses
import importlib
import importlib.metadata
import inspect
import pkgutil
import platform
import re
from collections.abc import Iterator
from types import ModuleType

from o2sim.measures.measures import summarise
from o2sim.measures.table import NAMED, unit_of
from o2sim.model import invariants, steps
from o2sim.model.rules import STEPS, Rank
from o2sim.outcome import Cause
from o2sim.runs.study import run_study
from o2sim.scenario.types.hospital import DAY_S, Scenario
from o2sim.version import __version__

PACKAGES = ("numpy", "scipy", "simpy", "pint")  # whose version could change a figure
_MEMBER = re.compile(r"^\s+([A-Z][A-Z_]*) = \d+\s*(?:#\s*(.*))?$", re.MULTILINE)


def paragraphs(thing: object) -> list[str]:
    """Return the paragraphs of a docstring, each in one line."""
    text = inspect.getdoc(thing) or ""
    return [" ".join(part.split()) for part in text.split("\n\n") if part.strip()]


def order_of_events() -> list[tuple[str, str]]:
    """Return (event, remark) in the order in which events at one instant happen."""
    try:
        remarks = {name: remark or "" for name, remark in _MEMBER.findall(inspect.getsource(Rank))}
    except OSError:  # pragma: no cover - installed without its sources
        remarks = {}
    return [(in_words(rank.name.lower()), remarks.get(rank.name, "")) for rank in sorted(Rank)]


def step_texts(patients_only: bool = False) -> list[tuple[str, str]]:
    """Return (step, what it says), as they stand in the event log."""
    return [(step, said) for step, (said, item, *_) in STEPS.items() if not patients_only or item == "patient"]


def rule_parts() -> list[tuple[str, list[tuple[str, str]]]]:
    """Return for each file of steps its first line and (function, first paragraph), as written."""
    names = sorted(module.name for module in pkgutil.iter_modules(steps.__path__))
    modules = [importlib.import_module(f"{steps.__name__}.{name}") for name in names]
    return [(paragraphs(module)[0], list(functions(module))) for module in modules]


def functions(module: ModuleType) -> Iterator[tuple[str, str]]:
    """Yield (name in words, first paragraph of its docstring) of a module's own functions, as written."""
    found = (item for _, item in inspect.getmembers(module, inspect.isfunction))
    own = (item for item in found if item.__module__ == module.__name__ and paragraphs(item))
    for item in sorted(own, key=lambda item: item.__code__.co_firstlineno):
        yield in_words(item.__name__), paragraphs(item)[0]


def balance_texts() -> list[str]:
    """Return the balances that every replication must keep."""
    return [said for name, said in functions(invariants) if name.startswith("check")]


def causes() -> list[tuple[str, str]]:
    """Return (cause, supply or handling)."""
    return [(cause.label, "supply" if cause.is_supply else "handling") for cause in Cause]


def measures(scenario: Scenario) -> list[tuple[str, str]]:
    """Return (measure, its meaning, unit and parts) that a comparison reports, from one day of one replication."""
    hospitals = {
        name: dataclasses.replace(hospital, horizon_s=min(hospital.horizon_s, DAY_S), warm_up_s=0)
        for name, hospital in scenario.hospitals.items()
    }
    summary = summarise(run_study(dataclasses.replace(scenario, hospitals=hospitals), replications=1))
    found: dict[str, str] = {}
    for strategy in summary["strategies"].values():
        for name, value in strategy.items():
            if value is not None:
                parts = [] if {"low", "high"} <= set(value) else list(value)
                found.setdefault(name, f": {', '.join(parts)}" if parts else "")
    return [(in_words(name), _meaning(name, summary["currency"]) + parts) for name, parts in found.items()]


def _meaning(name: str, currency: str | None) -> str:
    """Return what a measure means, with its unit in brackets where it has one."""
    unit = unit_of(name, currency)
    return f"{NAMED[name].meaning} ({unit})" if unit else NAMED[name].meaning


def software(engine: str) -> list[tuple[str, str]]:
    """Return (name, version) of what a run depends on."""
    python, system = ("Python", platform.python_version()), ("platform", platform.platform(terse=True))
    packages = [(name, importlib.metadata.version(name)) for name in PACKAGES]
    return [("o2sim", __version__), ("engine", engine), python, *packages, system]


def in_words(name: str) -> str:
    """Return a name of the code in words: `_cylinder_runs_out` gives "cylinder runs out", its unit left off."""
    return name.strip("_").removesuffix("_s").replace("_", " ")
