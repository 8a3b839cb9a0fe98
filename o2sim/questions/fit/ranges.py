"""How a fitted number is written: a range whose PERT law has the 5 and 95 % points of its draws."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from o2sim.errors import QuantityError
from o2sim.fits.found import Number
from o2sim.quantities import units
from o2sim.questions.fit.choosing import Path, field_of
from o2sim.scenario.types.laws import PLAIN, SHAPES, WIDEST_GEOMETRIC_SD
from o2sim.statistics.fitting.pert import pert_ends, pert_quantile

Values = npt.NDArray[np.float64]
SHARES = (0.05, 0.95)  # of the draws that lie below the ends of a range
NARROW = 1e-6  # of its size: a range that is no wider is none
INSIDE = 0.02  # of the range: as near as the likely value may come to its ends
MOVED = 0.01  # of the range: as far as the likely value may go so that both points are met
FAR = 0.1  # of the range: where its points lie farther off, that is said
FARTHEST = 50  # times the range from the end to the point: the 95 % point of any such range lies nearer
DIGITS = 5  # of a draw


@dataclass(frozen=True)
class Ranged:
    """A number as it is written. text: behind its key. low, high: 5 and 95 % points of its draws, in its unit.

    draws: within what the key allows, shape (DRAWS,). reached: the points that the range written has, where these
    are others by more than a tenth of its width.
    """

    path: Path
    unit: str
    likely: float
    low: float
    high: float
    text: str
    draws: Values
    whole: bool
    reached: tuple[float, float] | None = None

    @property
    def cells(self) -> tuple[float, ...]:
        """Return the draws as they stand in the table, in the unit."""
        return tuple(round(each) if self.whole else float(digits(each)) for each in self.draws.tolist())


def ranged(number: Number, path: Path) -> Ranged:
    """Return a number with the range to be written for it; the number alone where its draws do not vary."""
    least, most = limits(number, path)
    field = field_of(path)
    whole = field is not None and field.kind == "whole"
    draws = np.clip(np.asarray(number.draws, np.float64), least, most)
    likely = float(np.clip(number.likely, least, most))
    low, high = (float(each) for each in np.quantile(draws, SHARES))
    made = Ranged(path, number.unit, likely, low, high, "", draws, whole)
    if high - low <= NARROW * max(abs(low), abs(high)):
        return _with(made, with_unit(str(round(likely)) if whole else digits(likely), number.unit))
    width = high - low
    inside = min(max(likely, low + INSIDE * width), high - INSIDE * width)
    found = pert_ends(low, inside, high, least, most)
    ends = (max(found.low, least), found.likely, min(found.high, most))
    if abs(found.likely - inside) > MOVED * width:  # what runs without draws take is the estimate
        ends = _around(inside, low, high, least, most, is_low_fixed=found.low <= least)
    reached = tuple(float(each) for each in pert_quantile(*ends, SHARES))
    off = max(abs(reached[0] - low), abs(reached[1] - high)) > FAR * width
    return _with(made, _written(ends, width, number.unit, whole), (reached[0], reached[1]) if off else None)


def _around(
    likely: float, low: float, high: float, least: float, most: float, *, is_low_fixed: bool
) -> tuple[float, float, float]:
    """Return a range with the likely value: one end at what the key allows, the other so that its point is met."""

    def off(end: float) -> float:
        return float(pert_quantile(least, likely, end, SHARES[1]) - high)

    if not is_low_fixed:
        mirrored = _around(-likely, -high, -low, -most, -least, is_low_fixed=True)
        return -mirrored[2], -mirrored[1], -mirrored[0]
    far = most if math.isfinite(most) else high + FARTHEST * (high - least)
    return least, likely, far if off(far) < 0 else float(brentq(off, high, far))


def _with(made: Ranged, text: str, reached: tuple[float, float] | None = None) -> Ranged:
    return Ranged(made.path, made.unit, made.likely, made.low, made.high, text, made.draws, made.whole, reached)


def _written(ends: tuple[float, float, float], width: float, unit: str, whole: bool) -> str:
    """Return low, likely and high with as many decimals as the range has; whole numbers whole."""
    places = 0 if whole else max(0, 2 - math.floor(math.log10(width)))
    low, likely, high = (_plain(each, places) for each in ends)
    if low == high:
        return with_unit(likely, unit)
    parts = zip(("low", "likely", "high"), (low, likely, high), strict=True)
    return f"{{{', '.join(f'{name}: {with_unit(text, unit)}' for name, text in parts)}}}"


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def digits(value: float) -> str:
    """Return a number with five digits that count, never as a power of ten."""
    rounded = float(f"{value:.{DIGITS}g}")
    size = math.floor(math.log10(abs(rounded))) if rounded else 0
    return _plain(rounded, max(0, DIGITS - 1 - size))


def with_unit(text: str, unit: str) -> str:
    """Return a number with its unit behind it."""
    return f"{text} {unit}" if unit else text


def limits(number: Number, path: Path) -> tuple[float, float]:
    """Return the least and the most that a key allows, and that the part allows, in the unit of the number."""
    least, most = number.lowest, number.highest
    field = field_of(path)
    if field is None:
        return least, most
    if path[-1] in PLAIN:
        ends = (1.001, WIDEST_GEOMETRIC_SD) if path[-1] == "geometric_sd" else SHAPES
        return max(least, ends[0]), min(most, ends[1])
    kind = field.kind.removeprefix("law of ")
    low, high = (_in_unit(text, kind, number.unit) for text in (field.least, field.most))
    if kind == "share":
        high = min(high if high is not None else math.inf, _in_unit("100 %", kind, number.unit) or math.inf)
    return max(least, -math.inf if low is None else low), min(most, math.inf if high is None else high)


def _in_unit(text: str, kind: str, unit: str) -> float | None:
    """Return a limit of a key in the unit of a number; None where the key has none."""
    if not text:
        return None
    try:
        if kind in ("whole", "number"):
            return float(text)
        return units.read(text, kind) / units.read(with_unit("1", unit), kind)  # type: ignore[arg-type]
    except (QuantityError, ValueError):
        return None
