"""What stands beside the answer: its neighbours, other causes, the figures of a card, rules of thumb.

Days of cover have one meaning here, in `o2sim check` and in a study: usable litres over the need, whatever source
meets it. Beside that stands the usual use, which is smaller where concentrators help.

The two rules of thumb are common practice. They take the year's mean use of cylinders and the time from one look
at the stock to the delivery of what is ordered at the next; they ignore the season, closed roads and the
limit of the lorry.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from math import ceil, sqrt

import numpy as np
from scipy.special import ndtri

from o2sim.draws.laws import quantile
from o2sim.model.rules import keep_gas
from o2sim.money.unbought import mean_of
from o2sim.outcome import Cause
from o2sim.planning.delivery_time import (
    NEAR,
    DeliveryTime,
    delivery_months,
    delivery_time,
    nineteen_in_20,
    whole_days,
)
from o2sim.planning.figures import delivered_gas, planning_figures
from o2sim.planning.total_flow import midpoints
from o2sim.questions.size.candidate_runs import WEEK_DAYS, Kept
from o2sim.questions.size.candidates import Candidate, Field, Question
from o2sim.questions.size.result import (
    Card,
    Measured,
    Neighbours,
    NextOne,
    PhoneSeason,
    Point,
    RuleOfThumb,
    Sides,
    WithHandling,
)
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.levers import Lever
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.statistics.estimates import Mean, Probability
from o2sim.statistics.estimator import Estimator

YEAR_ROUND = tuple(range(1, 13))
RESERVE_DAYS = 7
HOUR_S = 3_600


def neighbours(curve: Sequence[Point], place: int | None) -> Neighbours:
    """Return the points one less and one more than the answer, None where there is none."""
    by_place = dict(enumerate(curve))
    return Neighbours(Sides() if place is None else Sides(by_place.get(place - 1), by_place.get(place + 1)))


def neighbours_by_field(levers: Sequence[Lever], curve: Sequence[Point], place: int | None) -> Neighbours:
    """Return the points one step less and more of each field, the others as in the answer; None where untried."""
    by_field = {}
    here = {} if place is None else curve[place].values
    found = {tuple(point.values.items()): point for point in curve}
    for each in levers if here else ():
        at = each.values.index(here[each.path])
        beside = (dict(enumerate(each.values)).get(step, "") for step in (at - 1, at + 1))
        by_field[each.path] = Sides(*(found.get(tuple({**here, each.path: text}.items())) for text in beside))
    return Neighbours(Sides(), by_field)


def next_one(curve: Sequence[Point], place: int | None, cost: float | None) -> NextOne | None:
    """Return what the step from the answer to the next candidate buys."""
    if place is None or place + 1 >= len(curve):
        return None
    here, there = curve[place], curve[place + 1]
    if here.annual_cost is not None and there.annual_cost is not None and here.replications == there.replications:
        cost = there.annual_cost - here.annual_cost
    lower = next((point for point in curve[place + 1 :] if point.estimate < here.estimate), None)
    return NextOne(
        to=there.values,
        lowers_the_chance_by=here.estimate - there.estimate,
        cost_a_year=cost,
        first_that_lowers=None if lower is None else lower.values,
        which_lowers_by=None if lower is None else here.estimate - lower.estimate,
    )


def litres_missing(kept: Sequence[Kept], confidence: float, rows: int | None = None) -> Mean:
    """Return the share of the litres needed that were not delivered, all replications together.

    rows: of joint draws that consecutive replications met in turn.
    """
    needed, lacking = ([float(getattr(each, gas)) for each in kept] for gas in ("needed_gas", "lacking_gas"))
    estimator = Estimator(confidence, f"{len(kept)} replications", rows)
    found = estimator.ratio(np.array(lacking), np.array(needed), 0.0, 1.0)
    return found or Mean(0.0, None, None, "no oxygen was needed")


def is_too_much(missing: Mean, most: float) -> bool:
    """Return True unless a share of missing litres is surely within a limit: the upper end of its interval."""
    return (missing.mean if missing.high is None else missing.high) > most


def _chance(question: Question, seen: Iterable[bool]) -> Probability:
    found = Estimator(question.confidence, "", question.rows).probability(np.array(list(seen)))
    return replace(found, note=None)


def handled(question: Question, candidate: Candidate, first: int, kept: Sequence[Kept]) -> WithHandling | None:
    """Return what replications with handling as in the file give at a candidate."""
    if not kept:
        return None
    n, named = len(kept), frozenset(question.causes)
    return WithHandling(
        values=candidate.values,
        first_replication=first,
        replications=n,
        chance_by_named_causes=_chance(question, (each.fails(named) for each in kept)),
        chance_of_a_stock_out=_chance(question, (each.stock_out for each in kept)),
        chance_of_any_interruption=_chance(question, (each.interrupted for each in kept)),
        short_patient_hours=sum(each.short_s for each in kept)
        / n
        / HOUR_S
        * YEAR_DAYS
        * DAY_S
        / kept[0].horizon_s,
        litres_missing=litres_missing(kept, question.confidence, question.rows),
    )


def measured(
    question: Question, candidate: Candidate, first: int, kept: Sequence[Kept], as_in_file: Sequence[Kept] = ()
) -> Measured | None:
    """Return what else happens at a candidate in replications from the first on, and what a card needs.

    as_in_file: the same replications with handling as in the file, which the card minds too.
    """
    if not kept:
        return None
    n, days = len(kept), kept[0].horizon_s / DAY_S
    hospital = candidate.hospital(question.strategy)
    shares = {cause.label: sum(cause in each.causes for each in kept) / n for cause in Cause}
    cards = [found for each in (as_in_file, kept) if each and (found := card(hospital, each)) is not None]

    return Measured(
        values=candidate.values,
        first_replication=first,
        replications=n,
        chance_by_named_causes=_chance(question, (each.fails(frozenset(question.causes)) for each in kept)),
        chance_of_a_stock_out=_chance(question, (each.stock_out for each in kept)),
        chance_by_cause={label: share for label, share in shares.items() if share},
        litres_missing=litres_missing(kept, question.confidence, question.rows),
        annual_cost=sum(each.cost or 0.0 for each in kept) / n if hospital.costs is not None else None,
        cylinders_emptied_a_day=sum(each.emptied for each in kept) / (n * days),
        deliveries_a_year=sum(each.deliveries for each in kept) / n * YEAR_DAYS / days,
        card=max(cards, key=lambda each: each.phone_at, default=None),  # the more cautious one
        unbought=mean_of(each.unbought for each in kept),
    )


def card(hospital: Hospital, kept: Sequence[Kept]) -> Card | None:
    """Return the figures of a hospital that orders cylinders that are alike; None for another."""
    ordinary = delivery_time(hospital)
    if hospital.cylinders is None or hospital.cylinders.sizes or ordinary is None:
        return None
    emergency = delivery_time(hospital, emergency=True)
    usual = sum(each.emptied for each in kept) * DAY_S / sum(each.horizon_s for each in kept) if kept else None
    figures = planning_figures(hospital)
    unaided = figures.peak.cylinders_per_day
    cautious = max(usual or 0.0, unaided or 0.0)
    seasons = _seasons(hospital, emergency or ordinary, emergency is not None, cautious, kept)
    hardest = max(seasons, key=lambda each: each.phone_at)
    return Card(
        concentrators_help=hospital.concentrators is not None,
        seasonal=figures.peak_day is not None,
        usual=usual,
        unaided=unaided,
        cautious=cautious,
        delivery=ordinary,
        emergency_delivery=emergency,
        phone_days=hardest.days,
        most_used=hardest.most_used,
        phone_at=hardest.phone_at,
        phone_by_season=seasons,
        without_shocks=True if hospital.shocks else None,
    )


def _seasons(
    hospital: Hospital, called: DeliveryTime, emergency: bool, cautious: float, kept: Sequence[Kept]
) -> tuple[PhoneSeason, ...]:
    """Return when to phone in months whose deliveries closed roads make longer, and in the others.

    One of all the year where the number of the others is as great: two would only confuse.
    """
    assert hospital.cylinders is not None
    litres = delivered_gas(hospital.cylinders) / 60_000

    def season(months: tuple[int, ...], days: int) -> PhoneSeason:
        most = _most_used(kept, days, litres, hospital.start, months)
        return PhoneSeason(months, days, most, max(1, ceil(max(cautious * days, most or 0.0) - NEAR)))

    found = tuple(season(*each) for each in _days_by_season(hospital, emergency))
    if found and found[0].phone_at > found[1].phone_at:
        return found
    return (season(YEAR_ROUND, called.days),)


def _days_by_season(hospital: Hospital, emergency: bool) -> Iterator[tuple[tuple[int, ...], int]]:
    """Yield (months, days of a delivery called in the worst of them): those of closed roads, the others.

    Nothing where closed roads make deliveries longer in no month, or in all of them.
    """
    times = delivery_months(hospital, emergency)
    closing = {each.month for each in times if each.road_may_close}
    if not closing or closing == set(YEAR_ROUND):
        return
    for within in (True, False):
        months = tuple(month for month in YEAR_ROUND if (month in closing) == within)
        yield months, max(whole_days(each.late_s) for each in times if each.month in months)


def _most_used(
    kept: Sequence[Kept], days: int, litres: float, start: dt.date, months: tuple[int, ...]
) -> float | None:
    """Return the cylinders that 19 of 20 replications never used more of in so many days that begin in the months.

    From the stock book, which is closed at midnight: the horizon's last day is not in it.
    """
    booked = [each.days_l for each in kept if len(each.days_l)]
    if not booked or litres <= 0:
        return None
    return nineteen_in_20([_most(each, days, start, months) / litres for each in booked])


def _most(
    days_l: np.ndarray[tuple[int], np.dtype[np.int32]], days: int, start: dt.date, months: tuple[int, ...]
) -> int:
    """Return the most litres of any so many days on end, of all days where there are fewer."""
    total = np.concatenate([[0], np.cumsum(days_l, dtype=np.int64)])
    span = min(days, len(days_l))
    windows = total[span:] - total[:-span]
    inside = [(start + dt.timedelta(days=day)).month in months for day in range(len(windows))]
    return int(windows[inside].max() if any(inside) else windows.max())


def use_of(hospital: Hospital, kept: Sequence[Kept]) -> tuple[float, float]:
    """Return the cylinders' worth of gas used a day, and the standard deviation of a week's, by the stock book."""
    cylinders = hospital.cylinders
    assert cylinders is not None
    usable_l = (cylinders.full_gas - keep_gas(cylinders)) / 60_000
    weeks = np.concatenate([each.weeks_l for each in kept]) / usable_l
    a_day = sum(each.emptied for each in kept) / (sum(each.horizon_s for each in kept) / DAY_S)
    return a_day, float(weeks.std()) if len(weeks) else 0.0


def rules_of_thumb(
    hospital: Hospital, a_day: float, week_sd: float, target: float
) -> tuple[tuple[str, float, str], ...]:
    """Return two rules of thumb, the order-up-to level of each, and its figures; none without resupply."""
    resupply = hospital.resupply
    if resupply is None:
        return ()
    leads = quantile(resupply.lead_time_s, midpoints()) / DAY_S
    days, lead_sd = (resupply.review_s or 0) / DAY_S + float(leads.mean()), float(leads.std())
    sd = _as_printed(sqrt(week_sd**2 / WEEK_DAYS * days + (a_day * lead_sd) ** 2))
    a_day, days, z = map(_as_printed, (a_day, days, float(ndtri(1 - target))))
    took, reserve = f"{a_day:g} a day x", _as_printed(days + RESERVE_DAYS)
    by_sd = f"{took} {days:g} days of review and lead time + {z:g} x {sd:g}"
    return (
        ("mean use and z standard deviations", a_day * days + z * sd, by_sd),
        ("mean use and a week in reserve", a_day * reserve, f"{took} {reserve:g} days"),
    )


def _as_printed(value: float) -> float:
    """Return a figure as it is printed, so that whoever works out the printed sum finds the printed level."""
    return float(f"{value:.3g}")


def rules_beside(
    question: Question,
    candidate: Candidate,
    over: Field,
    kept: Sequence[Kept],
    chance: Callable[[int], float | None],
) -> tuple[RuleOfThumb, ...]:
    """Return what rules of thumb say of the field that is sized, and what the curve says of that."""
    hospital = candidate.hospital(question.strategy)
    further = _above_level(question, over.levers[0].path)
    if len(over.levers) > 1 or further is None or not kept or hospital.cylinders is None:
        return ()
    found = []
    above = f" {'+' if further > 0 else '-'} {abs(further)} (fleet less level)" if further else ""
    for rule, level, figures in rules_of_thumb(hospital, *use_of(hospital, kept), question.target):
        value = ceil(level - 1e-9) + further
        said = f"{figures}{above} = {round(level + further, 4):g}, rounded up"
        found.append(RuleOfThumb(rule, level, said, value, chance(value)))
    return tuple(found)


def _above_level(question: Question, path: str) -> int | None:
    """Return how far the sized field lies above the order-up-to level; None where no rule covers the field."""
    hospital = question.source.scenario.hospitals[question.strategy]
    if path == "resupply.order_up_to":
        return 0
    if path != FLEET or hospital.resupply is None or hospital.cylinders is None:
        return None
    return hospital.cylinders.fleet - hospital.resupply.order_up_to
