"""Cylinders by size: what one costs, and what a run took of each size; all as one where cylinders are alike.

Behind a colon stands the size that a line is of: `cylinders: small`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import Costs, Cylinders, Equipment

CYLINDERS = "cylinders"


@dataclass(frozen=True)
class OfSize:
    """What befell the cylinders of one size within the horizon; gas in 1/60 mL.

    emptied: used up, or sent part-used to be filled. fall: of the usable gas, from the start to the end.
    """

    rules: Cylinders
    delivered: int
    emptied: float
    lost: int
    refilled_gas: int
    fall_gas: int


def line_of(rules: Cylinders) -> str:
    """Return the line of the cylinders of a size."""
    return f"{CYLINDERS}: {rules.name}" if rules.name else CYLINDERS


def shell(costs: Costs, rules: Cylinders) -> Equipment:
    """Return what a cylinder of a size costs; of a price of its own it brings the same share at its end."""
    all_alike = costs.cylinder
    if rules.price is None:
        return all_alike
    share = all_alike.salvage / all_alike.price if all_alike.price else 0.0
    return replace(all_alike, price=rules.price, salvage=rules.price * share)


def refill_price(costs: Costs, rules: Cylinders) -> float:
    """Return the price of a refill of a size."""
    return costs.refill if rules.refill is None else rules.refill


def counted(cylinders: Cylinders, outcome: Outcome) -> Iterator[OfSize]:
    """Yield what a run took of each size, in the order of the file.

    Of several sizes as many count as emptied as hold the gas that was drawn: a run does not count them by size.
    """
    if not cylinders.sizes:
        fall = outcome.opening_usable_gas - outcome.closing_usable_gas
        emptied = outcome.cylinders_emptied + outcome.cylinders_sent
        lost, refilled = outcome.cylinders_lost, outcome.refilled_gas
        yield OfSize(cylinders, outcome.cylinders_delivered, emptied, lost, refilled, fall)
        return
    for place, rules in enumerate(cylinders.each):
        fall = outcome.opening_usable_gas_by_size[place] - outcome.closing_usable_gas_by_size[place]
        usable = rules.full_gas - rules.kept_gas
        drawn = outcome.drawn_gas_by_size[place] / usable if usable > 0 else 0.0
        lost, refilled = outcome.lost_by_size[place], outcome.refilled_gas_by_size[place]
        yield OfSize(rules, outcome.delivered_by_size[place], drawn, lost, refilled, fall)


def billed(each: OfSize) -> float:
    """Return the refills of a bill of one size: one a cylinder delivered, or (full - returned) / full for each."""
    if each.rules.billing == "whole":
        return each.delivered
    return each.delivered - each.refilled_gas / each.rules.full_gas


def used_and_bought(each: OfSize) -> tuple[float, float]:
    """Return the refills used up of one size, and those billed or taken from the stock."""
    bill, rules = billed(each), each.rules
    if rules.billing == "by gas":  # what stays in an empty is not paid again
        return bill, bill + each.fall_gas / rules.full_gas
    return each.emptied, bill + each.fall_gas / (rules.full_gas - rules.kept_gas)
