"""A small ward from a count: three on cylinders whose gas obeys the ideal law, nobody comes, nobody leaves."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from o2sim.questions.today.moment import begun_from
from o2sim.scenario import Scenario, loads
from o2sim.scenario.types.hospital import Hospital
from o2sim.scenario.types.now import CountedCylinders, Now, OnOxygen, OrderUnderWay

LITRE, HOUR, DAY = 60_000, 3_600, 86_400
MONDAY = dt.datetime(2027, 5, 3, 7, 30)
BAR = 6_400 * LITRE / 137  # of the gas of one cylinder: 6,400 L at 137 bar, by the ideal law
OFF = round(8 * BAR)
TEXT = """\
name: Reed ward
figures: ours
start: 2027-05-03
horizon: 28 days
response_time: 0 s
patients:
  newborns: {admissions: 0.1 / day, flow: 1 L/min, duration: 500 days, size: newborn}
  children: {admissions: 0.2 / day, flow: 1 L/min, duration: 500 days, size: child}
  adults: {admissions: 0.3 / day, flow: 2 L/min, duration: 500 days}
cylinders: {content: 6400 L, fleet: 40, leak: 0 L/min, gauge_check: watched, change_time: 0 s}
resupply: {review: 7 days, reorder_point: 14, order_up_to: 20, lead_time: 3 days, vehicle_capacity: 15,
           minimum_order: 2}
strategies: {cylinders: {sources: [cylinder]}}
"""


def patients(**changes: object) -> tuple[OnOxygen, ...]:
    """Return three on cylinders: 2, 1 and 0.5 L/min, gauges of 80, 40 and 110 bar."""
    said = ((2, 2_000, 80), (1, 1_000, 40), (0, 500, 110))
    return tuple(
        replace(OnOxygen(kind, flow, DAY, "cylinder", round(bar * BAR)), **changes)  # type: ignore[arg-type]
        for kind, flow, bar in said
    )


def count(**changes: object) -> Now:
    """Return the count of a Monday: 3 full, 12 empty, 5 on order since Friday, the next order day on Wednesday."""
    standard = Now(
        MONDAY,
        CountedCylinders(3, 12),
        (OrderUnderWay(5, 2 * DAY),),
        patients(),
        next_review_s=2 * DAY - MONDAY.hour * HOUR - MONDAY.minute * 60,
    )
    return replace(standard, **changes)  # type: ignore[arg-type]


def ward(now: Now | None = None, text: str = TEXT) -> Scenario:
    """Return the ward as it begins from a count."""
    scenario = loads(text)
    made = {name: _ideal(each) for name, each in scenario.hospitals.items()}
    return begun_from(replace(scenario, hospitals=made), count() if now is None else now)


def hospital(now: Now | None = None, text: str = TEXT) -> Hospital:
    """Return its first strategy."""
    return next(iter(ward(now, text).hospitals.values()))


def quiet(one: Hospital) -> Hospital:
    """Return a hospital to which nobody comes."""
    return replace(one, patients=tuple(replace(each, admissions_per_day=0.0) for each in one.patients))


def _ideal(one: Hospital) -> Hospital:
    if one.cylinders is None:
        return one
    stock = replace(one.cylinders, full_gas=round(137 * BAR), residual_gas=OFF, lost_gas=OFF)
    return replace(one, cylinders=stock)
