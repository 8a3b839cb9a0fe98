"""Times that hands take: one for all, or a law by which each is drawn, and others by night, with their keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from o2sim.scenario.keys.record import key
from o2sim.scenario.types.laws import Law, law_high, law_mean

Time = int | Law  # whole seconds for all, or a law of seconds
RARELY = 0.05  # the share of a law's times above its high one


def handling_time(help_: str, default: str | None = None, mark: str | None = None, **more: Any) -> Any:
    """Return a key that is a time, or a law by which each time is drawn; a plain time is in whole seconds."""
    return key("law of duration", help_, default, mark, least="0 s", turned=_plain, **more)


def _plain(law: Law) -> Time:
    return round(law.parameters[0]) if law.kind == "constant" else law


@dataclass(frozen=True)
class Night:
    """Times that differ by night; those left out are as by day. Night is what day_hours leaves."""

    response_time_s: Time | None = handling_time(
        "response_time by night (outside day_hours), if staff set out then", otherwise="as by day"
    )
    change_time_s: Time | None = handling_time(
        "cylinders.change_time by night, if the change begins then", otherwise="as by day"
    )
    connect_s: Time | None = handling_time(
        "staff.connect_time by night, if staff begin then", name="connect_time", otherwise="as by day"
    )


AS_BY_DAY = Night()


def takes_any(by_day: Time, by_night: Time | None) -> bool:
    """Return True unless a job takes no time, by day and by night."""
    return by_day != 0 or by_night not in (None, 0)


def mean_s(time: Time) -> float:
    """Return the mean of a time."""
    return law_mean(time) if isinstance(time, Law) else time


def high_s(time: Time) -> int:
    """Return a time that one in twenty exceeds, or the longest where there is one; a plain time as it is."""
    return round(law_high(time, RARELY)) if isinstance(time, Law) else time
