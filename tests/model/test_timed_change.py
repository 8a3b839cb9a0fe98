"""Timed change: staff note when to change a cylinder, and come then, or forget."""

from dataclasses import replace

import pytest
from build import DAY, HOUR, LITRE, MINUTE, FixedDraws, by_cause, cylinders, hospital, resupply, run, steps
from test_flow_steps import Stepping
from test_looks import Missed

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Splitters, Timed

KEPT, FORGOTTEN = Timed(10 * MINUTE, 1.0), Timed(10 * MINUTE, 0.0)


def noted(every_s=HOUR, timed=KEPT, **changes):
    """Return a hospital whose cylinders (60 L, flow lost at 3 L) are changed at a noted time."""
    return hospital(cylinders=cylinders(gauge_check_s=every_s, change_when="timed", timed=timed, **changes))


def begun(outcome):
    """Return when the first change began: a second cylinder is opened."""
    return steps(outcome, "cylinder opened")[1][:8]


@pytest.mark.parametrize("hours", [2, 6, 12])
@pytest.mark.parametrize(("flow", "litres"), [(1_000, 11), (2_000, 21), (5_000, 51), (10_000, 101)])
def test_what_is_left_at_the_change_is_the_margin_whatever_the_looks(hours: int, flow: int, litres: int) -> None:
    """(flow + leak) x margin above where flow is lost, 51 L at 5 L/min: by multiplication, not from the model."""
    rules = noted(
        hours * HOUR, full_gas=6_827 * LITRE, lost_gas=186 * LITRE, residual_gas=374 * LITRE, leak_ml_min=100,
        change_time_s=10 * MINUTE, fleet=30,
    )  # fmt: skip
    outcome = run(replace(rules, horizon_s=8 * DAY), FixedDraws([(HOUR, 8 * DAY, flow)]))
    left = [entry.value for entry in outcome.log if entry.step == "cylinder emptied"]
    assert len(left) > 0
    assert [(gas - 186 * LITRE) // LITRE for gas in left] == [litres] * len(left)
    assert outcome.changed_in_time == len(left)


def test_a_time_is_noted_at_the_opening() -> None:
    """1 L/min: flow would be lost at 00:57, before the look at 01:00, so somebody comes at 00:47 (13 L left)."""
    outcome = run(noted(), FixedDraws([(0, HOUR)]))
    assert steps(outcome, "noted time", "cylinder racked")[:2] == [
        f"00:47:00 noted time: 0 {13 * LITRE}",
        f"00:47:00 cylinder racked: 0 1 {13 * LITRE}",
    ]
    assert sum(outcome.unserved_s) == 0


def test_the_change_after_the_next_look_has_to_be_over_before_the_run_out() -> None:
    """Looks each 50 min: flow lost at 00:57 can wait for that look with a change of 7 min, not of 8."""
    quick, slow = (run(noted(50 * MINUTE, change_time_s=m * MINUTE), FixedDraws([(0, HOUR)])) for m in (7, 8))
    assert (begun(quick), begun(slow)) == ("00:50:00", "00:47:00")


def test_a_time_is_noted_at_the_last_look_that_is_made() -> None:
    """Looks each 20 min, those until 00:40 missed, so that nobody notes 00:47: found empty at 01:00."""
    rules = noted(20 * MINUTE, missed_by_night=0.5, timed=Timed(10 * MINUTE, 1.0))
    outcome = run(rules, Missed([(0, 2 * HOUR)], missed_until_s=40 * MINUTE))
    assert by_cause(outcome.unserved_s)[Cause.RAN_EMPTY_UNSEEN] == 3 * MINUTE
    made = run(rules, Missed([(0, 2 * HOUR)], missed_until_s=20 * MINUTE))
    assert begun(made) == "00:47:00"


def test_a_time_that_is_past_is_kept_at_once() -> None:
    """Looks each 30 min, a margin of 40: noted at 00:30, when 00:17 is past."""
    assert begun(run(noted(30 * MINUTE, Timed(40 * MINUTE, 1.0)), FixedDraws([(0, HOUR)]))) == "00:30:00"


def test_forgotten_notes_leave_it_to_the_looks() -> None:
    """Nobody comes: bit for bit as where looks at residual pressure decide."""
    draws = FixedDraws([(0, 3 * HOUR)])
    forgotten = run(noted(timed=FORGOTTEN), draws)
    residual = run(hospital(cylinders=cylinders(gauge_check_s=HOUR)), draws)
    assert forgotten == residual
    assert by_cause(forgotten.unserved_s)[Cause.RAN_EMPTY_UNSEEN] > 0


def test_the_share_of_notes_kept_is_drawn_for_each_cylinder() -> None:
    """At 80 % about four changes in five come at the noted time: 160 expected of 200, standard deviation 5.7."""
    rules = noted(timed=Timed(10 * MINUTE, 0.8), fleet=400, regulators=200)
    outcome = run(rules, FixedDraws([(n, 50 * MINUTE) for n in range(200)]))
    assert 137 <= len(steps(outcome, "noted time")) <= 183


def test_a_look_at_residual_pressure_changes_nothing_where_the_note_is_kept() -> None:
    """Looks each 50 s: residual pressure is seen at 00:54:10; with a margin of 1 min they come at 00:56:40."""
    outcome = run(noted(50, Timed(MINUTE, 1.0)), FixedDraws([(0, HOUR)]))
    assert begun(outcome) == "00:56:40"


def test_a_gauge_that_reads_low_brings_them_early() -> None:
    """Reading 12 L too low, 45 min are reckoned: somebody comes at 00:35, with 25 L left."""
    outcome = run(noted(gauge_error_gas=1), Missed([(0, HOUR)], error_gas=12 * LITRE, missed_until_s=DAY))
    assert steps(outcome, "noted time") == [f"00:35:00 noted time: 0 {25 * LITRE}"]


def test_a_noted_time_after_the_run_out_finds_the_cylinder_empty() -> None:
    """Reading 12 L too high, 69 min are reckoned: flow is lost at 00:57, somebody comes at 00:59."""
    outcome = run(noted(2 * HOUR, gauge_error_gas=1), Missed([(0, HOUR)], error_gas=-12 * LITRE))
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 2 * MINUTE}
    assert outcome.changed_in_time == 0


