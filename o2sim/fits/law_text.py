"""A fitted law as the text of a scenario: ranges for its parameters, and a whole law for each joint draw."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from o2sim.fits.found import Whole
from o2sim.scenario.types.laws import SD_SHARES, SHAPES, WIDEST_GEOMETRIC_SD, Law
from o2sim.statistics.fitting.laws import KINDS, moment
from o2sim.statistics.fitting.luck import uniforms
from o2sim.statistics.fitting.pert import pert_ends
from o2sim.statistics.fitting.spells import Spells
from o2sim.statistics.fitting.whole import Fitted, fitted

Values = npt.NDArray[np.float64]
DIGITS = 4
FEW = 10  # ended spells, below which a caution says so
FEWEST = 2  # ended spells, below which no range is written: by one it would go from a third to twenty times
HOURS = {"h": 1.0, "days": 24.0}
SHORTEST_H, LONGEST_H = 1 / 60, 100 * 365 * 24.0  # what a scenario takes as a time
_PLAIN = {"geometric_sd": (1.001, WIDEST_GEOMETRIC_SD), "shape": SHAPES}  # without a unit; what a scenario takes


def plain(number: float, digits: int = DIGITS) -> str:
    """Return a number to so many significant digits, never with an exponent."""
    if number == 0 or not math.isfinite(number):
        return f"{number:g}"
    places = max(digits - 1 - math.floor(math.log10(abs(number))), 0)
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float, unit: str = "") -> str:
    """Return a number with its unit, to 4 digits: 59.83 h."""
    return f"{plain(value)} {unit}".rstrip()


def parameters(law: Law) -> dict[str, float]:
    """Return the parameters of a law as a scenario names them, in its unit; an sd as far from the mean as it
    takes."""
    a = law.parameters[0]
    if law.kind == "lognormal":
        return {"median": math.exp(a), "geometric_sd": math.exp(law.parameters[1])}
    mean = moment(law)
    if law.kind == "gamma":
        least, most = (share * mean for share in SD_SHARES)
        return {"mean": mean, "sd": min(max(math.sqrt(a) * law.parameters[1], least), most)}
    return {"mean": mean} | ({"shape": a} if law.kind == "weibull" else {})


def some(count: int, word: str) -> str:
    """Return a count with its word: "1 closure", "3 closures"."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def own_seed(seed: int, purpose: str) -> int:
    """Return a seed of a part's own, so that what two parts draw has nothing to do with each other."""
    return int(uniforms(seed, purpose, "part", 1)[0] * 2**40)


def fitted_or_none(spells: Spells, seed: int, kinds: Sequence[str] = KINDS) -> Fitted | None:
    """Return all that rows of durations give; None where too few of them ended for a range."""
    if len(spells) == 0 or int(spells.is_over.sum()) < FEWEST:
        return None
    try:
        return fitted(spells, seed, kinds=kinds)
    except ValueError:
        return None


def too_few(what: str, spells: Spells, unit: str) -> str:
    """Return that too few of some durations ended for a range, with what there is; what: "repairs"."""
    over = int(spells.is_over.sum())
    total = float(
        np.sum(np.where(spells.is_over, (spells.low + np.where(spells.is_over, spells.high, 0)) / 2, spells.low))
    )
    seen = f", {plain(total, 3)} {unit} in all" if len(spells) else ""
    return f"{what}: {over} of {len(spells)} over{seen}: too few for a range, so that nothing is written"


def law_text(law: Law, unit: str) -> str:
    """Return a law of times as a scenario has it: `{gamma: {mean: 4.1 days, sd: 2 days}}`; unit: h or days."""
    inside = [
        f"{name}: {amount(_taken(name, value, unit), '' if name in _PLAIN else unit)}"
        for name, value in parameters(law).items()
    ]
    return f"{{{law.kind}: {{{', '.join(inside)}}}}}"


def range_text(
    values: npt.ArrayLike, likely: float, unit: str = "", least: float = 0.0, most: float = math.inf
) -> str:
    """Return `{low: ..., likely: ..., high: ...}`, a PERT law of which has the 5 and 95 % points of the values.

    least, most: what the number cannot pass. Without spread the likely value alone; where that lies outside the
    points, the median stands for it, or what is midway where many draws lie at one end.
    """
    low, middle, high = np.quantile(np.clip(values, least, most), [0.05, 0.5, 0.95]).tolist()
    best = next((each for each in (likely, middle) if low < each < high), (low + high) / 2)
    if plain(low) == plain(high):
        return amount(min(max(best, least), most), unit)
    ends = pert_ends(low, best, high, least, most)
    low_text, likely_text, high_text = (amount(value, unit) for value in (ends.low, ends.likely, ends.high))
    return f"{{low: {low_text}, likely: {likely_text}, high: {high_text}}}"


def law_with_ranges(law: Law, draws: Sequence[Law], unit: str) -> str:
    """Return a law of times with a range for each parameter, from the draws of laws of its own kind.

    Without a range where there are under 2 of these.
    """
    drawn = [parameters(each) for each in draws if each.kind == law.kind]
    if len(drawn) < 2:
        return law_text(law, unit)
    inside = []
    for name, likely in parameters(law).items():
        least, most = _PLAIN.get(name, (SHORTEST_H / HOURS[unit], LONGEST_H / HOURS[unit]))
        if name == "sd":
            least = parameters(law)["mean"] / 500
        values = [each[name] for each in drawn]
        inside.append(f"{name}: {range_text(values, likely, '' if name in _PLAIN else unit, least, most)}")
    return f"{{{law.kind}: {{{', '.join(inside)}}}}}"


def law_whole(key: str, found: Fitted, unit: str) -> Whole:
    """Return what is written of a fitted law: the best with ranges, DRAWS laws by weight. unit: of the rows."""
    return Whole(
        key, law_with_ranges(found.fits[0].law, found.own, unit), tuple(law_text(law, unit) for law in found.draws)
    )


def law_said(found: Fitted) -> str:
    """Return which law was preferred, and by how much: "lognormal (Akaike 4.1 before gamma)"."""
    best = found.fits[0]
    if len(found.fits) == 1:
        return f"{best.law.kind} (too few ended for another law)"
    second = found.fits[1]
    return f"{best.law.kind} (Akaike {second.aic - best.aic:.1f} before {second.law.kind})"


def law_cautions(what: str, found: Fitted, ended: int) -> tuple[str, ...]:
    """Return what is doubtful of a fitted law in plain sentences.

    what: "lead times", as they begin a sentence; ended: how many of them are over.
    """
    cautions = []
    if ended < FEW:
        cautions.append(f"{what}: only {ended} {'is' if ended == 1 else 'are'} over; the range is as wide as that")
    if found.test is not None and found.test.chance < 0.05:
        cautions.append(
            f"{what}: no law that was tried describes them well (the best is {found.fits[0].law.kind}; one as far"
            f" off by luck alone: p = {found.test.chance:.3f}); see the picture"
        )
    if found.fits[0].at_edge:
        cautions.append(f"{what}: the rows cannot say how much they differ among each other")
    return tuple(cautions)


def _taken(name: str, value: float, unit: str) -> float:
    """Return a parameter brought inside what a scenario takes."""
    if name == "sd":
        return value
    low, high = _PLAIN.get(name, (SHORTEST_H / HOURS[unit], LONGEST_H / HOURS[unit]))
    return min(max(value, low), high)
