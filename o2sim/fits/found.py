"""What a part of the records gives: values of keys, joint draws of them, a sentence, cautions, a picture.

A part is one thing that is fitted at once: the stays of a class, the lead time, how often the power fails. Row r
of all parts' draws is one draw of everything, so parts that share a book draw it once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.float64]
DRAWS = 200

ROWS, TOTALS, COUNTS, THOUGHT = TIERS = ("rows", "totals", "counts", "thought")  # the best first


@dataclass(frozen=True)
class Number:
    """An uncertain number of a key: what is written for it, and its draws.

    key: with dots and the name of a law, such as "patients.children.duration.lognormal.median". unit: as written
    behind a figure, "" for none. draws: shape (DRAWS,) in that unit. likely: the estimate in that unit. The ends
    written are those of a PERT law whose 5 and 95 % points are those of the draws.
    """

    key: str
    unit: str
    likely: float
    draws: Values
    lowest: float = 0.0  # what the key allows, in the unit; ends stay within
    highest: float = float("inf")


@dataclass(frozen=True)
class Whole:
    """A value written whole, as YAML in one line: a list, a season, a law with ranges for its parameters.

    key: as in Number. text: what is written in the scenario, where ranges may stand within (`{gamma: {mean: {low:
    ...}}}`). draws: DRAWS texts for the column of this key in the table of draws, empty where nothing varies; they
    may be of another law than `text`.
    """

    key: str
    text: str
    draws: tuple[str, ...] = ()


@dataclass(frozen=True)
class Curve:
    """A line or points of a picture: x and y in the units of its panel. band: y of its lower and upper end."""

    x: Values
    y: Values
    name: str
    kind: str = "line"  # line, steps, points, bars
    band: tuple[Values, Values] | None = None


@dataclass(frozen=True)
class Panel:
    """One picture: what was recorded and what was fitted. No single row of a patient is shown: see `merged`."""

    title: str
    x_label: str
    y_label: str
    curves: tuple[Curve, ...]


@dataclass(frozen=True)
class Part:
    """What was fitted at once.

    name: in words, "how long children stay on oxygen". sheet: the book. tier: of TIERS. said: what goes into the
    comment beside its keys: "214 of 231 stays, Jan to Dec 2026, lognormal (Akaike 4.1 before gamma), 90 % range".
    cautions: plain sentences, "17 of 231 stays have no end". rows, used: how many there are and how many counted.
    brief: where a part gives several keys of one section, what stands beside each of these, by the key; `said`
    then stands once, at the section.
    """

    name: str
    sheet: str
    tier: str
    said: str
    numbers: tuple[Number, ...] = ()
    wholes: tuple[Whole, ...] = ()
    cautions: tuple[str, ...] = ()
    panels: tuple[Panel, ...] = ()
    rows: int = 0
    used: int = 0
    test_p: float | None = None  # of the law, by bootstrap, where tested
    brief: Mapping[str, str] = field(default_factory=dict)

    @property
    def keys(self) -> tuple[str, ...]:
        """Return the keys that it gives."""
        return tuple(each.key for each in self.numbers) + tuple(each.key for each in self.wholes)


def merged(counts: Sequence[float], least: float = 5) -> list[tuple[int, int]]:
    """Return runs of bars, (first, one past the last), whose counts are `least` or more, as pictures need.

    The last run takes what is left over; where all together are fewer than `least` there is none.
    """
    runs: list[tuple[int, int]] = []
    begin, total = 0, 0.0
    for index, count in enumerate(counts):
        total += count
        if total >= least:
            runs.append((begin, index + 1))
            begin, total = index + 1, 0.0
    if runs and begin < len(counts):
        runs[-1] = (runs[-1][0], len(counts))
    return runs
