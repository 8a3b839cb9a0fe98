"""A summary in, the first paragraph out: which strategy a director should look at, how sure that is, at what cost.

The strategy with the fewest stock-outs is called best only where unserved patient-hours and the fill rate agree:
a hospital without regulators never runs short of cylinders, and serves nobody.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks.blocks import mean_of, split_hours
from o2sim.looks.words import Summary, frequency, joined, money, number, out_of, percent, quoted, short_frequency
from o2sim.questions.compare.remedies import remedies

FAR_FEWER = 0.5  # of the unserved hours: another strategy with less than this share of them is a rival
WORTH_TELLING_H = 1.0  # patient-hours a year: a smaller difference is none for a director
FEWEST = 30  # replications: of fewer the answer says that it is mostly luck
LOW_FILL = 0.95  # a fill rate below this is told, and one lower than another's by CLEARLY_LESS makes a rival
CLEARLY_LESS = 0.02


def answer(summary: Summary, currency: str = "") -> str:
    """Return the answer in about three sentences: who runs short least often, who goes without, at what cost."""
    said, remarks = answer_and_remarks(summary, currency)
    return said + remarks


def answer_and_remarks(summary: Summary, currency: str = "") -> tuple[str, str]:
    """Return the answer in two sentences, three where no strategy meets the need, and what else is to be told.

    The remarks, which may be empty, begin with a space.
    """
    best = leading_strategy(summary)
    rival = rival_of(summary, best)
    if rival:
        said = _disagreement(summary, best, rival, currency)
    else:
        said = f"{_chance_sentence(summary, best)} {_cost_sentence(summary['strategies'], best, currency)}"
        if len(summary["strategies"]) > 1 and _fill(summary["strategies"][best]) < LOW_FILL:
            said = f"No strategy compared meets the need. {said}"
    remarks = remedies(summary, [name for name in (best, rival) if name])
    moved = any(summary["strategies"][name]["transferred_patients"]["mean"] for name in (best, rival) if name)
    note = " The hours of transferred patients are in none of these; the fill rate counts them."
    return said, remarks + (note if moved else "") + _few(summary)


def _few(summary: Summary) -> str:
    """Return a warning where the replications are too few to decide by, an empty text where they are not."""
    count = summary["replications"]
    if count >= FEWEST:
        return ""
    counted = "Only one replication was" if count == 1 else f"Only {count} replications were"
    return f" {counted} run, so much of this is luck: run 200 or more before you decide."


def leading_strategy(summary: Summary) -> str:
    """Return the strategy with the lowest chance of a stock-out; fewer unserved hours decide a tie."""
    strategies = summary["strategies"]

    def rank(name: str) -> tuple[float, float]:
        item = strategies[name]
        return item["stock_out_probability"]["estimate"], _hours(item)

    return min([str(name) for name in strategies], key=rank)


def rival_of(summary: Summary, best: str) -> str:
    """Return the strategy that leaves far fewer hours unserved, or delivers clearly more; "" where none does.

    Fewer hours count only where they are not bought by sending patients away, which the fill rate shows.
    """
    strategies = summary["strategies"]
    hours, fill = _hours(strategies[best]), _fill(strategies[best])
    kept = [str(name) for name, item in strategies.items() if _fill(item) >= fill - CLEARLY_LESS]
    least = min(kept, key=lambda name: _hours(strategies[name]))
    if _hours(strategies[least]) < FAR_FEWER * hours and hours - _hours(strategies[least]) >= WORTH_TELLING_H:
        return least
    fullest = max([str(name) for name in strategies], key=lambda name: _fill(strategies[name]))
    return fullest if fill < LOW_FILL and _fill(strategies[fullest]) >= fill + CLEARLY_LESS else ""


def _disagreement(summary: Summary, best: str, rival: str, currency: str) -> str:
    """Return that stock-outs and hours name two strategies, and what each of them leaves and costs."""
    strategies, told = summary["strategies"], _Told(summary, [best, rival])
    one, other = (
        [f"has any interruption in {told.any(name)}", *_left(strategies[name])] for name in (best, rival)
    )
    costs = [strategies[name]["annual_cost"] for name in (best, rival)]
    if None not in costs:
        one, other = (
            [*said, f"costs {_about(cost['mean'], currency)}"]
            for said, cost in zip((one, other), costs, strict=True)
        )
    unpriced = f"; {_no_prices(strategies)}" if None in costs else ""
    return (
        f"Stock-outs and patient-hours point to different strategies. “{best}” runs short least often: "
        f"{told.full(best)}; yet it {joined(one)}. "
        f"“{rival}” {joined([f'runs short in {told.short(rival)}', *other])}{unpriced}."
    )


class _Told:
    """Chances of one summary as natural frequencies, all with one denominator."""

    def __init__(self, summary: Summary, names: Sequence[str]) -> None:
        self.strategies = summary["strategies"]
        self.runs = summary["replications"], summary["horizon_days"]
        measures = ("stock_out_probability", "interruption_probability")
        self.size = max(out_of(self.strategies[name][measure]) for name in names for measure in measures)

    def full(self, name: str) -> str:
        """Return the chance of a stock-out with its range."""
        return frequency(self.strategies[name]["stock_out_probability"], *self.runs, self.size)

    def short(self, name: str) -> str:
        """Return the chance of a stock-out, to stand after "in" or "against"."""
        return self._told(name, "stock_out_probability")

    def any(self, name: str) -> str:
        """Return the chance of any interruption, to stand after "in"."""
        return self._told(name, "interruption_probability")

    def _told(self, name: str, measure: str) -> str:
        said = short_frequency(self.strategies[name][measure], *self.runs, self.size)
        return said.replace("none seen in", "none of", 1)


def _chance_sentence(summary: Summary, best: str) -> str:
    strategies, told = summary["strategies"], _Told(summary, list(summary["strategies"]))
    chances = {name: item["stock_out_probability"]["estimate"] for name, item in strategies.items()}
    others = [name for name in strategies if name != best]
    equal = [name for name in others if chances[name] == chances[best]]
    if not others:
        return f"Stock-outs under “{best}”: {told.full(best)}; any interruption in {told.any(best)}."
    if equal:
        fewest = all(_hours(strategies[name]) > _hours(strategies[best]) for name in equal)
        least = "leaves the fewest patient-hours unserved of these, with" if fewest else "has"
        return (
            f"The chance of a stock-out does not tell {quoted([best, *equal])} apart: {told.full(best)} under "
            f"each. “{best}” {least} any interruption in {told.any(best)}."
        )
    groups: dict[str, list[str]] = {}
    for name in others:
        groups.setdefault(told.short(name), []).append(name)
    rest = joined([f"{said} under {quoted(names)}" for said, names in groups.items()])
    unclear = [name for name in others if not _clear(summary, best, name)]
    doubt = f" (too few runs to be sure against {quoted(unclear)})" if unclear else ""
    return (
        f"“{best}” runs short least often: {told.full(best)}, with any interruption in {told.any(best)}, "
        f"against stock-outs in {rest}{doubt}."
    )


def _cost_sentence(strategies: Mapping[str, Any], best: str, currency: str) -> str:
    costs = {name: item["annual_cost"]["mean"] for name, item in strategies.items() if item["annual_cost"]}
    left = _left(strategies[best])
    if best not in costs:
        return f"It {joined(left)}; {_no_prices(strategies)}."
    said = f"It {joined([*left, f'costs {_about(costs[best], currency)}'])}"
    cheapest = min(costs, key=lambda name: costs[name])
    if costs[cheapest] < costs[best]:
        return (
            f"{said}; the cheapest, “{cheapest}”, costs {_about(costs[cheapest], currency)} and leaves "
            f"{_patient_hours(strategies[cheapest])} a year unserved."
        )
    return f"{said}, the least of those compared." if len(set(costs.values())) > 1 else f"{said}."


def _left(item: Mapping[str, Any]) -> list[str]:
    """Return what a strategy leaves undone: hours, split, those in part, a low fill rate, and transfers."""
    said = f"leaves {_patient_hours(item)} a year unserved"
    if _hours(item) > 0:
        supply, handling = split_hours(item)
        said += f" ({number(supply)} for want of supply, {number(handling)} in handling)"
    low = [f"delivers only {percent(_fill(item))} of the litres needed"] if _fill(item) < LOW_FILL else []
    moved, under = item["transferred_patients"]["mean"], mean_of(item.get("under_served_patient_hours"))
    part = [f"under-serves {number(under)} more"] if under else []
    return [said, *part, *low, *([f"has {number(moved)} patients a year transferred"] if moved else [])]


def _patient_hours(item: Mapping[str, Any]) -> str:
    return f"{number(_hours(item)) if _hours(item) else 'no'} patient-hours"


def _about(cost: float, currency: str) -> str:
    return f"{'about ' if cost else ''}{money(cost, currency)} a year"


def _no_prices(strategies: Mapping[str, Any]) -> str:
    if any(item["annual_cost"] for item in strategies.values()):
        return "not all strategies have prices, so cost is not compared"
    return "the scenario states no prices, so cost is not compared"


def _hours(item: Mapping[str, Any]) -> float:
    return float(item["unserved_patient_hours"]["mean"])


def _fill(item: Mapping[str, Any]) -> float:
    return float(item["fill_rate"]["mean"])


def _clear(summary: Summary, one: str, other: str) -> bool:
    """Return True where the paired difference in stock-out probability excludes zero."""
    for item in summary["differences"]:
        if item["measure"] == "stock_out_probability" and {item["from"], item["to"]} == {one, other}:
            low, high = item["low"], item["high"]
            return not (low is None or high is None or low <= 0 <= high)
    return True
