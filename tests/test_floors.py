"""The floors of the package: imports go down only, and each heavy library lives in one place."""

import pytest
from house import FACE, TODAY, faults, package


def test_every_import_goes_down():
    """The package as it is has no fault, imports within functions and names in strings included."""
    modules = package()
    assert len(modules) > 20
    assert faults(TODAY, modules) == []


def test_a_new_file_must_be_given_a_floor():
    """A file or folder at the top of the package that is in no table is a fault."""
    assert faults(TODAY, {"o2sim.attic.box": ""}) == ["o2sim.attic.box: stands on no floor"]


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("o2sim.model.rules", "from o2sim.runs.study import run_study"),
        ("o2sim.scenario.types.laws", "def f():\n    import o2sim.outcome"),
        ("o2sim.draws.laws", "from o2sim import looks"),
        ("o2sim.desk.app", "import o2sim.cli"),
        ("o2sim.looks.words", "from ..cli import main"),
        ("o2sim.money.cost", "from simpy import Environment"),
        ("o2sim.money.cost", "import matplotlib.pyplot as plt"),
        ("o2sim.model.reference_two", "import simpy"),
        ("o2sim.looks.screen", "import click"),
        ("o2sim.records.reading", "def f():\n    import openpyxl"),
        ("o2sim.quantities.gas", "from o2sim.errors import *"),
        ("o2sim.model.bank", "from o2sim import summarise"),
        ("o2sim.model.bank", "import o2sim\no2sim.summarise()"),
        ("o2sim.errors", "import o2sim.quantities.units"),  # units imports errors: a circle
        ("o2sim.shown", "import_module('o2sim.looks.notebook')"),
        ("o2sim.runs.executors", "LOADED = ('o2sim.cli.main',)"),
        ("o2sim.runs.chunks", "def f():\n    import_module('o2sim.runs.study')"),  # a circle of files
    ],
)
def test_a_planted_fault_is_seen(module, source):
    """An import that goes up, to the side, round in a circle or to a library's wrong place is found."""
    modules = package()
    planted = faults(TODAY, {**modules, module: source + "\n" + modules.get(module, "")})
    assert any(module in fault for fault in planted)


@pytest.mark.parametrize(
    ("module", "source", "fault"),
    [
        ("o2sim.questions.drivers.drivers", "import o2sim.questions.whatif.whatif", ""),
        ("o2sim.questions.whatif.text", "def f():\n    import o2sim.questions.drivers.drivers", "not below"),
        ("o2sim.questions.size.text", "import o2sim.questions.check.text", "not below"),
        ("o2sim.questions.size.chart", "import matplotlib", ""),
        ("o2sim.questions.size.text", "import matplotlib", "belongs in"),
        ("o2sim.questions.size.command", "import click", ""),
        ("o2sim.questions.size.size", "import click", "belongs in"),
        ("o2sim.looks.blocks", "NAMES = 'o2sim.questions.size.text'", "not below"),
        ("o2sim.scenario.text.nodes", "import o2sim.scenario.types.laws", "not below"),
        ("o2sim.scenario.checks.checks", "import o2sim.scenario.types.laws", ""),
        ("o2sim.runs.study", f"import {FACE}", "not below"),
        ("o2sim.runs.study", "from o2sim import __version__", "public names"),
    ],
)
def test_the_floors_know_each_room(module, source, fault):
    """A question has its room, few doors lead from one to another, and nobody imports the face."""
    names = ("whatif.whatif", "whatif.text", "drivers.drivers", "check.text", "size.text")
    modules = {**{f"o2sim.questions.{name}": "" for name in names}, "o2sim.scenario.types.laws": "", FACE: ""}
    found = faults(TODAY, {**modules, module: source})
    assert [fault in line for line in found] == ([True] if fault else [])
