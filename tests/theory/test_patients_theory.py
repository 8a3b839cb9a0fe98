"""Patients on oxygen at once, their flow and their litres, against M/G/infinity and compound Poisson theory."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import (
    compound_poisson,
    integral_sd,
    lognormal,
    present_from_empty,
    seasonal_lag,
    seasonal_present,
)
from running import daily, head, one_source, replicate, sizes, z
from scipy import stats

pytestmark = pytest.mark.theory
AMPLE = "concentrators: {count: 3, rated_flow: 200 L/min, outlets: 100}\n" + one_source("concentrator")
GAS_OF_A_LITRE = 60_000  # 1/60 mL
STAYS = {
    "exponential": "{exponential: {mean: 4 days}}",
    "constant": "4 days",
    "lognormal": "{lognormal: {mean: 4 days, sd: 5 days}}",
    "gamma": "{gamma: {mean: 4 days, sd: 6 days}}",
    "weibull": "{weibull: {mean: 4 days, shape: 0.7}}",
    "uniform": "{uniform: {low: 1 day, high: 7 days}}",
    "triangular": "{triangular: {low: 1 day, mode: 2 days, high: 9 days}}",
}


def ward(duration: str, horizon: str = "365 days", warm_up: str = "60 days", season: str = "") -> str:
    """Return a ward where 3 of 12 patients a day need oxygen, with ample supply."""
    season_key = f", season: {season}" if season else ""
    patients = f"{{admissions: 12 / day, hypoxaemic: 25 %, flow: 1 L/min, duration: {duration}{season_key}}}"
    return head(horizon, warm_up) + f"patients:\n  all: {patients}\n" + AMPLE


@sizes
@pytest.mark.parametrize("stay", STAYS)
def test_patients_at_once_against_the_infinite_server_queue(stay: str, size: int) -> None:
    """The midnight count is Poisson(rate x mean stay) whatever the law of stay (Mirasol 1963; Takacs 1962)."""
    law = stats.poisson(12)
    assert law.sf(18) == pytest.approx(0.0374165, abs=5e-8)
    assert law.ppf(0.99) == 21

    def census(outcome):
        count = daily(outcome, "patients")
        return count.mean(), (count > 18).mean(), (count > 20).mean(), (count > 21).mean(), (count**2).mean()

    samples = replicate(ward(STAYS[stay]), 100 * size, census)
    # the 99 % quantile is 21 because no more than 1 % exceed 21 but more than 1 % exceed 20
    expected = 12, law.sf(18), law.sf(20), law.sf(21), 12 + 12**2
    assert law.sf(21) < 0.01 < law.sf(20)
    assert np.abs(z(samples, expected)).max() < 4
    if size > 1:
        assert samples[:, 3].mean() < 0.01 < samples[:, 2].mean()


@sizes
def test_filling_up_against_eick_massey_whitt(size: int) -> None:
    """From an empty start the mean present is rate x integral of P(stay > u) (Eick, Massey, Whitt 1993)."""
    expected = [present_from_empty(3, lognormal(4, 5), day) for day in (2, 5, 20)]
    assert expected == pytest.approx([4.92646, 8.35171, 11.51852], abs=1e-5)
    text = ward(STAYS["lognormal"], horizon="21 days", warm_up="0 days")
    samples = replicate(text, 2000 * size, lambda outcome: daily(outcome, "patients")[[2, 5, 20]])
    assert np.abs(z(samples, expected)).max() < 4
    assert np.abs(z((samples - expected) ** 2, expected)).max() < 4  # Poisson: the variance is the mean


@sizes
def test_season_against_eick_massey_whitt(size: int) -> None:
    """Patients present follow seasonal admissions, damped and 3.99 days late (Eick, Massey, Whitt 1993)."""
    assert seasonal_present(100, 3, 0.5, 365 / 4, 4, 365) == pytest.approx(17.96577, abs=5e-6)
    assert seasonal_lag(4, 365) == pytest.approx(3.9937, abs=5e-5)
    days, turn, peak = np.arange(365), 365.25, 91  # 2027-04-02; here the season turns in 365.25 days
    mean = np.array([seasonal_present(day, 3, 0.5, peak, 4, turn) for day in days])
    early = np.sin(2 * np.pi * (days - peak) / turn)  # without a lag the sum of count x early would be about 0

    def count(outcome):
        patients = daily(outcome, "patients")
        return patients[100], patients[280], patients[70:130].mean(), patients @ early

    # amplitude 0.5 of the mean is a peak of three times the trough
    samples = replicate(ward(STAYS["exponential"], season="{peak: 2027-04-02, ratio: 3}"), 250 * size, count)
    assert np.abs(z(samples, (mean[100], mean[280], mean[70:130].mean(), mean @ early))).max() < 4


@sizes
def test_monthly_factors_against_eick_massey_whitt(size: int) -> None:
    """With monthly steps the mean relaxes to each month's rate x stay (Eick, Massey, Whitt 1993)."""
    factors = np.array([3, 1, 1, 1, 1, 0, 0, 1, 1, 1, 1, 1])
    month_days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    rates = 3 * factors * 365 / (factors @ month_days)
    mean, start = [rates[-1] * 4], 0  # at the start of January, after two months at one rate
    for rate, days in zip(rates, month_days, strict=True):
        mean += [rate * 4 + (mean[start] - rate * 4) * np.exp(-day / 4) for day in range(1, days + 1)]
        start += days
    text = ward(STAYS["exponential"], season=f"{{monthly_factors: {factors.tolist()}}}")
    picked = [0, 2, 10, 30, 33, 40, 100, 153, 180, 213, 364]
    samples = replicate(text, 150 * size, lambda outcome: daily(outcome, "patients")[picked])
    # by theory: Poisson at each midnight; near July's end hardly anybody is left for the spread to show
    assert np.abs(z(samples, np.array(mean)[picked], sd=np.sqrt(np.array(mean)[picked]))).max() < 4


