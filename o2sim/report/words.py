"""Numbers and summaries in, plain language for a district manager out: natural frequencies, ranges, the answer.

Probabilities arrive as {estimate, low, high, confidence}, means as {mean, low, high}, as in measures.summarise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from o2sim.units import format_duration

Summary = Mapping[str, Any]


def stock_out_note(tolerated_gap_s: int) -> str:
    """Return what a stock-out and an interruption are, with the scenario's tolerated gap."""
    return (
        f"Interruption: someone in need goes without oxygen for longer than {format_duration(tolerated_gap_s)} "
        "(the tolerated gap: a counting threshold, not a safe time). Stock-out: one for want of supply, which "
        "no staff could have prevented; the rest are matters of handling."
    )


def number(value: float) -> str:
    """Return a number with three significant figures, thousands apart: 0.0123, 4.57, 12,300."""
    if not math.isfinite(value):
        return "unknown"
    if value == 0:
        return "0"
    digits = 2 - math.floor(math.log10(abs(value)))
    rounded = round(value, digits)
    text = f"{rounded:,.{max(digits, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float) -> str:
    """Return a share as a percentage that never rounds a possibility to certainty: 0.99983 gives "99.983 %"."""
    if 0 < share < 1e-6:
        return "under 0.0001 %"
    if 1 - 1e-6 < share < 1:
        return "over 99.9999 %"
    if 0.99 < share < 1:
        return f"{100 * share:.{1 - math.floor(math.log10(100 * (1 - share)))}f}".rstrip("0").rstrip(".") + " %"
    return f"{100 * share:.3g} %"


def spread(interval: Mapping[str, Any] | None, say: Callable[[float], str] = number) -> str:
    """Return "mean (low–high)" of a {mean, low, high}; no brackets without bounds, "-" for None."""
    if interval is None:
        return "-"
    if interval["low"] is None or interval["low"] == interval["high"]:
        return say(interval["mean"])
    return f"{say(interval['mean'])} ({_range(say(interval['low']), say(interval['high']))})"


def percent_range(chance: Mapping[str, float]) -> str:
    """Return "5 % (2.8–9)" of a probability with its interval."""
    return f"{percent(chance['estimate'])} ({_range(percent(chance['low']), percent(chance['high']))})"


def is_year(horizon_days: float) -> bool:
    """Return True where the horizon may be called a year: 365 days, give or take one."""
    return abs(horizon_days - 365) <= 1


def span(horizon_days: float) -> str:
    """Return the horizon in words: "a year", "28 days", "1 day"."""
    if is_year(horizon_days):
        return "a year"
    return f"{number(horizon_days)} day" + ("s" if horizon_days != 1 else "")


def runs(count: int, horizon_days: float) -> str:
    """Return "1 year", "200 years", or "200 runs of 28 days" where the horizon is not a year."""
    plural = "s" if count != 1 else ""
    if is_year(horizon_days):
        return f"{count:,} year{plural}"
    return f"{count:,} run{plural} of {span(horizon_days)}"


def in_how_many(share: float) -> tuple[int, int]:
    """Return a share as (count, out of): out of 100 where that says enough, else out of 1,000 or 10,000."""
    rest = min(share, 1 - share)
    size = 100 if rest >= 0.01 or rest == 0 else 1_000 if rest >= 0.0005 else 10_000
    return round(share * size), size


def frequency(chance: Mapping[str, float], replications: int, horizon_days: float) -> str:
    """Return a probability as a natural frequency with its range, never nought and never certain.

    "about 5 years in 100 (2 to 11)"; "none seen in 200 years (could be up to 18 in 1,000)".
    """
    seen = runs(replications, horizon_days)
    if chance["estimate"] <= 0:
        return f"none seen in {seen} (could be up to {round(1_000 * chance['high']):,} in 1,000)"
    if chance["estimate"] >= 1:
        always = f"every one of {seen}" if replications > 1 else _the_only(seen)
        return f"{always} (could be as few as {round(1_000 * chance['low']):,} in 1,000)"
    count, size = in_how_many(chance["estimate"])
    low, high = (round(chance[key] * size) for key in ("low", "high"))
    return f"about {runs(count, horizon_days)} in {size:,} ({low:,} to {high:,})"


def short_frequency(chance: Mapping[str, float], replications: int, horizon_days: float) -> str:
    """Return the natural frequency without its range: "5 in 100 years", "none in 200 years", "all 200 years"."""
    word = runs(2, horizon_days).removeprefix("2 ")
    if chance["estimate"] <= 0:
        return f"none in {runs(replications, horizon_days)}"
    if chance["estimate"] >= 1:
        told = runs(replications, horizon_days)
        return f"all {told}" if replications > 1 else _the_only(told)
    count, size = in_how_many(chance["estimate"])
    return f"{count:,} in {size:,} {word}"


def _the_only(one_run: str) -> str:
    return f"the only {one_run.removeprefix('1 ')}"


def hours_minutes(seconds: int) -> str:
    """Return a time rounded down to whole minutes, as a bedside table must: "21 h 29 min"."""
    minutes = int(seconds) // 60
    return f"{minutes // 60:,} h {minutes % 60:02d} min"


