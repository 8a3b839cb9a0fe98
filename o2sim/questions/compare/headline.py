"""The first paragraph of a comparison: which strategy a director should look at, how sure that is, at what cost.

The strategy with the fewest shortfalls is called best only where unserved patient-hours and the fill rate agree:
a hospital without regulators never runs short of cylinders, and serves nobody.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks import unbought
from o2sim.looks.blocks import mean_of, split_hours
from o2sim.looks.words import (
    Summary,
    amount,
    frequency,
    joined,
    money,
    number,
    out_of,
    percent,
    quoted,
    short_frequency,
)
from o2sim.measures.names import CHANCE
from o2sim.questions.compare.next_steps import WORTH_TELLING_H, remedies

FAR_FEWER = 0.5  # of the unserved hours: another strategy with less than this share of them is a rival
FEWEST = 30  # replications: of fewer the answer says that it is mostly luck
LOW_FILL = 0.95  # a fill rate below this is reported, and one lower than another's by CLEARLY_LESS makes a rival
CLEARLY_LESS = 0.02
ANY = "interruption_probability"


def answer(summary: Summary, currency: str = "") -> str:
    """Return the answer in about three sentences: who runs short least often, who goes without, at what cost."""
    return "".join(answer_and_remarks(summary, currency))


def answer_and_remarks(summary: Summary, currency: str = "") -> tuple[str, str]:
    """Return the answer in two sentences, three where no strategy meets the need, and what else is to be said.

    The remarks, which may be empty, begin with a space.
    """
    strategies = summary["strategies"]
    best = leading_strategy(summary)
    rival = rival_of(summary, best)
    if rival:
        said = _disagreement(summary, best, rival, currency)
    else:
        said = f"{_chance_sentence(summary, best)} {_cost_sentence(strategies, best, currency)}"
        if len(strategies) > 1 and _fill(strategies[best]) < LOW_FILL:
            said = f"No strategy compared meets the need. {said}"
    return said, remarks_on(summary, [name for name in (best, rival) if name])


def remarks_on(summary: Summary, named: Sequence[str]) -> str:
    """Return what else is to be said of some strategies; it begins with a space, or is empty."""
    strategies, count = summary["strategies"], summary["replications"]
    remarks = remedies(summary, named)
    if any(strategies[name]["transferred_patients"]["mean"] for name in named):
        remarks += " The hours of transferred patients are in none of these; the fill rate counts them."
    if count < FEWEST:
        counted = "Only one replication was" if count == 1 else f"Only {count} replications were"
        remarks += f" {counted} run, so much of this is luck: run 200 or more before you decide."
    return remarks


def decision(summary: Summary, currency: str = "") -> str:
    """Return which strategy the figures speak for, what it leaves undone and what it costs, without chances."""
    strategies, best = summary["strategies"], leading_strategy(summary)
    if rival := rival_of(summary, best):
        one, other = (
            joined([*_left(strategies[name]), *_costs(strategies[name], currency)]) for name in (best, rival)
        )
        return (
            f"Two stand out. “{best}” runs short least often, and {one}. “{rival}” {other}. This report is of "
            f"“{best}”, beside the others."
        )
    unmet = len(strategies) > 1 and _fill(strategies[best]) < LOW_FILL
    said = "No strategy compared meets the need. " if unmet else ""
    return f"{said}{_lead(summary, best)} {_cost_sentence(strategies, best, currency)}"


def _lead(summary: Summary, best: str) -> str:
    """Return by what the strategy leads, without chances."""
    strategies = summary["strategies"]
    chance = {name: item[CHANCE]["estimate"] for name, item in strategies.items()}
    equal = [name for name in strategies if name != best and chance[name] == chance[best]]
    if len(strategies) == 1:
        return f"“{best}” was looked at alone."
    if equal:
        fewest = all(_hours(strategies[name]) > _hours(strategies[best]) for name in equal)
        rest = ", and leaves the fewest patient-hours unserved of these" if fewest else ""
        return f"“{best}” runs short as often as {quoted(equal)}{rest}."
    unclear = [name for name in strategies if name != best and not is_clear(summary, best, name)]
    doubt = f" (too few runs to be sure against {quoted(unclear)})" if unclear else ""
    return f"Of the {len(strategies)} compared “{best}” runs short least often{doubt}."


def _costs(item: Mapping[str, Any], currency: str) -> list[str]:
    cost = item["annual_cost"]
    return [] if cost is None else [f"costs {_about(cost['mean'], currency)}{_unbought(item)}"]


def leading_strategy(summary: Summary) -> str:
    """Return the strategy with the lowest chance of a supply shortfall; fewer unserved hours decide a tie."""
    strategies = summary["strategies"]
    ranks = {str(name): (item[CHANCE]["estimate"], _hours(item)) for name, item in strategies.items()}
    return min(ranks, key=lambda name: ranks[name])


def rival_of(summary: Summary, best: str) -> str:
    """Return the strategy that leaves far fewer hours unserved, or delivers clearly more; "" where none does.

    Fewer hours count only where they are not bought by sending patients away, which the fill rate shows.
    """
    strategies = {str(name): (_hours(item), _fill(item)) for name, item in summary["strategies"].items()}
    hours, fill = strategies[best]
    kept = [name for name, (_, other) in strategies.items() if other >= fill - CLEARLY_LESS]
    least = min(kept, key=lambda name: strategies[name][0])
    fewest = strategies[least][0]
    if fewest < FAR_FEWER * hours and hours - fewest >= WORTH_TELLING_H:
        return least
    fullest = max(strategies, key=lambda name: strategies[name][1])
    return fullest if fill < LOW_FILL and strategies[fullest][1] >= fill + CLEARLY_LESS else ""


def _disagreement(summary: Summary, best: str, rival: str, currency: str) -> str:
    """Return that supply shortfalls and hours name two strategies, and what each of them leaves and costs."""
    strategies, chances = summary["strategies"], _Chances(summary, [best, rival])
    costs = [strategies[name]["annual_cost"] for name in (best, rival)]
    priced = None not in costs
    one, other = (
        [
            f"has any interruption in {chances.any(name)}",
            *_left(strategies[name]),
            *(_costs(strategies[name], currency) if priced else []),
        ]
        for name in (best, rival)
    )
    unpriced = "" if priced else f"; {_no_prices(strategies)}"
    return (
        f"Supply shortfalls and patient-hours point to different strategies. “{best}” runs short least often: "
        f"{chances.full(best)}; yet it {joined(one)}. "
        f"“{rival}” {joined([f'runs short in {chances.short(rival)}', *other])}{unpriced}."
    )


class _Chances:
    """Chances of one summary as natural frequencies, all with one denominator."""

    def __init__(self, summary: Summary, names: Sequence[str]) -> None:
        self.strategies = summary["strategies"]
        self.runs = summary["replications"], summary["horizon_days"]
        self.size = max(out_of(self.strategies[name][measure]) for name in names for measure in (CHANCE, ANY))

    def full(self, name: str) -> str:
        """Return the chance of a supply shortfall with its range."""
        return frequency(self.strategies[name][CHANCE], *self.runs, self.size)

    def short(self, name: str, measure: str = CHANCE) -> str:
        """Return the chance of a supply shortfall, to stand after "in" or "against"."""
        said = short_frequency(self.strategies[name][measure], *self.runs, self.size)
        return said.replace("none seen in", "none of", 1)

    def any(self, name: str) -> str:
        """Return the chance of any interruption, to stand after "in"."""
        return self.short(name, ANY)


def _chance_sentence(summary: Summary, best: str) -> str:
    strategies, said = summary["strategies"], _Chances(summary, list(summary["strategies"]))
    chances = {name: item[CHANCE]["estimate"] for name, item in strategies.items()}
    others = [name for name in strategies if name != best]
    equal = [name for name in others if chances[name] == chances[best]]
    if not others:
        return f"Supply shortfalls under “{best}”: {said.full(best)}; any interruption in {said.any(best)}."
    if equal:
        fewest = all(_hours(strategies[name]) > _hours(strategies[best]) for name in equal)
        least = "leaves the fewest patient-hours unserved of these, with" if fewest else "has"
        return (
            f"The chance of a supply shortfall is the same under {quoted([best, *equal])}: {said.full(best)} "
            f"under each. “{best}” {least} any interruption in {said.any(best)}."
        )
    groups: dict[str, list[str]] = {}
    for name in others:
        groups.setdefault(said.short(name), []).append(name)
    rest = joined([f"{chance} under {quoted(names)}" for chance, names in groups.items()])
    unclear = [name for name in others if not is_clear(summary, best, name)]
    doubt = f" (too few runs to be sure against {quoted(unclear)})" if unclear else ""
    return (
        f"“{best}” runs short least often: {said.full(best)}, with any interruption in {said.any(best)}, "
        f"against supply shortfalls in {rest}{doubt}."
    )


def _cost_sentence(strategies: Mapping[str, Any], best: str, currency: str) -> str:
    costs = {name: item["annual_cost"]["mean"] for name, item in strategies.items() if item["annual_cost"]}
    left = _left(strategies[best])
    if best not in costs:
        return f"It {joined(left)}; {_no_prices(strategies)}."
    said = f"It {joined([*left, *_costs(strategies[best], currency)])}"
    cheapest = min(costs, key=lambda name: costs[name])
    if costs[cheapest] < costs[best]:
        return (
            f"{said}; the cheapest, “{cheapest}”, costs {_about(costs[cheapest], currency)}"
            f"{_unbought(strategies[cheapest])} and leaves {_patient_hours(strategies[cheapest])} a year unserved."
        )
    return f"{said}, the least of those compared." if len(set(costs.values())) > 1 else f"{said}."


def _left(item: Mapping[str, Any]) -> list[str]:
    """Return what a strategy leaves undone: hours, split, those in part, a low fill rate, and transfers."""
    said = f"leaves {_patient_hours(item)} a year unserved"
    if _hours(item) > 0:
        supply, handling = split_hours(item)
        said += f" ({amount(supply)} for lack of supply, {amount(handling)} in handling)"
    low = [f"delivers only {percent(_fill(item))} of the litres needed"] if _fill(item) < LOW_FILL else []
    moved, under = item["transferred_patients"]["mean"], mean_of(item.get("under_served_patient_hours"))
    part = [f"under-serves {amount(under)} more"] if under else []
    return [said, *part, *low, *([f"has {number(moved)} patients a year transferred"] if moved else [])]


def _patient_hours(item: Mapping[str, Any]) -> str:
    return f"{amount(_hours(item)) if _hours(item) else 'no'} patient-hours"


def _about(cost: float, currency: str) -> str:
    return f"{'about ' if cost else ''}{money(cost, currency)} a year"


def _unbought(item: Mapping[str, Any]) -> str:
    """Return what was needed and not bought, behind a cost; "" where nobody counts money."""
    return unbought.behind(unbought.of_item(item))


def _no_prices(strategies: Mapping[str, Any]) -> str:
    if any(item["annual_cost"] for item in strategies.values()):
        return "not all strategies have prices, so cost is not compared"
    return "the scenario states no prices, so cost is not compared"


def _hours(item: Mapping[str, Any]) -> float:
    return float(item["unserved_patient_hours"]["mean"])


def _fill(item: Mapping[str, Any]) -> float:
    return float(item["fill_rate"]["mean"])


def is_clear(summary: Summary, one: str, other: str) -> bool:
    """Return True where the paired difference in the chance of a supply shortfall excludes zero."""
    for item in summary["differences"]:
        if item["measure"] == CHANCE and {item["from"], item["to"]} == {one, other}:
            return item["low"] is not None and item["high"] is not None and not item["low"] <= 0 <= item["high"]
    return True
