"""What a stock card says was used, what it cannot say, and what the patients' book does not account for."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Use:
    """Cylinders used between counts, shape (k,) each: what the counts say, and between which two it must lie.

    days: from count to count. emptied: full before + received - full now. low, high: allowing for gas in
    cylinders part used or on patients at both counts, which the card does not show. unaccounted: emptied less
    the emptied that are written, nan where none are.
    """

    days: Values
    emptied: Values
    low: Values
    high: Values
    unaccounted: Values


def used(
    days: npt.ArrayLike,
    full: npt.ArrayLike,
    received: npt.ArrayLike,
    begun: npt.ArrayLike,
    written: npt.ArrayLike | None = None,
) -> Use:
    """Return the use between counts by the card, rows in order of days, shape (n,) each; nan for what is not
    written.

    received: since the row before; begun: cylinders part used or on patients, each holding anything from none to
    all of its gas; written: emptied, as the card has it. A row without a count of full cylinders is joined to
    the next: a gap is not known, not no use; where a receipt within it is blank too, it counts as none. Raises
    ValueError for fewer than two counts, days out of order, and counts by which cylinders appear from nowhere.
    """
    day, stock = np.asarray(days, np.float64), np.asarray(full, np.float64)
    came = np.nan_to_num(np.asarray(received, np.float64))
    counted = np.flatnonzero(~np.isnan(stock))
    if len(counted) < 2 or np.any(np.diff(day) < 0):
        raise ValueError(
            f"stock card: {len(counted)} counts of full cylinders; at least 2 in order of days are needed"
        )
    gone = -np.diff(stock[counted]) + _sums(came, counted)
    if np.any(gone < 0):
        row = int(counted[1:][gone < 0][0])
        raise ValueError(f"stock card: row {row + 1} has {stock[row]:g} full, more than were there and received")
    open_ = np.nan_to_num(np.asarray(begun, np.float64))[counted]
    noted = np.full(len(day), np.nan) if written is None else np.asarray(written, np.float64)
    return Use(
        np.diff(day[counted]), gone, np.maximum(gone - open_[1:], 0.0), gone + open_[:-1],
        gone - _sums(noted, counted),
    )  # fmt: skip


@dataclass(frozen=True)
class Loss:
    """Litres that left the cylinders, litres that patients had, and the share lost with its least and its
    largest."""

    gone_l: float
    given_l: float
    share: float
    low: float
    high: float


def implied_loss(use: Use, usable_l: float, patient_hours: float, flow_l_min: float) -> Loss:
    """Return the share of the gas that the patients' book does not account for: leak, residue, not written.

    usable_l: of a cylinder, from full to where it is taken off. Below 0 the book has more than the card. Raises
    ValueError where no cylinder was emptied.
    """
    gone, given = float(use.emptied.sum()) * usable_l, patient_hours * 60 * flow_l_min
    if not gone > 0:
        raise ValueError("stock card: no cylinder was emptied")
    chain = use.emptied.sum() - use.emptied[-1] + use.low[-1], use.emptied.sum() - use.emptied[0] + use.high[0]
    low, high = (1 - given / (cylinders * usable_l) if cylinders > 0 else -np.inf for cylinders in chain)
    return Loss(gone, given, 1 - given / gone, float(low), float(high))


def _sums(values: Values, counted: npt.NDArray[np.int64]) -> Values:
    """Return the sums over the rows after one count up to the next."""
    return np.array([values[a + 1 : b + 1].sum() for a, b in pairwise(counted.tolist())])
