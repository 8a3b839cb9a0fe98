"""Say in sentences what drives the answer: what matters most, and what is unknown beside chance."""

from __future__ import annotations

from o2sim.looks import doubt
from o2sim.looks.words import (
    amount,
    beside_fleet,
    capital,
    for_readers,
    is_year,
    joined,
    money,
    number,
    out_of,
    percent,
    short_frequency,
    span,
)
from o2sim.measures.names import BROKEN, CHANCE, COST, NOT_BOUGHT, SUPPLY_HOURS
from o2sim.questions.drivers.regret import BY_CHANCE
from o2sim.questions.drivers.result import (
    Answers,
    Bar,
    ByCost,
    ByLoss,
    Found,
    MorrisIndex,
    Nested,
    OneAtATime,
    OverDraws,
    Screened,
)
from o2sim.questions.drivers.tornado import matters_most
from o2sim.questions.whatif.text import DRAWN
from o2sim.typed import as_json

NAMES = {
    **dict(DRAWN.values()),
    NOT_BOUGHT: "cylinders a year not bought for want of money",
    BROKEN: "unit-hours a year broken with no repair under way",
}
MOST_NAMED = 2  # numbers named after the first
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


def asked(result: Answers) -> str:
    """Return what was asked, and how."""
    count = len(result.uncertain)
    numbers = "1 number is uncertain" if count == 1 else f"{count} numbers are uncertain"
    drawn = ""
    if isinstance(result, Nested):
        drawn = f", {result.draws:,} times, independently, each by the law {LAW_WORDS[result.law or 'pert']}"
        if result.drawn_from is not None:
            drawn = f", {result.draws:,} times, by the rows of {result.drawn_from.file}, in which they go together"
    elif isinstance(result, Screened):
        law = f", each by the law {LAW_WORDS[result.law]}" if result.method == "sobol" else ""
        drawn = f"{law}; {result.points:,} points"
    stopped = "" if result.complete else " Stopped: only what was done is shown."
    how = f"{METHOD_WORDS[result.method]}{drawn}; every point met the same luck.{stopped}"
    return f"What drives the answer? {numbers}. {how} {beside_fleet(as_json(result.levels))}".rstrip()


def held(result: Answers) -> str:
    """Return what the intervals hold: of draws unknown inputs too, but for the best guess, which is one point."""
    said = f"The {percent(result.confidence)} intervals hold {holds(result)}"
    return f"{said}; that of the best guess {doubt.CHANCE_ONLY}." if result.method == "nested" else f"{said}."


def holds(result: Answers) -> str:
    """Return which doubt the intervals hold."""
    return doubt.holds(result.interval_holds, getattr(result, "drawn_from", None))


def scaled(measure: str, value: float) -> float:
    """Return a value as it is shown: a chance in percent."""
    return 100 * value if measure == CHANCE else value


def value_of(result: Answers, measure: str, value: float) -> str:
    """Return a measure's value with its unit: `5 %`, `120 h`, `USD 5,000`."""
    if measure == CHANCE:
        return percent(value)
    if measure == NOT_BOUGHT:
        return f"{amount(value)} cylinders"
    return money(value, result.currency or "") if measure == COST else f"{amount(value)} h"


def _matters(result: OneAtATime, name: str) -> str:
    """Return what matters most to a strategy, what comes next, and what does not matter."""
    measure, bars = matters_most(result.strategies[name])
    sure = [bar for bar in bars if bar.beyond_luck]
    if not bars:
        return f"Under “{name}”: stopped before any number had both its ends."
    if not sure:
        return (
            f"Under “{name}” no number moves the {NAMES[measure]} by more than chance explains; "
            "run more --replications to see small effects."
        )
    first, *others = sure
    said = f"What matters most under “{name}”: {first.field}. {_ends(result, measure, first, name)}"
    if others:
        next_ones = joined([bar.field for bar in others[:MOST_NAMED]])
        said += f" Next {'come' if len(others) > 1 else 'comes'} {next_ones}."
    left = len(bars) - len(sure)
    if left:
        of = f"the {left} others do" if left > 1 else "the other one does"
        said += f" What {of} is no more than chance explains."
    return said


def _ends(result: OneAtATime, measure: str, bar: Bar, name: str) -> str:
    """Return what happens at the two ends and at the best guess."""
    if measure != CHANCE:
        low, high = (f"{value_of(result, measure, end.middle)} at {end.value}" for end in (bar.low, bar.high))
        return f"{capital(NAMES[measure])}: {low}, {high}."
    found = [as_json(each) for each in (bar.low, bar.high, result.strategies[name].best_guess[measure])]
    size = max(map(out_of, found))
    low, high, likely = (
        f"{short_frequency(each, result.ran.replications, result.horizon_days, size)} at {where}"
        for each, where in zip(found, (bar.low.value, bar.high.value, result.likely(bar.field)), strict=True)
    )
    return f"Supply shortfalls: {low}, {high} ({likely}, the best guess)."


