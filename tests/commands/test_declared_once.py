"""What a command and the function behind it both take is declared once, in the question's record of settings."""

from __future__ import annotations

import inspect
from dataclasses import fields

import pytest

import o2sim
from o2sim.cli import main
from o2sim.questions.choose.settings import CompareSettings
from o2sim.questions.drivers.settings import DriversSettings
from o2sim.questions.facilities.settings import FacilitySettings
from o2sim.questions.size.settings import SizeSettings
from o2sim.questions.trace.settings import TraceSettings
from o2sim.questions.whatif.settings import WhatIfSettings
from o2sim.runs.settings import BatchSettings, Strategies

ELSEWHERE = {"draws", "store", "workers"}  # run_study is given them by records of the commands alone


@pytest.mark.parametrize(
    ("command", "function", "record"),
    [
        ("compare", o2sim.compare, CompareSettings),
        ("run", o2sim.run_study, BatchSettings),
        ("size", o2sim.size, SizeSettings),
        ("whatif", o2sim.whatif, WhatIfSettings),
        ("drivers", o2sim.drivers, DriversSettings),
        ("equipment", o2sim.equipment, Strategies),
        ("study", o2sim.study, FacilitySettings),
        ("trace", o2sim.trace, TraceSettings),
    ],
)
def test_what_both_take_stands_in_the_record(command, function, record):
    """Keywords that are options too are those of the record, with its defaults, and the record has no others."""
    keywords = {
        each.name: each.default
        for each in inspect.signature(function).parameters.values()
        if each.kind is each.KEYWORD_ONLY
    }
    options = {each.name for each in main.commands[command].params} - (ELSEWHERE if command == "run" else set())
    assert {name: keywords[name] for name in options & set(keywords)} == {
        each.name: each.default for each in fields(record)
    }
