"""`--precision` and `--convergence` of run and compare: how many replications are enough."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.options import Place, Quantity, force_option
from o2sim.errors import O2simError

if TYPE_CHECKING:
    from o2sim.runs.precision import Plan
    from o2sim.runs.study import Study


class Closeness(Quantity):
    """A command-line precision such as `1 %`, read as a share."""

    def __init__(self) -> None:
        """Take shares."""
        super().__init__("share")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the share, or fail as a usage error."""
        from o2sim.runs.precision import check_precision

        wanted = super().convert(value, param, ctx)
        try:
            check_precision(wanted, 1)
        except O2simError:
            self.fail(
                f"found {value!r}; allowed: from 0.01 % to below 50 %, such as 1 % for ±1 in 100", param, ctx
            )
        return wanted


def precision_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options to a command."""
    for option in (
        force_option,
        click.option(
            "--convergence", type=Place(), help="Also draw how the chance settled: FILE.png or FILE.svg."
        ),
        click.option(
            "--precision",
            type=Closeness(),
            help='How close the chance of a stock-out is to be known, such as "1 %" for ±1 in 100; a pilot then '
            "fixes the number of replications.",
        ),
    ):
        command = option(command)
    return command


def refuse(convergence: Path | None, force: bool) -> None:
    """Refuse, before any work, a drawing that could not be written after it."""
    from o2sim.looks.files import require_free

    if convergence is None:
        return
    if convergence.suffix not in (".png", ".svg"):
        raise click.UsageError(f"--convergence {convergence}: write a name that ends in .png or .svg")
    if not convergence.parent.is_dir():
        raise click.UsageError(
            f"--convergence {convergence}: there is no folder {convergence.parent}; make it first"
        )
    require_free(convergence, force)


def tell_plan(plan: Plan) -> None:
    """Say on stderr how many replications the pilot fixed, before they are run."""
    from o2sim.looks.precision_text import fixed

    click.echo(fixed(plan), err=True)


def draw_convergence(path: Path, study: Study) -> None:
    """Write the drawing."""
    from o2sim.looks.convergence_chart import convergence_chart
    from o2sim.looks.drawing import save

    save(convergence_chart(study), path)
    click.echo(f"written to {path}", err=True)
