"""The card for the wall: when to order, when to phone, and days of cover at two named uses, with the reasons.

Days of cover are usable litres over the need, whatever source meets it: the cautious figure. Beside it, never
alone, stands how long the same cylinders last at the usual use, concentrators helping.
"""

from __future__ import annotations

import math
from calendar import month_name

from o2sim.looks.sheet_page import boxed, heading, paragraph, table
from o2sim.looks.words import days_down, is_year, joined, number, span
from o2sim.planning.delivery_time import DeliveryTime
from o2sim.planning.figures import days_of_cover
from o2sim.quantities.units import format_duration
from o2sim.questions.size.parts import YEAR_ROUND
from o2sim.questions.size.result import Card, PhoneSeason
from o2sim.scenario.types.hospital import DAY_S, Emergency, Resupply

LEAST_SHOWN = (5, 2)  # counts that stand on every card
YEAR_DAYS = 365
PAST_A_YEAR = "over a year"  # in place of a number: "5,530 days" on a wall invites nobody to count
Rate = tuple[str, float]  # a use in words, and in full cylinders a day


def days_words(days: int) -> str:
    """Return whole days as `1 day`."""
    return f"{days} day{'' if days == 1 else 's'}"


def runs_words(horizon_days: float) -> str:
    """Return what the simulated runs are: years, or runs of another length."""
    return "years" if is_year(horizon_days) else f"runs of {span(horizon_days)}"


# --- days of cover -----------------------------------------------------------------------------------------------


def rates(card: Card) -> list[Rate]:
    """Return the uses to show side by side, the cautious one last; one where the two would be the same."""
    if card.cautious == 0:
        return []
    helped = ", concentrators helping" if card.concentrators_help else ""
    usual = [] if card.usual is None else [(f"at usual use{helped}", card.usual)]
    if card.unaided is None or card.cautious > card.unaided:
        return usual
    both = card.concentrators_help or card.seasonal
    return [*(usual if both else []), (unaided_words(card), card.unaided)]


def unaided_words(card: Card) -> str:
    """Return when all patients are on cylinders, in words."""
    if card.concentrators_help:
        return "when the concentrators do not help (a cut, a repair)"
    return f"at {_need(card)}"


def _need(card: Card) -> str:
    return "the mean need of the season's peak" if card.seasonal else "the mean need"


def cover_blocks(resupply: Resupply, card: Card, runs: str) -> list[str]:
    """Return the part of the card on days of cover: the cautious figure first, then the table and its uses."""
    found, title = rates(card), heading("Days of cover")
    if not found:
        return [title, paragraph("Use was too small to work out days of cover."), paragraph(delivery_words(card))]
    heads = ("full cylinders", *(f"days {words}" for words, _ in found))
    return [
        title,
        paragraph(_plan_by(resupply.order_up_to, found[-1], card, runs), "rule"),
        table(heads, cover_rows(resupply, found), "tight"),
        paragraph(f"{_uses(card, runs)} {delivery_words(card)}"),
    ]


def _plan_by(full: int, cautious: Rate, card: Card, runs: str) -> str:
    """Return how long the most that the rule holds lasts, and in the hardest days where these took more."""
    said = f"Plan by this: {cautious[0]}, {full} full cylinders last {_lasts(full, cautious)}"
    if not card.hardest.by_most_used(card.cautious):
        return f"{said}, less in bad weeks."
    hardest = f"the hardest {days_words(card.phone_days)} of 19 of 20 simulated {runs}"
    return f"{said}; used as fast as in {hardest}, only {days_down(full / card.hardest.rate(card.cautious))}."


def cover_rows(resupply: Resupply, found: list[Rate]) -> list[tuple[str, ...]]:
    """Return how many days each count of full cylinders lasts, rounded down."""
    point, most = resupply.reorder_point, resupply.order_up_to
    counts = sorted({most, point, math.ceil(point / 2), *LEAST_SHOWN}, reverse=True)
    return [(f"{count}", *(_days(count, each) for each in found)) for count in counts if 0 < count <= most]


def cover_line(resupply: Resupply, card: Card) -> str:
    """Return how long two counts last, the cautious use first, for the count sheet; "" where there is no use."""
    counts = sorted({resupply.order_up_to, resupply.reorder_point} - {0}, reverse=True)
    return " ".join(
        f"{each[0].capitalize()}, "
        + " and ".join(f"{count} full ones last {_lasts(count, each)}" for count in counts)
        + "."
        for each in reversed(rates(card))
    )


def _uses(card: Card, runs: str) -> str:
    """Return what the uses of the table are, and what they leave out."""
    said = []
    if not card.concentrators_help:
        said.append("There are no concentrators here: all oxygen comes from cylinders.")
    if card.usual is not None:
        said.append(f"Usual use is {number(card.usual)} cylinders a day, the mean of the simulated {runs}.")
    if card.unaided is not None:
        when = "When the concentrators do not help, all" if card.concentrators_help else "All"
        said.append(
            f"{when} patients together take {number(card.unaided)} a day, {_need(card)}; bad weeks take more."
        )
    return " ".join(said)


