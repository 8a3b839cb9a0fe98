"""One patient's cylinders: run-out, regulators, gauge checks, against division, Erlang B and inspection theory."""

from __future__ import annotations

import numpy as np
import pytest
from formulas import erlang_b
from running import head, one_source, replicate, sizes, z

from o2sim.outcome import Cause
from o2sim.scenario import loads

pytestmark = pytest.mark.theory
DAY_S = 86_400
TO_THE_LAST = (
    "content: 6800 L, residual_pressure: 0 kPa, flow_lost_below: 0 kPa, gauge_check: watched, change_time: 0 s"
)


def on_cylinders(top: str, patients: str, cylinders: str) -> str:
    """Return one class of patients on cylinders without resupply."""
    return f"{top}patients:\n  all: {{{patients}}}\ncylinders: {{{cylinders}}}\n" + one_source("cylinder")


@pytest.mark.parametrize(
    ("flow", "leak", "days"), [("5 L/min", "0 L/min", 9.44444), ("3 L/min", "0.4 L/min", 13.88889)]
)
def test_run_out_without_randomness_against_division(flow: str, leak: str, days: float) -> None:
    """Ten cylinders of 6,800 L last 68,000 L / (flow + leak), to the second."""
    seconds = round(10 * 6800 / (float(flow.split()[0]) + float(leak.split()[0])) * 60)
    assert seconds / DAY_S == pytest.approx(days, abs=5e-6)

    def served_s(outcome):
        connected = next(entry.time_s for entry in outcome.log if entry.step == "on cylinder")
        ran_out = [entry.time_s for entry in outcome.log if entry.step == "cylinder runs out"]
        assert outcome.cylinders_emptied == 10
        return [time_s - connected for time_s in ran_out] + [outcome.served_cylinder_s]

    # with one regulator the first patient has all the cylinders
    text = on_cylinders(
        head("40 days", "0 days"),
        f"admissions: 1 / day, flow: {flow}, duration: 60 days",
        f"{TO_THE_LAST}, fleet: 10, regulators: 1, leak: {leak}",
    )
    assert replicate(text, 1, served_s, log=True).tolist() == [[seconds, seconds]]


@sizes
def test_regulators_against_erlang_b(size: int) -> None:
    """With cylinders ample, c regulators are a loss system: Erlang B, cause no regulator (Erlang 1917)."""
    blocked = erlang_b(5, 2)
    assert blocked == pytest.approx(0.036697, abs=5e-7)

    def lost(outcome):
        assert outcome.stock_outs == 0
        return outcome.interruptions[Cause.NO_REGULATOR]

    text = on_cylinders(
        head(),
        "admissions: 1 / day, flow: 1 L/min, duration: {lognormal: {mean: 2 days, sd: 3 days}}, "
        "if_unserved: transfer",
        f"{TO_THE_LAST}, fleet: 400, regulators: 5, leak: 0 L/min",
    )
    assert abs(z(replicate(text, 200 * size, lost), 365 * blocked)) < 4


@sizes
def test_outlets_of_splitters_against_erlang_b(size: int) -> None:
    """With cylinders ample, 2 regulators with splitters of 3 outlets are a loss system of 6: Erlang B."""
    blocked = erlang_b(6, 4)
    assert blocked == pytest.approx(0.117162, abs=5e-7)

    def lost(outcome):
        assert outcome.stock_outs == 0
        return outcome.interruptions[Cause.NO_REGULATOR]

    text = on_cylinders(
        head(),
        "admissions: 2 / day, flow: 1 L/min, duration: {lognormal: {mean: 2 days, sd: 3 days}}, "
        "if_unserved: transfer",
        f"{TO_THE_LAST}, fleet: 900, leak: 0 L/min, regulators: 2, splitters: {{count: 2, outlets: 3}}",
    )
    assert abs(z(replicate(text, 100 * size, lost), 365 * 2 * blocked)) < 4


@sizes
def test_humidifiers_against_erlang_b(size: int) -> None:
    """Three humidifiers for those on catheters are a loss system of 3, whatever the others use: Erlang B."""
    blocked = erlang_b(3, 2)
    assert blocked == pytest.approx(0.210526, abs=5e-7)
    text = (
        f"{head()}patients:\n"
        "  catheter: {admissions: 1 / day, flow: 1 L/min, duration: {exponential: {mean: 2 days}}, "
        "delivery: nasopharyngeal catheter}\n"
        "  prongs: {admissions: 3 / day, flow: 1 L/min, duration: 1 day, delivery: nasal prongs}\n"
        "if_unserved: transfer\nbedside: {humidifiers: 3}\n"
        "concentrators: {count: 60, rated_flow: 5 L/min}\n" + one_source("concentrator")
    )

    def lost(outcome):
        return outcome.interruptions[Cause.NO_DELIVERY_SET]

    assert abs(z(replicate(text, 100 * size, lost), 365 * blocked)) < 4


@sizes
def test_gauge_checks_against_uniform_inspection(size: int) -> None:
    """A first cylinder gets low anywhere between two checks: the next is a uniform time away (Cox 1962)."""
    text = on_cylinders(
        head("360 days", "0 days"),  # long enough that somebody comes
        "admissions: 0.05 / day, flow: 5 L/min, duration: 30 h",
        "content: 6000 L, filling_pressure: 10 MPa, residual_pressure: 1 MPa, flow_lost_below: 400 kPa, "
        "fleet: 50, gauge_check: 4 h, change_when: residual, change_time: 10 min, leak: 0 L/min",
    )
    rules = loads(text).hospitals["only"].cylinders
    between, change, gas_s = 4 * 3600, 600, 5000  # s, s, 1/60 mL a second
    reserve = (rules.residual_gas - rules.lost_gas) / gas_s  # s from the residual pressure to the loss of flow
    assert reserve == pytest.approx(0.06 * 6000 / 5 * 60, rel=0.06)  # ideal; real gas packs tighter when full
    unseen = (between - reserve) / between
    expected = change * (1 - unseen), change * unseen + (between - reserve) ** 2 / (2 * between), unseen

    def first_patient(outcome):
        gaps = [entry for entry in outcome.log if entry.step == "gap ends" and entry.item == 0]
        assert len(gaps) == 1
        cause, seconds = gaps[0].other, gaps[0].value
        seen = cause == Cause.CHANGEOVER
        return seconds * seen, seconds * (cause == Cause.RAN_EMPTY_UNSEEN), not seen

    samples = replicate(text, 1000 * size, first_patient, log=True)
    assert np.abs(z(samples, expected)).max() < 4
