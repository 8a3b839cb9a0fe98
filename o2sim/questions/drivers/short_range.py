"""What was tried of unknown figures one at a time, as the short answer of a comparison takes it."""

from __future__ import annotations

from collections.abc import Callable

from o2sim.measures.names import CHANCE
from o2sim.questions.compare.short_answer import Tried
from o2sim.questions.drivers.result import OneAtATime
from o2sim.scenario.keys.fields import meaning
from o2sim.scenario.keys.questions import asked_at


def in_words(path: str) -> str:
    """Return what an unknown figure is, within a sentence."""
    question = asked_at(path)
    return question.short if question is not None else meaning(path).partition(";")[0] or path


def tried(result: OneAtATime, words: Callable[[str], str] = in_words) -> list[Tried]:
    """Return the chance of a supply shortfall of each strategy at the likely figures, then at each end of each."""
    likely = {name: float(found.best_guess[CHANCE].middle) for name, found in result.strategies.items()}
    ends: dict[tuple[str, str], dict[str, float]] = {}
    for name, found in result.strategies.items():
        for bar in found.bars[CHANCE]:
            for end, at in (("low", bar.low), ("high", bar.high)):
                ends.setdefault((bar.field, end), dict(likely))[name] = at.middle
    return [Tried(likely), *(Tried(chances, words(field)) for (field, _), chances in ends.items())]
