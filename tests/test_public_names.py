"""The public list of o2sim: twenty names, each importable and documented."""

import inspect
import re
import subprocess
import sys
from importlib import import_module

import pytest

import o2sim

PUBLIC = {
    "O2simError",
    "Scenario",
    "Study",
    "compare",
    "cylinder_lasts",
    "drivers",
    "equipment",
    "fit",
    "hindcast",
    "load",
    "loads",
    "read_records",
    "run_study",
    "size",
    "study",
    "summarise",
    "today",
    "trace",
    "whatif",
    "write_report",
}


def test_public_names_are_the_written_list():
    """The list in the package, the list in this test and what `dir` shows are one."""
    assert set(o2sim.__all__) == PUBLIC
    assert set(dir(o2sim)) == {*PUBLIC, "__version__"}


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_public_name_is_documented(name):
    """Every public name has a docstring of its own."""
    assert inspect.getdoc(getattr(o2sim, name))


def test_unknown_name_is_told_with_the_list():
    """Asking for another name says which there are."""
    with pytest.raises(AttributeError, match="read_records, run_study, size, study, summarise, today"):
        o2sim.forecast  # noqa: B018


def test_importing_the_package_loads_nothing_heavy():
    """The names are lazy: importing o2sim brings in neither NumPy nor Matplotlib."""
    code = "import sys, o2sim; print([m for m in ('numpy', 'scipy', 'matplotlib', 'pandas') if m in sys.modules])"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert loaded.strip() == "[]"


@pytest.mark.parametrize("name", sorted(PUBLIC - {"O2simError", "Scenario", "Study"}))
def test_a_public_function_says_what_it_raises(name):
    """Whoever uses it without the command line knows which errors to expect."""
    assert re.search(r"\b[Rr]aises\b", inspect.getdoc(getattr(o2sim, name)))


def test_a_result_says_what_its_frames_hold():
    """to_frame tells its columns, and that a chance is a share or which unit a figure has."""
    for place, name in (
        ("runs.study", "Study"),
        ("questions.choose.comparison", "Comparison"),
        ("questions.size.sizing", "Sizing"),
        ("questions.whatif.whatif", "WhatIf"),
        ("questions.equipment.to_buy", "ToBuy"),
        ("questions.facilities.many_facilities", "FacilityStudy"),
        ("questions.trace.tracing", "Trace"),
        ("questions.fit.fitting", "Fit"),
        ("questions.hindcast.hindcast", "Hindcast"),
        ("questions.today.today", "Today"),
    ):
        result = getattr(import_module(f"o2sim.{place}"), name)
        assert re.search(r"\b[Cc]olumns?\b|\brow\b", inspect.getdoc(result.to_frame))
        assert "_repr_html_" in dir(result)
