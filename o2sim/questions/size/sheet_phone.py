"""The figures of a reorder card in, its words on when to phone out: a line for each season, and the reasons."""

from __future__ import annotations

import datetime as dt

from o2sim.looks.sheet_page import boxed, paragraph
from o2sim.looks.words import days_down, joined
from o2sim.quantities.units import format_duration
from o2sim.questions.size.card import YEAR_ROUND, Card, PhoneSeason
from o2sim.questions.size.sheet_cover import days_words, runs_words, unaided_words
from o2sim.scenario.types.hospital import DAY_S, Emergency, Resupply


def phone_blocks(resupply: Resupply, card: Card, horizon_days: float) -> list[str]:
    """Return when to phone: by the scenario's emergency rule, else so early that a delivery comes in time."""
    rule = resupply.emergency
    if rule is not None:
        return [paragraph(f"{_by_rule(rule)}{_too_low(rule, card, horizon_days)}", "call")]
    seasons = card.phone_by_season
    if len(seasons) == 1:
        return [paragraph(f"{_call(resupply, seasons[0], card)} {_why(seasons[0], card, horizon_days)}.", "call")]
    calls = [
        f"{months_words(each.months)}{closed}: {_call(resupply, each, card)}"
        for each, closed in zip(seasons, (", when the road may close", ""), strict=True)
    ]
    reasons = [f"{months_words(each.months)}: {_why(each, card, horizon_days)}." for each in seasons]
    # two seasons in one box, in smaller letters: the card stays one page
    return [boxed(calls, "call two"), paragraph(" ".join(reasons), "small")]


def months_words(months: tuple[int, ...]) -> str:
    """Return months (1-12, in order) as `April to June and October`; those over the turn of the year together."""
    firsts = [month for month in months if (month - 2) % 12 + 1 not in months]
    spans = []
    for first in firsts:
        last = first
        while last % 12 + 1 in months:
            last = last % 12 + 1
        spans.append(_name(first) if first == last else f"{_name(first)} to {_name(last)}")
    return joined(spans) if spans else f"{_name(YEAR_ROUND[0])} to {_name(YEAR_ROUND[-1])}"


def _name(month: int) -> str:
    return f"{dt.date(2000, month, 1):%B}"


def _call(resupply: Resupply, season: PhoneSeason, card: Card) -> str:
    """Return the count to phone at; where the store never holds so many, what to do instead."""
    if season.phone_at > resupply.order_up_to:
        lasts = days_down(resupply.order_up_to / season.rate(card.cautious))
        return (
            "PHONE the supplier as soon as an order is late or the road closes; do not wait for a count. "
            f"A delivery can take {days_words(season.days)}, but even a full store of {resupply.order_up_to} "
            f"lasts only {lasts} days."
        )
    above = ""
    if season.phone_at > resupply.reorder_point:
        above = " That is above the ORDER number: each time you order, phone too, and even where no order is due."
    elif season.phone_at == resupply.reorder_point:
        above = " That is the ORDER number: each time you order, phone too."
    return f"PHONE the supplier when {season.phone_at} or fewer full ones are left, whatever is on order.{above}"


def _by_rule(rule: Emergency) -> str:
    if rule.below is not None:
        return f"PHONE for an emergency delivery when fewer than {rule.below} full and part-used ones are left."
    at = "the present flow" if rule.cover_s is not None else "the last 7 days' use or the mean need, the greater"
    return f"PHONE for an emergency delivery when what is on hand lasts less than {_time(_cover_s(rule))} at {at}."


def _too_low(rule: Emergency, card: Card, horizon_days: float) -> str:
    """Return that a rule calls too late, in one sentence; "" where it does not."""
    if rule.below is not None:
        if rule.below > card.phone_at:  # at fewer than that, phone_at are left
            return ""
        return f"{_too_late(card)}; {_takes(card.hardest, card, horizon_days)}."
    late_s = card.emergency_delivery.late_s if card.emergency_delivery is not None else 0
    return f"{_too_late(card)}." if _cover_s(rule) < late_s else ""


def _too_late(card: Card) -> str:
    within = days_words(card.phone_days)
    return f" That is too late: it takes {within} until 19 in 20 emergency deliveries have come"


def _cover_s(rule: Emergency) -> int:
    return rule.cover_s or rule.days_of_cover_s or 0


def _why(season: PhoneSeason, card: Card, horizon_days: float) -> str:
    """Return where the number to phone at comes from: the delivery, and what is used until then."""
    within = f"19 in 20 deliveries come within {days_words(season.days)}"
    return f"{within}; {_takes(season, card, horizon_days)}"


def _takes(season: PhoneSeason, card: Card, horizon_days: float) -> str:
    """Return what is used until a delivery comes: by the years simulated, or at the cautious use."""
    days = days_words(season.days)
    if season.by_most_used(card.cautious):
        return (
            f"in 19 of 20 simulated {runs_words(horizon_days)} the hardest {days} took {season.phone_at} at most"
        )
    at = unaided_words(card).partition(" (")[0] if card.cautious == card.unaided else "at usual use"
    return f"{at}, {days} take {season.phone_at}" if card.cautious else "next to nothing is used"


def _time(seconds: int) -> str:
    return days_words(seconds // DAY_S) if seconds % DAY_S == 0 else format_duration(seconds)
