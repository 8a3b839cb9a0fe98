"""Concentrators in the field, traced by hand: start-up, drift, monitor, service, technicians, altitude."""

from dataclasses import replace
from typing import Any

import pytest
from build import (
    DAY,
    HOUR,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    by_cause,
    constant,
    hospital,
    run,
    steps,
    units,
)

from o2sim.draws import Draws
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.building.power import derated
from o2sim.scenario.types.hospital import Grid, Law

GRID = Grid(constant(1), constant(1))


def field(count: int = 1, fails: bool = False, clock: str = "calendar", **rules: Any) -> Any:
    """Return a hospital of units with these rules of the field; repairs take 2 h where none are written down."""
    standard = {"repair_s": constant(2 * HOUR)} if not fails else {}
    unit = replace(units(count, outlets=1, fails=fails, clock=clock), **standard | rules)
    return hospital(UNIT, concentrators=unit)


def play(rules: Any, patients: Any = ((0, DAY),), **more: Any) -> Outcome:
    """Run a hospital with patients (arrival, stay) and draws written down."""
    two_hours = {unit: [2 * HOUR] * 9 for unit in range(2)}
    return run(rules, FixedDraws(patients=patients, **{"repairs": two_hours} | more))


def test_each_start_takes_its_time_to_reach_concentration() -> None:
    """Five minutes low at the first patient, none for a stay of another start cut short, five after a cut."""
    rules = replace(field(start_up_s=300), grid=GRID)
    outcome = play(rules, [(0, HOUR), (2 * HOUR, 2 * MINUTE), (3 * HOUR, 4 * HOUR)], up=[4 * HOUR], down=[HOUR])
    assert outcome.low_concentration_s == 300 + 120 + 300 + 300
    assert outcome.served_concentrator_s == HOUR + 120 + 3 * HOUR


def test_drift_goes_on_unseen_until_the_analyser() -> None:
    """Low after 3 h of running, found at the check of 08:00, repaired for 2 h, low again 3 h later."""
    rules = field(drift_s=constant(3 * HOUR), analyser_check_s=8 * HOUR)
    outcome = play(rules, [(HOUR, DAY)])
    assert steps(outcome, "unit drifts low", "analyser check", "repair done") == [
        "04:00:00 unit drifts low: 0 1", "08:00:00 analyser check: 0 1", "10:00:00 repair done: 0",
        "13:00:00 unit drifts low: 0 1", "16:00:00 analyser check: 0 1", "18:00:00 repair done: 0",
        "21:00:00 unit drifts low: 0 1",
    ]  # fmt: skip
    assert outcome.low_concentration_s == (4 + 3 + 3) * HOUR
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATOR_DOWN: 4 * HOUR}


@pytest.mark.parametrize(("alarm", "taken_out_h", "low_h"), [(820, 11, 0), (875, 5.5, 0), (710, 22, 11)])
def test_a_monitor_takes_a_unit_out_at_its_alarm_level(alarm: int, taken_out_h: float, low_h: int) -> None:
    """Oxygen falls by 1 % an hour from 93 %: 82 % after 11 h; an alarm set lower leaves patients on low oxygen."""
    rules = field(drift_s=constant(11 * HOUR), alarm_permille=alarm)
    outcome = play(rules, repairs={0: [DAY]})
    taken_out = [entry.time_s for entry in outcome.log if entry.step == "unit alarms"]
    assert taken_out == [taken_out_h * HOUR]
    assert (outcome.low_concentration_s, outcome.concentrator_failures) == (low_h * HOUR, 1)


def test_service_moves_patients_by_plan_and_undoes_drift() -> None:
    """Serviced after 10 h of running, an hour each, a unit that would drift low after 12 h never does."""
    rules = field(2, drift_s=constant(12 * HOUR), service_every_s=10 * HOUR, service_time_s=HOUR)
    rules = replace(rules, response_time_s=600)
    outcome = play(rules)
    assert steps(outcome, "service begins", "service done", "on concentrator", "gap begins") == [
        "00:00:00 on concentrator: 0 0", "10:00:00 service begins: 0 1", "10:00:00 on concentrator: 0 1",
        "11:00:00 service done: 0", "20:00:00 service begins: 1 1", "20:00:00 on concentrator: 0 0",
        "21:00:00 service done: 1",
    ]  # fmt: skip
    assert (outcome.low_concentration_s, sum(outcome.unserved_s), outcome.services) == (0, 0, 2)