def joined(names: Sequence[str]) -> str:
    """Return "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else list(names))


def quoted(names: Sequence[str]) -> str:
    """Return names in quotation marks, joined."""
    return joined([f"“{name}”" for name in names])


def money(value: float, currency: str) -> str:
    """Return an amount with its currency, three significant figures: "USD 12,300"."""
    return f"{currency} {number(value)}".strip()


def answer(summary: Summary, currency: str = "") -> str:
    """Return the two-sentence answer: which strategy runs short least often, and what it costs."""
    best = best_strategy(summary)
    return f"{_chance_sentence(summary, best)} {_cost_sentence(summary['strategies'], best, currency)}"


def best_strategy(summary: Summary) -> str:
    """Return the strategy with the lowest chance of a stock-out; fewer unserved hours decide a tie."""
    strategies = summary["strategies"]

    def rank(name: str) -> tuple[float, float]:
        item = strategies[name]
        return item["stock_out_probability"]["estimate"], item["unserved_patient_hours"]["mean"]

    return min([str(name) for name in strategies], key=rank)


def _chance_sentence(summary: Summary, best: str) -> str:
    strategies, count, days = summary["strategies"], summary["replications"], summary["horizon_days"]
    chances = {name: item["stock_out_probability"] for name, item in strategies.items()}
    said = frequency(chances[best], count, days)
    others = [name for name in strategies if name != best]
    equal = [name for name in others if chances[name]["estimate"] == chances[best]["estimate"]]
    if not others:
        return f"Stock-outs under “{best}”: {said}."
    if equal:
        return (
            f"The chance of a stock-out does not tell {quoted([best, *equal])} apart: {said} under each. "
            f"“{best}” leaves the fewest patient-hours unserved."
        )
    groups: dict[str, list[str]] = {}
    for name in others:
        groups.setdefault(short_frequency(chances[name], count, days), []).append(name)
    rest = joined([f"{told} under {quoted(names)}" for told, names in groups.items()])
    unclear = [name for name in others if not _clear(summary, best, name)]
    doubt = f"; too few runs to be sure against {quoted(unclear)}" if unclear else ""
    return f"“{best}” runs short least often: {said}, against {rest}{doubt}."


def _cost_sentence(strategies: Mapping[str, Any], best: str, currency: str) -> str:
    costs = {name: item["annual_cost"]["mean"] for name, item in strategies.items() if item["annual_cost"]}
    hours = {name: item["unserved_patient_hours"]["mean"] for name, item in strategies.items()}
    unserved = {name: number(value) if value else "no" for name, value in hours.items()}
    said = f"It leaves {unserved[best]} patient-hours a year unserved"
    moved = strategies[best]["transferred_patients"]["mean"]
    said += f", has {number(moved)} patients a year transferred" if moved else ""
    if best not in costs:
        return f"{said}; the scenario states no prices, so cost is not compared."
    said += f" and costs about {money(costs[best], currency)} a year"
    cheapest = min(costs, key=lambda name: costs[name])
    if cheapest != best:
        return f"{said}; the cheapest, “{cheapest}”, {_cheap(unserved[cheapest], costs[cheapest], currency)}."
    return f"{said}, the least of those compared." if len(costs) > 1 else f"{said}."


def _cheap(unserved: str, cost: float, currency: str) -> str:
    return f"leaves {unserved} and costs {money(cost, currency)}"


def _clear(summary: Summary, one: str, other: str) -> bool:
    """Return True where the paired difference in stock-out probability excludes zero."""
    return not any(
        item["measure"] == "stock_out_probability"
        and {item["from"], item["to"]} == {one, other}
        and item["low"] <= 0 <= item["high"]
        for item in summary["differences"]
    )


DIFFERENCE_WORDS = {  # measure: (name, unit, factor)
    "stock_out_probability": ("chance of a stock-out", "percentage points", 100.0),
    "stock_outs_per_year": ("stock-outs a year", "", 1.0),
    "unserved_patient_hours": ("unserved patient-hours a year", "h", 1.0),
    "annual_cost": ("cost a year", "", 1.0),
    "fill_rate": ("fill rate", "percentage points", 100.0),
}


def difference(item: Mapping[str, Any]) -> str:
    """Return one paired difference in words, such as "stock-outs a year 54.6 lower (48.4 to 60.9)"."""
    plain = (str(item["measure"]).replace("_", " "), "", 1.0)
    name, unit, factor = DIFFERENCE_WORDS.get(item["measure"], plain)
    unit = f" {unit}" if unit else ""
    mean = item["mean"] * factor
    way = "lower" if mean < 0 else "higher"
    if item["low"] is None:
        return f"{name} {number(abs(mean))}{unit} {way} in every run" if mean else f"{name} the same in every run"
    low, high = item["low"] * factor, item["high"] * factor
    if low <= 0 <= high:
        return f"{name} not clearly different ({_signed(low)} to {_signed(high)}{unit})"
    least, most = sorted((abs(low), abs(high)))
    return f"{name} {number(abs(mean))}{unit} {way} ({number(least)} to {number(most)})"


def differences(summary: Summary, best: str) -> list[tuple[str, list[str]]]:
    """Return (heading, differences in words) of the best strategy against each other one."""
    pairs: dict[str, list[str]] = {}
    for item in summary["differences"]:
        if best in (item["from"], item["to"]):
            other = item["from"] if item["to"] == best else item["to"]
            pairs.setdefault(other, []).append(difference(item if item["to"] == best else _turned(item)))
    return [(f"“{best}” compared with “{other}”", said) for other, said in pairs.items()]


def _turned(item: Mapping[str, Any]) -> dict[str, Any]:
    """Return the same difference taken the other way round."""
    known = item["low"] is not None
    return {
        "measure": item["measure"],
        "mean": -item["mean"],
        "low": -item["high"] if known else None,
        "high": -item["low"] if known else None,
    }


def _range(low: str, high: str) -> str:
    """Return "low–high" without the sign of percent, "to" between the two where one is negative."""
    join = " to " if "-" in low + high or not (low[0] + high[0]).isdigit() else "–"
    return join.join(text.removesuffix(" %") for text in (low, high))


def _signed(value: float) -> str:
    return f"{'-' if value < 0 else '+' if value > 0 else ''}{number(abs(value))}"
