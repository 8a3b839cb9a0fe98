"""The outcomes of one strategy as columns, in a small part of the memory that as many objects would take.

A sequence of Outcome like a list; each is made anew when it is asked for. Whoever needs one total of all
replications takes its column.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from typing import Any, overload

import numpy as np
import numpy.typing as npt

from o2sim.outcome import AtOnce, Cause, Outcome
from o2sim.runs.midnights import COVER, UNKNOWN, Daily, Midnights, Nights, midnights_of, nights_of
from o2sim.statistics.estimator import Column

Ints = npt.NDArray[np.int64]
Table = npt.NDArray[np.float64]
TOTALS = tuple(each.name for each in fields(Outcome) if each.name not in ("at_once", "daily", "log"))
BLOCK = 256  # outcomes held as such before they become columns, and made at a time
_IS_SUPPLY = [cause.is_supply for cause in Cause]


class Outcomes(Sequence[Outcome]):
    """Outcomes of one strategy, in the order of their replications, without logs.

    cover has shape (n, COVER), see midnights.cover_figures; daily are the counts at each midnight where they were
    kept, else each Outcome has none (shape (0, columns)); midnights is what is kept of them otherwise, None of a
    part of a batch.
    """

    def __init__(
        self,
        columns: dict[str, npt.NDArray[Any]],
        cover: Table,
        daily: Sequence[Daily] | None = None,
        midnights: Midnights | None = None,
    ) -> None:
        """Take the columns, by the names of totals and of `at_once`, each shape (n,) or (n, parts)."""
        self._columns, self.cover = columns, cover
        self.daily, self.midnights = daily, midnights

    @staticmethod
    def of(outcomes: Iterable[Outcome]) -> Outcomes:
        """Return outcomes made elsewhere, with their daily counts, as columns; as they are where they are so."""
        if isinstance(outcomes, Outcomes):
            return outcomes
        many = list(outcomes)
        daily = [each.daily for each in many]
        cover = np.array([nights_of(each).cover for each in daily]).reshape(-1, COVER)
        return Outcomes(_columns(many), cover, daily)

    def column(self, name: str) -> Ints:
        """Return one total of all replications, shape (n,), or (n, parts) of what is by cause, class and the like.

        name: a field of Outcome that is a whole number or a tuple of them, or `stock_outs`.
        """
        if name == "stock_outs":
            found: Ints = self.column("stock_outs_by_cause").sum(axis=1)
            return found
        return self._columns[name].astype(np.int64)

    def at_levels(self, name: str) -> list[int]:
        """Return the seconds at each level of use of all replications together; name: a field of AtOnce."""
        seconds: list[int] = self._columns[name].sum(axis=0, dtype=np.int64).tolist()
        return seconds[: int(self._columns[_length(name)].max(initial=0))]

    @property
    def supply_unserved_s(self) -> Ints:
        """Return the patient-seconds unserved for lack of supply, shape (n,)."""
        found: Ints = self.column("unserved_s")[:, _IS_SUPPLY].sum(axis=1)
        return found

    def __len__(self) -> int:
        """Return the number of replications."""
        return len(self._columns["replication"])

    @overload
    def __getitem__(self, place: int) -> Outcome: ...
    @overload
    def __getitem__(self, place: slice) -> Outcomes: ...
    def __getitem__(self, place: int | slice) -> Outcome | Outcomes:
        """Return one outcome, or some of them: themselves, where these are all."""
        places = range(len(self))[place]
        if isinstance(places, int):
            return next(self._made(places, places + 1))
        if len(places) == len(self) and places == range(len(self)):
            return self
        chosen = slice(places.start, None if places.stop < 0 else places.stop, places.step)
        columns = {name: column[chosen] for name, column in self._columns.items()}
        return Outcomes(columns, self.cover[chosen], None if self.daily is None else self.daily[chosen])

    def __iter__(self) -> Iterator[Outcome]:
        """Yield each outcome, made anew."""
        for first in range(0, len(self), BLOCK):
            yield from self._made(first, min(first + BLOCK, len(self)))

    def __eq__(self, other: object) -> bool:
        """Return True where another sequence has equal outcomes; as between outcomes, daily counts aside."""
        if not isinstance(other, Sequence):
            return NotImplemented
        return len(self) == len(other) and all(mine == theirs for mine, theirs in zip(self, other, strict=True))

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        """Return how many there are."""
        return f"<{len(self)} outcomes>"

    def _made(self, first: int, stop: int) -> Iterator[Outcome]:
        """Yield the outcomes of some places."""
        values = [_values(self._columns[name][first:stop]) for name in TOTALS]
        lengths = [self._columns[_length(name)][first:stop].tolist() for name in AtOnce.NAMES]
        levels = [_values(self._columns[name][first:stop]) for name in AtOnce.NAMES]
        for place in range(stop - first):
            at_once = AtOnce(
                *(level[place][: length[place]] for level, length in zip(levels, lengths, strict=True))
            )
            found: dict[str, Any] = {name: value[place] for name, value in zip(TOTALS, values, strict=True)}
            if self.daily is not None:
                found["daily"] = self.daily[first + place]
            yield Outcome(**found, at_once=at_once)


class Gathered:
    """Outcomes as they come in the order of their replications; becomes Outcomes."""

    def __init__(self) -> None:
        """Begin with none."""
        self._fresh: list[Outcome] = []
        self._blocks: list[dict[str, npt.NDArray[Any]]] = []
        self._cover: list[Column] = []
        self._daily: list[Daily] = []
        self._midnights: Midnights | None = None

    def add(self, outcome: Outcome, nights: Nights) -> None:
        """Take the next replication: its outcome without daily counts, and what is kept of these."""
        self._fresh.append(outcome)
        self._cover.append(nights.cover)
        if nights.daily is not None:
            self._daily.append(nights.daily)
        if self._midnights is None:
            self._midnights = Midnights(len(nights.full))
        self._midnights.add(outcome, nights)
        if len(self._fresh) == BLOCK:
            self._blocks.append(_columns(self._fresh))
            self._fresh = []

    def whole(self) -> Outcomes:
        """Return what was gathered; nothing can be added after it."""
        if self._fresh or not self._blocks:
            self._blocks.append(_columns(self._fresh))
        columns = {name: _joined([block.pop(name) for block in self._blocks]) for name in list(self._blocks[0])}
        cover = np.array(self._cover).reshape(-1, COVER)
        return Outcomes(columns, cover, self._daily or None, self._midnights)


def midnights_in(outcomes: Outcomes) -> Midnights | None:
    """Return what the midnights of a strategy come to; None of a part of a batch without daily counts."""
    if outcomes.midnights is not None or outcomes.daily is None:
        return outcomes.midnights
    return midnights_of((each, Nights(UNKNOWN, *_full_and_waits(each.daily))) for each in outcomes)


def _full_and_waits(daily: Daily) -> tuple[Daily, npt.NDArray[np.bool_]]:
    nights = nights_of(daily, cylinders=False)
    return nights.full, nights.waits


def _columns(outcomes: Sequence[Outcome]) -> dict[str, npt.NDArray[Any]]:
    """Return the totals of outcomes as columns, each of the smallest type that holds it."""
    found = {name: _least([getattr(each, name) for each in outcomes]) for name in TOTALS}
    for name in AtOnce.NAMES:
        levels = [getattr(each.at_once, name) for each in outcomes]
        found[_length(name)] = _least([len(each) for each in levels])
        longest = max(map(len, levels), default=0)
        found[name] = _least([(*each, *(0,) * (longest - len(each))) for each in levels])
    return found


def _length(name: str) -> str:
    """Return the name of the column that says how many levels of use a replication has."""
    return f"levels of {name}"


def _least(values: Sequence[Any]) -> npt.NDArray[Any]:
    """Return whole numbers in the smallest type that holds them."""
    column = np.array(values, dtype=np.int64)
    ends = (int(column.min(initial=0)), int(column.max(initial=0)))
    return column.astype(np.result_type(*(np.min_scalar_type(min(end, -1 - end)) for end in ends)))


def _joined(parts: Sequence[npt.NDArray[Any]]) -> npt.NDArray[Any]:
    """Return columns one below the other; those with fewer levels of use are filled up with zeros."""
    if parts[0].ndim > 1:
        widest = max(part.shape[1] for part in parts)
        parts = [np.pad(part, ((0, 0), (0, widest - part.shape[1]))) for part in parts]
    return np.concatenate(parts)


def _values(column: npt.NDArray[Any]) -> list[Any]:
    """Return a column as whole numbers, or tuples of them."""
    found: list[Any] = column.tolist()
    return found if column.ndim == 1 else [tuple(each) for each in found]