def test_one_technician_mends_one_unit_after_another() -> None:
    """The first repair waits for the way of 1 h; the unit that failed meanwhile is next, without a way."""
    rules = field(2, fails=True, crew=1, travel_s=constant(HOUR))
    outcome = play(rules, failures={0: [HOUR], 1: [2 * HOUR]}, repairs={0: [4 * HOUR], 1: [3 * HOUR]})
    assert steps(outcome, "unit fails", "repair done") == [
        "01:00:00 unit fails: 0 1", "02:00:00 unit fails: 1 1",
        "06:00:00 repair done: 0", "09:00:00 repair done: 1",
    ]  # fmt: skip


def test_a_failure_never_repaired_writes_the_unit_off() -> None:
    """All failures are final: the unit is down for the rest of the day, and the technician is not bound."""
    outcome = play(field(fails=True, never_repaired=1.0, crew=1), failures={0: [HOUR]}, repairs={0: [HOUR]})
    assert steps(outcome, "unit written off", "repair done") == ["01:00:00 unit written off: 0"]
    assert by_cause(outcome.unserved_s) == {Cause.CONCENTRATOR_DOWN: 23 * HOUR}
    assert outcome.concentrators_written_off == 1


def test_the_surge_as_the_grid_comes_back_destroys_a_unit() -> None:
    """With a chance of one, both units fail at the end of the cut, and not at its beginning."""
    rules = replace(field(2, cut_damage=1.0), grid=GRID)
    outcome = play(rules, up=[HOUR], down=[HOUR])
    assert steps(outcome, "unit fails") == ["02:00:00 unit fails: 0 0", "02:00:00 unit fails: 1 0"]
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: HOUR, Cause.CONCENTRATOR_DOWN: 2 * HOUR}


def test_altitude_takes_flow_above_2000_m_only() -> None:
    """Air pressure of the standard atmosphere: 79.50 kPa at 2,000 m, 70.11 kPa at 3,000 m (ISO 2533:1975)."""
    assert [derated(5_000, height) for height in (0, 1_400, 2_000)] == [5_000] * 3
    assert derated(5_000, 3_000) / 5_000 == pytest.approx(70.11 / 79.50, abs=5e-4)


LUCK = Grid(Law("exponential", (8.0 * HOUR,)), Law("exponential", (2.0 * HOUR,)))
NOTHING: list[dict[str, Any]] = [
    {"crew": 3}, {"crew": 3, "travel_s": constant(0)}, {"never_repaired": 0.0}, {"cut_damage": 0.0},
    {"drift_s": constant(10**9), "analyser_check_s": HOUR, "alarm_permille": 820},
    {"service_every_s": 10**9, "service_time_s": HOUR},
]  # fmt: skip


@pytest.mark.no_cover
@pytest.mark.parametrize("nothing", NOTHING, ids=[", ".join(each) for each in NOTHING])
def test_rules_without_effect_change_nothing(nothing: dict[str, Any]) -> None:
    """Bit for bit: a technician for each unit is its own repair, a chance of none never happens, and so on."""
    failing = replace(
        units(3, outlets=2, fails=True), failure_s=Law("exponential", (40.0 * HOUR,)),
        repair_s=Law("exponential", (30.0 * HOUR,)),
    )  # fmt: skip
    rules = hospital(UNIT_FIRST, horizon_s=20 * DAY, concentrators=failing, grid=LUCK, response_time_s=300)
    kind = replace(rules.patients[0], admissions_per_day=6.0, duration_s=Law("exponential", (20.0 * HOUR,)))
    rules = replace(rules, patients=(kind,))
    for replication in range(3):
        luck = Draws(5, replication)
        one, other = run(rules, luck), run(replace(rules, concentrators=replace(failing, **nothing)), luck)
        assert vars(one) | {"daily": 0} == vars(other) | {"daily": 0}
        assert one.concentrator_failures > 10


def test_a_serviced_unit_is_not_taken_out_for_the_drift_before() -> None:
    """Low at 03:00, serviced at 04:00: the check of 08:00, asked for at 03:00, has nothing to find."""
    rules = field(drift_s=constant(3 * HOUR), analyser_check_s=8 * HOUR, service_every_s=4 * HOUR)
    draws = FixedDraws(patients=[(0, 5 * HOUR)], repairs={0: [2 * HOUR] * 9})
    assert steps(run(rules, draws), "service begins", "analyser check") == ["04:00:00 service begins: 0 1"]
