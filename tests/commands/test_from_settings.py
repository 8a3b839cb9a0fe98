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


@dataclass(frozen=True)
class Shared:
    """Settings whose default is written otherwise, or is another, on the command line."""

    fields: str | tuple[str, ...] = setting("fleet", "What varies.", flag="--vary", multiple=True)
    strategies: tuple[str, ...] | None = setting(None, "Which.", flag="--strategy", multiple=True)
    target: float | str = setting(0.05, "The chance.", typed="5 %")
    workers: int | None = setting(1, "Processes.", typed=None, least=1)
    causes: list[str] | None = setting(None, "Which count.", reads="list")
    residual: float = setting(0.0, "Change here.", typed="800 kPa", reads="pressure")
    size: str | None = setting(None, "A size.", choices=("D", "E"), reads="any case")


@dataclass(frozen=True)
class Outputs:
    """What is given to the command alone."""

    as_json: bool = setting(False, "As JSON.", flag="--json")


@click.command()
@options_from(Shared, "asked", after={"target": click.option("--range", "span", help="Values.")})
@options_from(Outputs, "outputs")
def share(asked, outputs, span):
    """Ask more."""
    click.echo(f"{asked} {outputs} {span}")


def shared(*arguments):
    """Return what the second command prints."""
    return CliRunner().invoke(share, list(arguments)).output


def test_a_command_may_have_a_default_of_its_own():
    """The function takes 0.05 and one process; the command says 5 % and leaves the processes to the machine."""
    asked = Shared(("fleet",), None, "5 %", None, None, 800.0, None)
    assert (shared(), Shared().workers) == (f"{asked} {Outputs()} None\n", 1)


def test_two_records_and_an_option_between():
    """Each record is handed over under its own name."""
    typed = ["--vary", "a", "--strategy", "b", "--causes", "c,d", "--range", "1..2", "--json", "--size", "e"]
    asked = Shared(("a",), ("b",), "5 %", None, ["c", "d"], 800.0, "E")
    assert shared(*typed) == f"{asked} {Outputs(True)} 1..2\n"


def test_help_has_the_order_of_the_record():
    """An option of the command alone stands after the setting that it goes with."""
    flags = [line.split()[0] for line in shared("--help").splitlines() if line.startswith("  --")]
    assert flags[:5] == ["--vary", "--strategy", "--target", "--range", "--workers"]
    assert "[default: fleet]" in shared("--help")
