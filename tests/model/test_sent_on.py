"""Patients sent on after waiting too long: traces worked by hand."""

from __future__ import annotations

import pytest
from build import DAY, HOUR, MINUTE, FixedDraws, by_cause, cylinders, hospital, kind, resupply, run, steps, trace

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Transfer

EMPTY = cylinders(fleet=1, full_at_start=0)


def test_a_patient_unserved_for_an_hour_is_sent_on_with_oxygen_on_board() -> None:
    """No cylinder from 01:00, gone at 02:00: of four hours of need three are met elsewhere, half on the way."""
    rules = hospital(cylinders=EMPTY, tolerated_gap_s=10 * MINUTE, transfer=Transfer(HOUR, 30 * MINUTE))
    outcome = run(rules, FixedDraws([(HOUR, 4 * HOUR)]))
    assert trace(outcome) == [
        "01:00:00 patient arrives: 0 0 1000",
        "01:00:00 gap begins: 0 no cylinder",
        "01:10:00 interruption: 0 no cylinder 3600",
        "02:00:00 patient sent on: 0 no cylinder",
        "02:00:00 gap ends: 0 no cylinder 3600",
    ]
    assert (outcome.transferred, outcome.stock_outs, outcome.travel_s) == (1, 1, 30 * MINUTE)
    assert (outcome.transferred_s, sum(outcome.unserved_s), outcome.need_s) == (3 * HOUR, HOUR, 4 * HOUR)


def test_without_oxygen_on_board_the_way_is_unserved() -> None:
    """Sent on at 02:00 for two hours, unserved until 04:00; one whose need ends at 03:00 until then."""
    rules = hospital(cylinders=EMPTY, transfer=Transfer(HOUR, 2 * HOUR, oxygen_on_board=False))
    outcome = run(rules, FixedDraws([(HOUR, 4 * HOUR), (HOUR, 2 * HOUR)]))
    assert by_cause(outcome.unserved_s) == {Cause.NO_CYLINDER: 5 * HOUR}
    assert (outcome.transferred, outcome.transferred_s, outcome.travel_s) == (2, HOUR, 3 * HOUR)
    assert outcome.longest_gap_s == 3 * HOUR


@pytest.mark.parametrize(("lead_s", "sent"), [(HOUR, 0), (HOUR + 1, 1)])
def test_nobody_is_sent_on_who_is_served_at_that_second(lead_s: int, sent: int) -> None:
    """The delivery of the very second goes first."""
    rules = hospital(cylinders=EMPTY, resupply=resupply(DAY, 0, 1, lead_s), transfer=Transfer(HOUR, 0))
    assert run(rules, FixedDraws([(0, 90 * MINUTE)])).transferred == sent


def test_a_class_has_its_own_rule_or_none():
    """All wait from 01:00: adults go after the hospital's hour, children after two, newborns stay all four."""
    kinds = (kind(), kind("children", transfer=Transfer(2 * HOUR, 600)), kind("newborns", transfer="never"))
    rules = hospital(cylinders=EMPTY, transfer=Transfer(HOUR, 0), patients=kinds)
    outcome = run(rules, FixedDraws([(HOUR, 4 * HOUR, 1_000, index) for index in range(3)]))
    assert steps(outcome, "patient sent on") == [
        "02:00:00 patient sent on: 0 no cylinder",
        "03:00:00 patient sent on: 1 no cylinder",
    ]
    assert (outcome.transferred_by_class, outcome.travel_s) == ((1, 1, 0), 600)
    assert outcome.unserved_s_by_class == (HOUR, 2 * HOUR, 4 * HOUR)
    assert outcome.interruptions_by_class == outcome.arrivals_by_class == outcome.patients_by_class == (1, 1, 1)
