"""The comment beside a value that was typed at the desk: who says so, since when, and what stood there before."""

from __future__ import annotations

import datetime as dt
import re

NOT_STATED = "not stated"
_DESK = "from the desk"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_BEFORE = "; before: "
_OURS = re.compile(rf"(?P<who>(?:\S+ )?){_DESK}, [0-9]{{1,2}} [A-Z][a-z]{{2}} [0-9]{{4}}(?:\W.*)?")


def desk_note(today: dt.date) -> str:
    """Return what the comment of a value typed today says: "from the desk, 28 Nov 2026"."""
    return f"{_DESK}, {today.day} {_MONTHS[today.month - 1]} {today.year}"


def is_from_desk(comment: str, key: str = "") -> bool:
    """Return True where a comment says that the value was typed at the desk; key: of which value of the line."""
    found = _OURS.fullmatch(comment)
    return found is not None and found["who"].strip() in ("", key)


def next_comment(note: str, who: str, stood: str | None, old: str) -> str:
    """Return the comment of a value that is set: who says so, and what stood there before the desk came.

    who: the key with a space, where the line says more than this value. stood: the value before, None for none.
    old: the comment before; of several changes at the desk what stood there before the first is kept.
    """
    head, changed, before = old.partition(_BEFORE)
    if changed and head.startswith(who):
        return f"{who}{note}{_BEFORE}{before}"
    if (stood is None and not old) or (old.startswith(who) and is_from_desk(old, who.strip())):
        return f"{who}{note}"
    return f"{who}{note}{_BEFORE}{NOT_STATED if stood is None else stood}{f', {old}' if old else ''}"
