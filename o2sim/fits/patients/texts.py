"""How numbers, ranges, laws and counts of patients are written: in a scenario, in draws, in a sentence."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from o2sim.records.findings import FEW, few
from o2sim.scenario.types.laws import SD_SHARES, SHAPES, WIDEST_GEOMETRIC_SD, Law
from o2sim.statistics.fitting.laws import median, moment
from o2sim.statistics.fitting.pert import pert_ends
from o2sim.statistics.fitting.resample import spread

Values = npt.NDArray[np.float64]
_DIGITS = 4
_LIMITS = {  # of parameters, a little inside what a scenario takes
    "geometric_sd": (1.01, WIDEST_GEOMETRIC_SD),
    "shape": (SHAPES[0], SHAPES[1]),
}
_ORDINARY = (0.0, np.inf)


def figure(value: float, unit: str = "") -> str:
    """Return a number with its unit, to 4 digits: 59.83 h."""
    digits = np.format_float_positional(value, precision=_DIGITS, fractional=False, trim="-")
    return f"{digits} {unit}".rstrip()


def ranged(likely: float, draws: npt.ArrayLike, unit: str, least: float = 0.0, most: float = np.inf) -> str:
    """Return an uncertain number whose PERT law has the 5 and 95 % points of its draws; plain where they agree."""
    low, middle, high = spread(draws)
    if figure(low) == figure(high):
        return figure(likely, unit)
    if not low < likely < high:
        likely = middle if low < middle < high else (low + high) / 2
    ends = pert_ends(max(low, least), likely, min(high, most), least, most)
    texts = [figure(each, unit) for each in (ends.low, ends.likely, ends.high)]
    return f"{{low: {texts[0]}, likely: {texts[1]}, high: {texts[2]}}}"


def parameters(law: Law, unit: str) -> dict[str, tuple[float, str]]:
    """Return the parameters of a fitted law as a scenario names them, with their units."""
    if law.kind == "lognormal":
        return {"median": (median(law), unit), "geometric_sd": (float(np.exp(law.parameters[1])), "")}
    mean = moment(law)
    if law.kind == "gamma":
        least, most = (share * mean for share in SD_SHARES)
        sd = float(np.sqrt(max(moment(law, 2) - mean**2, 0.0)))
        return {"mean": (mean, unit), "sd": (min(max(sd, least), most), unit)}
    if law.kind == "weibull":
        return {"mean": (mean, unit), "shape": (law.parameters[0], "")}
    return {"mean": (mean, unit)}


def plain_law(law: Law, unit: str) -> str:
    """Return a law as a scenario has it: {weibull: {mean: 70 h, shape: 1.2}}."""
    inside = ", ".join(
        f"{name}: {figure(float(np.clip(value, *_LIMITS.get(name, _ORDINARY))), of)}"
        for name, (value, of) in parameters(law, unit).items()
    )
    return f"{{{law.kind}: {{{inside}}}}}"


def ranged_law(law: Law, draws: Sequence[Law], unit: str) -> str:
    """Return a law with ranges for its parameters, by the draws of its own kind; plain where there are under 2."""
    own = [parameters(each, unit) for each in draws if each.kind == law.kind]
    if len(own) < 2:
        return plain_law(law, unit)
    inside = []
    for name, (value, of) in parameters(law, unit).items():
        least, most = _LIMITS.get(name, _ORDINARY)
        drawn = np.clip([each[name][0] for each in own], least, most)
        inside.append(f"{name}: {ranged(float(np.clip(value, least, most)), drawn, of, least, most)}")
    return f"{{{law.kind}: {{{', '.join(inside)}}}}}"


def counted(count: int, of: int, what: str) -> str:
    """Return "17 of 231 stays"; small counts of patients are not written out."""
    return f"{few(count)} of {few(of)} {what}" if of >= FEW else f"{few(count)} {what}"


def percent(share: float) -> str:
    """Return a share in words: 41 %, and 0.4 % where it is small."""
    return f"{100 * share:.0f} %" if share >= 0.02 or share == 0 else f"{100 * share:.1g} %"


def listed(names: Sequence[str]) -> str:
    """Return names in a sentence: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
