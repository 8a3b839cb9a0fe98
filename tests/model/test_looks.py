"""Looking at the gauge: ward rounds, missed looks, gauges that read wrong, changing before the night."""

from build import DAY, HOUR, LITRE, MINUTE, FixedDraws, at, by_cause, cylinders, hospital, run, steps

from o2sim.model.rules import last_look_s, next_look_s
from o2sim.outcome import Cause

ROUNDS = (at("06:00"), at("14:00"), at("22:00"))


class Missed(FixedDraws):
    """Written-down draws in which every look up to a second is missed, and a gauge reads wrong by a set amount."""

    def __init__(self, *args, missed_until_s=0, error_gas=0, **more):
        super().__init__(*args, **more)
        self.missed_until_s, self.error_gas = missed_until_s, error_gas

    def draw(self, _stream, _item, ordinal):
        """Return 0 (below every chance) for a look that is missed, else nearly 1."""
        return 0.0 if ordinal <= self.missed_until_s else 0.999

    def normal(self, _stream, _item, _ordinal, _spread):
        """Return the error written down."""
        return self.error_gas


def test_looks_at_clock_times():
    """Rounds at 06:00, 14:00, 22:00, from a midnight one hour after the start of the run."""
    rules = cylinders(check_times_s=ROUNDS)
    asked = (0, HOUR + at("06:00"), HOUR + at("06:01"), HOUR + at("22:01"))
    assert [next_look_s(t, rules, HOUR) - HOUR for t in asked] == [
        at("06:00"),
        at("06:00"),
        at("14:00"),
        DAY + at("06:00"),
    ]
    assert [last_look_s(t, rules, HOUR) - HOUR for t in asked] == [
        at("22:00") - DAY,
        at("06:00"),
        at("06:00"),
        at("22:00"),
    ]


def test_a_round_finds_the_cylinder_that_ran_empty():
    """Connected at 05:00, flow lost at 05:57, the round at 06:00: 3 min unserved."""
    outcome = run(hospital(cylinders=cylinders(check_times_s=ROUNDS)), FixedDraws([(at("05:00"), 90 * MINUTE)]))
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 3 * MINUTE}


def test_a_missed_look_leaves_it_to_the_next_one():
    """Looks each hour, those until 02:00 missed: the cylinder empty at 01:57 is found at 03:00."""
    rules = cylinders(gauge_check_s=HOUR, missed_by_night=0.5)
    outcome = run(hospital(cylinders=rules), Missed([(HOUR, 150 * MINUTE)], missed_until_s=at("02:00")))
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 63 * MINUTE}


def test_looks_are_missed_by_night_alone_where_only_the_night_says_so():
    """The same looks by day (from 07:00) are made, whatever the draw."""
    rules = cylinders(gauge_check_s=HOUR, missed_by_night=0.5)
    outcome = run(hospital(cylinders=rules), Missed([(at("08:00"), 150 * MINUTE)], missed_until_s=DAY))
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 6 * MINUTE}


def test_a_cylinder_that_will_not_last_is_changed_at_the_last_look():
    """60 L at 1 L/min from 00:30, looks on the half hour: changed at 01:00, before it runs out at 01:27."""
    rules = cylinders(gauge_check_s=30 * MINUTE, change_when="will_not_last")
    outcome = run(hospital(cylinders=rules), FixedDraws([(at("00:30"), HOUR)]))
    assert steps(outcome, "cylinder racked")[0] == f"01:00:00 cylinder racked: 0 1 {30 * LITRE}"
    assert sum(outcome.unserved_s) == 0


def test_for_a_change_that_must_last_a_full_cylinder_goes_before_a_short_part_used_one():
    """At 01:30 the rack holds 30 L, less than the next 30 min and the reserve need: a full one is opened."""
    rules = cylinders(gauge_check_s=30 * MINUTE, change_when="will_not_last")
    outcome = run(hospital(cylinders=rules), FixedDraws([(at("00:30"), 2 * HOUR)]))
    assert {line.split()[-1] for line in steps(outcome, "cylinder opened")} == {str(60 * LITRE)}


def test_a_gauge_that_reads_low_leads_to_an_early_change():
    """Reading 12 L too low, residual pressure (6 L) shows with 18 L left: at 42 min; what is left goes back."""
    outcome = run(hospital(cylinders=cylinders(gauge_error_gas=1)), Missed([(0, HOUR)], error_gas=12 * LITRE))
    assert steps(outcome, "cylinder emptied")[0] == f"00:42:00 cylinder emptied: 0 1 {18 * LITRE}"


def test_a_gauge_that_reads_high_hides_the_run_out():
    """Reading 12 L too high it never shows residual pressure: flow is lost at 00:57, found at 01:00."""
    rules = cylinders(gauge_error_gas=1, gauge_check_s=HOUR)
    outcome = run(hospital(cylinders=rules), Missed([(0, 90 * MINUTE)], error_gas=-12 * LITRE))
    assert by_cause(outcome.unserved_s) == {Cause.RAN_EMPTY_UNSEEN: 3 * MINUTE}
