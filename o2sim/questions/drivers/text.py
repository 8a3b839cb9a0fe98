"""The result of a search for drivers in, its sentences out: what matters most, what is not known beside chance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from o2sim.looks import doubt
from o2sim.looks.words import beside_fleet, is_year, joined, money, number, out_of, percent, short_frequency, span
from o2sim.measures.names import CHANCE, COST, SUPPLY_HOURS
from o2sim.questions.drivers.regret import BY_CHANCE, BY_COST
from o2sim.questions.drivers.tornado import matters_most, middle

Result = Mapping[str, Any]
NAMES = {
    CHANCE: "chance of a stock-out",
    SUPPLY_HOURS: "patient-hours a year unserved for want of supply",
    COST: "cost a year",
}
MOST_NAMED = 2  # numbers told after the first
LAW_WORDS = {
    "pert": "PERT (a beta law, four times as much weight on the likely value as on either end)",
    "triangular": "triangular",
    "uniform": "uniform: the likely value is not believed",
}
METHOD_WORDS = {
    "one-at-a-time": "Each number was moved to its low and to its high end, all others at their likely values",
    "nested": "All numbers were drawn together",
    "morris": "Morris's screening: one number moved at a time, the others anywhere in their ranges",
    "sobol": "Sobol's indices: all numbers drawn together",
}


def asked(result: Result) -> str:
    """Return what was asked, and how."""
    count = len(result["uncertain"])
    numbers = "1 number is uncertain" if count == 1 else f"{count} numbers are uncertain"
    how = METHOD_WORDS[result["method"]]
    drawn = ""
    if result["method"] == "nested":
        drawn = f", {result['draws']:,} times, independently, each by the law {LAW_WORDS[result['law']]}"
    elif result["method"] == "sobol":
        drawn = f", each by the law {LAW_WORDS[result['law']]}; {result['points']:,} points"
    elif result["method"] == "morris":
        drawn = f"; {result['points']:,} points"
    stopped = "" if result["complete"] else " Stopped: only what was done is told."
    said = f"What drives the answer? {numbers}. {how}{drawn}; every point met the same luck.{stopped}"
    return f"{said} {beside_fleet(result)}".rstrip()


def held(result: Result) -> str:
    """Return what the intervals hold: of draws unknown inputs too, but for the best guess, which is one point."""
    said = f"The {percent(result['confidence'])} intervals hold {doubt.held(result)}"
    return f"{said}; that of the best guess {doubt.CHANCE_ONLY}." if result["method"] == "nested" else f"{said}."


def value_of(result: Result, measure: str, value: float) -> str:
    """Return a measure's value with its unit: `5 %`, `120 h`, `USD 5,000`."""
    if measure == CHANCE:
        return percent(value)
    return money(value, result["currency"] or "") if measure == COST else f"{number(value)} h"


def tornado_sentences(result: Result) -> list[str]:
    """Return a sentence for each strategy: what matters most, what comes next, and what does not matter."""
    return [_matters(result, name) for name in result["strategies"]]


def _matters(result: Result, name: str) -> str:
    measure, bars = matters_most(result["strategies"], name)
    sure = [bar for bar in bars if bar["beyond_luck"]]
    if not bars:
        return f"Under “{name}”: stopped before any number had both its ends."
    if not sure:
        return (
            f"Under “{name}” no number moves the {NAMES[measure]} by more than chance explains; "
            "run more --replications to tell small effects."
        )
    first, *others = sure
    said = f"What matters most under “{name}”: {first['field']}. {_ends(result, measure, first, name)}"
    if others:
        next_ones = joined([bar["field"] for bar in others[:MOST_NAMED]])
        said += f" Next {'come' if len(others) > 1 else 'comes'} {next_ones}."
    left = len(bars) - len(sure)
    if left:
        of = f"the {left} others do" if left > 1 else "the other one does"
        said += f" What {of} is no more than chance explains."
    return said


def _ends(result: Result, measure: str, bar: Result, name: str) -> str:
    """Return what happens at the two ends and at the best guess."""
    guess = result["strategies"][name]["best_guess"][measure]
    likely = next(each["likely"] for each in result["uncertain"] if each["field"] == bar["field"])
    low, high = bar["low"], bar["high"]
    if measure != CHANCE:
        at = [f"{value_of(result, measure, middle(end))} at {end['value']}" for end in (low, high)]
        return f"{NAMES[measure][0].upper()}{NAMES[measure][1:]}: {at[0]}, {at[1]}."
    size = max(out_of(each) for each in (low, high, guess))
    told = [
        f"{short_frequency(each, result['replications'], result['horizon_days'], size)} {where}"
        for each, where in ((low, f"at {low['value']}"), (high, f"at {high['value']}"), (guess, f"at {likely}"))
    ]
    return f"Stock-outs: {told[0]}, {told[1]} ({told[2]}, the best guess)."


def nested_sentences(result: Result) -> list[str]:
    """Return a sentence for each strategy: the best guess, the range over what is not known, and their mean."""
    return [_nested(result, name, item[CHANCE]) for name, item in result["strategies"].items()]


