"""What a register of admissions says of one class of patients."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from o2sim.scenario.building.periods import Period, Record, check_run, outside, period
from o2sim.scenario.building.record_rows import Admission, Register
from o2sim.scenario.text.problems import Problems, RefusedError, nearest, quote
from o2sim.scenario.types.hospital import DAY_S, General, Law, Recorded

FARTHEST_DAYS = 36_525  # of an arrival from the start: a hundred years
Timed = tuple[int, Admission]  # second of arrival, from midnight of the start


def of_class(problems: Problems, register: Register, name: str, general: General) -> Recorded:
    """Return the admissions of one class, in order of arrival; raise RefusedError where there are none."""
    midnight = dt.datetime.combine(general.start, dt.time())
    rows = [(_seconds(row.arrival, midnight), row) for row in register.rows]
    if max(abs(second) for second, _ in rows) > FARTHEST_DAYS * DAY_S:
        raise problems.add(register.node, f"{register.file}: found an arrival a hundred years from the start")
    chosen = sorted(
        ((second, place, row) for place, (second, row) in enumerate(rows) if row.name == name),
        key=lambda each: each[:2],
    )
    nobody = None if chosen else _nobody(problems, register, name)
    record = Record("register", register.node, register.file, register.use, register.first, register.last)
    days = sorted(second // DAY_S for second, _ in rows)
    kept = period(problems, record, (general.start + dt.timedelta(days=day) for day in (days[0], days[-1])))
    from_s = kept.first_day(general.start) * DAY_S
    outside(problems, record, kept, _outside(rows, kept, general.start))
    check_run(problems, record, kept, general)
    if nobody is not None:
        raise nobody
    return Recorded(
        use=register.use,
        first_day=kept.first_day(general.start),
        days=kept.days,
        arrival_s=tuple(second - from_s for second, _, _ in chosen),
        flow_ml_min=tuple(row.flow_ml_min for _, _, row in chosen),
        need_s=tuple(row.need_s for _, _, row in chosen),
        stated=kept.stated,
    )


def _nobody(problems: Problems, register: Register, name: str) -> RefusedError:
    """Note that a class has no row; return what may be raised.

    Of the words in the file only one that is nearly the class is repeated: the others may be anything.
    """
    names = sorted({row.name for row in register.rows})
    others = f"{len(names)} other word{'s' if len(names) > 1 else ''} in its column class"
    found = f"{register.file} has no admissions of class {quote(name)}, but {others}"
    return problems.add(register.node, found, f"rows whose class is {quote(name)}", nearest(name, names))


def _outside(rows: list[Timed], kept: Period, start: dt.date) -> Iterator[tuple[int, str]]:
    """Yield (line, what was found) of rows outside the period, but for patients present when the book begins."""
    from_s = kept.first_day(start) * DAY_S
    for second, row in rows:
        date = start + dt.timedelta(days=second // DAY_S)
        if second >= from_s + kept.days * DAY_S:
            yield row.line, f"{date}, after the last day of the register"
        elif second < from_s and second + row.need_s <= from_s:
            yield row.line, f"{date}, before the first day of the register, and a stay that ends before it"


def empirical(values: tuple[int, ...]) -> Law:
    """Return the law that gives each recorded value with the same chance, for planning figures."""
    return Law("empirical", tuple(float(value) for value in sorted(values)))


def _seconds(arrival: dt.datetime | float, midnight: dt.datetime) -> int:
    """Return an arrival in seconds from midnight of the start."""
    from_start = (arrival - midnight).total_seconds() if isinstance(arrival, dt.datetime) else arrival * DAY_S
    return math.floor(from_start)
