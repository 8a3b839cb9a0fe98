"""Click's options made from a record of settings, seen from the command line."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from o2sim.commands.from_settings import options_from
from o2sim.settings import setting


@dataclass(frozen=True)
class Asked:
    """Settings of a made-up question, one of each kind."""

    strategy: str = setting(help_="The strategy.")
    target: str = setting("5 %", "The most that the chance may be.")
    vary: tuple[str, ...] = setting((), "Fields.", multiple=True)
    seed: int = setting(1, "Of all luck.", least=0, most=9)
    budget: float | None = setting(None, "Money a year.", least=0, reads="finite")
    hold_levels: bool = setting(False, "Levels stay.")
    method: str = setting("quick", "How.", choices=("quick", "slow"))
    out: Path | None = setting(None, "Where to write.", reads="place")


@click.command()
@options_from(Asked)
@click.option("--json", "as_json", is_flag=True)
def ask(settings, **options):
    """Ask."""
    click.echo(f"{settings} {options}")


def said(*arguments):
    """Return what the command prints, and its exit code."""
    done = CliRunner().invoke(ask, list(arguments))
    return done.exit_code, done.output


def test_defaults_are_the_records():
    """What is not typed is as the record has it, and other options are left alone."""
    assert said("--strategy", "mixed") == (0, f"{Asked('mixed')} {{'as_json': False}}\n")


def test_every_kind_is_read():
    """Texts, repeated ones, whole numbers, money, flags, words and places."""
    typed = ["--strategy", "a", "--target", "1 %", "--vary", "x", "--vary", "y", "--seed", "3", "--budget", "5",
             "--hold-levels", "--method", "slow", "--out", "here"]  # fmt: skip
    asked = Asked("a", "1 %", ("x", "y"), 3, 5.0, True, "slow", Path("here"))
    assert said(*typed) == (0, f"{asked} {{'as_json': False}}\n")


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        (("--seed", "10"), "0<=x<=9"),
        (("--budget", "nan"), "allowed: an amount of money"),
        (("--budget", "-1"), "x>=0"),
        (("--method", "other"), "'quick', 'slow'"),
        (("--out", ""), "the name is empty"),
    ],
)
def test_what_is_not_allowed_is_a_usage_error(typed, found):
    """Limits and words are those of the record."""
    code, output = said("--strategy", "a", *typed)
    assert (code, found in output) == (2, True)


def test_a_setting_without_default_is_required():
    """The command says which is missing."""
    code, output = said()
    assert (code, "Missing option '--strategy'" in output) == (2, True)


def test_help_states_the_defaults():
    """A default that says something is shown."""
    _, output = said("--help")
    assert ["[default: 5 %]" in output, "[default: None]" in output] == [True, False]
