"""The figures of a reorder card in, its words on cover out: days per count at two named uses, delivery times.

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
from o2sim.questions.size.card import Card
from o2sim.scenario.types.hospital import Resupply

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
        return [Rate(unaided_words(card), card.unaided)]
    return [*usual, Rate(unaided_words(card), card.unaided)]


def unaided_words(card: Card) -> str:
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
        table(("full cylinders", *(f"days {each.words}" for each in found)), cover_rows(resupply, found), "tight"),
        paragraph(f"{uses(card, horizon_days)} {delivery_words(card)}"),
    ]


def _plan_by(full: int, cautious: Rate, card: Card, horizon_days: float) -> str:
    """Return how long the most that the rule holds lasts, and in the hardest days where these took more."""
    said = f"Plan by this: {cautious.words}, {full} full cylinders last {_lasts(full, cautious)}"
    if not card.hardest.by_most_used(card.cautious):
        return f"{said}, less in bad weeks."
    hardest = f"the hardest {days_words(card.phone_days)} of 19 of 20 simulated {runs_words(horizon_days)}"
    return f"{said}; used as fast as in {hardest}, only {days_down(full / card.hardest.rate(card.cautious))}."


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
        mean_of = f"the mean of the simulated {runs_words(horizon_days)}"
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


def _within(time: DeliveryTime) -> str:
    """Return a delivery time in words, closed roads named."""
    if time.placed_in is None:
        return f"{days_words(time.days)} (no closed roads are in the scenario)"
    month = f"{dt.date(2000, time.placed_in, 1):%B}"
    placed = f"(of orders placed in {month}, the worst month)"
    if time.days == time.open_days:
        return f"{days_words(time.days)}, with closed roads and without {placed}"
    return f"{days_words(time.days)}, closed roads included {placed}; on open roads {days_words(time.open_days)}"


def runs_words(horizon_days: float) -> str:
    """Return what the simulated runs are: years, or runs of another length."""
    return "years" if is_year(horizon_days) else f"runs of {span(horizon_days)}"


def _days(count: int, rate: Rate) -> str:
    return "-" if rate.a_day == 0 else days_down(days_of_cover(count, rate.a_day) or 0.0)


def _lasts(count: int, rate: Rate) -> str:
    days = _days(count, rate)
    return f"{days} day{'' if days == '1' else 's'}"


def days_words(days: int) -> str:
    """Return whole days as `1 day`."""
    return f"{days} day{'' if days == 1 else 's'}"
