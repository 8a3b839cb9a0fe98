"""`o2sim compare --options`, `--budget`, `--capital`, `--target`: which to buy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from o2sim.commands.options import STOPPED
from o2sim.questions.choose.settings import ChooseSettings

if TYPE_CHECKING:
    from o2sim.questions.choose.result import Decision, Limits
    from o2sim.runs.executors import Crew
    from o2sim.runs.study import Study
    from o2sim.scenario.types.hospital import Scenario


def is_asked(asked: ChooseSettings) -> bool:
    """Return True where options or any limit were asked for, a limit of nothing too."""
    return any(getattr(asked, each.name) is not each.default for each in fields(ChooseSettings))


def to_choose(scenario: Scenario, asked: ChooseSettings) -> tuple[Scenario, Limits]:
    """Return the scenario whose strategies are to be chosen from, and the limits asked for.

    Raises a usage error where the currency of a limit is not that of the prices.
    """
    from o2sim.questions.choose.options import currency_of, options_scenario
    from o2sim.questions.choose.result import Limits

    chosen = options_scenario(scenario) if asked.options else scenario
    known, target, limits = currency_of(chosen.hospitals.values()), asked.target, dict[str, float]()
    for name in ("budget", "capital"):
        amount, currency = getattr(asked, name) or (None, "")
        if amount is not None:
            limits[name] = amount
            if not known:
                raise click.UsageError(f"--{name} needs prices: add a section costs to the scenario")
            if currency not in ("", known):
                raise click.UsageError(
                    f"--{name} is in {currency}, the prices of the scenario in {known}: convert it"
                )
    if isinstance(target, float) and not 0 < target < 1:
        raise click.UsageError("--target: a chance lies between 0 % and 100 %")
    return chosen, Limits(**limits, target=None if target is None else float(target))


def again(asked: ChooseSettings) -> str:
    """Return the options of choosing as they would be written in a command line to ask the same."""
    flags = ["--options"] if asked.options else []
    for name, per in (("budget", "/year"), ("capital", "")):
        if getattr(asked, name) is not None:
            amount, currency = getattr(asked, name)
            flags.append(f"--{name} '{f'{amount:.10g} {currency}'.strip()}{per}'")
    if asked.target is not None:
        flags.append(f"--target '{100 * float(asked.target):.10g} %'")
    return " ".join(flags)


def staging(decision: Decision) -> Callable[[Path], None]:
    """Return what writes the files of a decision into a folder."""
    from o2sim.questions.choose.screen import stage_decision

    return lambda folder: stage_decision(folder, decision)


def decision_of(study: Study, limits: Limits, run: Callable[..., Study], crew: Crew) -> Decision:
    """Return the decision over a study with, unless it was stopped, more demand and what to buy.

    run: runs the chosen option again with more demand, as run_study does. crew: who lists what to buy. What
    Ctrl-C cuts short is left out.
    """
    from o2sim.questions.choose.options import MORE_DEMAND, decide, procurement, with_more_demand
    from o2sim.questions.choose.result import MoreDemand

    decision = decide(study, limits)
    try:  # a crew is sent home at a stop
        bought = procurement(study, decision.chosen, crew if study.complete else None)
    except KeyboardInterrupt:
        return replace(decision, more_demand=MoreDemand(MORE_DEMAND, False, "the run was stopped"))
    more = with_more_demand(study, decision.chosen, run=run) if study.complete else None
    return replace(decision, procurement=bought, more_demand=more)


def is_finished(decision: Decision | None) -> bool:
    """Return False where Ctrl-C cut the run with more demand short, so that nothing more is to be run."""
    more = None if decision is None else decision.more_demand
    return more is None or more.complete


def leave_if_unfinished(decision: Decision | None) -> None:
    """Say on stderr what is missing, and leave with 130, where Ctrl-C cut the run with more demand short."""
    if decision is None or is_finished(decision):
        return
    more = decision.more_demand
    assert more is not None
    busier = f"the run with {100 * (more.factor - 1):.0f} % more patients"
    if decision.procurement:
        click.echo(f"Stopped in {busier}: that alone is missing from what is reported.", err=True)
    else:
        click.echo(f"Stopped before the list of what to buy: that and {busier} are missing.", err=True)
    raise click.exceptions.Exit(STOPPED)
