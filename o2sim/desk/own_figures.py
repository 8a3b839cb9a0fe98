"""Figures that a way of supply has of its own: what the file as a whole says is not what holds for it.

Each has a field of its own beside the question, and is changed where it stands; a name for it is made of the
question's and the strategy's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from o2sim.scenario.keys.answers import Answer
from o2sim.scenario.keys.answers_in_file import read_own
from o2sim.scenario.keys.questions import BY_NAME, Question

APART = "."  # between the name of a question and that of a strategy, in letters that any page may have


@dataclass(frozen=True)
class OwnFigure:
    """The field of a way of supply.

    choice: whose figure it is as long as nothing else is typed; other: line and form in the file, where no field
    has it.
    """

    name: str
    strategy: str
    choice: str
    typed: str
    problem: str
    other: tuple[int, str] | None


def own_name(question: str, strategy: str) -> str:
    """Return the name of the field for a question of one strategy."""
    return f"{question}{APART}{strategy.encode().hex()}"


def question_of(name: str) -> Question:
    """Return the question that a field is about, of one strategy or of the file as a whole."""
    return BY_NAME[name.partition(APART)[0]]


def strategy_of(name: str) -> str:
    """Return the strategy that a field is of; "" where it is of the file as a whole, or of nothing."""
    question, _, coded = name.partition(APART)
    try:
        return bytes.fromhex(coded).decode() if question in BY_NAME else ""
    except ValueError:
        return ""


def own_in(text: str) -> dict[str, Answer]:
    """Return what ways of supply have of their own in a file, by the name of the field."""
    return {own_name(*place): answer for place, answer in read_own(text).items()}


def own_names(names: Iterable[str], question: str = "") -> list[str]:
    """Return those of some names that are of one strategy; question: of this one alone."""
    return [name for name in names if strategy_of(name) and question in ("", question_of(name).name)]


def own_keys(values: Mapping[str, str]) -> dict[str, str]:
    """Return values by their dotted keys in the file, given by the names of their fields."""
    return {f"strategies.{strategy_of(name)}.{question_of(name).key}": value for name, value in values.items()}
