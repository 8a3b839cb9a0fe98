"""The two sentences: what to order, and whether to phone; each of at most 35 words."""

from __future__ import annotations

import datetime as dt

from o2sim.looks.words import half_up
from o2sim.questions.today.moment import in_words
from o2sim.questions.today.result import Ordering, Tried
from o2sim.statistics.estimates import Probability

SUCH, SHORT = "such mornings", "somebody goes without for want of supply"


def mornings(share: float, replications: int) -> str:
    """Return a chance as a natural frequency: "about 12 of 100 such mornings", "none of 2,000 ... simulated"."""
    if share in (0, 1):
        return f"{'all' if share else 'none'} of {replications:,} {SUCH} simulated"
    return f"{_frequency(share, 'about ')} {SUCH}"


def shortly(share: float) -> str:
    """Return the same without its noun, to stand behind another: "31 of 100"."""
    return f"{'all' if share else 'none'} of them" if share in (0, 1) else _frequency(share)


def _frequency(share: float, about: str = "") -> str:
    size = 1_000 if min(share, 1 - share) < 0.01 else 100
    count = half_up(share * size)
    if count in (0, size):
        return f"under 1 of {size:,}" if count == 0 else f"over {size - 1:,} of {size:,}"
    return f"{about}{count:,} of {size:,}"


def order_sentence(found: Ordering, target: float) -> str:
    """Return what to order today, and until when it lasts."""
    chosen, nothing = _of(found, found.least), _of(found, 0)
    until = in_words(dt.datetime.fromisoformat(found.until).date())
    so = mornings(chosen.without_supply.estimate, chosen.replications)
    if found.least == 0 and found.reached:
        return f"Order nothing today: until {until} {SHORT} in {so}, and your limit is {_limit(target)}."
    without = shortly(nothing.without_supply.estimate)
    if found.reached:
        return f"Order at least {found.least} today: until {until} {SHORT} in {so}; with no order in {without}."
    if found.least == 0:
        unable = "No order can be placed today" if found.paid_for is None else "No order can be paid for today"
        why = "No order helps today" if found.most else unable
        return f"{why}: until {until} {SHORT} in {so}, and your limit is {_limit(target)}."
    all_there_is = "all that can be ordered" if found.paid_for is None else "all that the purse pays for"
    much = (
        f"Order {found.least} today, {all_there_is}"
        if found.least == found.most
        else f"Order at least {found.least} today, more gains little"
    )
    return f"{much}: until {until} {SHORT} in {so}, with no order in {without}."


def phone_sentence(found: Ordering, phone: bool, target: float, today: str) -> str:
    """Return whether to phone: for an emergency delivery, about the lorry, or for a sooner or an extra one.

    The next delivery is that with the order of the sentence before; no day before today, as ISO has it, is said.
    """
    so = mornings(found.before_delivery.estimate, _of(found, found.least).replications)
    if not phone:
        likely = found.delivery.likely
        when = "" if likely is None or likely < today else f", likely by {in_words(dt.date.fromisoformat(likely))}"
        return f"No need to phone: before the next delivery{when}, {SHORT} in {so}."
    if found.before_delivery.estimate > target:
        even = f"even with an order today {SHORT.partition(' for ')[0]}" if found.most else SHORT
        return (
            f"Phone today, for an emergency delivery or about the lorry: {even} before the next delivery in {so} "
            f"(limit {_limit(target)})."
        )
    until = in_words(dt.datetime.fromisoformat(found.until).date())
    if found.paid_for is not None:
        return (
            "Ask today for money, or for a delivery that is paid later: what there is likely lasts until the next "
            f"one, but not until {until}, whatever the purse can order."
        )
    return (
        "Phone today for a sooner or an extra delivery: what there is likely lasts until the next one, but not "
        f"until {until}, whatever is ordered today."
    )


def must_phone(before: Probability, reached: bool, target: float) -> bool:
    """Return True where an order today is not enough."""
    return before.estimate > target or not reached


def _of(found: Ordering, order: int) -> Tried:
    return next(each for each in found.tried if each.order == order)


def _limit(target: float) -> str:
    return f"{100 * target:g} in 100"
