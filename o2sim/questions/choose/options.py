"""Choose which option to buy: the frontier of cost and reliability, what fits a budget and a target, the cheque.

The measure of reliability is the chance of a stock-out, or unserved patient-hours where that chance shows nothing
(nearly the same under all options, as where cuts are daily and it is 1). An option is dominated where another
costs no more and is no worse, and is better in one of the two.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace
from itertools import pairwise
from math import inf, isfinite

import numpy as np

from o2sim.errors import O2simError
from o2sim.measures.names import CHANCE, HOURS
from o2sim.measures.replications import Replications, replication_table
from o2sim.measures.unbought import unbought_of
from o2sim.money import cheque as money
from o2sim.outcome import Outcome
from o2sim.questions.choose.frontier import dominator, frontier_of, sure_marks
from o2sim.questions.choose.result import (
    BusierYear,
    Cheque,
    Compared,
    Decision,
    Ends,
    Intervals,
    InYard,
    Limits,
    MoreDemand,
    Option,
    Pick,
    Purchase,
    Replacement,
    Step,
)
from o2sim.questions.equipment.equipment import equipment
from o2sim.questions.equipment.result import Entry
from o2sim.runs.executors import Crew
from o2sim.runs.study import Study, run_study
from o2sim.scenario.building.loading import content_hash
from o2sim.scenario.types.hospital import Hospital, Scenario
from o2sim.statistics.estimates import Mean
from o2sim.statistics.intervals import Interval, clopper_pearson, one_sided_upper, paired_t, t_interval
from o2sim.statistics.selection import select_best

ALIKE = 0.02  # chances within so much of each other show no difference between options
MORE_DEMAND = 1.2
NO_LIMITS = Limits()


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
    return replace(scenario, hospitals=hospitals, hash=content_hash(hospitals))


def refuse_draws(draws: object) -> None:
    """Raise O2simError where what to buy is to be chosen over joint draws."""
    if draws is not None:
        raise O2simError(
            "compare: found draws, and a choice of what to buy (options, budget, capital, target, chosen); "
            "allowed: one of the two, as what is sure of a choice knows no rows of draws (over draws, summary, "
            "to_frame('measures') and chart() show the strategies side by side)"
        )


def currency_of(hospitals: Iterable[Hospital]) -> str:
    """Return the currency of the prices, "" without prices."""
    return next((each.costs.currency for each in hospitals if each.costs is not None), "")


def decide(study: Study, limits: Limits = NO_LIMITS, confidence: float = 0.95) -> Decision:
    """Return which of a study's strategies to buy; without prices there are no frontier and no steps.

    Chosen is the cheapest within the target, else the most reliable within the budget, else the most reliable.
    """
    refuse_draws(study.joint)
    hospitals = {name: study.scenario.hospitals[name] for name in study.outcomes}
    outcomes = {name: each[: study.replications] for name, each in study.outcomes.items()}
    tables = {name: replication_table(hospitals[name], each) for name, each in outcomes.items()}
    chances = [float(table.stock_out.mean()) for table in tables.values()]
    by_chance = max(chances) - min(chances) >= ALIKE or len(chances) == 1
    measure: Compared = "stock_out_probability" if by_chance else "unserved_patient_hours"
    columns = {name: each.stock_out if by_chance else each.values[HOURS] for name, each in tables.items()}
    options = {name: _option(study, name, table, len(tables), confidence) for name, table in tables.items()}
    frontier = frontier_of(options, measure)
    if frontier:
        costs = {name: table.cost for name, table in tables.items() if table.cost is not None}
        sure = sure_marks(costs, columns, frontier, confidence)
        options = {
            name: replace(each, dominated_by=dominator(options, frontier, name), sure=sure[name])
            for name, each in options.items()
        }

    def best_of(names: Collection[str]) -> Pick:
        ties = {name: (options[name].annual_cost or 0.0, options[name].unserved_patient_hours) for name in names}
        found = select_best({name: columns[name] for name in names}, confidence, ties=ties)
        within = found.within if isfinite(found.within) else None
        return Pick(found.best, len(names), tuple(found.not_told_apart), within)

    best, budget = best_of(options), _within_budget(options, limits, best_of)
    target = _within_target(options, limits, study.replications, confidence)
    chosen = next(pick.name for pick in (target, budget, best) if pick is not None and pick.name is not None)
    return Decision(
        measure=measure,
        confidence=confidence,
        currency=currency_of(hospitals.values()),
        limits=limits,
        options=options,
        frontier=tuple(frontier),
        steps=tuple(_step(tables, one, other, confidence) for one, other in pairwise(frontier)),
        best=best,
        within_budget=budget,
        within_target=target,
        chosen=chosen,
        cheque=_cheque(hospitals[chosen], outcomes[chosen]),
        owned=_in_yard(hospitals.values()),
    )


def _in_yard(hospitals: Iterable[Hospital]) -> tuple[InYard, ...] | None:
    """Return what is there already, whichever option uses it; None where nothing is."""
    found = dict.fromkeys(InYard(each.item, each.count, each.age_years) for h in hospitals for each in h.owned)
    return tuple(found) or None


def procurement(study: Study, name: str, crew: Crew | None = None) -> tuple[Entry, ...]:
    """Return what to buy for one strategy of a study, line by line."""
    alone = replace(study, outcomes={name: study.outcomes[name]})
    return equipment(alone, crew).strategies[name].equipment


def _option(study: Study, name: str, table: Replications, count: int, confidence: float) -> Option:
    """Return what one option costs and does; the bound of its chance allows for all options being looked at."""
    options, cost = study.scenario.options, table.cost
    chosen = options.choices.get(name) if options is not None else None
    hours, seen, n = table.values[HOURS], int(table.stock_out.sum()), len(table.stock_out)
    needed, delivered = (float(table.values[f"litres_{what}"].sum()) for what in ("needed", "delivered"))
    return Option(
        choices={} if chosen is None or options is None else dict(zip(options.keys, chosen, strict=True)),
        annual_cost=None if cost is None else float(cost.mean()),
        dear_year=None if cost is None else float(np.percentile(cost, 95)),
        first_year_capital=None if cost is None else money.capital(study.scenario.hospitals[name]),
        stock_out_probability=seen / n,
        upper_bound=surely_below(seen, n, count, confidence),
        unserved_patient_hours=float(hours.mean()),
        fill_rate=delivered / needed if needed else 1.0,
        intervals=Intervals(
            None if cost is None else _ends(t_interval(cost, confidence)),
            _ends(clopper_pearson(seen, n, confidence)),
            _ends(t_interval(hours, confidence)),
        ),
        unbought=unbought_of(table),
    )


def _ends(interval: Interval) -> Ends:
    """Return the ends of an interval, no less than zero."""
    return Ends(max(0.0, interval.low), interval.high) if isfinite(interval.low) else Ends(None, None)


def surely_below(seen: int, n: int, count: int, confidence: float) -> float:
    """Return a bound of the chance of what was seen in some of n runs; all of count such bounds hold together.

    With the stated confidence none of the options has a higher chance than its bound (Bonferroni).
    """
    return one_sided_upper(seen, n, 1 - (1 - confidence) / count)


def _step(tables: Mapping[str, Replications], one: str, other: str, confidence: float) -> Step:
    a, b = tables[one], tables[other]
    assert a.cost is not None
    assert b.cost is not None
    more = paired_t(a.cost, b.cost, confidence)
    saved = paired_t(b.values[HOURS], a.values[HOURS], confidence)
    chance = float(a.stock_out.mean() - b.stock_out.mean())
    each = more.estimate / saved.estimate if saved.estimate > 0 else None
    return Step(one, other, _mean(more), _mean(saved), chance, each)


def _mean(interval: Interval) -> Mean:
    known = interval.low == interval.low
    return Mean(interval.estimate, interval.low if known else None, interval.high if known else None)


def _within_budget(
    options: Mapping[str, Option], limits: Limits, best_of: Callable[[Collection[str]], Pick]
) -> Pick | None:
    """Return the most reliable option that can be paid, None where no budget is stated."""
    if limits.budget is None and limits.capital is None:
        return None
    if any(option.annual_cost is None for option in options.values()):
        raise O2simError("a budget needs prices: add a section costs to the scenario, or leave the budget out")
    a_year, at_once = (inf if limit is None else limit for limit in (limits.budget, limits.capital))
    paid = {name: (each.annual_cost or 0.0, each.first_year_capital or 0.0) for name, each in options.items()}
    names = [name for name, (year, first) in paid.items() if year <= a_year and first <= at_once]
    if names:
        return best_of(names)
    cheapest, least = (min(paid, key=lambda name: paid[name][part]) for part in (0, 1))
    why = (
        f"none fits: the cheapest by the year is “{cheapest}” at {paid[cheapest][0]:,.0f}, the "
        f"cheapest to begin with “{least}” at {paid[least][1]:,.0f}"
    )
    return Pick(None, 0, why=why)


def _within_target(
    options: Mapping[str, Option], limits: Limits, replications: int, confidence: float
) -> Pick | None:
    """Return the cheapest option whose chance of a stock-out is surely within the target, None without one."""
    if limits.target is None:
        return None
    names = [name for name, option in options.items() if option.upper_bound <= limits.target]
    if names:
        return Pick(min(names, key=lambda name: options[name].rank(CHANCE)[:2]), len(names))
    nearest = min(options, key=lambda name: options[name].upper_bound)
    least, share = surely_below(0, replications, len(options), confidence), options[nearest].stock_out_probability
    why = (
        f"none is surely within {100 * limits.target:g} %: the nearest is “{nearest}”, with a supply shortfall in "
        f"{f'{100 * share:.3g} %' if share else 'none'} of the runs, and surely below "
        f"{100 * options[nearest].upper_bound:.3g} %"
    )
    if least > limits.target:
        why += f"; {replications:,} replications cannot show less than {100 * least:.3g} %, so run more"
    return Pick(None, 0, why=why)


def _cheque(hospital: Hospital, outcomes: Iterable[Outcome]) -> Cheque | None:
    found = money.cheque(hospital, outcomes)
    if found is None:
        return None
    return Cheque(
        **found
        | {f"recurrent_a_{span}": Mean(**found[f"recurrent_a_{span}"]) for span in ("year", "month")}
        | {"purchases": tuple(Purchase(**line) for line in found["purchases"])}
        | {"unpriced": tuple(found["unpriced"])}
        | {"first_year_by_payer": money.first_year_by_payer(hospital)}
        | {"replacements": tuple(Replacement(**each) for each in found["replacements"])}
    )


def with_more_demand(
    study: Study, name: str, factor: float = MORE_DEMAND, run: Callable[..., Study] = run_study
) -> MoreDemand:
    """Return what becomes of an option when admissions rise by a factor: run again, with the same seed.

    Not known where recorded patients of a register would have to be multiplied, or where the run was stopped. run:
    runs it, as run_study does.
    """
    hospital = study.scenario.hospitals[name]
    if any(kind.recorded is not None for kind in hospital.patients):
        return MoreDemand(factor, True, "a register's patients cannot be multiplied")
    more = (replace(kind, admissions_per_day=kind.admissions_per_day * factor) for kind in hospital.patients)
    busier = replace(hospital, patients=tuple(more))
    hospitals = {name: busier}
    scenario = replace(study.scenario, hospitals=hospitals, options=None, hash=content_hash(hospitals))
    try:
        again = run(scenario, replications=study.replications, seed=study.seed, engine=study.engine)
    except KeyboardInterrupt:
        again = None
    if again is None or not again.complete:
        return MoreDemand(factor, False, "the run was stopped")
    outcomes = again.outcomes[name]
    table, paid = replication_table(busier, outcomes), _cheque(busier, outcomes)
    return MoreDemand(
        factor,
        True,
        found=BusierYear(
            None if table.cost is None else float(table.cost.mean()),
            None if paid is None else paid.recurrent_a_year,
            float(table.stock_out.mean()),
            float(table.values[HOURS].mean()),
            unbought_of(table),
        ),
    )
