"""Use is not need: some in need are not recognised, some get oxygen without need or for too long."""

import numpy as np
import pytest
from build import (
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    UNIT,
    FixedDraws,
    PatientTable,
    at,
    constant,
    cylinders,
    hospital,
    kind,
    run,
    steps,
    units,
)

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import DAILY_COLUMNS
from o2sim.scenario.types.hospital import Scenario


class Stays(FixedDraws):
    """Written-down stays (arrival, on oxygen, in need), and every valve left open."""

    def __init__(self, *rows, unrecognised=()):
        super().__init__()
        self.stays, self.unrecognised = rows, unrecognised

    def patients(self, _hospital):
        """Return the stays at 1 L/min."""
        arrival, on_oxygen, need = (list(column) for column in zip(*self.stays, strict=True))
        count = len(arrival)
        return PatientTable(
            [0] * count, list(range(count)), arrival, [1_000] * count, on_oxygen, need, self.unrecognised
        )

    def draw(self, _stream, _item, _ordinal):
        """Return a number below every chance."""
        return 0.0


def test_late_weaning_uses_gas_and_leaves_the_need_as_it_was():
    """In need for 20 min and on oxygen for 50: 20 L meet the need, 30 L do not count as delivered."""
    outcome = run(hospital(), Stays((0, 50 * MINUTE, 20 * MINUTE)))
    assert (outcome.cylinder_gas, outcome.unneeded_cylinder_gas) == (20 * LITRE, 30 * LITRE)
    assert (outcome.need_s, outcome.needed_gas) == (20 * MINUTE, 20 * LITRE)


def test_one_in_late_weaning_whose_unit_fails_goes_without_and_is_no_gap():
    """The need ends at 00:20, the unit fails at 00:30: off oxygen then, nobody unserved."""
    draws = Stays((0, 50 * MINUTE, 20 * MINUTE))
    draws.unit_failures = {0: (30 * MINUTE,)}
    outcome = run(hospital(UNIT, concentrators=units(fails=True)), draws)
    assert steps(outcome, "patient leaves") == ["00:30:00 patient leaves: 0 0"]
    assert (sum(outcome.unserved_s), outcome.unneeded_concentrator_gas) == (0, 10 * LITRE)


def test_one_without_need_takes_the_place_of_one_in_need():
    """One outlet, taken at 00:00 without need: the next, in need from 00:10, waits until 01:00."""
    outcome = run(hospital(UNIT, concentrators=units(outlets=1)), Stays((0, HOUR, 0), (600, HOUR, HOUR)))
    assert sum(outcome.unserved_s) == 50 * MINUTE
    assert outcome.need_s == HOUR


def test_one_without_need_who_finds_no_source_is_not_counted():
    """No cylinders at all: no gap, no need, no interruption."""
    outcome = run(hospital(cylinders=cylinders(fleet=0)), Stays((0, HOUR, 0)))
    assert (sum(outcome.unserved_s), sum(outcome.interruptions), outcome.need_s) == (0, 0, 0)


def test_hours_of_those_not_recognised_are_clipped_to_the_horizon():
    """From 23:00 for 3 h on the only day: one hour, in no other figure."""
    outcome = run(hospital(), Stays((0, HOUR, HOUR), unrecognised=((at("23:00"), 3 * HOUR),)))
    assert (outcome.unrecognised_s, outcome.need_s) == (HOUR, HOUR)


def test_a_cylinder_left_open_leaks_all_it_holds():
    """Taken off at 00:30 with 30 L: 30 L leaked, the cylinder empty, the next patient opens a full one."""
    rules = hospital(cylinders=cylinders(left_open=0.5))
    outcome = run(rules, Stays((0, 30 * MINUTE, 30 * MINUTE), (HOUR, 600, 600)))
    assert outcome.leaked_gas == (30 + 50) * LITRE
    assert steps(outcome, "cylinder opened")[1] == f"01:00:00 cylinder opened: 1 2 {60 * LITRE}"


@pytest.mark.parametrize(
    ("rules", "mean"),
    [
        ({}, 20 * 0.4 * 1),
        ({"recognised": 0.7}, 20 * 0.4 * 0.7 * 1),
        ({"given_without_need": 0.25}, 20 * 0.4 * 1 + 20 * 0.6 * 0.25 * 1),
        ({"weaned_late_s": constant(DAY / 2)}, 20 * 0.4 * 1.5),
    ],
)
def test_patients_on_oxygen_against_the_thinned_poisson_mean(rules, mean):
    """20 admissions a day, 40 % in need, 1 day each: the mean of M/G/infinity, thinned or prolonged.

    Source: thinning and Little's law, any queueing text (Kleinrock 1975, from memory); |z| < 4 over 40 years.
    """
    patients = (kind(admissions_per_day=20.0, hypoxaemic=0.4, duration_s=constant(DAY), **rules),)
    plenty = units(count=1, rated=10**9, outlets=10**6)
    place = hospital(UNIT, patients=patients, concentrators=plenty, warm_up_s=5 * DAY, horizon_s=100 * DAY)
    scenario = Scenario("test", "", "", "0" * 16, {"s": place})
    column = DAILY_COLUMNS.index("on_concentrator")
    means = [simulate(scenario, "s", Draws(3, k)).daily[:, column].mean() for k in range(40)]
    z = (np.mean(means) - mean) / (np.std(means, ddof=1) / 40**0.5)
    assert abs(z) < 4
