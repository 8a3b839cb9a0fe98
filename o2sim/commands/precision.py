"""`--precision` and `--convergence` of run and compare: how many replications are enough."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from o2sim.commands import places
from o2sim.commands.options import file_setting, force_setting

if TYPE_CHECKING:
    from o2sim.runs.precision import Plan
    from o2sim.runs.study import Study


@dataclass(frozen=True)
class Convergence:
    """Where to draw how the chance settled."""

    convergence: Path | None = file_setting("Also draw how the chance settled: FILE.png or FILE.svg.")
    force: bool = force_setting()


def refuse(convergence: Path | None, force: bool) -> None:
    """Refuse, before any work, a drawing that could not be written after it."""
    if convergence is not None and not convergence.parent.is_dir():
        raise click.UsageError(
            f"--convergence {convergence}: there is no folder {convergence.parent}; make it first"
        )
    places.refuse("--convergence", convergence, force, places.CHARTS)


def tell_plan(plan: Plan) -> None:
    """Say on stderr how many replications the pilot fixed, before they are run."""
    from o2sim.looks.doubt import fixed

    click.echo(fixed(plan), err=True)


def draw_convergence(path: Path, study: Study) -> None:
    """Write the drawing."""
    from o2sim.looks.convergence_chart import convergence_chart
    from o2sim.looks.drawing import save

    save(convergence_chart(study), path)
