"""What a register of admissions says of one class of patients."""

from __future__ import annotations

import datetime as dt
import math

from o2sim.scenario.building.record_rows import Register
from o2sim.scenario.text.problems import Problems, listing, nearest, quote
from o2sim.scenario.types.hospital import DAY_S, Law, Recorded

FARTHEST_DAYS = 36_525  # of an arrival from the start: a hundred years


def of_class(problems: Problems, register: Register, name: str, start: dt.date) -> Recorded:
    """Return the admissions of one class, in order of arrival; raise RefusedError where there are none."""
    midnight = dt.datetime.combine(start, dt.time())
    seconds = [_seconds(row.arrival, midnight) for row in register.rows]
    first_day = min(seconds) // DAY_S
    if max(map(abs, seconds)) > FARTHEST_DAYS * DAY_S:
        raise problems.add(register.node, f"{register.file}: found an arrival a hundred years from the start")
    chosen = sorted(
        (second - first_day * DAY_S, place)
        for place, (second, row) in enumerate(zip(seconds, register.rows, strict=True))
        if row.name == name
    )
    if not chosen:
        names = sorted({row.name for row in register.rows})
        found = f"{register.file} has no admissions of class {quote(name)}"
        allowed = f"one of the class column: {listing([quote(each) for each in names[:10]])}"
        raise problems.add(register.node, found, allowed, nearest(name, names))
    rows = [register.rows[place] for _, place in chosen]
    return Recorded(
        resample=register.resample,
        first_day=first_day,
        days=max(seconds) // DAY_S - first_day + 1,
        arrival_s=tuple(second for second, _ in chosen),
        flow_ml_min=tuple(row.flow_ml_min for row in rows),
        need_s=tuple(row.need_s for row in rows),
    )


def empirical(values: tuple[int, ...]) -> Law:
    """Return the law that gives each recorded value with the same chance, for planning figures."""
    return Law("empirical", tuple(float(value) for value in sorted(values)))


def _seconds(arrival: dt.datetime | float, midnight: dt.datetime) -> int:
    """Return an arrival in seconds from midnight of the start."""
    from_start = (arrival - midnight).total_seconds() if isinstance(arrival, dt.datetime) else arrival * DAY_S
    return math.floor(from_start)
