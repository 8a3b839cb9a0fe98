"""What would change the answer, for who decides: which unknown figure changes the choice, and from where on.

The choice is the strategy with the fewest replications with a supply shortfall, hours unserved breaking ties. From
where on another is best is said of values that were tried; nothing is guessed between them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from o2sim.looks.words import is_year, number, span
from o2sim.measures.names import CHANCE, SUPPLY_HOURS
from o2sim.questions.drivers.result import Bar, OneAtATime, Range, Tornado

Words = Callable[[str], str]  # of a dotted path
Values = Callable[[str, str], str]  # of a dotted path and a value as written
FEW = 3  # figures named in the first sentences


@dataclass(frozen=True)
class Best:
    """Which strategy is best at a value, and whether its interval stands clear of that of the usual choice."""

    name: str
    is_clear: bool


@dataclass(frozen=True)
class Unknown:
    """One unknown figure: the chances of the choice at its ends, and which strategy is best there.

    path: dotted; swing: how far the chance of the choice moves, 0 to 1. low and high: best at each end.
    """

    path: str
    texts: tuple[str, str, str]
    at_low: float
    at_high: float
    swing: float
    beyond_luck: bool
    low: Best
    high: Best


@dataclass(frozen=True)
class Turn:
    """From which tried value on another strategy is best; the values that were tried, from the likely one out."""

    path: str
    best: Best
    begins: str
    tried: tuple[str, ...]


def unknowns(result: OneAtATime) -> tuple[str, list[Unknown]]:
    """Return the choice at the likely figures, and each unknown figure, that which moves its chance most first."""
    choice = min(result.strategies, key=lambda name: _rank(result.strategies[name], None, "", name))
    bars = {bar.field: bar for bar in result.strategies[choice].bars.get(CHANCE, ())}
    found = [
        Unknown(
            each.field, (each.low, each.likely, each.high), bar.low.middle, bar.high.middle, bar.swing,
            bar.beyond_luck, _best(result, choice, each.field, "low"), _best(result, choice, each.field, "high"),
        )
        for each in result.uncertain
        if (bar := bars.get(each.field)) is not None
    ]  # fmt: skip
    changes = {
        each.path for each in found if choice not in (each.low.name, each.high.name) or _turns(each, choice)
    }
    return choice, sorted(found, key=lambda each: (each.path not in changes, -each.swing))


def _turns(each: Unknown, choice: str) -> bool:
    return any(end.name != choice and end.is_clear for end in (each.low, each.high))


def _rank(item: Tornado, field: str | None, end: str, name: str) -> tuple[float, float, str]:
    """Return the chance and the hours of a strategy at an end of a figure, at the likely figures without one."""
    if field is None:
        return item.best_guess[CHANCE].middle or 0.0, item.best_guess[SUPPLY_HOURS].middle or 0.0, name
    chance, hours = (_bar(item, measure, field) for measure in (CHANCE, SUPPLY_HOURS))
    if chance is None or hours is None:
        return _rank(item, None, end, name)
    return getattr(chance, end).middle, getattr(hours, end).middle, name


def _bar(item: Tornado, measure: str, field: str) -> Bar | None:
    return next((bar for bar in item.bars.get(measure, ()) if bar.field == field), None)


def _best(result: OneAtATime, choice: str, field: str, end: str) -> Best:
    strategies = result.strategies
    best = min(strategies, key=lambda name: (*_rank(strategies[name], field, end, name)[:2], name != choice))
    if best == choice:
        return Best(best, is_clear=False)
    ends = [_bar(strategies[name], CHANCE, field) for name in (best, choice)]
    if None in ends:
        return Best(best, is_clear=False)
    mine, usual = (getattr(bar, end) for bar in ends)
    return Best(best, is_clear=mine.high is not None and usual.low is not None and mine.high < usual.low)


def to_look_closer(found: Sequence[Unknown], choice: str) -> list[tuple[Unknown, str]]:
    """Return the figures, and the ends, at which another strategy is clearly best, to look closer there."""
    ends = [(each, end) for each in found for end in ("low", "high")]
    return [(each, end) for each, end in ends if (at := getattr(each, end)).is_clear and at.name != choice]


def in_plain_words(
    result: OneAtATime, choice: str, words: Words, values: Values, is_turned: Callable[[str], bool]
) -> OneAtATime:
    """Return the result of the choice alone, figures and their values in words: to be drawn.

    is_turned: whether a figure is asked for the other way round than the file states it, so that low is high.
    """

    def said(bar: Bar) -> Bar:
        low, high = (replace(end, value=values(bar.field, end.value)) for end in (bar.low, bar.high))
        low, high = (high, low) if is_turned(bar.field) else (low, high)
        return replace(bar, field=words(bar.field), low=low, high=high)

    item = result.strategies[choice]
    bars = {measure: tuple(map(said, each)) for measure, each in item.bars.items()}
    ranges = tuple(_range(each, words, values) for each in result.uncertain)
    return replace(result, strategies={choice: Tornado(item.best_guess, bars)}, uncertain=ranges)


def _range(each: Range, words: Words, values: Values) -> Range:
    low, likely, high = (values(each.field, text) for text in (each.low, each.likely, each.high))
    return replace(each, field=words(each.field), low=low, likely=likely, high=high)


def sentences(
    result: OneAtATime,
    choice: str,
    found: Sequence[Unknown],
    turns: Mapping[str, Turn],
    words: Words,
    values: Values,
) -> list[str]:
    """Return what to find out first and what it does to the choice, in a few short sentences."""
    runs = "years" if is_year(result.horizon_days) else f"runs of {span(result.horizon_days)}"
    if not result.complete:
        return ["Stopped before every figure was tried: go on before deciding."]
    sure = [each for each in found if each.beyond_luck or each.path in turns]
    if not sure:
        return [f"With “{choice}” no unknown figure moves the answer by more than chance explains."]
    first = sure[0]
    said = [f"Find out first: {words(first.path)}."]
    likely = result.strategies[choice].best_guess[CHANCE].middle or 0.0
    low, usual, high = (values(first.path, text) for text in first.texts)
    said.append(
        f"With “{choice}” somebody goes without in {_of(first.at_low)} of 100 {runs} at {low}, and in "
        f"{_of(first.at_high)} at {high}; at the likely {usual} in {_of(likely)}."
    )
    changing = [turns[each.path] for each in sure if each.path in turns]
    for turn in changing[:FEW]:
        said.append(
            f"From {values(turn.path, turn.begins)} on ({words(turn.path)}), “{turn.best.name}” serves better "
            f"than “{choice}”."
        )
    said.append(
        f"No {'other ' if changing else ''}figure marked as unknown clearly changes which way of supply is best."
    )
    return said


def _of(share: float) -> str:
    return number(round(100 * share, 1))
