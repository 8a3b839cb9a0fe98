"""How often fitted 90 % ranges hold the truth: over many light books, key by key."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt
from light_books import CLASS, DAYS, Truth, light_books, truth_of
from scipy.special import ndtri

from o2sim.fits.found import DRAWS, ROWS, Part
from o2sim.fits.patients.parts import patient_parts
from o2sim.fits.supply.parts import supply_parts
from o2sim.scenario.types.laws import Law, law_mean, make_law
from o2sim.statistics.fitting.laws import median

Values = npt.NDArray[np.float64]
LOW, HIGH = 0.05, 0.95
Drawn = dict[str, tuple[Values, float]]  # name: draws of a figure, and the truth
Wanted = tuple[str, str, str, tuple[Callable[[Law], float], ...]]  # name, key, field of Truth, figures


def law_of(text: str) -> Law:
    """Return a law from its text, in the unit in which it is written: {gamma: {mean: 3 h, sd: 2 h}}."""
    found = re.fullmatch(r"\{(\w+): \{(.*)\}\}", text)
    assert found is not None, text
    if found[1] == "empirical":
        return marks_of(text)
    pairs = (each.split(": ") for each in found[2].split(", "))
    return make_law(found[1], {name: float(value.split()[0]) for name, value in pairs})


def marks_of(text: str) -> Law:
    """Return the law of counted marks: {empirical: {values: [1 L/min, 2 L/min], counts: [3, 2]}}."""
    values, counts = (each.split(", ") for each in re.findall(r"\[(.*?)\]", text))
    pairs = [(float(value.split()[0]), int(count)) for value, count in zip(values, counts, strict=True)]
    return Law("empirical", tuple(value for value, count in pairs for _ in range(count)))


def of_patients(truth: Truth) -> Drawn:
    """Return the draws of the main figures that the books of patients give, each with its truth.

    Times in h, flows in L/min, rates a day, shares within 0-1.
    """
    parts = patient_parts(light_books(truth), truth.seed)
    return dict(_laws(parts, PATIENT_LAWS, truth)) | dict(_numbers(parts, truth))


def of_supply(truth: Truth) -> Drawn:
    """Return the same of the books of power (h) and orders (days)."""
    return dict(_laws(supply_parts(light_books(truth), truth.seed), SUPPLY_LAWS, truth))


PATIENT_LAWS: tuple[Wanted, ...] = (
    ("stay", f"patients.{CLASS}.duration", "stay_h", (law_mean, median)),
    ("flow", f"patients.{CLASS}.flow", "flow_l_min", (law_mean,)),
)
SUPPLY_LAWS: tuple[Wanted, ...] = (
    ("power on", "power.grid.up", "up_h", (law_mean, median)),
    ("power off", "power.grid.down", "down_h", (law_mean, median)),
    ("lead time", "resupply.lead_time", "lead_days", (law_mean, median)),
)


def _laws(
    parts: Sequence[Part], wanted: Sequence[Wanted], truth: Truth
) -> Iterator[tuple[str, tuple[Values, float]]]:
    """Yield means and medians of the laws; of a triangle the mean alone."""
    texts = {each.key: each.draws for part in parts if part.tier == ROWS for each in reversed(part.wholes)}
    for name, key, field, hows in wanted:
        law = getattr(truth, field)
        drawn = [law_of(text) for text in texts.get(key, ())]
        for how in hows:
            yield (
                f"{name}, {how.__name__.removeprefix('law_')}",
                (np.array([how(each) for each in drawn]), how(law)),
            )


def _numbers(parts: Sequence[Part], truth: Truth) -> Iterator[tuple[str, tuple[Values, float]]]:
    """Yield the rate of all admissions, the shares, and what all three make: who is put on oxygen a day."""
    numbers = {each.key: each.draws for part in parts if part.tier == ROWS for each in part.numbers}
    key = f"patients.{CLASS}"
    rate = numbers[f"{key}.admissions"]
    need, seen = (numbers[f"{key}.{share}"] / 100 for share in ("hypoxaemic", "recognised"))
    yield "admissions", (rate, truth.admissions_a_day)
    yield "share in need", (need, truth.in_need)
    yield "share recognised", (seen, truth.recognised)
    yield "put on oxygen", (rate * need * seen, truth.patients / DAYS)


def places(figures: Callable[[Truth], Drawn], hospitals: range, patients: int) -> dict[str, Values]:
    """Return, by figure, where the truth lies among the draws of each hospital: the share of draws below it.

    NaN where a figure was not given. Shares are uniform within 0-1 where ranges are right.
    """
    found: dict[str, list[float]] = {}
    for seed in hospitals:
        for name, (draws, true) in figures(truth_of(seed, patients)).items():
            below = (np.sum(draws < true) + 0.5 * np.sum(draws == true)) / DRAWS if draws.size else np.nan
            found.setdefault(name, []).append(float(below))
    return {name: np.array(each) for name, each in found.items()}


def coverage(shares: Values) -> float:
    """Return the share of hospitals whose range from 5 to 95 % of the draws holds the truth."""
    given = shares[~np.isnan(shares)]
    return float(np.mean((given > LOW) & (given < HIGH)))


def lean(shares: Values) -> float:
    """Return by how many standard errors of their own the estimates lie below the truth, on average."""
    given = shares[~np.isnan(shares)]
    return float(np.mean(ndtri(np.clip(given, 0.5 / DRAWS, 1 - 0.5 / DRAWS))))
