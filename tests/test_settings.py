"""One record of settings makes a function's keywords."""

from __future__ import annotations

import inspect
from dataclasses import dataclass

import pytest

from o2sim.settings import setting, settings_of, takes


@dataclass(frozen=True)
class Asked:
    """Settings of a made-up question."""

    target: str = setting("5 %", "The most that the chance may be.")
    seed: int = setting(1, "Of all luck.", least=0)


@takes(Asked)
def ask(source: str, *, settings: Asked, workers: int = 1) -> tuple[str, str, int, int]:
    """Return what was asked."""
    return source, settings.target, settings.seed, workers


def test_fields_are_keywords():
    """What is not given has the record's default."""
    assert ask("ward", seed=4, workers=2) == ("ward", "5 %", 4, 2)


def test_a_whole_record_may_be_given():
    """A command hands on the record that it read."""
    assert ask("ward", settings=Asked("1 %", 9)) == ("ward", "1 %", 9, 1)


def test_a_keyword_beside_a_record_counts():
    """What is said last is not lost."""
    assert ask("ward", settings=Asked("1 %", 9), seed=4) == ("ward", "1 %", 4, 1)


def test_the_signature_shows_the_fields():
    """help() and editors see keywords with their defaults."""
    found = [(each.name, each.default) for each in inspect.signature(ask).parameters.values()]
    assert found == [("source", inspect.Parameter.empty), ("target", "5 %"), ("seed", 1), ("workers", 1)]


def test_an_unknown_keyword_is_refused():
    """As for any function of Python."""
    with pytest.raises(TypeError, match="colour"):
        ask("ward", colour=3)


def test_settings_are_listed_in_order():
    """What a command line is made of."""
    assert [(name, default, said.least) for name, _, default, said in settings_of(Asked)] == [
        ("target", "5 %", None),
        ("seed", 1, 0),
    ]
