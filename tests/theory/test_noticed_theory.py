"""How long a loss of flow stays unseen between looks, with relatives and oximeters, against competing waits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from build import HOUR, LITRE, MINUTE, constant, cylinders, hospital, kind

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import DAY_S, ByOximeter, ByRelatives, Law, Noticed, Scenario

pytestmark = pytest.mark.theory
LOOKS_MIN, TOLERATED_MIN, RELATIVE_MIN, OXIMETER_MIN = 120, 10, 30, 3
YEARS = 4


def exponential(minutes: float) -> Law:
    """Return the law of an exponential wait."""
    return Law("exponential", (minutes * MINUTE,))


def relatives(share: float) -> Noticed:
    """Return that so many patients have a relative, who calls after half an hour on average."""
    return Noticed(by_relatives=ByRelatives(share, exponential(RELATIVE_MIN)))


def mean_unseen(mean_min: float) -> float:
    """Return E min(U, X) in minutes: U uniform between two looks, X exponential, by integrating both tails."""
    m, h = mean_min, LOOKS_MIN
    return m - m**2 / h * (1 - math.exp(-h / m))


def over_tolerated(mean_min: float) -> float:
    """Return the chance that both waits are longer than tolerated."""
    return (1 - TOLERATED_MIN / LOOKS_MIN) * math.exp(-TOLERATED_MIN / mean_min)


NOBODY = LOOKS_MIN / 2, 1 - TOLERATED_MIN / LOOKS_MIN
ALL = mean_unseen(RELATIVE_MIN), over_tolerated(RELATIVE_MIN)
CASES = {  # who notices: mean minutes unseen, share over the tolerated gap, and both as worked out elsewhere
    "nobody": (None, NOBODY, (60.0, 0.9167)),
    "relatives of all": (relatives(1.0), ALL, (22.637, 0.6568)),
    "relatives of 60 %": (
        relatives(0.6),
        tuple(0.6 * some + 0.4 * none for some, none in zip(ALL, NOBODY, strict=True)),
        (37.582, 0.7608),
    ),
    "oximeters for all": (
        Noticed(by_oximeter=ByOximeter(1_000, exponential(OXIMETER_MIN))),
        (mean_unseen(OXIMETER_MIN), over_tolerated(OXIMETER_MIN)),
        (2.925, 0.0327),
    ),
}


def unseen_s(noticed: Noticed | None) -> np.ndarray:
    """Return how long the one loss of flow of each patient stays unseen; arrivals are Poisson."""
    stock = cylinders(
        fleet=20_000, full_gas=600 * LITRE, lost_gas=0, residual_gas=0, regulators=1_000,
        gauge_check_s=LOOKS_MIN * MINUTE, left_open=1.0,
    )  # fmt: skip
    stay = kind(admissions_per_day=20.0, duration_s=constant(13 * HOUR))
    rules = hospital(patients=(stay,), cylinders=stock, noticed=noticed, horizon_s=365 * DAY_S)
    scenario = Scenario("unseen", "", "unseen.yaml", "0" * 16, {"s": rules})
    logs = (simulate(scenario, "s", Draws(23, year), log=True).log for year in range(YEARS))
    ended = [
        each for log in logs for each in log if each.step == "gap ends" and each.other == Cause.RAN_EMPTY_UNSEEN
    ]
    return np.array([each.value for each in ended])


@pytest.mark.parametrize("case", CASES)
def test_time_unseen_against_competing_waits(case: str) -> None:
    """The next look is a uniform time away, relative and oximeter an exponential one; the first of them counts."""
    noticed, (mean_min, share), (said_min, said_share) = CASES[case]
    assert (mean_min, share) == (pytest.approx(said_min, abs=6e-4), pytest.approx(said_share, abs=6e-5))
    found = unseen_s(noticed)
    assert len(found) > 20_000
    assert abs(found.mean() / MINUTE - mean_min) < 4 * found.std(ddof=1) / MINUTE / math.sqrt(len(found))
    longer = np.mean(found > TOLERATED_MIN * MINUTE)
    assert abs(longer - share) < 4 * math.sqrt(share * (1 - share) / len(found))
