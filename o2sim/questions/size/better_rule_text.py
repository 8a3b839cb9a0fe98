"""What to try before cylinders are bought: other levels of the reorder rule, in words."""

from __future__ import annotations

from o2sim.looks.words import money, number, percent
from o2sim.questions.size.money_text import beside_difference
from o2sim.questions.size.result import BetterRule, Run, SizingResult
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER

SAME_DELIVERIES = 0.5  # a year: a smaller difference is not reported


def rule_first(result: SizingResult) -> str:
    """Return the better reorder rule that costs no cylinder, where one was found beside what would be bought."""
    rule = result.better_rule
    if rule is None or result.pairs or not rule.is_better:
        return ""
    much = (
        "That alone is shown to be enough: nothing has to be bought."
        if rule.is_enough
        else f"That alone is not shown to be enough, but whatever is bought should come on top of it: "
        f"write it with --vary {LEVELS_TOGETHER}, then size the fleet anew."
    )
    return f"First a better reorder rule, nothing to buy: {_beside(result, rule)} {much}"


def pair_lines(result: SizingResult) -> list[str]:
    """Return what the pair that a search over pairs ended with does beside the levels of the file."""
    if not result.pairs or not result.complete:
        return []
    rule = result.better_rule
    if rule is None:
        return ["The levels of the file are those: no other pair that was tried is to be preferred."]
    if rule.is_better:
        return [f"Against the levels of the file, nothing to buy: {_beside(result, rule)}"]
    return [
        f"It is not surely better than the levels of the file: {_counts(rule)}; luck alone would show so "
        f"clear a difference in {percent(rule.by_luck)} of cases.{_cost(result, rule)}"
    ]


def rule_on_the_card(result: SizingResult) -> str:
    """Return one sentence for the card on the wall, empty where no better rule was found."""
    rule = result.better_rule
    if rule is None or result.pairs or not rule.is_better:
        return ""
    point, upto = rule.other.levels.split("/")
    enough = "which was enough in the simulation" if rule.is_enough else "which made it rarer, not rare enough"
    return (
        f"Before cylinders are bought: with {rule.fleet} in all, order at {point} or fewer up to {upto}, {enough} "
        f"({_counts(rule)})."
    )


def _beside(result: SizingResult, rule: BetterRule) -> str:
    """Return what the other levels do with the same fleet, and how sure that is."""
    return (
        f"levels {rule.other.levels} in place of {rule.present.levels} with the {rule.fleet} cylinders there are "
        f"(reorder point / order-up-to level) {_by_how_much(rule)}: {_counts(rule)}. Luck alone would show so "
        f"clear a difference in {_rarely(rule.by_luck)} of cases.{_cost(result, rule)}"
    )


def _by_how_much(rule: BetterRule) -> str:
    """Return how much rarer it becomes, in a word where there is one."""
    before, after = rule.present.failures, rule.other.failures
    how = "halve the chance," if 0.45 <= after / before <= 0.55 else "lower the chance"
    return f"{how} from {_share(rule, rule.present)} to {_share(rule, rule.other)}"


def _share(rule: BetterRule, run: Run) -> str:
    return percent(run.failures / rule.replications)


def _counts(rule: BetterRule) -> str:
    return (
        f"in the same {rule.replications:,} replications {rule.present.levels} fail in {rule.present.failures:,}, "
        f"{rule.other.levels} in {rule.other.failures:,}"
    )


def _rarely(chance: float) -> str:
    return percent(chance) if chance >= 0.0005 else "less than 0.1 %"


def _cost(result: SizingResult, rule: BetterRule) -> str:
    """Return what the other levels cost to run: deliveries, and money where there are prices."""
    now, then = rule.present, rule.other
    more = then.deliveries_a_year - now.deliveries_a_year
    said = "as many deliveries"
    if abs(more) >= SAME_DELIVERIES:
        count = number(abs(more))
        said = f"{count} deliver{'y' if count == '1' else 'ies'} a year {'more' if more > 0 else 'fewer'}"
    if now.annual_cost is None or then.annual_cost is None:
        return f" They take {said}."
    dearer = then.annual_cost - now.annual_cost
    way = "more" if dearer > 0 else "less"
    lacking = beside_difference(now.unbought, then.unbought)
    return f" They take {said} and cost {money(abs(dearer), result.currency or '')} a year {way} in all{lacking}."
