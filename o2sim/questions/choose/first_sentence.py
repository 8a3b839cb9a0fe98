"""Say in a sentence or two, for a first page, what was chosen, by what, and what it costs."""

from __future__ import annotations

from o2sim.looks import unbought
from o2sim.looks.words import half_up, is_year, joined, money, quoted, span
from o2sim.questions.choose.result import Decision, Option, Pick
from o2sim.questions.choose.text import described, not_in


def first_sentence(decision: Decision, horizon_days: float) -> str:
    """Return what was chosen and what it costs; the chances of it stand beside it, out of 100."""
    name, count = decision.chosen, len(decision.options)
    found = [*_missed(decision, horizon_days), f"{_by_what(decision, count, horizon_days)}{_money(decision)}."]
    explained = described(decision, name)
    if explained != name:
        found.append(f"{explained[0].upper()}{explained[1:]}.")
    return " ".join(found)


def _by_what(decision: Decision, count: int, horizon_days: float) -> str:
    """Return by which of the limits the chosen one was picked."""
    chosen, target, budget = quoted([decision.chosen]), decision.within_target, decision.within_budget
    if target is not None and target.name is not None:
        surely = f"surely ({100 * decision.confidence:g} % confidence) has a supply shortfall in at most"
        return f"{chosen} is of all {count} options the cheapest that {surely} {_share(decision, horizon_days)}"
    fewest = "runs with a supply shortfall" if decision.by_chance else "unserved patient-hours"
    if budget is not None and budget.name is not None:
        within = f"of the {budget.among} that fit {_limits(decision)}"
        return f"{chosen} has, {within}, the fewest {fewest}{_alike(budget)}"
    if count == 1:
        return f"{chosen} is the only one to choose from"
    return f"{chosen} has, of all {count} options, the fewest {fewest}{_alike(decision.best)}"


def _alike(pick: Pick) -> str:
    """Return from how many others the one picked is not clearly different."""
    count = len(pick.not_told_apart)
    return f" (not clearly different from {count} other{'s' if count > 1 else ''})" if count else ""


def _share(decision: Decision, horizon_days: float) -> str:
    """Return the target as a natural frequency: "20 years in 100"."""
    count = f"{100 * (decision.limits.target or 0.0):.3g}"
    many = "" if count == "1" else "s"
    runs = f"year{many}" if is_year(horizon_days) else f"run{many} of {span(horizon_days)}"
    return f"{count} {runs} in 100"


def _missed(decision: Decision, horizon_days: float) -> list[str]:
    """Return which limits no option meets, so that the chosen one is only what comes nearest to them."""
    missed = []
    if decision.within_target is not None and decision.within_target.name is None:
        missed.append(f"no option surely has a supply shortfall in at most {_share(decision, horizon_days)}")
    if decision.within_budget is not None and decision.within_budget.name is None:
        missed.append(f"none fits {_limits(decision)}")
    return [f"{said[0].upper()}{said[1:]}." for said in [joined(missed)] if said]


def _limits(decision: Decision) -> str:
    limits = ((decision.limits.budget, "a year"), (decision.limits.capital, "to begin with"))
    return joined([f"{money(limit, decision.currency)} {when}" for limit, when in limits if limit is not None])


def _money(decision: Decision) -> str:
    """Return what is paid to begin with and each month; nothing without prices."""
    option: Option = decision.options[decision.chosen]
    paid = decision.cheque
    if paid is None or option.annual_cost is None:
        return ""
    month = money(paid.recurrent_a_month.mean, paid.currency)
    spread_out = money(option.annual_cost, paid.currency)
    return (
        f": {paid.currency} {half_up(paid.first_year_capital):,} to begin with and {month} a month, {spread_out} "
        f"a year with the purchases spread over their lives{unbought.behind(option.unbought)}{not_in(paid)}"
    )
