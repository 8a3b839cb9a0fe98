"""What may have happened by each day: the shelf bare, somebody without, the lorry there, cylinders left."""

from __future__ import annotations

import datetime as dt

import numpy as np

from o2sim.questions.today.moment import Whole, midnights_s, now_of
from o2sim.questions.today.result import DayAhead, Delivery, Fan
from o2sim.questions.today.runs import NEVER, Seen, by, chance
from o2sim.scenario.types.hospital import Hospital

PERCENT = (5, 25, 50, 75, 95)


def by_day(hospital: Hospital, seen: Seen, today: dt.date) -> tuple[DayAhead, ...]:
    """Return a row for each midnight from the one that ends today on."""
    counted = now_of(hospital).counted.date()
    full, ends_s = ending(seen, "full", hospital), midnights_s(now_of(hospital), seen.daily.shape[1])
    fans = np.percentile(full, PERCENT, axis=0, method="inverted_cdf")  # whole cylinders
    rows = []
    for place in range(max(0, (today - counted).days), full.shape[1]):
        until_s = int(ends_s[place])
        rows.append(
            DayAhead(
                (counted + dt.timedelta(days=place)).isoformat(),
                chance(by(seen.bare_s, until_s)),
                chance(by(seen.interruption_s, until_s)),
                chance(by(seen.stock_out_s, until_s)),
                float(by(seen.delivery_s, until_s).mean()),
                Fan(*(float(value) for value in fans[:, place])),
            )
        )
    return tuple(rows)


def ending(seen: Seen, column: str, hospital: Hospital) -> Whole:
    """Return a daily count at the midnights after the count, shape (replications, midnights).

    Where the count is made at midnight the first of the daily counts is that of the count itself.
    """
    found = seen.at_midnights(column)
    kept = found[:, 1:] if hospital.warm_up_s == 0 else found
    return kept.astype(np.int64)


def next_delivery(hospital: Hospital, seen: Seen, days: int) -> Delivery:
    """Return the days by whose end the next delivery has come in half, and in 19 of 20, of the replications."""
    came = seen.delivery_s != NEVER
    return Delivery(_day_by(hospital, seen, days, 0.5), _day_by(hospital, seen, days, 0.95), float(came.mean()))


def _day_by(hospital: Hospital, seen: Seen, days: int, share: float) -> str | None:
    ends_s = midnights_s(now_of(hospital), days + 1)
    shares = np.array([by(seen.delivery_s, int(end)).mean() for end in ends_s])
    if shares[-1] < share:
        return None
    place = int(np.argmax(shares >= share))
    return (now_of(hospital).counted.date() + dt.timedelta(days=place)).isoformat()


def drawn_flow(seen: Seen) -> float:
    """Return the mean flow drawn from cylinders at the first midnight, in mL/min."""
    return float(seen.at_midnights("cylinder_flow_ml_min")[:, 0].mean()) if seen.daily.shape[1] else 0.0