def _nested(result: Nested, name: str, item: OverDraws) -> str:
    """Return a strategy's best guess, the range over what is not known, and the mean over it."""
    low, high, mean, best = item.range_low.estimate, item.range_high.estimate, item.mean.estimate, item.best_guess
    small = 0 < min(low or 1, best.middle or 1, mean or 1) < 0.01
    size = 1_000 if small else 100
    word = "years" if is_year(result.horizon_days) else f"runs of {span(result.horizon_days)}"

    def of(share: float) -> str:
        return number(share * size)

    seen = short_frequency(as_json(best), result.ran.replications, result.horizon_days, size)
    if low == high == best.middle:
        return f"“{name}”: supply shortfalls, {seen}, whatever the numbers within their ranges."
    at_best = seen if best.middle in (0, 1) else f"{of(best.middle)} {word} in {size:,}"
    return (
        f"“{name}”: supply shortfalls, {at_best} at the best guess; between {of(low)} and {of(high)} "
        f"in {size:,} given what we do not know ({percent(result.range)} of the draws); "
        f"{of(mean)} in {size:,} over all of it. "
        f"The target of {percent(result.target)} is met in {percent(item.meets_target_in or 0.0)} of the draws."
    )


def _decision(result: Nested, item: ByLoss | ByCost) -> str:
    """Return who is best by a rule, how sure that is, and what knowing more would be worth."""
    best = item.best_now
    shares = joined([f"“{name}” in {percent(share)}" for name, share in item.best_in.items() if share > 0])
    said = f"By the rule “{rule(result, item)}”, “{best}” is best now; of the draws, best is {shares}."
    if isinstance(item, ByCost):
        none = (
            f"; where none meets it, in {percent(item.none_meets_in)}, the most reliable counts as the best"
            if item.none_meets_in
            else ""
        )
        return f"{said} It misses the target in {percent(item.misses_target_in[best])} of them{none}."
    worth = item.perfect_information
    if worth.at_most <= 0:
        return (
            f"{said} Whatever the numbers turn out to be, that choice stands: knowing them would change nothing."
        )
    factor, before, after = 1.0, f"{result.currency or ''} ", " a year"
    if item.by == BY_CHANCE:
        runs = "years" if is_year(result.horizon_days) else f"runs of {span(result.horizon_days)}"
        factor, before, after = 100.0, "", f" supply shortfalls in 100 {runs}"

    def say(value: float) -> str:
        return f"{before}{number(factor * value)}{after}".strip()

    said += (
        f" Knowing all numbers before choosing would save {say(worth.estimate)} on average "
        f"({number(factor * worth.low)} to {number(factor * worth.high)}): so much, and no more, is worth "
        "paying to find out."
    )
    first = item.one_number[0] if item.one_number else None
    if first is None or first.estimate <= 2 * first.by_luck or first.estimate <= 0:
        return f"{said} No single number is shown to be worth finding out by itself."
    return f"{said} The one most worth finding out is {first.field} ({say(first.estimate)})."


def rule(result: Nested, item: ByLoss | ByCost) -> str:
    """Return a rule in full, with its limit."""
    currency = result.currency or ""
    if isinstance(item, ByCost):
        return f"cheapest with a supply shortfall in at most {percent(result.target)}"
    if item.by == BY_CHANCE:
        return for_readers(item.by) + (
            "" if result.budget is None else f" for at most {money(result.budget, currency)} a year"
        )
    return f"cost a year, and {money(result.worth or 0.0, currency)} for a year with a supply shortfall"


def _weightiest(result: Screened, name: str) -> str:
    """Return which number carries the most weight under a strategy, by Morris or Sobol."""
    measures = result.strategies[name]
    measure = CHANCE if measures[CHANCE] is not None else SUPPLY_HOURS
    found = measures[measure]
    if found is None:
        return f"Under “{name}” nothing varies: neither the chance nor the hours unserved for lack of supply."
    first = found[0]
    if isinstance(first, MorrisIndex):
        weight, half = first.mu_star, first.mu_star_half_width
        step = (
            f"{number(100 * weight)} percentage points" if measure == CHANCE else value_of(result, measure, weight)
        )
        said = f"moved across its range it changes the {NAMES[measure]} by {step} on average"
    else:
        weight, half = first.st, first.st_half_width
        together, alone = (percent(min(max(share, 0.0), 1.0)) for share in (weight, first.s1))
        said = (
            f"{together} of the variance of the {NAMES[measure]}, with all it does together with others "
            f"({alone} by itself)"
        )
    if weight <= half:
        return f"Under “{name}” too few points were run to tell what matters most: ask for more --samples."
    return f"What matters most under “{name}”: {first.field}: {said}."


def sentences(result: Found) -> list[str]:
    """Return what the result says in words: a sentence for each strategy, and for each rule of choice."""
    if isinstance(result, OneAtATime):
        return [_matters(result, name) for name in result.strategies]
    if isinstance(result, Nested):
        chances = [_nested(result, name, item[CHANCE]) for name, item in result.strategies.items()]
        return [*chances, *(_decision(result, each) for each in result.decisions)]
    return [_weightiest(result, name) for name in result.strategies]
