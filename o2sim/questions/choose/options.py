"""A scenario with options, or a study of some, in; which to buy out: frontier, budget, target, the cheque.

The measure of reliability is the chance of a stock-out, or unserved patient-hours where that chance tells nothing
(nearly the same under all options, as where cuts are daily and it is 1). An option is dominated where another
costs no more and is no worse, and is better in one of the two.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from typing import Any

import numpy as np

from o2sim.errors import O2simError
from o2sim.measures.names import CHANCE, HOURS
from o2sim.measures.replications import Replications, replication_table
from o2sim.money.cheque import capital, cheque
from o2sim.questions.choose.frontier_marks import sure_marks
from o2sim.runs.study import Study, run_study
from o2sim.scenario.building.loading import content_hash
from o2sim.scenario.types.hospital import Scenario
from o2sim.statistics.intervals import Interval, clopper_pearson, one_sided_upper, paired_t, t_interval
from o2sim.statistics.selection import Selection, select_best

ALIKE = 0.02  # a range of chances below this tells options no further apart
MORE_DEMAND = 1.2


@dataclass(frozen=True)
class Limits:
    """What a buyer can pay and wants: money a year, money in the first year, the highest chance of a stock-out."""

    budget: float | None = None
    capital: float | None = None
    target: float | None = None


def options_scenario(scenario: Scenario) -> Scenario:
    """Return the scenario whose strategies are the options; its hash is that of the options alone.

    Raises O2simError where the file states none.
    """
    if scenario.options is None:
        raise O2simError(
            f"{scenario.file}: found no options; add a section such as "
            "options: {of: mixed, vary: {cylinders.fleet: [20, 40, 60]}}"
        )
    hospitals = scenario.options.hospitals
    return dataclasses.replace(scenario, hospitals=hospitals, hash=content_hash(hospitals))


def decide(study: Study, limits: Limits = Limits(), confidence: float = 0.95) -> dict[str, Any]:
    """Return which of a study's strategies to buy, ready for JSON.

    `options` by name: choices, annual_cost, first_year_capital, stock_out_probability, unserved_patient_hours,
    intervals (of each alone), dominated_by (a name or null), sure (whether that mark or that of the frontier is,
    all such together, with the stated confidence; null without prices), upper_bound (of the chance, for the
    target). `frontier` is the names by rising
    cost, `steps` what more money buys from each to the next. `best`, `within_budget`, `within_target` are picks:
    {name, among, not_told_apart, within, why}; the last two are null where not asked for, their name where none
    will do.
    `chosen` is the pick to go on with. Without prices there are no frontier and no steps.
    """
    hospitals = study.scenario.hospitals
    outcomes = {name: each[: study.replications] for name, each in study.outcomes.items()}
    tables = {name: replication_table(hospitals[name], list(each)) for name, each in outcomes.items()}
    measure = _measure(tables)
    facts = {name: _facts(study, name, table, len(tables), confidence) for name, table in tables.items()}
    frontier = frontier_of(facts, measure)
    for name, fact in facts.items():
        fact["dominated_by"] = None if name in frontier else _dominator(facts, frontier, name)
        fact["sure"] = None
    costs = {name: table.cost for name, table in tables.items() if table.cost is not None}
    if frontier:
        for name, sure in sure_marks(costs, _columns(tables, measure), frontier, confidence).items():
            facts[name]["sure"] = sure
    best = _best(tables, facts, list(tables), measure, confidence)
    budget = _within_budget(tables, facts, measure, limits, confidence)
    target = _within_target(facts, limits, study.replications, len(tables), confidence)
    chosen = [pick["name"] for pick in (target, budget, best) if pick is not None and pick["name"] is not None]
    return {
        "measure": measure,
        "confidence": confidence,
        "currency": _currency(study),
        "limits": dataclasses.asdict(limits),
        "options": facts,
        "frontier": frontier,
        "steps": [_step(tables, one, other, confidence) for one, other in pairwise(frontier)],
        "best": best,
        "within_budget": budget,
        "within_target": target,
        "chosen": chosen[0],
        "cheque": cheque(hospitals[chosen[0]], list(outcomes[chosen[0]])),
    }  # fmt: skip


def _measure(tables: Mapping[str, Replications]) -> str:
    chances = [float(table.stock_out.mean()) for table in tables.values()]
    return CHANCE if max(chances) - min(chances) >= ALIKE or len(chances) == 1 else HOURS


def _facts(study: Study, name: str, table: Replications, count: int, confidence: float) -> dict[str, Any]:
    """Return what is told of one option; the bound of its chance allows for all options being looked at."""
    options = study.scenario.options
    chosen = options.choices.get(name) if options is not None else None
    hours, seen, n = table.values[HOURS], int(table.stock_out.sum()), len(table.stock_out)
    cost = table.cost
    return {
        "choices": {} if chosen is None or options is None else dict(zip(options.keys, chosen, strict=True)),
        "annual_cost": None if cost is None else float(cost.mean()),
        "dear_year": None if cost is None else float(np.percentile(cost, 95)),
        "first_year_capital": None if cost is None else capital(study.scenario.hospitals[name]),
        CHANCE: seen / n,
        "upper_bound": surely_below(seen, n, count, confidence),
        HOURS: float(hours.mean()),
        "fill_rate": _fill(table),
        "intervals": {
            "annual_cost": None if cost is None else _ends(t_interval(cost, confidence)),
            CHANCE: _ends(clopper_pearson(seen, n, confidence)),
            HOURS: _ends(t_interval(hours, confidence)),
        },
    }


def _ends(interval: Interval) -> dict[str, float | None]:
    """Return the ends of an interval, no less than nought; None where the replications show no spread."""
    known = isfinite(interval.low)
    return {"low": max(0.0, interval.low) if known else None, "high": interval.high if known else None}


def _columns(tables: Mapping[str, Replications], measure: str) -> dict[str, Any]:
    """Return the measure of reliability in every replication."""
    return {name: each.stock_out if measure == CHANCE else each.values[HOURS] for name, each in tables.items()}


def surely_below(seen: int, n: int, count: int, confidence: float) -> float:
    """Return a bound of the chance of what was seen in some of n runs; all of count such bounds hold together.

    With the stated confidence none of the options has a higher chance than its bound (Bonferroni).
    """
    return one_sided_upper(seen, n, 1 - (1 - confidence) / count)


def _fill(table: Replications) -> float:
    needed = float(table.values["litres_needed"].sum())
    return float(table.values["litres_delivered"].sum()) / needed if needed else 1.0


def _place(fact: Mapping[str, Any], measure: str) -> tuple[float, float, float]:
    """Return (cost, measure, hours), less being better in each, by which options are sorted."""
    return fact["annual_cost"], fact[measure], fact[HOURS]


def frontier_of(facts: Mapping[str, Mapping[str, Any]], measure: str) -> list[str]:
    """Return the options that no other dominates, by rising cost; nothing without prices."""
    if any(fact["annual_cost"] is None for fact in facts.values()):
        return []
    found: list[str] = []
    for name in sorted(facts, key=lambda each: _place(facts[each], measure)):
        if not found or facts[name][measure] < facts[found[-1]][measure]:
            found.append(name)
    return found


def _dominator(facts: Mapping[str, Mapping[str, Any]], frontier: Sequence[str], name: str) -> str | None:
    """Return the dearest option of the frontier that costs no more: it is the most reliable of those."""
    cheaper = [each for each in frontier if facts[each]["annual_cost"] <= facts[name]["annual_cost"]]
    return cheaper[-1] if cheaper else None


def _step(tables: Mapping[str, Replications], one: str, other: str, confidence: float) -> dict[str, Any]:
    """Return what the next option of the frontier costs more, and what it saves; with paired intervals."""
    a, b = tables[one], tables[other]
    assert a.cost is not None
    assert b.cost is not None
    more = paired_t(a.cost, b.cost, confidence)
    saved = paired_t(b.values[HOURS], a.values[HOURS], confidence)
    chance = float(a.stock_out.mean() - b.stock_out.mean())
    return {
        "from": one,
        "to": other,
        "cost_more": _interval(more.estimate, more.low, more.high),
        "hours_saved": _interval(saved.estimate, saved.low, saved.high),
        "chance_less": chance,
        "cost_per_hour_saved": more.estimate / saved.estimate if saved.estimate > 0 else None,
    }


def _interval(mean: float, low: float, high: float) -> dict[str, float | None]:
    known = low == low
    return {"mean": mean, "low": low if known else None, "high": high if known else None}


def _best(
    tables: Mapping[str, Replications],
    facts: Mapping[str, Mapping[str, Any]],
    names: Sequence[str],
    measure: str,
    confidence: float,
) -> dict[str, Any]:
    columns = _columns({name: tables[name] for name in names}, measure)
    ties = {n: (facts[n]["annual_cost"] or 0.0, facts[n][HOURS]) for n in names}
    return _pick(select_best(columns, confidence, ties=ties), len(names))


def _pick(selection: Selection, among: int) -> dict[str, Any]:
    return {
        "name": selection.best,
        "among": among,
        "not_told_apart": list(selection.not_told_apart),
        "within": selection.within if isfinite(selection.within) else None,
        "why": "",
    }


def _within_budget(
    tables: Mapping[str, Replications],
    facts: Mapping[str, Mapping[str, Any]],
    measure: str,
    limits: Limits,
    confidence: float,
) -> dict[str, Any] | None:
    """Return the most reliable option that can be paid, None where no budget is stated."""
    if limits.budget is None and limits.capital is None:
        return None
    if any(fact["annual_cost"] is None for fact in facts.values()):
        raise O2simError("a budget needs prices: add a section costs to the scenario, or leave the budget out")
    a_year = limits.budget if limits.budget is not None else float("inf")
    at_once = limits.capital if limits.capital is not None else float("inf")
    names = [
        name
        for name, fact in facts.items()
        if fact["annual_cost"] <= a_year and fact["first_year_capital"] <= at_once
    ]
    if names:
        return _best(tables, facts, names, measure, confidence)
    by: Callable[[str], float] = lambda name: facts[name]["annual_cost"]  # noqa: E731
    cheapest = min(facts, key=by)
    least = min(facts, key=lambda name: float(facts[name]["first_year_capital"]))
    why = (
        f"none fits: the cheapest by the year is {cheapest!r} at {facts[cheapest]['annual_cost']:,.0f}, the "
        f"cheapest to begin with {least!r} at {facts[least]['first_year_capital']:,.0f}"
    )
    return {"name": None, "among": 0, "not_told_apart": [], "within": 0.0, "why": why}


def _within_target(
    facts: Mapping[str, Mapping[str, Any]], limits: Limits, replications: int, count: int, confidence: float
) -> dict[str, Any] | None:
    """Return the cheapest option whose chance of a stock-out is surely within the target, None without one."""
    if limits.target is None:
        return None
    names = [name for name, fact in facts.items() if fact["upper_bound"] <= limits.target]
    if names:
        name = min(names, key=lambda each: (facts[each]["annual_cost"] or 0.0, facts[each][CHANCE]))
        return {"name": name, "among": len(names), "not_told_apart": [], "within": 0.0, "why": ""}
    nearest = min(facts, key=lambda each: float(facts[each]["upper_bound"]))
    least, share = surely_below(0, replications, count, confidence), facts[nearest][CHANCE]
    why = (
        f"none is surely within {100 * limits.target:g} %: the nearest is “{nearest}”, with a stock-out in "
        f"{f'{100 * share:.3g} %' if share else 'none'} of the runs, and surely below "
        f"{100 * facts[nearest]['upper_bound']:.3g} %"
    )
    if least > limits.target:
        why += f"; {replications:,} replications cannot show less than {100 * least:.3g} %, so run more"
    return {"name": None, "among": 0, "not_told_apart": [], "within": 0.0, "why": why}


def _currency(study: Study) -> str:
    hospitals = [study.scenario.hospitals[name] for name in study.outcomes]
    return next((each.costs.currency for each in hospitals if each.costs is not None), "")


def with_more_demand(
    study: Study, name: str, factor: float = MORE_DEMAND, run: Callable[..., Study] = run_study
) -> dict[str, Any]:
    """Return what becomes of an option when admissions rise by a factor: run again, with the same seed.

    {factor, complete, annual_cost, recurrent_a_year, stock_out_probability, unserved_patient_hours}; the money is
    None without prices. {factor, complete, why_not} where it is not known: recorded patients of a register cannot
    be multiplied, or the run was stopped, and is not complete then. run: runs it, as run_study does.
    """
    hospital = study.scenario.hospitals[name]
    if any(kind.recorded is not None for kind in hospital.patients):
        return {"factor": factor, "complete": True, "why_not": "a register's patients cannot be multiplied"}
    more = tuple(
        dataclasses.replace(kind, admissions_per_day=kind.admissions_per_day * factor)
        for kind in hospital.patients
    )
    busier = dataclasses.replace(hospital, patients=more)
    hospitals = {name: busier}
    scenario = dataclasses.replace(study.scenario, hospitals=hospitals, options=None, hash=content_hash(hospitals))
    try:
        again = run(scenario, replications=study.replications, seed=study.seed, engine=study.engine)
    except KeyboardInterrupt:
        again = None
    if again is None or not again.complete:
        return {"factor": factor, "complete": False, "why_not": "the run was stopped"}
    table = replication_table(busier, list(again.outcomes[name]))
    paid = cheque(busier, list(again.outcomes[name]))
    return {
        "factor": factor,
        "complete": True,
        "annual_cost": None if table.cost is None else float(table.cost.mean()),
        "recurrent_a_year": None if paid is None else paid["recurrent_a_year"],
        CHANCE: float(table.stock_out.mean()),
        HOURS: float(table.values[HOURS].mean()),
    }
