"""Answers to the twelve questions: what somebody typed, what is tried in place of a figure, values of a file.

Two figures depend on others. The reorder point that is tried follows the fleet. The time between two power cuts is
what is left of a week: 168 h over the cuts in it, less the mean length of one.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.keys.questions import (
    BY_NAME,
    MONTH_KEY,
    QUESTIONS,
    SPREAD_OF_CUTS,
    USUAL_MONTH,
    Question,
    Sourced,
)
from o2sim.scenario.keys.sources import EXAMPLE
from o2sim.scenario.text.desk_comment import desk_note

WEEK_H = 168.0
MONTH = "month"  # the name under which the busiest month stands among the answers
Whose = Literal["ours", "usual", "unknown", "file", "other", "missing"]
_TYPED = re.compile(r"(?P<number>[0-9][0-9.,]*(?: [0-9]{3})*|[.,][0-9]+)\s*(?P<unit>.*)", re.DOTALL)
_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:[.,][0-9]{3})+|.*[.,].*[.,].*")  # of thousands, or who knows
_WRITE = "Write thousands without it, and decimals with fewer or more than three digits."
_LONGEST = 30  # characters of what was typed that are repeated


def mean_over_usual(spread: float) -> float:
    """Return the mean of a lognormal law over its median, by its geometric standard deviation."""
    return math.exp(math.log(spread) ** 2 / 2)


MEAN_OVER_USUAL = mean_over_usual(SPREAD_OF_CUTS)


@dataclass(frozen=True)
class Answer:
    """What is said to one question.

    whose: ours; usual (the source is named); unknown (a range is tried); of a file besides: a figure of the file,
    another form that no form field can show, or missing. text: the figure as typed or as it stands; line: where, 0
    for nowhere; note: the comment beside it, or why it cannot be shown. recorded: it came from the hospital's own
    books, as a range or a law that no field can show, and counts as theirs.
    """

    whose: Whose
    text: str = ""
    line: int = 0
    note: str = ""
    recorded: bool = False


Answers = Mapping[str, Answer]


@dataclass(frozen=True)
class Typed:
    """What was read of a figure: the number in the unit of the question, the value as in a file, or a problem."""

    figure: float = 0.0
    value: str = ""
    problem: str = ""


@dataclass(frozen=True)
class Written:
    """A value of a file, and what its comment says."""

    value: str
    note: str


def parse_answer(question: Question, text: str) -> Typed:
    """Return what a text says to a question: "45", "1,5", "1.5 a day", "60 h"; a problem where it says nothing."""
    typed = " ".join(text.split())
    found = _TYPED.fullmatch(typed)
    number = found["number"].replace(" ", "") if found else ""
    if found is None:
        return _wrong(question, typed)
    if _GROUPS.fullmatch(number):
        return Typed(problem=f"Found “{_short(typed)}”: is that mark one of thousands or of decimals? {_WRITE}")
    plain = number.replace(",", ".")
    unit = _unit(question, found["unit"])
    value = f"{plain}{question.suffix}" if not unit else f"{plain} {unit}"
    try:
        figure = _figure(question, value)
    except (QuantityError, ValueError):
        return _wrong(question, typed)
    least, most = limits(question)
    if not least <= figure <= most:
        between = f"from {say(least)} to {say(most)} {question.unit}"
        return Typed(problem=f"Found “{_short(typed)}”. Write a number {between}.")
    return Typed(figure, value)


def limits(question: Question) -> tuple[float, float]:
    """Return the least and the most that may be typed, in the unit of the question."""
    if question.most:
        return question.least, question.most
    least, most = question.field.least, question.field.most
    return question.least or (_figure(question, least) if least else 0.0), _figure(question, most)


def say(figure: float) -> str:
    """Return a figure as one would type it, with four digits that count."""
    return f"{float(f'{figure:.4g}'):.10g}"


def _figure(question: Question, value: str) -> float:
    """Return a value in the unit of the question. Raises QuantityError or ValueError where it is none."""
    if question.kind is None:
        return float(int(value))
    one = units.read(f"1{question.suffix}", question.kind)
    return units.read(value, question.kind) / one


def figure_of(question: Question, value: str) -> float | None:
    """Return a value of a file in the unit of the question, None where it is no such quantity."""
    try:
        return _figure(question, value)
    except (QuantityError, ValueError):
        return None


def _unit(question: Question, text: str) -> str:
    """Return the unit that was typed as a file writes it, an empty text for none or for that of the question."""
    words = text.lower().split()
    while words and words[0] in question.things:
        words = words[1:]
    unit = re.sub(r"^(?:a|per|each|every)\s+|^/\s*", "/ ", " ".join(words))
    if unit.strip("/ ") in ("", question.unit.removeprefix("a "), question.suffix.strip("/ ").lower()):
        return ""
    return unit


def _wrong(question: Question, typed: str) -> Typed:
    whole = "whole number" if question.whole else "number"
    found = f"Found “{_short(typed)}”" if typed else "Found nothing"
    return Typed(problem=f"{found}. Write a {whole} alone, such as {say(question.usual.figure)}.")


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."


def figures(answers: Answers, name: str) -> tuple[float, float, float]:
    """Return what an answer stands for: low, likely and high, the same three times where it is no range."""
    question, answer = BY_NAME[name], answers.get(name, Answer("missing"))
    low, usual, high = tried(question, answers)
    if answer.whose in ("unknown", "missing", "other"):
        return low.figure, float(answer.text or usual.figure), high.figure
    if answer.whose == "usual":
        return (usual.figure,) * 3
    return (parse_answer(question, answer.text).figure,) * 3


def tried(question: Question, answers: Answers) -> tuple[Sourced, Sourced, Sourced]:
    """Return low, usual and high of a question beside the other answers, for its labels and its range."""
    parts = (question.low, question.usual, question.high)
    factor = {
        "fleet": _fleet_factor,
        "reorder": _reorder_factor,
        "cuts": _cuts_factor,
        "cut_length": _length_factor,
    }
    by = factor[question.name](answers) if question.name in factor else 1.0
    if by == 1:
        return parts
    rounded = math.ceil if question.name == "fleet" else math.floor if question.whole else lambda x: float(say(x))
    low, usual, high = (Sourced(float(rounded(each.figure * by)), each.source) for each in parts)
    return low, usual, high


def _given(answers: Answers, name: str) -> float | None:
    """Return the figure that somebody stated, None where it is usual or unknown."""
    answer = answers.get(name)
    if answer is None or answer.whose not in ("ours", "file"):
        return None
    typed = parse_answer(BY_NAME[name], answer.text)
    return None if typed.problem else typed.figure


def _fleet_factor(answers: Answers) -> float:
    """A fleet is tried from the reorder point on: no order could restore a level below it."""
    point = _given(answers, "reorder")
    return 1.0 if point is None else max(1.0, point / BY_NAME["fleet"].low.figure)


def _reorder_factor(answers: Answers) -> float:
    """The point is tried at a quarter, half and three quarters of the fleet."""
    fleet = _given(answers, "fleet")
    return 1.0 if fleet is None else fleet / BY_NAME["fleet"].usual.figure


def _cuts_factor(answers: Answers) -> float:
    """Cuts are tried up to half of the time without power."""
    length = _given(answers, "cut_length") or BY_NAME["cut_length"].usual.figure
    return min(1.0, WEEK_H / 2 / (MEAN_OVER_USUAL * length * BY_NAME["cuts"].high.figure))


def _length_factor(answers: Answers) -> float:
    """The likely length is at most that which leaves power half of the time."""
    cuts = _given(answers, "cuts")
    usual = BY_NAME["cut_length"].usual.figure
    return min(1.0, WEEK_H / 2 / (MEAN_OVER_USUAL * usual * cuts)) if cuts else 1.0


def wrong_together(answers: Answers) -> dict[str, str]:
    """Return what is wrong with answers beside each other, by the name of the question."""
    found = {}
    fleet, point = _given(answers, "fleet"), _given(answers, "reorder")
    if fleet is not None and point is not None and point > fleet:
        found["reorder"] = f"Found {say(point)} with {say(fleet)} cylinders in all. Write at most {say(fleet)}."
    cuts, length = _given(answers, "cuts"), _given(answers, "cut_length")
    if cuts and length and WEEK_H / cuts - MEAN_OVER_USUAL * length < WEEK_H / cuts / 100:
        found["cut_length"] = (
            f"Found {say(length)} h with {say(cuts)} cuts a week: longer cuts among them would leave no power at "
            f"all. Write at most {say(math.floor(990 * WEEK_H / cuts / MEAN_OVER_USUAL) / 1000)} h."
        )
    return found


def yours(answers: Answers) -> tuple[int, int]:
    """Return how many of the figures are the hospital's own, and of how many."""
    asked = [answers.get(question.name, Answer("missing")) for question in QUESTIONS]
    return sum(answer.whose == "ours" or answer.recorded for answer in asked), len(asked)


