"""The comment beside a value that was typed at the desk: who says so, since when, and what stood there before."""

from __future__ import annotations

import datetime as dt
import re

NOT_STATED = "not stated"
_DESK = "from the desk"
_REMOVED = "removed at the desk"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_BEFORE = "; before: "
_NEXT = re.compile(rf"; (?=\S+ {_DESK}, )")  # between what is said of two values of a line
_NOT_KNOWN = "not known"
_RANGE = re.compile(r"\{low: (?P<low>[^{},]+), likely: [^{},]+, high: (?P<high>[^{},]+)\}")
_RECORDS = ": records, "
_OURS = re.compile(rf"(?P<who>(?:\S+ )?){_DESK}, [0-9]{{1,2}} [A-Z][a-z]{{2}} [0-9]{{4}}(?:\W.*)?")


def desk_note(today: dt.date) -> str:
    """Return what the comment of a value typed today says: "from the desk, 28 Nov 2026"."""
    return f"{_DESK}, {today.day} {_MONTHS[today.month - 1]} {today.year}"


def records_note(today: dt.date, said: str) -> str:
    """Return what the comment of a value says that was put in today from a book: its sheet, and what counted."""
    return f"{desk_note(today)}{_RECORDS}{said}"


def removed_note(today: dt.date) -> str:
    """Return what the comment of a line says of a value taken out today: "removed at the desk, 28 Nov 2026"."""
    return desk_note(today).replace(_DESK, _REMOVED)


def is_from_desk(comment: str, key: str = "") -> bool:
    """Return True where a comment says that the value was typed at the desk; key: of which value of the line."""
    return any(_of(comment, key))


def is_from_records(comment: str, key: str = "") -> bool:
    """Return True where a comment says that the value was put in at the desk from a book of the hospital."""
    return any(_RECORDS in part.partition(_BEFORE)[0] for part in _of(comment, key))


def _of(comment: str, key: str) -> list[str]:
    """Return the parts of a comment that say of the value of a key that it came from the desk."""
    found = [(part, _OURS.fullmatch(part)) for part in _parts(comment)]
    return [
        part
        for place, (part, each) in enumerate(found)
        if each is not None and each["who"].strip() in ((key,) if place else ("", key))
    ]


def _parts(comment: str) -> list[str]:
    """Return what a comment says of each value of its line that was typed at the desk."""
    return _NEXT.split(comment)


def next_comment(note: str, who: str, stood: str | None, old: str) -> str:
    """Return the comment of a value that is set: who says so, and what stood there before the desk came.

    who: the key with a space, where the line says more than this value. stood: the value before, None for none.
    old: the comment before; of several changes at the desk what stood there before the first is kept.
    """
    parts = _parts(old)
    if who and is_from_desk(parts[0], parts[0].partition(" ")[0]):
        mine = next((place for place, part in enumerate(parts) if part.startswith(who)), None)
        if mine is None:
            return "; ".join([f"{who}{note}{'' if stood is None else _BEFORE + _shortly(stood, '')}", *parts])
        return "; ".join([*parts[:mine], _next(note, who, stood, parts[mine]), *parts[mine + 1 :]])
    return _next(note, who, stood, old)


def _next(note: str, who: str, stood: str | None, old: str) -> str:
    """Return the comment of one value, of a line that says only this or whose comment is somebody else's."""
    head, changed, before = old.partition(_BEFORE)
    if changed and head.startswith(who):
        return f"{who}{note}{_BEFORE}{before}"
    if (stood is None and not old) or (old.startswith(who) and is_from_desk(old, who.strip())):
        return f"{who}{note}"
    return f"{who}{note}{_BEFORE}{_shortly(NOT_STATED if stood is None else stood, old)}"


def _shortly(stood: str, old: str) -> str:
    """Return a value and its comment; a range by its ends, without the sources of a figure that nobody knew."""
    found = _RANGE.fullmatch(stood)
    if found is not None:
        stood = f"{found['low']} to {found['high']}, {_NOT_KNOWN}"
        old = "" if old.startswith(_NOT_KNOWN) else old
    return f"{stood}, {old}" if old else stood
