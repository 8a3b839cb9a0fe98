"""A hospital and its simulated years in, what a reorder card needs out: use a day, delivery time, when to phone.

Days of cover have one meaning here, in `o2sim check` and in a study: usable litres over the need, whatever source
meets it. Beside that stands the usual use, which is smaller where concentrators help.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np

from o2sim.planning.delivery_time import NEAR, DeliveryTime, delivery_time, nineteen_in_20
from o2sim.planning.figures import delivered_gas, planning_figures
from o2sim.questions.size.kept_outcome import Noted
from o2sim.scenario.types.hospital import DAY_S, Hospital


@dataclass(frozen=True)
class Card:
    """Uses in full cylinders a day, times in whole days.

    usual: mean of the simulated years, concentrators helping; None where none was simulated. unaided: all patients
    on cylinders at the season's peak mean need, as `o2sim check` has it; None where cylinders give nothing;
    seasonal is False where that is the yearly mean. cautious: the greater of both. most_used: what 19 of 20 years
    never exceeded in any phone_days days on end. phone_days: of the delivery that the telephone brings, which is
    an emergency one where the scenario has such a rule.
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

    @property
    def by_most_used(self) -> bool:
        """Return True if the telephone goes by what the simulated years used, which was more than cautious."""
        return self.most_used is not None and self.most_used > self.cautious * self.phone_days

    @property
    def phone_rate(self) -> float:
        """Return the cylinders a day behind the number to phone at."""
        return max(self.cautious, (self.most_used or 0.0) / self.phone_days)


def card_of(result: Mapping[str, Any], hospital: Hospital) -> Card | None:
    """Return the card in what a sizing measured; of the hospital alone where it measured nothing."""
    measured = result["measured"]
    if measured is None:
        return card(hospital, ())
    found = dict(measured["card"])
    for name in ("delivery", "emergency_delivery"):
        found[name] = None if found[name] is None else DeliveryTime(**found[name])
    return Card(**found)


def card(hospital: Hospital, noted: Sequence[Noted]) -> Card | None:
    """Return the figures of a hospital that orders cylinders; None for another."""
    ordinary = delivery_time(hospital)
    if hospital.cylinders is None or ordinary is None:
        return None
    emergency = delivery_time(hospital, emergency=True)
    phone_days = (emergency or ordinary).days
    usual = sum(each.emptied for each in noted) * DAY_S / sum(each.horizon_s for each in noted) if noted else None
    figures = planning_figures(hospital)
    unaided = figures.peak.cylinders_per_day
    cautious = max(usual or 0.0, unaided or 0.0)
    most = _most_used(noted, phone_days, delivered_gas(hospital.cylinders) / 60_000)
    return Card(
        concentrators_help=hospital.concentrators is not None,
        seasonal=figures.peak_day is not None,
        usual=usual,
        unaided=unaided,
        cautious=cautious,
        delivery=ordinary,
        emergency_delivery=emergency,
        phone_days=phone_days,
        most_used=most,
        phone_at=max(1, ceil(max(cautious * phone_days, most or 0.0) - NEAR)),
    )


def _most_used(noted: Sequence[Noted], days: int, litres: float) -> float | None:
    """Return the cylinders that 19 of 20 replications never used more of in so many days on end.

    From the stock book, which is closed at midnight: the horizon's last day is not in it.
    """
    booked = [each.days_l for each in noted if len(each.days_l)]
    if not booked or litres <= 0:
        return None
    return nineteen_in_20([_most(each, days) / litres for each in booked])


def _most(days_l: np.ndarray[tuple[int], np.dtype[np.int32]], days: int) -> int:
    """Return the most litres of any so many days on end, of all days where there are fewer."""
    total = np.concatenate([[0], np.cumsum(days_l, dtype=np.int64)])
    span = min(days, len(days_l))
    return int((total[span:] - total[:-span]).max())
