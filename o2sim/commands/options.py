"""What the commands share: exit codes, options, arguments, loading and printing."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Collection
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.errors import QuantityError

if TYPE_CHECKING:
    from o2sim.quantities.units import Kind
    from o2sim.scenario.types.hospital import Scenario

    FloatParam = click.ParamType[float]
else:
    FloatParam = click.ParamType  # cannot be subscripted before click 8.2

NO_COMPILER = (
    "Note: numba, which compiles the fast engine, is not installed; the reference engine gives the same results, "
    "more slowly. To have it: pip install numba"
)
OK, FAILED, MISUSED, STOPPED = 0, 1, 2, 130
ENGINES = ("kernel", "reference")

seed_option = click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=1, show_default=True, help="Fixes all chance."
)


def _at_hand(_ctx: click.Context, _param: click.Parameter, engine: str) -> str:
    """Return the engine, the reference in place of the compiled one where nothing can compile it; say so."""
    if engine != "kernel" or find_spec("numba") is not None:
        return engine
    click.echo(NO_COMPILER, err=True)
    return "reference"


engine_option = click.option(
    "--engine",
    type=click.Choice(ENGINES),
    default=ENGINES[0],
    show_default=True,
    callback=_at_hand,
    help="The compiled engine, or the readable one it is checked against: the same results, more slowly.",
)
workers_option = click.option(
    "--workers",
    type=click.IntRange(1),
    help="How many processes share the work; changes no result. Default: one for each core, where it is worth it.",
)
cluster_option = click.option(
    "--cluster", metavar="ADDRESS", help="Let the workers of a dask.distributed cluster do it: tcp://host:8786."
)
file_argument = click.argument("file", type=click.Path(path_type=Path))
force_option = click.option("--force", is_flag=True, help="Overwrite a file that is there already.")


class Place(click.Path):
    """Where to write: a path that is not empty, since an empty one would silently be the folder one is in."""

    def __init__(self) -> None:
        """Give paths as pathlib's."""
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path, or fail as a usage error."""
        if not str(value).strip():
            self.fail("the name is empty; write . for the folder you are in, or another name", param, ctx)
        return super().convert(value, param, ctx)


store_option = click.option(
    "--store",
    type=Place(),
    help="Keep what is finished in this file, and do not run again what is in it.",
)


class Quantity(FloatParam):
    """A command-line value such as `12 MPa`, read into the internal unit of its kind."""

    def __init__(self, kind: Kind) -> None:
        """Take the kind of quantity, as in units.read."""
        self.kind, self.name = kind, kind

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number in the internal unit, or fail as a usage error."""
        from o2sim.quantities.units import read

        if isinstance(value, float):
            return value
        try:
            return read(value, self.kind)
        except QuantityError as error:
            return self.fail(str(error), param, ctx)


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
        from o2sim.looks.uncertain import likely_note

        click.echo(likely_note(loaded), err=True)
    return loaded


def print_json(value: Any) -> None:
    """Print one JSON object."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False, default=str))


def finite(_ctx: click.Context, _param: click.Parameter, amount: float | None) -> float | None:
    """Refuse what is read as a number and is none."""
    if amount is not None and not math.isfinite(amount):
        raise click.BadParameter(f"found {amount}; allowed: an amount of money a year, such as 20000")
    return amount