def written(answers: Answers, today: dt.date, spread: float = SPREAD_OF_CUTS) -> dict[str, Written]:
    """Return the values of a file that answers stand for, by dotted key, those left open as ranges.

    spread: the geometric standard deviation of the length of a power cut.
    """
    found = {}
    for question in QUESTIONS:
        if question.name not in ("cuts", "cut_length"):
            found[question.key] = Written(_value(question, answers), note(question, answers, today))
    month = answers.get(MONTH, Answer("usual", USUAL_MONTH))
    said = desk_note(today) if month.whose == "ours" else month.note or EXAMPLE
    found[MONTH_KEY] = Written(month.text or USUAL_MONTH, said)
    return found | _power(answers, today, mean_over_usual(spread))


def _value(question: Question, answers: Answers) -> str:
    """Return the value of one key as it stands in a file."""
    answer = answers.get(question.name, Answer("missing"))
    if answer.whose in ("ours", "file"):
        return parse_answer(question, answer.text).value
    return _ranged(figures(answers, question.name), question.suffix)


def _ranged(three: tuple[float, float, float], suffix: str) -> str:
    low, likely, high = (f"{say(each)}{suffix}" for each in three)
    return likely if low == high else f"{{low: {low}, likely: {likely}, high: {high}}}"


def _power(answers: Answers, today: dt.date, mean_by: float) -> dict[str, Written]:
    """Return times with and without power, or that there are no cuts; what was typed stands in the comments."""
    cuts, length = (figures(answers, name) for name in ("cuts", "cut_length"))
    said = {name: note(BY_NAME[name], answers, today) for name in ("cuts", "cut_length")}
    if answers.get("cuts", Answer("missing")).whose == "file":
        said["cuts"] = "so that cuts stay as many"
    if cuts[1] == 0:
        return {"power.grid": Written("always", said["cuts"])}
    mean_h = mean_by * length[1]
    fewest, likely, most = (WEEK_H / each - mean_h for each in cuts)
    typed = f"{say(cuts[1])} cuts a week, usually of {say(length[1])} h"
    return {
        "power.grid.up.mean": Written(_ranged((most, likely, fewest), " h"), f"{said['cuts']}: {typed}"),
        "power.grid.down.median": Written(_ranged(length, " h"), said["cut_length"]),
    }


def note(question: Question, answers: Answers, today: dt.date) -> str:
    """Return what the comment beside a figure says: who says so, or its source; of a range, that of each end."""
    answer = answers.get(question.name, Answer("missing"))
    if answer.whose == "ours":
        return desk_note(today)
    if answer.whose == "file":
        return answer.note
    low, usual, high = tried(question, answers)
    if answer.whose == "usual":
        return usual.source
    ends = low.source if low.source == high.source else f"{low.source}; high: {high.source}"
    return f"not known; likely: {usual.source}; low{' and high' * (low.source == high.source)}: {ends}"
