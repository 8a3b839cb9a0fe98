"""Resupply in the field and cylinders going wrong against theory; a patient empties a cylinder in a minute."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import closed_road, erlang_b
from running import daily, head, one_source, replicate, sizes, z, z_share
from scipy import stats
from test_stock_theory import SPARE, base_stock, shop

pytestmark = pytest.mark.theory
DAY_S = 86_400


@sizes
@pytest.mark.parametrize("turn_round", ["{exponential: {mean: 4319 min}}", "4319 min"])
def test_own_cylinders_against_erlang_b(turn_round: str, size: int) -> None:
    """A fleet of 25, each away for its turn-round (less the minute of use): Erlang B; away: Little's law.

    Insensitive to the law of the turn-round (Sevastyanov 1957).
    """
    lost = erlang_b(25, 18)
    assert lost == pytest.approx(0.0247562, abs=5e-8)
    rule = base_stock(25, turn_round).removesuffix("}") + ", mode: own cylinders}"

    def short(outcome):
        return outcome.transferred / (6 * 365), daily(outcome, "away").mean()

    samples = replicate(shop(25, rule, spare=0), 80 * size, short)
    away = 6 * (1 - lost) * 4319 / 1440
    assert np.abs(z(samples, (lost, away))).max() < 4


@sizes
def test_emergency_orders_alone_against_erlang_b(size: int) -> None:
    """Ordered one by one in an emergency they are a base stock with lost demand (Karush 1957)."""
    rule = (
        "{review: 365 days, reorder_point: 0, order_up_to: 25, lead_time: 3 days, "
        "emergency: {below: 25, up_to: 25, lead_time: {exponential: {mean: 3 days}}}}"
    )

    def short(outcome):
        assert outcome.orders == outcome.emergency_orders
        return outcome.transferred / (6 * 365)

    assert abs(z(replicate(shop(25, rule), 80 * size, short), erlang_b(25, 18))) < 4


@sizes
def test_supplier_outages_against_runs_of_trials(size: int) -> None:
    """An order of midnight is held until a run of midnights without an outage (Feller 1968, chapter XIII)."""
    text = shop(
        90,
        "{review: 7 days, order_up_to: 90, lead_time: 12 h, overtaking: allowed, "
        "supplier_outages: [{chance_per_day: 20 %, length: 4 days}]}",
        warm_up="28 days",
    )

    def held(outcome):
        orders = [entry for entry in outcome.log if entry.step == "order" and entry.time_s >= 28 * DAY_S]
        days = np.array([entry.value - entry.time_s for entry in orders]) / DAY_S - 0.5
        return (days > 0).mean(), days.mean()

    share, noon = closed_road(0.2, 4)  # of what is due at noon; the order of midnight waits half a day more
    assert np.abs(z(replicate(text, 100 * size, held, log=True), (share, noon + share / 2))).max() < 4


@sizes
def test_part_deliveries_against_their_mean(size: int) -> None:
    """A tenth of orders of 30 bring U(12, 24), rounded: 4 % of what was ordered is cut."""
    rule = (
        "{review: continuous, reorder_point: 70, order_up_to: 150, vehicle_capacity: 30, lead_time: 3 days, "
        "part_delivery: {chance: 10 %, share: {uniform: {low: 40 %, high: 80 %}}}}"
    )

    def cut(outcome):
        return outcome.cylinders_cut / (outcome.cylinders_cut + outcome.cylinders_delivered)

    assert abs(z(replicate(shop(100, rule), 100 * size, cut), 0.04)) < 4


@sizes
def test_unusable_cylinders_against_the_geometric_law(size: int) -> None:
    """Each patient opens a geometric number of cylinders, 1 / (1 - u) on average, once the first fill is used."""
    text = shop(60, base_stock(60, "1 day")).replace("gauge_check:", "unusable: 20 %\n  gauge_check:")

    def opened(outcome):
        assert outcome.transferred == 0
        return outcome.cylinders_opened / outcome.patients, outcome.cylinders_unusable / outcome.cylinders_opened

    assert np.abs(z(replicate(text, 40 * size, opened), (1.25, 0.2))).max() < 4


@sizes
def test_refused_empties_and_losses_against_their_laws(size: int) -> None:
    """Of the empties handed over 1 % are condemned (binomial); what goes missing is Poisson (any textbook)."""
    stock = shop(60, base_stock(60, "1 day"), spare=SPARE + 400)
    refusing = stock.replace("gauge_check:", "refused: 1 %\n  gauge_check:")
    losing = stock.replace("gauge_check:", "loss: 20 / year\n  gauge_check:")

    def condemned(outcome):
        return outcome.cylinders_lost / (outcome.cylinders_lost + outcome.cylinders_delivered)

    assert abs(z(replicate(refusing, 40 * size, condemned), 0.01)) < 4
    lost = replicate(losing, 100 * size, lambda outcome: outcome.cylinders_lost)
    assert np.abs(z(np.stack([lost, (lost - 20) ** 2], axis=1), (20, 20))).max() < 4


@sizes
def test_overdispersed_demand_without_resupply_against_the_gamma_poisson_law(size: int) -> None:
    """Seven days of variance 13/6 of the mean: negative binomial, as with a gamma rate (Greenwood and Yule 1920).

    Shape 6 / (13/6 - 1) a day, 36 in all: the same as a week at a rate drawn with shape 36 and mean 6 a day.
    """
    short = stats.nbinom.sf(60, 36, 36 / 78)
    assert short == pytest.approx(0.0349256, abs=5e-8)
    text = shop(60, "", horizon="7 days", warm_up="0 days").replace(
        "admissions: 6 / day", "admissions: 6 / day, overdispersion: 2.16666667"
    )
    samples = replicate(text, 2000 * size, lambda outcome: outcome.stock_outs > 0)
    assert abs(z_share(samples, short)) < 4


@sizes
@pytest.mark.parametrize("units", [5, 3])
def test_patients_sent_on_at_once_against_erlang_b(units: int, size: int) -> None:
    """Sent on without a wait, those who find no unit are lost: Erlang B (insensitive; Sevastyanov 1957)."""
    load = 3.0
    text = (
        head("365 days", "60 days")
        + "patients: {all: {admissions: 3 / day, flow: 1 L/min, duration: {exponential: {mean: 1 day}}}}\n"
        + f"concentrators: {{count: {units}, rated_flow: 1 L/min}}\n"
        + "transfer: {after: 0 min, travel: 1 h}\n"
        + one_source("concentrator")
    )
    samples = replicate(text, 40 * size, lambda outcome: outcome.transferred / (3 * 365))
    assert abs(z(samples, erlang_b(units, load))) < 4
