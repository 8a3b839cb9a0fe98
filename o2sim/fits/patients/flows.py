"""First flows: marks of the flowmeter as they were set, and the triangular law that has their mean.

A scenario takes no list of values in the file itself, and a file of marks would hold patients' rows; so the marks
become a triangle from the least to the largest that 5 patients had, with the mean of all, since gas is used by the
mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from o2sim.fits.found import DRAWS, ROWS, Part, Whole, merged
from o2sim.fits.law_text import amount, range_text
from o2sim.fits.patients.comings import REGISTER
from o2sim.fits.patients.pictures import flows_panel
from o2sim.fits.patients.texts import counted
from o2sim.records.findings import FEW
from o2sim.records.rows import Stay
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.luck import uniforms

Values = npt.NDArray[np.float64]
UNIT = "L/min"
_SAME = 1e-9
_NARROW = 0.01  # of an end: nearer than that a triangle is none


@dataclass(frozen=True)
class Marks:
    """Flows (L/min) that 5 or more patients had, rarer ones joined with neighbours, and their counts."""

    flows: Values
    counts: Values
    each: tuple[Values, Values]  # flows and counts before they were joined, never shown

    @property
    def joined(self) -> int:
        """Return how many marks were joined with a neighbour."""
        return len(self.each[0]) - len(self.flows)

    @property
    def mean(self) -> float:
        """Return the mean flow of all patients, L/min."""
        return float(self.flows @ self.counts / self.counts.sum())


def marks(flows: Values) -> Marks | None:
    """Return the marks of flows (L/min), shape (n,); None where they are fewer than 5."""
    kinds, counts = np.unique(np.round(flows, 3), return_counts=True)
    runs = merged(counts.tolist(), FEW)
    if not runs:
        return None
    joined = [(kinds[a:b] @ counts[a:b] / counts[a:b].sum(), counts[a:b].sum()) for a, b in runs]
    means, totals = np.array(joined, np.float64).T
    return Marks(means, totals, (kinds, counts.astype(np.float64)))


def triangle(low: float, high: float, mean: float) -> Law:
    """Return the triangular law of a mean, from low to high; where no mode gives it, one end moves inwards."""
    mode = 3 * mean - low - high
    if mode < low:
        return Law("triangular", (low, low, max(3 * mean - 2 * low, low * (1 + _NARROW))))
    if mode > high:
        return Law("triangular", (min(3 * mean - 2 * high, high * (1 - _NARROW)), high, high))
    return Law("triangular", (low, mode, high))


def part_of_flows(name: str, stays: Sequence[Stay], period: str, seed: int) -> Part | None:
    """Return the part of a class, None where fewer than 5 flows are written."""
    written = np.array([stay.flow_ml_min / 1000 for stay in stays if stay.flow_ml_min is not None])
    found = marks(written)
    if found is None:
        return None
    key = f"patients.{name}.flow"
    said = f"{counted(len(written), len(stays), 'flows')}, {period}, mean {amount(found.mean, UNIT)}"
    cautions = _doubts(found, len(written), len(stays))
    if len(found.flows) == 1:
        text = amount(found.mean, UNIT)
        cautions = (*cautions, "all flows are taken as one: how they differ is not in the book")
        return Part(f"first flow of {name}", REGISTER, ROWS, said, wholes=(Whole(key, text),), cautions=cautions,
                    rows=len(stays), used=len(written))  # fmt: skip
    low, high = float(found.flows[0]), float(found.flows[-1])
    law = triangle(low, high, found.mean)
    means = _means(found, seed, name)
    draws = tuple(triangle(low, high, float(mean)) for mean in means)
    shares = found.counts / found.counts.sum()
    return Part(
        name=f"first flow of {name}",
        sheet=REGISTER,
        tier=ROWS,
        said=f"{said}, {len(found.flows)} marks as a triangle with their mean, 90 % range",
        wholes=(Whole(key, _ranged(law, draws), tuple(_plain(each) for each in draws)),),
        cautions=cautions,
        panels=flows_panel(name, found.flows, shares, law, draws),
        rows=len(stays),
        used=len(written),
    )


def _means(found: Marks, seed: int, name: str) -> Values:
    """Return mean flows that the marks leave possible, shape (DRAWS,), by patients drawn anew.

    Each is as many standard errors on the other side of the mean as that of the drawn patients was on its own, by
    logarithms: plain means of drawn patients cover too little where few have a high flow (bootstrap-t: Efron and
    Tibshirani, An Introduction to the Bootstrap, 1993, from memory).
    """
    flows, counts = found.each
    n = int(counts.sum())
    picked = np.searchsorted(np.cumsum(counts) / n, uniforms(seed, "first flow", name, (DRAWS, n)))
    again = flows[np.minimum(picked, len(flows) - 1)]
    mean = float(flows @ counts / n)
    error = float(np.sqrt((flows - mean) ** 2 @ counts / (n - 1) / n)) / mean
    means = again.mean(axis=1)
    errors = np.maximum(again.std(axis=1, ddof=1) / np.sqrt(n) / means, error / 4)  # all may be alike
    drawn = np.asarray(mean * np.exp(-np.log(means / mean) / errors * error), np.float64)
    return np.clip(drawn, found.flows[0] * (1 + _NARROW), found.flows[-1] * (1 - _NARROW))


def _plain(law: Law) -> str:
    low, mode, high = (amount(each, UNIT) for each in law.parameters)
    return f"{{triangular: {{low: {low}, mode: {mode}, high: {high}}}}}"


def _ranged(law: Law, draws: Sequence[Law]) -> str:
    """Return the law with a range for what the mean moves: the mode, or the end that moves inwards."""
    low, mode, high = law.parameters
    place = 1 if low + _SAME < mode < high - _SAME else (2 if mode <= low + _SAME else 0)
    drawn = np.array([each.parameters[place] for each in draws])
    least, most = ((0.0, mode * (1 - _NARROW)), (low, high), (mode * (1 + _NARROW), np.inf))[place]
    texts = [amount(each, UNIT) for each in law.parameters]
    texts[place] = range_text(drawn, law.parameters[place], UNIT, least, most)
    return f"{{triangular: {{low: {texts[0]}, mode: {texts[1]}, high: {texts[2]}}}}}"


def _doubts(found: Marks, written: int, rows: int) -> tuple[str, ...]:
    said = []
    if written < rows:
        said.append(f"{counted(rows - written, rows, 'rows')} have no first flow")
    if found.joined:
        said.append(f"{found.joined} flows that fewer than {FEW} patients had are joined with their neighbours")
    return tuple(said)
