"""Which strategy or option a report is about: its figures stand first, and every table and chart marks it.

An option stands in no list of strategies of the file, so its outcomes are put beside theirs: same patients, cuts
and roads, since seed and replications are the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from o2sim.looks.words import Summary
from o2sim.measures.measures import summarise
from o2sim.measures.supply_alone import beside
from o2sim.questions.choose.result import Decision
from o2sim.questions.compare.headline import leading_strategy
from o2sim.runs.study import Study
from o2sim.typed import as_json

MOST = 6  # options beside each other, where a study is of options alone


@dataclass(frozen=True)
class Choice:
    """A decision, the study it was made over, and the chosen one with perfect handling if that was run."""

    decision: Decision
    study: Study
    companion: Study | None = None


@dataclass(frozen=True)
class About:
    """What a report shows: the study that was run, and study and summary with the chosen one first and marked."""

    run: Study
    study: Study
    summary: Summary
    chosen: str
    choice: Choice | None = None

    @property
    def decision(self) -> Decision | None:
        """Return the decision by which it was chosen, None where the leading strategy is shown."""
        return None if self.choice is None else self.choice.decision

    @property
    def currency(self) -> str:
        """Return the currency of the prices, "" without prices."""
        return str(self.summary["currency"] or "")


def about(study: Study, summary: Summary, choice: Choice | None = None, *, every: bool = False) -> About:
    """Return what a report of a study shows; without a choice it is about the strategy that leads.

    every: of a study of options alone show them all, and not only those that the decision speaks of.
    """
    name = leading_strategy(summary) if choice is None else choice.decision.chosen
    if choice is not None and choice.study.scenario.hash != study.scenario.hash:
        shown, found = _with_option(study, summary, choice)
    else:
        names = list(study.outcomes)
        if choice is not None and not every and any(each.choices for each in choice.decision.options.values()):
            names = list(dict.fromkeys([name, *choice.decision.picked(), *choice.decision.frontier]))[:MOST]
        shown, found = _in_order(study, summary, list(dict.fromkeys([name, *names])), name)
    return About(study, shown, found, str(found["chosen"]), choice)


def _in_order(study: Study, summary: Summary, order: list[str], chosen: str) -> tuple[Study, Summary]:
    shown = replace(study, outcomes={name: study.outcomes[name] for name in order})
    found = {**summary, "strategies": {name: summary["strategies"][name] for name in order}, "chosen": chosen}
    kept = set(order)
    found["differences"] = [each for each in summary["differences"] if {each["from"], each["to"]} <= kept]
    if "supply_alone" in summary:
        found["supply_alone"] = _ordered(summary["supply_alone"], order)
    return shown, found


def _with_option(study: Study, summary: Summary, choice: Choice) -> tuple[Study, Summary]:
    """Return the file's strategies with the chosen option before them."""
    option = choice.decision.chosen
    name = option if option not in study.outcomes else f"{option} (option)"
    hospital, outcomes = choice.study.scenario.hospitals[option], choice.study.outcomes[option]
    count = min(study.replications, choice.study.replications)
    every = {name: outcomes, **study.outcomes}
    shown = replace(
        study,
        scenario=replace(study.scenario, hospitals={name: hospital, **study.scenario.hospitals}),
        requested=max(study.requested, choice.study.requested),
        outcomes={each: many if len(many) == count else many[:count] for each, many in every.items()},
    )
    found: dict[str, Any] = {**summary, **summarise(shown, summary["confidence"]), "chosen": name}
    found["scenario_hash"] = summary["scenario_hash"]
    alone = summary.get("supply_alone")
    if alone is not None and choice.companion is not None:
        own = as_json(beside(_only(choice.study, option), _only(choice.companion, option)))
        if own["replications"] == alone["replications"]:
            together = {name: own["strategies"][option], **alone["strategies"]}
            found["supply_alone"] = {**alone, "strategies": together}
    return shown, found


def _only(study: Study, name: str) -> Study:
    return replace(study, outcomes={name: study.outcomes[name]})


def _ordered(alone: Mapping[str, Any], order: list[str]) -> dict[str, Any]:
    """Return what no staff could prevent with its strategies in an order, those that it has."""
    there = alone["strategies"]
    return {**alone, "strategies": {name: there[name] for name in order if name in there}}
