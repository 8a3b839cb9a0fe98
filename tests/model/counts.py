"""Counts for tests: a hospital that begins at one, and counts drawn for any hospital."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from build import DAY, HOUR, START
from hypothesis import strategies as st

from o2sim.scenario.types.hospital import Concentrators, Hospital
from o2sim.scenario.types.now import CountedCylinders, GridNow, Now, OnOxygen, OrderUnderWay, UnitsNow

MIDNIGHT = dt.datetime.combine(START, dt.time())
AGES_S = [None, 0, 1, 1_800, 5 * HOUR, 3 * DAY]
SOURCES: list[Any] = ["concentrator", None, "cylinder", "none"]
MOMENTS_S = [0, 1, 7 * HOUR + 1_800, DAY - 1]  # of the day


def counted(rules: Hospital, now: Now) -> Hospital:
    """Return a hospital that begins at a count: the midnight before it is the first of the horizon."""
    midnight = dt.datetime.combine(now.counted.date(), dt.time())
    since_s = round((now.counted - midnight).total_seconds())
    return replace(rules, start=midnight.date(), warm_up_s=-since_s, now=now)


@st.composite
def counts(draw: Any, rules: Hospital) -> Now:
    """Draw a count that fits a hospital: no more cylinders than the fleet, no more on order than empties."""
    cylinders, left, gas = None, 0, rules.cylinders
    if gas is not None:
        left = draw(st.integers(0, min(5, gas.fleet)))  # on patients or not accounted for
        empty = draw(st.integers(0, gas.fleet - left))
        contents = st.sampled_from([0, gas.lost_gas, gas.residual_gas + 1, gas.full_gas // 2, gas.full_gas])
        part_used = draw(st.lists(contents, max_size=min(3, gas.fleet - left - empty)))
        full = gas.fleet - left - empty - len(part_used)
        cylinders = CountedCylinders(full, empty, tuple(part_used))
    return Now(
        MIDNIGHT + dt.timedelta(days=draw(st.integers(0, 2)), seconds=draw(st.sampled_from(MOMENTS_S))),
        cylinders,
        draw(_orders(0 if cylinders is None else cylinders.empty)),
        draw(_people(rules, left)) if draw(st.integers(0, 4)) else None,
        draw(_units(rules.concentrators)) if rules.concentrators is not None else None,
        draw(
            st.one_of(
                st.none(),
                st.builds(GridNow, st.sampled_from([None, True, False]), st.just(None)),
                st.builds(GridNow, st.sampled_from([True, True, False]), st.sampled_from(AGES_S)),
            )
        ),
        draw(st.sampled_from([None, 0, 10, 500, 1_000])),
        draw(st.sampled_from([None, 0, 1_000, 3_000])),
        draw(st.sampled_from([None, 0, 1, 20_000])),
        draw(st.sampled_from([None, None, "open", "shut"])),
    )


@st.composite
def _orders(draw: Any, empty: int) -> tuple[OrderUnderWay, ...]:
    found, left = [], empty
    for _ in range(min(empty, draw(st.integers(0, 3)))):
        count = draw(st.integers(1, max(1, left // 2)))
        if count > left:
            break
        found.append(OrderUnderWay(count, draw(st.sampled_from(AGES_S))))
        left -= count
    return tuple(found)


@st.composite
def _people(draw: Any, rules: Hospital, cylinders: int) -> tuple[OnOxygen, ...]:
    """Draw those on oxygen: no more on cylinders than there are left, in a hospital without any on none at all."""
    found, left = [], cylinders
    for _ in range(draw(st.integers(0, 8))):
        full_up = left == 0 and rules.cylinders is not None
        source = draw(st.sampled_from([each for each in SOURCES if each != "cylinder" or not full_up]))
        gas = None
        if source == "cylinder" and rules.cylinders is not None:
            left -= 1
            gas = draw(st.sampled_from([None, 0, rules.cylinders.full_gas // 3, rules.cylinders.full_gas]))
        flow = draw(st.sampled_from([333, 1, None, 1_000, 5_000]))
        kind = draw(st.integers(0, len(rules.patients) - 1))
        found.append(OnOxygen(kind, flow, draw(st.sampled_from(AGES_S)), source, gas))
    return tuple(found)


@st.composite
def _units(draw: Any, rules: Concentrators) -> UnitsNow | None:
    if draw(st.booleans()):
        return None
    working = max(0, rules.count - draw(st.integers(0, 3)))
    downs = draw(st.lists(st.sampled_from(AGES_S), max_size=rules.count - working))
    meters = draw(st.lists(st.sampled_from([0, 3_600, 90_000]), max_size=working))
    return UnitsNow(working, tuple(downs), tuple(meters))