CHANCES = {1: 0.2, 2: 0.4, 5: 0.3, 10: 0.1}  # of a flow in L/min


def mixed_flows(horizon: str, warm_up: str) -> str:
    """Return 3 patients a day for 4 days each, one class a flow, with ample supply."""
    classes = "".join(
        f"  at {flow}: {{admissions: {3 * chance:g} / day, flow: {flow} L/min, "
        f"duration: {STAYS['exponential']}}}\n"
        for flow, chance in CHANCES.items()
    )
    return head(horizon, warm_up) + "patients:\n" + classes + AMPLE


@sizes
def test_flow_at_once_against_panjer(size: int) -> None:
    """The flow needed at once is compound Poisson (recursion of Panjer 1981)."""
    mass = compound_poisson(12, CHANCES, 400)
    beyond = 1 - mass.cumsum()
    assert beyond[60] == pytest.approx(0.117547, abs=5e-7)
    assert int((beyond > 0.01).sum()) == 82
    variance = 12 * sum(chance * flow**2 for flow, chance in CHANCES.items())
    assert variance**0.5 == pytest.approx(15.2184, abs=5e-5)

    def census(outcome):
        flow = daily(outcome, "flow_needed_ml_min") / 1000
        return flow.mean(), ((flow - 42) ** 2).mean(), (flow > 60).mean(), (flow > 81).mean(), (flow > 82).mean()

    samples = replicate(mixed_flows("365 days", "60 days"), 100 * size, census)
    assert np.abs(z(samples, (42, variance, beyond[60], beyond[81], beyond[82]))).max() < 4


@sizes
def test_litres_in_30_days_against_the_covariance_of_the_infinite_server_queue(size: int) -> None:
    """Litres needed in 30 days have the mean and sd that covariance exp(-t / 4 days) gives (Takacs 1962)."""
    sd = integral_sd(12 * sum(chance * flow**2 for flow, chance in CHANCES.items()), 4, 30) * 1440
    assert sd == pytest.approx(219.4924 * 1440, abs=0.1)
    mean = 42 * 1440 * 30
    assert mean == 1_814_400
    text = mixed_flows("30 days", "45 days")
    samples = replicate(text, 1200 * size, lambda outcome: outcome.needed_gas / GAS_OF_A_LITRE)
    assert abs(z(samples, mean)) < 4
    assert abs(z((samples - mean) ** 2, sd**2)) < 4