def _nested(result: Result, name: str, item: Result) -> str:
    low, high = item["range_low"]["estimate"], item["range_high"]["estimate"]
    small = 0 < min(low or 1, item["best_guess"]["estimate"] or 1, item["mean"]["estimate"] or 1) < 0.01
    size = 1_000 if small else 100
    word = "years" if is_year(result["horizon_days"]) else f"runs of {span(result['horizon_days'])}"

    def of(share: float) -> str:
        return number(share * size)

    best = item["best_guess"]
    seen = short_frequency(best, result["replications"], result["horizon_days"], size)
    if low == high == best["estimate"]:
        return f"“{name}”: stock-outs, {seen}, whatever the numbers within their ranges."
    at_best = seen if best["estimate"] in (0, 1) else f"{of(best['estimate'])} {word} in {size:,}"
    return (
        f"“{name}”: stock-outs, {at_best} at the best guess; between {of(low)} and {of(high)} "
        f"in {size:,} given what we do not know ({percent(result['range'])} of the draws); "
        f"{of(item['mean']['estimate'])} in {size:,} over all of it. "
        f"The target of {percent(result['target'])} is met in {percent(item['meets_target_in'])} of the draws."
    )


def decision_sentences(result: Result) -> list[str]:
    """Return who is best by each rule, how sure that is, and what knowing more would be worth."""
    return [_decision(result, each) for each in result["decisions"]]


def _decision(result: Result, item: Result) -> str:
    best = item["best_now"]
    shares = joined([f"“{name}” in {percent(share)}" for name, share in item["best_in"].items() if share > 0])
    said = f"By the rule “{rule(result, item)}”, “{best}” is best now; of the draws, best is {shares}."
    if item["by"] == BY_COST:
        missed = item["misses_target_in"][best]
        none = (
            f"; where none meets it, in {percent(item['none_meets_in'])}, the most reliable counts as the best"
            if item["none_meets_in"]
            else ""
        )
        return f"{said} It misses the target in {percent(missed)} of them{none}."
    worth = item["perfect_information"]
    factor, unit = (100.0, " stock-outs in 100 years") if item["by"] == BY_CHANCE else (1.0, "")
    if unit and not is_year(result["horizon_days"]):
        unit = f" stock-outs in 100 runs of {span(result['horizon_days'])}"
    before = "" if unit else f"{result['currency'] or ''} "
    after = "" if unit else " a year"

    def say(value: float) -> str:
        return f"{before}{number(factor * value)}".strip()

    if worth["at_most"] <= 0:
        return (
            f"{said} Whatever the numbers turn out to be, that choice stands: knowing them would change nothing."
        )
    said += (
        f" Knowing all numbers before choosing would save {say(worth['estimate'])}{unit}{after} on average "
        f"({number(factor * worth['low'])} to {number(factor * worth['high'])}): so much, and no more, is worth "
        "paying to find out."
    )
    first = item["one_number"][0] if item["one_number"] else None
    if first is None or first["estimate"] <= 2 * first["by_luck"] or first["estimate"] <= 0:
        return f"{said} No single number is shown to be worth finding out by itself."
    return f"{said} The one most worth finding out is {first['field']} ({say(first['estimate'])}{unit}{after})."


def rule(result: Result, item: Result) -> str:
    """Return a rule in full, with its limit."""
    if item["by"] == BY_CHANCE:
        budget = result["budget"]
        within = "" if budget is None else f" for at most {money(budget, result['currency'] or '')} a year"
        return f"{item['by']}{within}"
    if item["by"] == BY_COST:
        return f"cheapest with a stock-out in at most {percent(result['target'])}"
    return f"cost a year, and {money(result['worth'], result['currency'] or '')} for a year with a stock-out"


def index_sentences(result: Result) -> list[str]:
    """Return a sentence for each strategy: which numbers carry the weight, by Morris or Sobol."""
    return [_weightiest(result, name) for name in result["strategies"]]


def _weightiest(result: Result, name: str) -> str:
    measures = result["strategies"][name]
    measure = CHANCE if measures[CHANCE] is not None else SUPPLY_HOURS
    entries: Sequence[Result] | None = measures[measure]
    if entries is None:
        return f"Under “{name}” nothing varies: neither the chance nor the hours unserved for want of supply."
    key = "mu_star" if result["method"] == "morris" else "st"
    first = entries[0]
    half = first[f"{key}_half_width"]
    if first[key] <= half:
        return f"Under “{name}” too few points were run to tell what matters most: ask for more --samples."
    if key == "st":
        said = (
            f"{percent(min(max(first['st'], 0.0), 1.0))} of the variance of the {NAMES[measure]}, with all it "
            f"does together with others ({percent(min(max(first['s1'], 0.0), 1.0))} by itself)"
        )
    else:
        said = (
            f"moved across its range it changes the {NAMES[measure]} by {_step(result, measure, first)} on average"
        )
    return f"What matters most under “{name}”: {first['field']}: {said}."


def _step(result: Result, measure: str, entry: Result) -> str:
    if measure == CHANCE:
        return f"{number(100 * entry['mu_star'])} percentage points"
    return value_of(result, measure, entry["mu_star"])


def sentences(result: Result) -> list[str]:
    """Return what the result says in words, by its method."""
    if result["method"] == "one-at-a-time":
        return tornado_sentences(result)
    if result["method"] == "nested":
        return [*nested_sentences(result), *decision_sentences(result)]
    return index_sentences(result)
