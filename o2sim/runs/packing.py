"""Pack the outcomes of consecutive replications into compact bytes with a checksum, and unpack them.

Totals are a JSON object, compressed by zlib: `fields` names the fields of Outcome, `rows` has a list of their
values for each replication (whole numbers, lists of them for tuples), `costs` the money a year or null, `days` the
number of days. The daily counts are little-endian int32, each day less the day before, replication by replication,
compressed by zlib; they may be left out. The checksum is SHA-256 over both before compression, so that it does not
depend on the compressor. Nothing in it can run code.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from o2sim.errors import O2simError
from o2sim.outcome import DAILY_COLUMNS, AtOnce, Cause, Outcome

FIELDS = tuple(f.name for f in fields(Outcome) if f.name not in ("replication", "at_once", "daily", "log"))
LEVELS = AtOnce.NAMES
Row = list[int | list[int]]
QUICK = 1  # zlib's level: half the size of none, at a few ms a year
LARGEST = 1 << 30  # bytes a damaged or hostile blob may swell to


class PackingError(O2simError):
    """Bytes that are not what was packed."""


@dataclass(frozen=True)
class Packed:
    """Outcomes of one strategy as bytes; daily is empty where it was left out."""

    totals: bytes
    daily: bytes
    checksum: str


def layout() -> str:
    """Return 16 hex digits that change whenever what an Outcome holds does."""
    names = [FIELDS, LEVELS, DAILY_COLUMNS, [cause.name for cause in Cause]]
    return hashlib.sha256(json.dumps(names).encode("ascii")).hexdigest()[:16]


def pack(outcomes: Sequence[Outcome], costs: Sequence[float | None]) -> Packed:
    """Return consecutive outcomes (without logs) and their money a year as bytes."""
    counts = np.stack([outcome.daily for outcome in outcomes]).astype("<i4")
    days = np.diff(counts, axis=1, prepend=np.zeros_like(counts[:, :1])).tobytes()
    totals = _totals([totals_of(outcome) for outcome in outcomes], costs, counts.shape[1])
    return Packed(zlib.compress(totals, QUICK), zlib.compress(days, QUICK), _sum(totals, days))


def pack_totals(rows: Sequence[Row], costs: Sequence[float | None]) -> Packed:
    """Return the totals of consecutive outcomes, as totals_of gives them, without daily counts."""
    totals = _totals(rows, costs, None)
    return Packed(zlib.compress(totals, QUICK), b"", _sum(totals, b""))


def _totals(rows: Sequence[Row], costs: Sequence[float | None], days: int | None) -> bytes:
    plain = {"fields": [*FIELDS, *LEVELS], "days": days, "rows": rows, "costs": list(costs)}
    return json.dumps(plain, separators=(",", ":"), allow_nan=False).encode("ascii")


def unpack(packed: Packed, first: int) -> tuple[list[Outcome], list[float | None]]:
    """Return the outcomes, numbered from first, and their money a year; raise PackingError for damaged bytes."""
    try:
        totals = _swell(packed.totals)
        days = _swell(packed.daily) if packed.daily else b""
        if _sum(totals, days) != packed.checksum:
            raise PackingError("its checksum does not fit")
        plain = json.loads(totals)
        if plain["fields"] != [*FIELDS, *LEVELS]:
            raise PackingError("its fields are not those of this version")
        counts = _counts(days, len(plain["rows"]), plain["days"])
        outcomes = [
            _outcome(first + place, row, counts[place] if counts is not None else None)
            for place, row in enumerate(plain["rows"])
        ]
        return outcomes, plain["costs"]
    except (zlib.error, ValueError, KeyError, TypeError) as error:
        raise PackingError(f"it cannot be read ({error})") from error


def totals_of(outcome: Outcome) -> Row:
    """Return the totals of an outcome as plain whole numbers, and lists of them, in the order of the fields."""
    values: list[Any] = [getattr(outcome, name) for name in FIELDS]
    values += [getattr(outcome.at_once, name) for name in LEVELS]
    return [[int(each) for each in value] if isinstance(value, tuple) else int(value) for value in values]


def _outcome(replication: int, row: Sequence[Any], daily: Any) -> Outcome:
    values = [tuple(value) if isinstance(value, list) else value for value in row]
    named: dict[str, Any] = dict(zip(FIELDS, values, strict=False))
    levels = AtOnce(**dict(zip(LEVELS, values[len(FIELDS) :], strict=True)))
    more = {} if daily is None else {"daily": daily}
    return Outcome(replication=replication, at_once=levels, **named, **more)


def _counts(days: bytes, replications: int, length: int | None) -> Any:
    """Return the daily counts, shape (replications, days, columns); None where they were left out."""
    if length is None:
        return None
    changes = np.frombuffer(days, dtype="<i4").reshape(replications, length, len(DAILY_COLUMNS))
    return np.cumsum(changes, axis=1, dtype=np.int32)


def _swell(data: bytes) -> bytes:
    reader = zlib.decompressobj()
    found = reader.decompress(data, LARGEST)
    if not reader.eof:
        raise PackingError("it is cut short or far too large")
    return found


def _sum(totals: bytes, days: bytes) -> str:
    return hashlib.sha256(totals + b"\0" + days).hexdigest()
