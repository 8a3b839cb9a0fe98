"""A hospital and its simulated years in, what a reorder card needs out: use a day, delivery time, when to phone.

Days of cover have one meaning here, in `o2sim check` and in a study: usable litres over the need, whatever source
meets it. Beside that stands the usual use, which is smaller where concentrators help.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np

from o2sim.planning.delivery_time import (
    NEAR,
    DeliveryTime,
    delivery_months,
    delivery_time,
    nineteen_in_20,
    whole_days,
)
from o2sim.planning.figures import delivered_gas, planning_figures
from o2sim.questions.size.kept_outcome import Noted
from o2sim.scenario.types.hospital import DAY_S, Hospital

YEAR_ROUND = tuple(range(1, 13))


@dataclass(frozen=True)
class PhoneSeason:
    """When to phone in some months (1-12) of the year, which are those in which one phones.

    days: until 19 in 20 deliveries of a call then have come. most_used: what 19 of 20 years never exceeded in
    any so many days on end that begin in these months; in any days at all where no simulated day lies in them.
    """

    months: tuple[int, ...]
    days: int
    most_used: float | None
    phone_at: int

    def by_most_used(self, cautious: float) -> bool:
        """Return True if the telephone goes by what the simulated years used, which was more than cautious."""
        return self.most_used is not None and self.most_used > cautious * self.days

    def rate(self, cautious: float) -> float:
        """Return the cylinders a day behind the number to phone at."""
        return max(cautious, (self.most_used or 0.0) / self.days)


@dataclass(frozen=True)
class Card:
    """Uses in full cylinders a day, times in whole days.

    usual: mean of the simulated years, concentrators helping; None where none was simulated. unaided: all
    patients on cylinders at the season's peak mean need, as `o2sim check` has it; None where cylinders give
    nothing; seasonal is False where that is the yearly mean. cautious: the greater of both. phone_days,
    most_used and phone_at are those of the season with the greatest number to phone at; times are those of the
    delivery that the telephone brings, an emergency one where the scenario has such a rule. phone_by_season: two
    where closed roads make deliveries longer in some months, these first, and their number greater; else one of
    all the year.
    """

    concentrators_help: bool
    seasonal: bool
    usual: float | None
    unaided: float | None
    cautious: float
    delivery: DeliveryTime
    emergency_delivery: DeliveryTime | None
    phone_days: int
    most_used: float | None
    phone_at: int
    phone_by_season: tuple[PhoneSeason, ...]

    @property
    def hardest(self) -> PhoneSeason:
        """Return the season with the greatest number to phone at."""
        return max(self.phone_by_season, key=lambda each: each.phone_at)


def card_of(result: Mapping[str, Any], hospital: Hospital) -> Card | None:
    """Return the card in what a sizing measured; of the hospital alone where it measured nothing."""
    measured = result["measured"]
    if measured is None:
        return card(hospital, ())
    found = dict(measured["card"])
    for name in ("delivery", "emergency_delivery"):
        found[name] = None if found[name] is None else DeliveryTime(**found[name])
    found["phone_by_season"] = tuple(
        PhoneSeason(**{**each, "months": tuple(each["months"])}) for each in found["phone_by_season"]
    )
    return Card(**found)


def card(hospital: Hospital, noted: Sequence[Noted]) -> Card | None:
    """Return the figures of a hospital that orders cylinders; None for another."""
    ordinary = delivery_time(hospital)
    if hospital.cylinders is None or ordinary is None:
        return None
    emergency = delivery_time(hospital, emergency=True)
    usual = sum(each.emptied for each in noted) * DAY_S / sum(each.horizon_s for each in noted) if noted else None
    figures = planning_figures(hospital)
    unaided = figures.peak.cylinders_per_day
    cautious = max(usual or 0.0, unaided or 0.0)
    seasons = _seasons(hospital, emergency or ordinary, emergency is not None, cautious, noted)
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
    )


def _seasons(
    hospital: Hospital, called: DeliveryTime, emergency: bool, cautious: float, noted: Sequence[Noted]
) -> tuple[PhoneSeason, ...]:
    """Return when to phone in months whose deliveries closed roads make longer, and in the others.

    One of all the year where the number of the others is as great: two would only confuse.
    """
    assert hospital.cylinders is not None
    litres = delivered_gas(hospital.cylinders) / 60_000

    def season(months: tuple[int, ...], days: int) -> PhoneSeason:
        most = _most_used(noted, days, litres, hospital.start, months)
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
    noted: Sequence[Noted], days: int, litres: float, start: dt.date, months: tuple[int, ...]
) -> float | None:
    """Return the cylinders that 19 of 20 replications never used more of in so many days that begin in the months.

    From the stock book, which is closed at midnight: the horizon's last day is not in it.
    """
    booked = [each.days_l for each in noted if len(each.days_l)]
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
