"""`o2sim compare --options`, `--budget`, `--capital`, `--target`: which to buy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.commands.options import STOPPED, Quantity
from o2sim.errors import QuantityError

if TYPE_CHECKING:
    from o2sim.quantities.units import Per
    from o2sim.questions.choose.options import Limits
    from o2sim.runs.executors import Crew
    from o2sim.runs.study import Study
    from o2sim.scenario.types.hospital import Scenario

    MoneyParam = click.ParamType[tuple[float, str]]
else:
    MoneyParam = click.ParamType  # cannot be subscripted before click 8.2


class Price(MoneyParam):
    """A command-line amount such as `20000 USD/year`, read as (amount, currency)."""

    name = "money"

    def __init__(self, per: Per = "") -> None:
        """Take what it is for, as in units.read_money."""
        self.per = per

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, str]:
        """Return amount and currency, or fail as a usage error."""
        from o2sim.quantities.units import read_money

        try:
            return read_money(value, self.per)
        except QuantityError as error:
            return self.fail(str(error), param, ctx)


def choosing_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of choosing to a command."""
    for option in (
        click.option("--target", type=Quantity("share"), help='The highest chance of a stock-out, such as "5 %".'),
        click.option("--capital", type=Price(), help='For the first year\'s purchases, such as "60000 USD".'),
        click.option("--budget", type=Price("year"), help='For a year, such as "20000 USD/year".'),
        click.option(
            "--options", "use_options", is_flag=True, help="Compare the options of the file: which to buy."
        ),
    ):
        command = option(command)
    return command


def is_asked(asked: dict[str, Any]) -> bool:
    """Return True where options or any limit were asked for, a limit of nought too."""
    return any(value is not None and value is not False for value in asked.values())


def to_choose(scenario: Scenario, asked: dict[str, Any]) -> tuple[Scenario, Limits]:
    """Return the scenario whose strategies are to be chosen from, and the limits asked for."""
    from o2sim.questions.choose.options import options_scenario

    chosen = options_scenario(scenario) if asked["use_options"] else scenario
    return chosen, limits_of(chosen, asked)


def again(asked: dict[str, Any]) -> str:
    """Return the options of choosing as they would be written in a command line to ask the same."""
    share = asked["target"]
    told = ["--options"] if asked["use_options"] else []
    for name, per in (("budget", "/year"), ("capital", "")):
        if asked[name] is not None:
            amount, currency = asked[name]
            told.append(f"--{name} '{f'{amount:.10g} {currency}'.strip()}{per}'")
    return " ".join([*told, *([] if share is None else [f"--target '{100 * share:.10g} %'"])])


def staging(decision: dict[str, Any]) -> Callable[[Path], None]:
    """Return what writes the files of a decision into a folder."""
    from o2sim.questions.choose.screen import stage_decision

    return lambda folder: stage_decision(folder, decision)


def limits_of(scenario: Scenario, asked: dict[str, Any]) -> Limits:
    """Return the limits asked for; a usage error where their currency is not that of the prices."""
    from o2sim.questions.choose.options import Limits

    for name in ("budget", "capital"):
        _check_currency(scenario, name, asked[name])
    if asked["target"] is not None and not 0 < asked["target"] < 1:
        raise click.UsageError("--target: a chance lies between 0 % and 100 %")
    amounts = {name: None if asked[name] is None else asked[name][0] for name in ("budget", "capital")}
    return Limits(**amounts, target=asked["target"])


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
