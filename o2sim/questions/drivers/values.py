"""Choose the values that uncertain numbers take: their ends, or draws from a law over their range.

Laws, of a range a..b with the likely value m:
- pert: the beta law of project planning (statistics/fitting/pert.py), mean (a + 4 m + b)/6. It puts less
  weight near the ends than the triangular law: a range given by people who know their place.
- triangular: a straight rise to m and a straight fall: a vaguer m.
- uniform: m is not believed at all.
Uncertain numbers are drawn independently of each other; where two go together (a bad road lengthens lead time and
closures) the spread of the answer is larger than shown.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from o2sim.errors import O2simError
from o2sim.questions.drivers.settings import LAWS
from o2sim.scenario.types.uncertain import Uncertain
from o2sim.statistics.fitting.pert import pert_quantile

Values = npt.NDArray[np.float64]
DIGITS = 6  # of a drawn value: what is written is what is run, on every machine


def likely_values(items: Sequence[Uncertain]) -> Values:
    """Return the best guesses, shape (k,), each in its unit."""
    return np.array([item.likely for item in items], dtype=np.float64)


def at_shares(items: Sequence[Uncertain], shares: Values, law: str) -> Values:
    """Return values for shares of probability, shape (n, k) each: the inverse of the law over each range.

    A whole number's range is stretched by half on either side and rounded, so that its ends have their chance.
    Raises O2simError for an unknown law.
    """
    if law not in LAWS:
        raise O2simError(f"law: found {law!r}; allowed: {', '.join(LAWS)}")
    columns = [_inverse(item, shares[:, place], law) for place, item in enumerate(items)]
    return np.column_stack(columns)


def _inverse(item: Uncertain, shares: Values, law: str) -> Values:
    low, likely, high = item.numbers
    stretch = 0.5 if item.whole else 0.0
    a, b = low - stretch, high + stretch
    width = b - a
    if law == "uniform":
        drawn = a + shares * width
    elif law == "triangular":
        rise = (likely - a) / width
        below = a + width * np.sqrt(shares * rise)
        above = b - width * np.sqrt((1 - shares) * (1 - rise))
        drawn = np.where(shares < rise, below, above)
    else:
        drawn = pert_quantile(a, likely, b, shares)
    if item.whole:
        drawn = np.rint(drawn)
    return np.clip([float(f"{value:.{DIGITS}g}") for value in drawn], low, high)


def stretched(items: Sequence[Uncertain], shares: Values) -> Values:
    """Return values evenly along each range, shape (n, k): share 0 is low, share 1 high; whole ones rounded."""
    columns = []
    for place, item in enumerate(items):
        low, _, high = item.numbers
        column = low + shares[:, place] * (high - low)
        columns.append(np.rint(column) if item.whole else column)
    return np.column_stack(columns)


def text_of(item: Uncertain, value: float) -> str:
    """Return a value as it might stand in the file; low, likely and high as they do stand there."""
    for number, text in zip(item.numbers, item.texts, strict=True):
        if value == number:
            return text
    written = f"{value:.{DIGITS}g}"
    if "e" in written:
        written = f"{value:.12f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{value:.0f}"
    return f"{written} {item.unit}" if item.unit else written


def texts_of(items: Sequence[Uncertain], values: Values) -> dict[str, str]:
    """Return the texts by path of one point, shape (k,); those at their best guess are left out."""
    return {
        item.path: text_of(item, float(value))
        for item, value in zip(items, values, strict=True)
        if value != item.likely
    }