def test_a_step_of_the_flow_reckons_anew() -> None:
    """1 L/min, from 00:30 on 0.5: 27 L last until 01:24; the look at 01:00 notes 01:14."""
    assert begun(run(noted(), Stepping([(0, 2 * HOUR)], (30 * MINUTE, 500)))) == "01:14:00"


def test_a_shared_cylinder_is_reckoned_by_the_flow_of_all_on_it() -> None:
    """1 L/min alone, 2 from 00:05 on: 52 L last until 00:31, so that the look at 00:20 notes 00:21."""
    rules = noted(20 * MINUTE, regulators=1, splitters=Splitters(1, 2))
    outcome = run(rules, FixedDraws([(0, HOUR), (5 * MINUTE, HOUR)]))
    assert begun(outcome) == "00:21:00"


def test_with_nothing_to_change_to_the_cylinder_is_known_to_be_low() -> None:
    """An empty shelf at 00:47: staff know of the run-out at 00:57, and look again before it."""
    outcome = run(noted(fleet=1), FixedDraws([(0, HOUR)]))
    assert steps(outcome, "gauge check", "cylinder runs out") == [
        f"00:47:00 gauge check: 0 {13 * LITRE}",
        f"00:57:00 cylinder runs out: 0 1 {3 * LITRE}",
    ]
    rules = noted(10 * MINUTE, fleet=2, full_at_start=1, change_time_s=10 * MINUTE)
    supplied = replace(rules, resupply=resupply(DAY, 1, 2, 48 * MINUTE))
    assert begun(run(supplied, FixedDraws([(0, HOUR)]))) == "00:50:00"
