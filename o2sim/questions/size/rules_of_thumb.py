"""Replications of a strategy in, the stock that two rules of thumb would order out, to stand beside the answer.

Both are common practice. They take the year's mean use of cylinders and the time from one look at the stock to the
delivery of what is ordered at the next; they know no season, no closed road, no limit of the lorry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.special import ndtri

from o2sim.draws.laws import quantile
from o2sim.model.rules import keep_gas
from o2sim.planning.total_flow import midpoints
from o2sim.questions.size.kept_outcome import WEEK_DAYS, Noted
from o2sim.scenario.types.hospital import DAY_S, Hospital

RESERVE_DAYS = 7


@dataclass(frozen=True)
class Thumb:
    """One rule of thumb: what it says to order up to, and in words how it comes to that."""

    rule: str
    level: float
    figures: str


@dataclass(frozen=True)
class Use:
    """Cylinders used a day, from the stock book: mean, and standard deviation of a week's use."""

    a_day: float
    week_sd: float


def use_of(hospital: Hospital, noted: Sequence[Noted]) -> Use:
    """Return the use of full cylinders' worth of gas in the replications' horizons."""
    cylinders = hospital.cylinders
    assert cylinders is not None
    usable_l = (cylinders.full_gas - keep_gas(cylinders)) / 60_000
    weeks = np.concatenate([each.weeks_l for each in noted]) / usable_l
    days = sum(each.horizon_s for each in noted) / DAY_S
    emptied = sum(each.emptied for each in noted)
    return Use(emptied / days, float(weeks.std()) if len(weeks) else 0.0)


def rules_of_thumb(hospital: Hospital, use: Use, target: float) -> list[Thumb]:
    """Return what two rules of thumb say the order-up-to level should be; none without resupply."""
    resupply = hospital.resupply
    if resupply is None:
        return []
    leads = quantile(resupply.lead_time_s, midpoints()) / DAY_S
    review = (resupply.review_s or 0) / DAY_S
    days, lead_sd = review + float(leads.mean()), float(leads.std())
    z = float(ndtri(1 - target))
    mean = use.a_day * days
    sd = sqrt(use.week_sd**2 / WEEK_DAYS * days + (use.a_day * lead_sd) ** 2)
    took = f"{use.a_day:.3g} a day x {days:.3g} days of review and lead time"
    with_reserve = days + RESERVE_DAYS
    return [
        Thumb("mean use and z standard deviations", mean + z * sd, f"{took} + {z:.3g} x {sd:.3g}"),
        Thumb(
            "mean use and a week in reserve",
            use.a_day * with_reserve,
            f"{took.split(' x ')[0]} x {with_reserve:.3g} days",
        ),
    ]
