"""First flows: marks of the flowmeter as they were set, each as often as it was set.

What fewer than 5 patients had is joined with its neighbours. Flows that do not repeat become a triangle from the
least to the largest of these with the mean of all, since gas is used by the mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from o2sim.fits.found import DRAWS, ROWS, Part, Whole, merged
from o2sim.fits.law_text import amount, plain, range_text
from o2sim.fits.patients.comings import REGISTER
from o2sim.fits.patients.pictures import flows_panel, marks_panel
from o2sim.fits.patients.texts import counted
from o2sim.records.findings import FEW
from o2sim.records.rows import Stay
from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.luck import uniforms

Values = npt.NDArray[np.float64]
UNIT = "L/min"
MOST_MARKS, _NEARLY_ALL = 12, 0.8  # of marks, and of patients who have one that repeats: assumptions
FEWEST_OF, MOST_OF = 200, 1_000  # patients of a draw: its mean is off by less than a tenth of its standard error
_STEEPEST, _HALVINGS = 700.0, 60  # of how shares lean, and of the search for it
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
    def repeat(self) -> bool:
        """Return whether nearly all patients had one of a few marks that others had too."""
        counts = self.each[1]
        return len(self.flows) <= MOST_MARKS and bool(counts[counts >= FEW].sum() >= _NEARLY_ALL * counts.sum())

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
    means = _means(found, seed, name)
    if found.repeat:
        return _as_marks(found, means, Part(f"first flow of {name}", REGISTER, ROWS, said, cautions=cautions,
                                            rows=len(stays), used=len(written)), name)  # fmt: skip
    low, high = float(found.flows[0]), float(found.flows[-1])
    law = triangle(low, high, found.mean)
    draws = tuple(triangle(low, high, float(mean)) for mean in means)
    shares = _share(found.counts)
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


def _as_marks(found: Marks, means: Values, part: Part, name: str) -> Part:
    """Return a part with the marks and their counts; in each draw they lean to the side that gives its mean."""
    shares = leaning(found.flows, found.counts, means)
    of = min(max(FEWEST_OF, int(found.counts.sum()) // 2), MOST_OF)
    drawn = [_counts(each, of) for each in shares]
    counts = found.counts.astype(int) if found.counts.sum() <= MOST_OF else _counts(_share(found.counts), MOST_OF)
    key = f"patients.{name}.flow"
    return replace(
        part,
        said=f"{part.said}, {len(found.flows)} marks as often as they were set, their range in the draws",
        wholes=(Whole(key, _marks_text(found.flows, counts), tuple(_marks_text(found.flows, n) for n in drawn)),),
        panels=marks_panel(name, found.flows, _share(found.counts), shares),
    )  # fmt: skip


def leaning(flows: Values, counts: Values, means: Values) -> Values:
    """Return the shares of marks, shape (means, flows), that are nearest to those counted and have these means.

    Nearest by the information of Kullback and Leibler, which makes them proportional to counts x exp(t x flow).
    """
    x = (flows - flows[0]) / (flows[-1] - flows[0])
    wanted = (means - flows[0]) / (flows[-1] - flows[0])
    low, high = np.full(len(means), -_STEEPEST), np.full(len(means), _STEEPEST)
    for _ in range(_HALVINGS):
        t = (low + high) / 2
        weights = counts * np.exp(t[:, None] * x - np.maximum(t, 0)[:, None])
        shares = weights / weights.sum(axis=1, keepdims=True)
        is_low = shares @ x < wanted
        low, high = np.where(is_low, t, low), np.where(is_low, high, t)
    return np.asarray(shares, np.float64)


def _share(counts: Values) -> Values:
    return np.asarray(counts / counts.sum(), np.float64)


def _counts(shares: Values, of: int) -> npt.NDArray[np.intp]:
    """Return how many of so many patients each mark has, the largest remainders rounded up; one at least."""
    whole = np.floor(shares * of).astype(np.intp)
    rest = np.argsort(whole - shares * of, kind="stable")[: of - whole.sum()]
    whole[rest] += 1
    none = whole == 0
    whole[np.argmax(whole)] -= none.sum()
    return np.asarray(whole + none, np.intp)


def _marks_text(flows: Values, counts: npt.NDArray[np.intp]) -> str:
    """Return the law of counted marks."""
    values, times = ", ".join(f"{plain(float(flow), 6)} {UNIT}" for flow in flows), ", ".join(map(str, counts))
    return f"{{empirical: {{values: [{values}], counts: [{times}]}}}}"


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
