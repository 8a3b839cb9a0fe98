"""The figures of a reorder card in, its words on cover out: days per count at two named uses, when to phone.

Days of cover are usable litres over the need, whatever source meets it: the cautious figure. Beside it, never
alone, stands how long the same cylinders last at the usual use, concentrators helping.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from o2sim.looks.sheet_page import heading, paragraph, table
from o2sim.looks.words import days_down, is_year, number, span
from o2sim.planning.delivery_time import DeliveryTime
from o2sim.planning.figures import days_of_cover
from o2sim.quantities.units import format_duration
from o2sim.questions.size.card import Card
from o2sim.scenario.types.hospital import DAY_S, Emergency, Resupply

LEAST_SHOWN = (5, 2)  # counts that stand on every card


@dataclass(frozen=True)
class Rate:
    """A use in full cylinders a day, and the words for it."""

    words: str
    a_day: float


def rates(card: Card) -> list[Rate]:
    """Return the uses to show side by side, the cautious one last; one where there are not two to tell apart."""
    if card.cautious == 0:
        return []
    helped = ", concentrators helping" if card.concentrators_help else ""
    usual = [] if card.usual is None else [Rate(f"at usual use{helped}", card.usual)]
    if card.unaided is None or card.cautious > card.unaided:
        return usual
    if not (card.concentrators_help or card.seasonal):
        return [Rate(_unaided(card), card.unaided)]
    return [*usual, Rate(_unaided(card), card.unaided)]


def _unaided(card: Card) -> str:
    """Return when all patients are on cylinders, in words."""
    if card.concentrators_help:
        return "when the concentrators do not help (a cut, a repair)"
    return f"at {_need(card)}"


def _need(card: Card) -> str:
    return "the mean need of the season's peak" if card.seasonal else "the mean need"


def cover_blocks(resupply: Resupply, card: Card, horizon_days: float) -> list[str]:
    """Return the part of the card on days of cover: the cautious figure first, then the table and its uses."""
    found = rates(card)
    title = heading("Days of cover")
    if not found:
        return [title, paragraph("Use was too small to tell days of cover."), paragraph(delivery_words(card))]
    full = resupply.order_up_to
    return [
        title,
        paragraph(_plan_by(full, found[-1], card, horizon_days), "rule"),
        table(("full cylinders", *(f"days {each.words}" for each in found)), cover_rows(resupply, found)),
        paragraph(f"{uses(card, horizon_days)} {delivery_words(card)}"),
    ]


def _plan_by(full: int, cautious: Rate, card: Card, horizon_days: float) -> str:
    """Return how long the most that the rule holds lasts, and in the hardest days where these took more."""
    said = f"Plan by this: {cautious.words}, {full} full cylinders last {_lasts(full, cautious)}"
    if not card.by_most_used:
        return f"{said}, less in bad weeks."
    hardest = f"the hardest {_whole(card.phone_days)} of 19 of 20 simulated {_runs(horizon_days)}"
    return f"{said}; used as fast as in {hardest}, only {days_down(full / card.phone_rate)}."


def cover_rows(resupply: Resupply, found: list[Rate]) -> list[tuple[str, ...]]:
    """Return how many days each count of full cylinders lasts, rounded down."""
    point = resupply.reorder_point
    marks = sorted({resupply.order_up_to, point, math.ceil(point / 2), *LEAST_SHOWN}, reverse=True)
    return [
        (f"{mark}", *(_days(mark, each) for each in found)) for mark in marks if 0 < mark <= resupply.order_up_to
    ]


def cover_line(resupply: Resupply, card: Card) -> str:
    """Return how long two counts last, the cautious use first, for the count sheet; "" where there is no use."""
    found = rates(card)
    if not found:
        return ""
    counts = sorted({resupply.order_up_to, resupply.reorder_point} - {0}, reverse=True)
    said = []
    for each in reversed(found):
        lasts = " and ".join(f"{count} full ones last {_lasts(count, each)}" for count in counts)
        said.append(f"{each.words.capitalize()}, {lasts}.")
    return " ".join(said)


def uses(card: Card, horizon_days: float) -> str:
    """Return what the uses of the table are, and what they leave out."""
    said = "" if card.concentrators_help else "There are no concentrators here: all oxygen comes from cylinders."
    usual = unaided = ""
    if card.usual is not None:
        mean_of = f"the mean of the simulated {_runs(horizon_days)}"
        usual = f"Usual use is {number(card.usual)} cylinders a day, {mean_of}."
    if card.unaided is not None:
        when = "When the concentrators do not help, all" if card.concentrators_help else "All"
        unaided = (
            f"{when} patients together take {number(card.unaided)} a day, {_need(card)}; bad weeks take more."
        )
    return " ".join(each for each in (said, usual, unaided) if each)


def delivery_words(card: Card) -> str:
    """Return within how many days deliveries come, and what is in that."""
    ordinary = f"19 in 20 deliveries come within {_within(card.delivery)}."
    if card.emergency_delivery is None:
        return ordinary
    return f"{ordinary} 19 in 20 emergency deliveries come within {_within(card.emergency_delivery)}."


def phone(resupply: Resupply, card: Card, horizon_days: float) -> str:
    """Return when to phone: by the scenario's emergency rule, else so early that a delivery comes in time."""
    rule = resupply.emergency
    if rule is not None:
        return f"{_by_rule(rule)}{_too_low(rule, card, horizon_days)}"
    days = _whole(card.phone_days)
    if card.phone_at > resupply.order_up_to:
        lasts = days_down(resupply.order_up_to / card.phone_rate)
        return (
            "PHONE the supplier as soon as an order is late or the road closes; do not wait for a count. "
            f"19 in 20 deliveries come within {days}, but even a full store of {resupply.order_up_to} lasts only "
            f"{lasts} days: {_why(card, horizon_days)}."
        )
    above = ""
    if card.phone_at > resupply.reorder_point:
        above = " That is above the ORDER number: phone even where no order is due."
    return (
        f"PHONE the supplier when {card.phone_at} or fewer full ones are left, whatever is on order. 19 in 20 "
        f"deliveries come within {days}; {_why(card, horizon_days)}.{above}"
    )


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
        return f"{_too_late(card)}; {_why(card, horizon_days)}."
    late_s = card.emergency_delivery.late_s if card.emergency_delivery is not None else 0
    return f"{_too_late(card)}." if _cover_s(rule) < late_s else ""


