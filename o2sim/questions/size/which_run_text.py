"""Which run a stock is sized on, in words: what counts as served, missing litres, what it gives with handling."""

from __future__ import annotations

from o2sim.looks.words import joined, number, percent
from o2sim.questions.size.phrases import in_words, named_causes
from o2sim.questions.size.result import AtEnough, SizingResult, Values
from o2sim.statistics.estimates import Probability

NONE_TRIED = "none of the values tried"


def by_enough_sentence(result: SizingResult) -> str:
    """Return how the answer depends on what counts as served, where it does."""
    rows = result.by_enough
    if len({_key(each.values) for each in rows}) <= 1:
        return ""
    said = [f"{in_words(each.values) if each.values else NONE_TRIED} if {_counts(each)}" for each in rows]
    return (
        f"How much is enough depends on what counts as served: {joined(said)}. The simulation cannot say which "
        f"of these is right; each holds by itself, in it, with {percent(result.confidence)} confidence. What "
        f"follows is for {percent(result.enough)}, as in the file."
    )


def same_at_all(result: SizingResult) -> str:
    """Return that the answer is the same whatever counts as served, and whether that was run."""
    rows = result.by_enough
    if result.answer is None or len(rows) < 2 or len({_key(each.values) for each in rows}) > 1:
        return ""
    shares = joined([percent(each.enough) if each.enough else "any flow" for each in rows])
    if not any(each.shared for each in rows):
        return f"The answer is the same if {shares} of what is prescribed counts as served, each run by itself."
    why = "a bare shelf counts at once" if result.by_one_batch else "nobody is given a part of a flow"
    return f"The answer is the same if {shares} of what is prescribed counts as served, since {why}."


def _key(values: Values | None) -> tuple[tuple[str, str], ...] | None:
    return None if values is None else tuple(values.items())


def _counts(each: AtEnough) -> str:
    part = {0.0: "any flow", 0.5: "half the prescribed flow", 1.0: "only the whole of it"}
    own = " (as in the file)" if each.as_in_file else ""
    return f"{part.get(each.enough, f'{percent(each.enough)} of it')} counts as served{own}"


def missing_sentence(result: SizingResult) -> str:
    """Return how many of the litres needed are missing, beside the limit."""
    seen, limit = result.measured, percent(result.most_missing)
    if seen is None or result.answer is None:
        return ""
    found = seen.litres_missing
    most = "" if found.high is None else f", at most {percent(found.high)}"
    return (
        f"The other limit: at most {limit} of the litres needed may be missing (--most-missing). At "
        f"{in_words(seen.values)} {percent(found.mean)} are{most}, those of patients sent on included."
    )


def _seen(chance: Probability) -> str:
    return percent(chance.estimate) if chance.estimate else "none"


def with_handling_sentence(result: SizingResult) -> str:
    """Return what the same value gives with handling as in the file, and whether that is within the target."""
    found = result.with_handling
    if found is None:
        return ""
    chance, missing = found.chance_by_named_causes, found.litres_missing.mean
    said = (
        f"With handling as in the file the same {in_words(found.values)} gives, in {found.replications:,} "
        f"replications: a supply shortfall in {_seen(found.chance_of_a_stock_out)} of them, an interruption by "
        f"whatever cause in {_seen(found.chance_of_any_interruption)}, {number(found.short_patient_hours)} "
        f"patient-hours a year short and {percent(missing)} of the litres needed missing."
    )
    if result.answer is None:
        return said
    if chance.estimate > result.target:
        return (
            f"{said} That is not within the target: somebody goes without because of {named_causes(result)} in "
            f"{percent(chance.estimate)}. Handling as in the file wastes supply: mend it, or size for more."
        )
    if missing > result.most_missing:
        return f"{said} That is more missing than the limit: handling, which no stock cures."
    return said
