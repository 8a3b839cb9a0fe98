"""`o2sim compare --options`, `--budget`, `--capital`, `--target`: which to buy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.options import STOPPED
from o2sim.questions.choose.settings import ChooseSettings

if TYPE_CHECKING:
    from o2sim.questions.choose.options import Limits
    from o2sim.runs.executors import Crew
    from o2sim.runs.study import Study
    from o2sim.scenario.types.hospital import Scenario


def is_asked(asked: ChooseSettings) -> bool:
    """Return True where options or any limit were asked for, a limit of nothing too."""
    return any(getattr(asked, each.name) is not each.default for each in fields(ChooseSettings))


def to_choose(scenario: Scenario, asked: ChooseSettings) -> tuple[Scenario, Limits]:
    """Return the scenario whose strategies are to be chosen from, and the limits asked for."""
    from o2sim.questions.choose.options import options_scenario

    chosen = options_scenario(scenario) if asked.options else scenario
    return chosen, limits_of(chosen, asked)


def again(asked: ChooseSettings) -> str:
    """Return the options of choosing as they would be written in a command line to ask the same."""
    share = asked.target
    told = ["--options"] if asked.options else []
    for name, per in (("budget", "/year"), ("capital", "")):
        if getattr(asked, name) is not None:
            amount, currency = getattr(asked, name)
            told.append(f"--{name} '{f'{amount:.10g} {currency}'.strip()}{per}'")
    return " ".join([*told, *([] if share is None else [f"--target '{100 * share:.10g} %'"])])


def staging(decision: dict[str, Any]) -> Callable[[Path], None]:
    """Return what writes the files of a decision into a folder."""
    from o2sim.questions.choose.screen import stage_decision

    return lambda folder: stage_decision(folder, decision)


def limits_of(scenario: Scenario, asked: ChooseSettings) -> Limits:
    """Return the limits asked for; a usage error where their currency is not that of the prices."""
    from o2sim.questions.choose.options import Limits

    for name in ("budget", "capital"):
        _check_currency(scenario, name, getattr(asked, name))
    target: Any = asked.target
    if target is not None and not 0 < target < 1:
        raise click.UsageError("--target: a chance lies between 0 % and 100 %")
    budget, capital = (getattr(asked, name) for name in ("budget", "capital"))
    return Limits(None if budget is None else budget[0], None if capital is None else capital[0], target)


def _check_currency(scenario: Scenario, name: str, money: tuple[float, str] | None) -> None:
    if money is None:
        return
    known = next((each.costs.currency for each in scenario.hospitals.values() if each.costs is not None), "")
    if not known:
        raise click.UsageError(f"--{name} needs prices: add a section costs to the scenario")
    if money[1] not in ("", known):
        raise click.UsageError(f"--{name} is in {money[1]}, the prices of the scenario in {known}: convert it")


def decision_of(study: Study, limits: Limits, run: Callable[..., Study], crew: Crew) -> dict[str, Any]:
    """Return the decision over a study with, unless it was stopped, more demand and what to buy.

    run: runs the chosen option again with more demand, as run_study does. crew: who lists what to buy. What
    Ctrl-C cuts short is left out.
    """
    from dataclasses import replace

    from o2sim.questions.choose.options import MORE_DEMAND, decide, with_more_demand
    from o2sim.questions.equipment.equipment import equipment

    decision = decide(study, limits)
    chosen = decision["chosen"]
    alone = replace(study, outcomes={chosen: study.outcomes[chosen]})
    try:
        listed = equipment(alone, crew if study.complete else None)  # a crew is sent home at a stop
    except KeyboardInterrupt:
        stopped = {"factor": MORE_DEMAND, "complete": False, "why_not": "the run was stopped"}
        return {**decision, "procurement": [], "more_demand": stopped}
    decision["procurement"] = listed["strategies"][chosen]["equipment"]
    decision["more_demand"] = with_more_demand(study, chosen, run=run) if study.complete else None
    return decision


def leave_if_unfinished(decision: dict[str, Any] | None) -> None:
    """Say on stderr what is missing, and leave with 130, where Ctrl-C cut the run with more demand short."""
    more = None if decision is None else decision["more_demand"]
    if decision is None or more is None or more["complete"]:
        return
    busier = f"the run with {100 * (more['factor'] - 1):.0f} % more patients"
    if decision["procurement"]:
        click.echo(f"Stopped in {busier}: that alone is missing from what is reported.", err=True)
    else:
        click.echo(f"Stopped before the list of what to buy: that and {busier} are missing.", err=True)
    raise click.exceptions.Exit(STOPPED)
