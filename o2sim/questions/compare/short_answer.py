"""The answer of a comparison in two sentences of at most 35 words each, and its range where figures are not known.

Every figure is rounded as in the table to decide by. What does not fit is left out in a fixed order; what a reader
could be hurt by not knowing (oxygen not delivered, another strategy that serves better) is said first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from o2sim.looks import unbought
from o2sim.looks.blocks import mean_of, split_hours
from o2sim.looks.words import (
    COUNTED_BELOW,
    Chance,
    Summary,
    half_up,
    joined,
    money,
    number,
    out_of,
    percent,
    quoted,
    runs,
    short_frequency,
)
from o2sim.measures.names import CHANCE
from o2sim.money.unbought import Unbought
from o2sim.questions.compare.headline import FEWEST, LOW_FILL, is_clear, leading_strategy, rival_of

MOST_WORDS = 35
MOST_LETTERS = 32  # of a strategy's name within a sentence
WITHOUT = "somebody goes without because supply ran out in"


@dataclass(frozen=True)
class Tried:
    """The chance of a supply shortfall of each strategy at one set of figures.

    by: which unknown is at an end of its range there, in words; empty where it is the likely set, or several are.
    """

    chances: Mapping[str, float]
    by: str = ""


def short_answer(summary: Summary) -> tuple[str, str]:
    """Return the answer in two sentences: how often somebody goes without, and what it costs and leaves."""
    best, currency = leading_strategy(summary), summary["currency"] or ""
    rival = rival_of(summary, best)
    second = _beside_rival(summary, best, rival, currency) if rival else _left(summary, best, currency)
    return _how_often(summary, best), second


def range_answer(tried: Sequence[Tried], replications: int, horizon_days: float) -> tuple[str, str]:
    """Return the answer while figures are not known: the range over what was tried, and whether the choice holds.

    tried: first the likely figures, then ends of ranges or sets of figures drawn together, each of so many
    replications. The range goes from the least to the greatest chance seen; it holds luck as well.
    """
    best = min(tried[0].chances, key=lambda name: tried[0].chances[name])
    low = min(tried, key=lambda each: each.chances[best])
    high = max(tried, key=lambda each: each.chances[best])
    ends = [_of_all(each.chances[best], replications) for each in (low, high)]
    size = 100 if replications >= COUNTED_BELOW else replications
    word = runs(size, horizon_days).partition(" ")[2]
    span = ends[0] if ends[0] == ends[1] else f"between {ends[0]} and {ends[1]}"
    by = joined([_named(each, False) for each in dict.fromkeys((high.by, low.by)) if each])
    why = f", depending on {by}" if by and ends[0] != ends[1] else ", as some figures are not known"
    first = f"With {_named(best)}, {WITHOUT} {span} of {size} {word}{why}."
    return _fitting([first, first.removesuffix(f"{why}.") + ", as some figures are not known."]), _holds(
        tried, best
    )


def chance_parts(chance: Chance, count: int, days: float) -> tuple[str, str]:
    """Return a chance as a natural frequency, and its interval: ("15 in 100", "9–24"), ("none in 200", "to 2 %").

    The interval is empty where there is none.
    """
    whole = short_frequency(chance, count, days)
    if chance["low"] is None or count == 1:
        return whole, ""
    if chance["estimate"] <= 0:
        return f"none in {count:,}", f"to {ceil(100 * chance['high'])} %"
    said = whole.removesuffix(f" {runs(100, days).partition(' ')[2]}")
    size = out_of(chance) if " in " in said else 100
    low, high = (number(half_up(size * chance[end])) for end in ("low", "high"))
    return said, f"{low}–{high}{' %' if ' in ' not in said else ''}"


def _how_often(summary: Summary, best: str) -> str:
    """Return the first sentence; strategies that do not fit are said together."""
    strategies, count, days = summary["strategies"], summary["replications"], summary["horizon_days"]
    said, interval = chance_parts(strategies[best][CHANCE], count, days)
    few = f"only {count} simulated" if count < FEWEST else ""
    doubt = "; ".join(filter(None, [interval.replace("–", " to "), few]))
    word = runs(100, days).partition(" ")[2] if interval else ""
    lead = f"With {_named(best)}, {WITHOUT} {_of(said)} {word}".rstrip() + (f" ({doubt})" if doubt else "")
    others = sorted((n for n in strategies if n != best), key=lambda n: strategies[n][CHANCE]["estimate"])
    each = [f"; with {_beside(summary, best, name)}" for name in others]
    rest = [
        f"; {len(each) - most} more not below that" if most < len(each) else "" for most in range(len(each) + 1)
    ]
    listed = [f"{lead}{''.join(each[:most])}{rest[most]}." for most in range(len(each), 0, -1)]
    alike = not any(is_clear(summary, best, name) for name in others)
    them = "the other" if len(others) == 1 else f"the {len(others)} others"
    last = f"; no clear difference from {them}" if alike else f"; {them} not below that"
    return _fitting([*listed, f"{lead}{last if others else ''}."])


def _beside(summary: Summary, best: str, name: str) -> str:
    """Return another strategy with its chance, and whether it is clearly another."""
    chance = summary["strategies"][name][CHANCE]
    said = _of(chance_parts(chance, summary["replications"], summary["horizon_days"])[0])
    return f"{_named(name)} in {said}{'' if is_clear(summary, best, name) else ' (no clear difference)'}"


def _of(said: str) -> str:
    """Return a frequency as it stands within a sentence: "10 of 100", "none of 200", "all 200"."""
    return said.replace(" seen in ", " of ").replace(" in ", " of ")


def _left(summary: Summary, best: str, currency: str) -> str:
    """Return the second sentence: what the strategy leaves undone, and what it costs."""
    item = summary["strategies"][best]
    supply, handling = split_hours(item)
    hours = number(supply) if supply else "no"
    left = f"It leaves {hours} patient-hours a year unserved because supply ran out and {number(handling)} "
    left += "by handling"
    helps = ", where more stock does not help" if handling else ""
    part = mean_of(item.get("under_served_patient_hours"))
    under = f"; {number(part)} more are served in part" if part else ""
    low = f"; it delivers only {percent(_fill(item))} of the litres needed" if _fill(item) < LOW_FILL else ""
    moved = item["transferred_patients"]["mean"]
    sent = f"; {number(moved)} patients a year are transferred" if moved else ""
    lacking, cost, tight = unbought.of_item(item), "", ""
    if item["annual_cost"]:
        about = money(item["annual_cost"]["mean"], currency)
        cost = tight = f"; total cost a year about {about}{unbought.shortly(lacking)}"
        if lacking is not None and lacking.lacks:
            tight = f"; about {about} a year{unbought.tightly(lacking)}"
    ends = (
        helps + under + low + sent + cost,
        under + low + sent + cost,
        low + sent + cost,
        low + cost,
        low + tight,
        low,
    )
    return _fitting([f"{left}{end}." for end in ends])


def _beside_rival(summary: Summary, best: str, rival: str, currency: str) -> str:
    """Return that another strategy leaves far fewer hours, or delivers more, with the cost of both."""
    one, other = (summary["strategies"][name] for name in (best, rival))
    hours = [number(item["unserved_patient_hours"]["mean"]) for item in (one, other)]
    said = f"But it leaves {hours[0]} patient-hours a year unserved, {_named(rival)} {hours[1]}"
    fills = [percent(_fill(item)) for item in (one, other)]
    low = f"; of the litres needed they deliver {fills[0]} and {fills[1]}" if _fill(one) < LOW_FILL else ""
    costs = [item["annual_cost"] for item in (one, other)]
    cost = ""
    if None not in costs:
        amounts = " and ".join(money(each["mean"], currency) for each in costs)
        lacking = _not_bought(unbought.of_item(one), unbought.of_item(other))
        cost = f"; total cost a year about {amounts}{lacking}"
    return _fitting([f"{said}{low}{cost}.", f"{said}{low}.", f"{said}."])


def _not_bought(one: Unbought | None, other: Unbought | None) -> str:
    """Return what was not bought under two strategies, in brackets; "" where all that was needed was."""
    said = unbought.differ(one, other)
    return f" ({said})" if said else ""


def _holds(tried: Sequence[Tried], best: str) -> str:
    """Return whether the strategy that is best at the likely figures is best at all that was tried."""
    others: dict[str, str] = {}
    for each in tried:
        least = min(each.chances, key=lambda name: each.chances[name])
        if each.chances[least] < each.chances[best]:
            others.setdefault(least, each.by)
    if len(tried[0].chances) == 1:
        return "Find out first what it depends on."
    if not others:
        alone = all(each.by for each in tried[1:])
        tried_all = "every figure tried, one unknown at a time" if alone else "every set of figures tried"
        return f"{_named(best)} does best, or as well as any, at {tried_all}."
    name, by = next(iter(others.items()))
    where = f"at another figure for {_named(by, False)}" if by else "at some of the figures tried"
    return f"{_named(name)} would do better {where}, so the choice is not settled."


def _of_all(chance: float, replications: int) -> str:
    """Return a chance as a count of 100, of the replications where they are fewer."""
    count = half_up(chance * (100 if replications >= COUNTED_BELOW else replications))
    if count == 0:
        return "none" if chance <= 0 else "fewer than 1"
    return f"{count}"


def _fitting(sentences: Sequence[str]) -> str:
    """Return the first sentence that is short enough, the last where none is."""
    return next((each for each in sentences if len(each.split()) <= MOST_WORDS), sentences[-1])


def _named(name: str, quotes: bool = True) -> str:
    """Return a name as it stands within a sentence, cut where it is very long."""
    short = name if len(name) <= MOST_LETTERS else f"{name[: MOST_LETTERS - 3].rstrip()}..."
    return quoted([short]) if quotes else short


def _fill(item: Mapping[str, Any]) -> float:
    return float(item["fill_rate"]["mean"])