def _too_late(card: Card) -> str:
    return f" That is too late: it takes {_whole(card.phone_days)} until 19 in 20 emergency deliveries have come"


def _cover_s(rule: Emergency) -> int:
    return rule.cover_s or rule.days_of_cover_s or 0


def _why(card: Card, horizon_days: float) -> str:
    """Return where the number to phone at comes from: the years simulated, or the cautious use."""
    days = _whole(card.phone_days)
    if card.by_most_used:
        return f"in 19 of 20 simulated {_runs(horizon_days)} the hardest {days} took {card.phone_at} at most"
    at = _unaided(card).partition(" (")[0] if card.cautious == card.unaided else "at usual use"
    return f"{at}, {days} take {card.phone_at}" if card.cautious else "next to nothing is used"


def _within(time: DeliveryTime) -> str:
    """Return a delivery time in words, closed roads named."""
    if time.placed_in is None:
        return f"{_whole(time.days)} (no closed roads are in the scenario)"
    month = f"{dt.date(2000, time.placed_in, 1):%B}"
    placed = f"(of orders placed in {month}, the worst month)"
    if time.days == time.open_days:
        return f"{_whole(time.days)}, with closed roads and without {placed}"
    return f"{_whole(time.days)}, closed roads included {placed}; on open roads {_whole(time.open_days)}"


def _runs(horizon_days: float) -> str:
    return "years" if is_year(horizon_days) else f"runs of {span(horizon_days)}"


def _days(count: int, rate: Rate) -> str:
    return "-" if rate.a_day == 0 else days_down(days_of_cover(count, rate.a_day) or 0.0)


def _lasts(count: int, rate: Rate) -> str:
    days = _days(count, rate)
    return f"{days} day{'' if days == '1' else 's'}"


def _whole(days: int) -> str:
    return f"{days} day{'' if days == 1 else 's'}"


def _time(seconds: int) -> str:
    return _whole(seconds // DAY_S) if seconds % DAY_S == 0 else format_duration(seconds)
