"""What the commands share: exit codes, options, arguments, loading and printing."""

from __future__ import annotations

import json
import shlex
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.settings import setting

if TYPE_CHECKING:
    from o2sim.scenario.types.hospital import Scenario

OK, FAILED, MISUSED, STOPPED = 0, 1, 2, 130
FORCE = "Overwrite a file that is there already."
JSON = "Print one JSON object and nothing else."

force_option = click.option("--force", is_flag=True, help=FORCE)
json_option = click.option("--json", "as_json", is_flag=True, help=JSON)
file_argument = click.argument("file", type=click.Path(path_type=Path))


def json_setting() -> Any:
    """Return --json."""
    return setting(False, JSON, flag="--json")


def force_setting() -> Any:
    """Return --force."""
    return setting(False, FORCE)


def file_setting(help_: str, flag: str = "", *, multiple: bool = False) -> Any:
    """Return an option for a place to write to."""
    return setting(() if multiple else None, help_, flag=flag, multiple=multiple, reads="place")


def measure_setting(shows: str) -> Any:
    """Return which measure is drawn; shows: `chart shows` or `charts show`."""
    words = f"What the {shows}: the chance of a supply shortfall, hours unserved for lack of supply, cost a year."
    return setting("chance", words, choices=("chance", "hours", "cost"))


def refuse_unpriced(scenario: Scenario, measure: str, *, drawn: bool) -> None:
    """Refuse a drawing of cost where the scenario states no prices."""
    if measure == "cost" and drawn and not any(each.costs for each in scenario.hospitals.values()):
        raise click.UsageError("--measure cost: the scenario states no prices")


def same_command(without: Collection[str]) -> str:
    """Return the command that runs, ready for a shell, but for the options of these names."""
    ctx = click.get_current_context()
    words = ["o2sim", ctx.command.name or ""]
    for param in ctx.command.params:
        value = ctx.params[param.name or ""]
        given = ctx.get_parameter_source(param.name or "") is click.core.ParameterSource.COMMANDLINE
        if not given or param.name in without:
            continue
        for each in value if param.multiple else [value]:
            if isinstance(param, click.Argument):
                words.append(str(each))
            else:
                words += [max(param.opts, key=len), *([] if getattr(param, "is_flag", False) else [str(each)])]
    return shlex.join(words)


def load(file: Path, *, uncertain_too: bool = False) -> Scenario:
    """Return the scenario; its doubtful points go to stderr, and that likely values stand for uncertain ones.

    uncertain_too: the command looks at all of their values, so there is nothing to say.
    """
    from o2sim import scenario

    loaded = scenario.load(file)
    for problem in scenario.warnings(loaded):
        click.echo(f"Warning: {problem}", err=True)
    if loaded.uncertain and not uncertain_too:
        from o2sim.looks.doubt import likely_note

        click.echo(likely_note(loaded), err=True)
    return loaded


def print_json(value: Any) -> None:
    """Print one JSON object."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False, default=str))
