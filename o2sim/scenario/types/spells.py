"""Spells of time, [start, end) in whole seconds: joined, clipped to a run, made of times of day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from o2sim.scenario.types.hospital import DAY_S, Window

Spell = tuple[int, int]


def merged(spells: Iterable[Spell]) -> tuple[Spell, ...]:
    """Return spells in order, joined where they meet or overlap."""
    joined: list[Spell] = []
    for start, end in sorted(spells):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return tuple(joined)


def gaps(spells: Iterable[Spell], end_s: int) -> tuple[Spell, ...]:
    """Return what lies between joined spells, from 0 to end_s."""
    edges = [0, *(edge for spell in spells for edge in spell), end_s]
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return tuple((start, end) for start, end in pairs if start < end)


def in_window(window: Window, second: int) -> bool:
    """Return True if a second of the day lies in a time of each day."""
    return (second - window.from_s) % DAY_S < window.length_s


def window_spells(windows: Iterable[Window], start: dt.date, warm_up_s: int, end_s: int) -> tuple[Spell, ...]:
    """Return the times of day as spells of a run, in s from the start of its warm-up, joined where they meet."""
    spells = []
    for day in range(-(-warm_up_s // DAY_S) * -1 - 1, (end_s - warm_up_s) // DAY_S + 1):
        weekday, midnight_s = (start + dt.timedelta(days=day)).weekday(), warm_up_s + day * DAY_S
        spells += [
            (midnight_s + window.from_s, midnight_s + window.from_s + window.length_s)
            for window in windows
            if weekday in window.days
        ]
    return clipped(spells, end_s)


def clipped(spells: Iterable[Spell], end_s: int) -> tuple[Spell, ...]:
    """Return the spells as far as they lie from 0 to end_s, joined."""
    return merged((max(start, 0), min(end, end_s)) for start, end in spells if start < end_s and end > 0)