WITHOUT_SHOCKS = "Storms and other shocks are not in these times."


def delivery_words(card: Card) -> str:
    """Return within how many days deliveries come, and what is in that."""
    without = bool(card.without_shocks)
    said = f"19 in 20 deliveries come within {within(card.delivery, without)}."
    if card.emergency_delivery is not None:
        said += f" 19 in 20 emergency deliveries come within {within(card.emergency_delivery, without)}."
    return f"{said} {WITHOUT_SHOCKS}" if card.without_shocks else said


def within(time: DeliveryTime, without_shocks: bool = False) -> str:
    """Return a delivery time in words, closed roads named, also where the shocks that close them are left out."""
    days = days_words(time.days)
    if time.placed_in is None:
        return days if without_shocks else f"{days} (no closed roads are in the scenario)"
    placed = f"(of orders placed in {month_name[time.placed_in]}, the worst month)"
    if time.days == time.open_days:
        return f"{days}, with closed roads and without {placed}"
    return f"{days}, closed roads included {placed}; on open roads {days_words(time.open_days)}"


def _days(count: int, rate: Rate) -> str:
    if rate[1] == 0:
        return "-"
    days = days_of_cover(count, rate[1]) or 0.0
    return PAST_A_YEAR if days > YEAR_DAYS else days_down(days)


def _lasts(count: int, rate: Rate) -> str:
    days = _days(count, rate)
    return days if days == PAST_A_YEAR else f"{days} day{'' if days == '1' else 's'}"


# --- when to phone -----------------------------------------------------------------------------------------------


def phone_blocks(resupply: Resupply, card: Card, runs: str) -> list[str]:
    """Return when to phone: by the scenario's emergency rule, else so early that a delivery comes in time."""
    if resupply.emergency is not None:
        return [paragraph(f"{by_rule(resupply.emergency)}{_too_low(resupply.emergency, card, runs)}", "call")]
    seasons = card.phone_by_season
    if len(seasons) == 1:
        return [paragraph(f"{_call(resupply, seasons[0], card)} {_why(seasons[0], card, runs)}.", "call")]
    calls = [
        f"{months_words(each.months)}{closed}: {_call(resupply, each, card)}"
        for each, closed in zip(seasons, (", when the road may close", ""), strict=True)
    ]
    reasons = [f"{months_words(each.months)}: {_why(each, card, runs)}." for each in seasons]
    # two seasons in one box, in smaller letters: the card stays one page
    return [boxed(calls, "call two"), paragraph(" ".join(reasons), "small")]


def months_words(months: tuple[int, ...]) -> str:
    """Return months (1-12, in order) as `April to June and October`; those over the turn of the year together."""
    spans = []
    for first in (month for month in months if (month - 2) % 12 + 1 not in months):
        last = first
        while last % 12 + 1 in months:
            last = last % 12 + 1
        spans.append(month_name[first] if first == last else f"{month_name[first]} to {month_name[last]}")
    return joined(spans) or f"{month_name[YEAR_ROUND[0]]} to {month_name[YEAR_ROUND[-1]]}"


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


def by_rule(rule: Emergency) -> str:
    """Return when to phone by the scenario's emergency rule."""
    if rule.below is not None:
        return f"PHONE for an emergency delivery when fewer than {rule.below} full and part-used ones are left."
    at = "the present flow" if rule.cover_s is not None else "the last 7 days' use or the mean need, the greater"
    seconds = _cover_s(rule)
    lasts = format_duration(seconds) if seconds % DAY_S else days_words(seconds // DAY_S)
    return f"PHONE for an emergency delivery when what is on hand lasts less than {lasts} at {at}."


def _too_low(rule: Emergency, card: Card, runs: str) -> str:
    """Return that a rule calls too late, in one sentence; "" where it does not."""
    within = days_words(card.phone_days)
    said = f" That is too late: it takes {within} until 19 in 20 emergency deliveries have come"
    if rule.below is not None:  # at fewer than that, phone_at are left
        return "" if rule.below > card.phone_at else f"{said}; {_takes(card.hardest, card, runs)}."
    late_s = card.emergency_delivery.late_s if card.emergency_delivery is not None else 0
    return f"{said}." if _cover_s(rule) < late_s else ""


def _cover_s(rule: Emergency) -> int:
    return rule.cover_s or rule.days_of_cover_s or 0


def _why(season: PhoneSeason, card: Card, runs: str) -> str:
    """Return where the number to phone at comes from: the delivery, and what is used until then."""
    return f"19 in 20 deliveries come within {days_words(season.days)}; {_takes(season, card, runs)}"


def _takes(season: PhoneSeason, card: Card, runs: str) -> str:
    """Return what is used until a delivery comes: by the years simulated, or at the cautious use."""
    days = days_words(season.days)
    if season.by_most_used(card.cautious):
        return f"in 19 of 20 simulated {runs} the hardest {days} took {season.phone_at} at most"
    at = unaided_words(card).partition(" (")[0] if card.cautious == card.unaided else "at usual use"
    return f"{at}, {days} take {season.phone_at}" if card.cautious else "next to nothing is used"
