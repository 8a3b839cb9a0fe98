"""What would change the answer, as plain data: what to find out, from where on it matters, who knows it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from o2sim.desk.engine_child import Progress
from o2sim.desk.shown_blocks import data_of, without_keys
from o2sim.looks.blocks import Picture
from o2sim.scenario.types.hospital import Scenario

if TYPE_CHECKING:
    from o2sim.questions.drivers.drivers import Drivers

SEED = 1
STEPS = 4  # from the likely value of a figure to its end, to see from where on the choice changes


def driven(found: Drivers, scenario: Scenario, progress: Progress, replications: int) -> dict[str, Any]:
    """Return what drives the answer as plain data: what to find out, what it changes, and who knows it."""
    from o2sim.questions.drivers import what_matters
    from o2sim.questions.drivers.charts import draw
    from o2sim.questions.drivers.content import content
    from o2sim.questions.drivers.result import OneAtATime
    from o2sim.questions.drivers.short_range import in_words

    result = found.answers
    assert isinstance(result, OneAtATime)
    choice, each = what_matters.unknowns(result)
    values = partial(_value_in_words, _likely_length_h(scenario))
    turns = _turning(scenario, choice, each, progress, replications)
    drawn = what_matters.in_plain_words(result, choice, in_words, values, _is_turned)
    said = what_matters.sentences(result, choice, each, turns, in_words, values)
    rows = [_row(one, turns, values) for one in each]
    picture = (
        Picture("matters", "How far each moves the answer", " ".join(said), "", draw(drawn)) if each else None
    )
    words = {one.path: in_words(one.path) for one in scenario.uncertain}
    return {
        "complete": bool(found.result["complete"]),
        "scenario_hash": scenario.hash,
        "short": said[0],
        "said": said,
        "choice": choice,
        "rows": rows,
        "picture": data_of([picture] if picture else []),
        "more": data_of(without_keys(content(result), words)),
    }


def _row(one: Any, turns: Mapping[str, Any], values: Any) -> dict[str, Any]:
    """Return a figure as a row of what to find out."""
    from o2sim.questions.drivers.short_range import in_words
    from o2sim.scenario.keys.questions import known_by

    ends = [(values(one.path, one.texts[0]), one.at_low), (values(one.path, one.texts[2]), one.at_high)]
    (low, at_low), (high, at_high) = reversed(ends) if _is_turned(one.path) else ends
    return {
        "what": in_words(one.path),
        "low": low,
        "high": high,
        "at_low": at_low,
        "at_high": at_high,
        "beyond_luck": one.beyond_luck,
        "turn": None if one.path not in turns else _turn_said(turns[one.path], values),
        "known_by": known_by(one.path),
        "question": _page_of(one.path),
    }


def _is_turned(path: str) -> bool:
    """Return True for cuts a week, of which the file states the time between two."""
    from o2sim.scenario.keys.questions import asked_at

    question = asked_at(path)
    return question is not None and question.name == "cuts"


def _turn_said(turn: Any, values: Any) -> dict[str, Any]:
    return {
        "name": turn.best.name,
        "begins": values(turn.path, turn.begins),
        "tried": [values(turn.path, each) for each in turn.tried],
    }


def _page_of(path: str) -> list[Any]:
    """Return page and name of the question that asks for a figure, nothing where none does."""
    from o2sim.scenario.keys.questions import PAGES, asked_at

    question = asked_at(path)
    return [] if question is None else [PAGES.index(question.page) + 1, question.name]


def _turning(scenario: Scenario, choice: str, found: Any, progress: Progress, replications: int) -> dict[str, Any]:
    """Return from which tried value on another strategy is best, by the figure that does it."""
    from o2sim.questions.drivers.what_matters import Best, Turn, to_look_closer
    from o2sim.questions.whatif.settings import WhatIfSettings
    from o2sim.questions.whatif.whatif import whatif

    turns: dict[str, Any] = {}
    for each, end in to_look_closer(found, choice):
        texts = _between(scenario, each.path, 0 if end == "low" else 2)
        asked = WhatIfSettings(replications=replications, seed=SEED, hold_levels=True)
        tried = whatif(scenario, f"{each.path} = {', '.join(texts)}", settings=asked, progress=progress).result
        best = [_best_of(point["strategies"], choice) for point in tried["points"]]
        first = next((at for at in range(len(best)) if choice not in best[at:]), None)
        if tried["complete"] and first is not None and each.path not in turns:
            values = tuple(point["values"][each.path] for point in tried["points"])
            turns[each.path] = Turn(each.path, Best(best[-1], is_clear=True), values[first], values)
    return turns


def _between(scenario: Scenario, path: str, end: int) -> list[str]:
    """Return values from the likely one of a figure to one of its ends, in equal steps, as they are written."""
    item = next(each for each in scenario.uncertain if each.path == path)
    likely, last = item.numbers[1], item.numbers[end]
    steps = [likely + (last - likely) * step / STEPS for step in range(1, STEPS + 1)]
    numbers = dict.fromkeys(round(each) if item.whole else float(f"{each:.4g}") for each in steps)
    return [f"{each:.10g}{f' {item.unit}' if item.unit else ''}" for each in numbers if each != likely]


def _best_of(strategies: Mapping[str, Any], choice: str) -> str:
    """Return the strategy with the fewest shortfalls at a point, then the fewest hours; ties go to the choice."""

    def rank(name: str) -> tuple[float, float, bool]:
        found = strategies[name]
        hours = found["unserved_hours_for_want_of_supply"]["mean"]
        return found["stock_out_probability"]["estimate"], hours, name != choice

    return min(strategies, key=rank)


def _likely_length_h(scenario: Scenario) -> float:
    """Return how long a power cut usually lasts, by the file: what makes cuts a week of the time between two."""
    from o2sim.scenario.changing.override import original
    from o2sim.scenario.keys.answers import Answer, figures
    from o2sim.scenario.keys.answers_in_file import read_answers

    found = read_answers(original(scenario).text, scenario.file).get("cut_length", Answer("missing"))
    return figures({"cut_length": found}, "cut_length")[1]


def _value_in_words(length_h: float, path: str, text: str) -> str:
    """Return a value of a file as its question asks for it: "60 a month", "4.7 a week"; others as they stand."""
    from o2sim.scenario.keys.answers import MEAN_OVER_USUAL, WEEK_H, figure_of, say
    from o2sim.scenario.keys.questions import BY_NAME, asked_at

    question = asked_at(path)
    if question is None:
        return text
    if question.name == "cuts":
        between = figure_of(BY_NAME["cut_length"], text)  # also a time, read in hours
        return (
            text if between is None else f"{WEEK_H / (between + MEAN_OVER_USUAL * length_h):.2g} {question.unit}"
        )
    figure = figure_of(question, text)
    return text if figure is None else f"{say(figure)} {question.unit_after(say(figure))}"
