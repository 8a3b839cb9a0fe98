"""How sure an answer is, in words: why its bound lies just below the target, what more replications would show."""

from __future__ import annotations

from o2sim.looks.words import joined, percent
from o2sim.questions.size.phrases import in_words
from o2sim.questions.size.result import MoreReplications, SizingResult

NONE = "none of those tried"


def why_so_near(result: SizingResult) -> str:
    """Return why the bound of a search lies just below the target, however seldom it failed."""
    answer = result.answer
    if answer is None or answer.attempts is None:
        return ""
    point, tries, alpha = answer.point, answer.attempts, 1 - result.confidence
    halved = ""
    if tries > 1:
        halved = (
            f" It is also attempt number {tries}: each may err half as often as the one before, this one in "
            f"{percent(alpha / 2**tries)} of cases, so that all together err in at most {percent(alpha)}, and so "
            "it took more replications."
        )
    return (
        f"Why {point.failures:,} in {point.replications:,} is called at most {percent(answer.at_most)}: the fresh "
        f"replications end as soon as they show a chance of at most {percent(result.target)}, so the bound always "
        f"lies just below that. It says what was shown, not how rare it is: {percent(point.estimate)} is the "
        f"estimate.{halved}"
    )


def more_sentence(result: SizingResult) -> str:
    """Return between which values the answer of more replications would lie, and that it may be the same."""
    found = result.more_replications
    if not found:
        return ""
    most = found[-1].replications
    if all(each.least is None and each.values is None for each in found):
        return f"With {most:,} replications it would still be {NONE}, in at least 19 of 20 cases."
    if all(_values(each) == (result.chosen,) * 3 for each in found):
        return f"More replications (up to {most:,}) would buy nothing: the answer would be the same."
    would = joined([f"with {each.replications:,} {_would(each)}" for each in found])
    return f"More --replications would show more closely what is enough: {would}. Each holds in 19 of 20 cases."


def _values(each: MoreReplications) -> tuple[object, ...]:
    return (each.least, each.values, each.most)


def _would(each: MoreReplications) -> str:
    likeliest = NONE if each.values is None else in_words(each.values)
    if each.least == each.most:
        return f"it would be {likeliest}"
    least = NONE if each.least is None else " and ".join(each.least.values())
    most = NONE if each.most is None else " and ".join(each.most.values())
    return f"most likely {likeliest} (from {least} to {most})"
