"""What a file says of a battery that fades: its one age, its heat, what check tells of it."""

import pytest
from scenario_texts import with_values

from o2sim.planning.figures import battery_carries
from o2sim.questions.check import power_in_words
from o2sim.scenario import loads
from o2sim.scenario.changing.override import original_of
from o2sim.scenario.types.battery import YEAR_S
from o2sim.scenario.types.hospital import Fade, Hospital

TEXT = """\
patients: {adults: {admissions: 2 / day, flow: 4 L/min, duration: 60 h}}
concentrators: {count: 1, rated_flow: 5 L/min, power: 350 W}
power: {battery: {usable: 3 kWh, charge: 600 W%s}}
strategies: {a: {sources: [concentrator]}}
"""
FADE = ", fade: {per_cycle: 0.04 %, per_year: 3 %, heat: 33 degC}"


def built(more: str) -> Hospital:
    """Return the hospital with more said of its battery."""
    (found,) = loads(TEXT % more).hospitals.values()
    return found


@pytest.mark.parametrize(
    ("said", "faded_years", "owned_years"),
    [
        ("", 0, None),
        (", age: 3 years", 3, None),
        (", owned: true", 0, 0),
        (", owned: true, owned_age: 2 years", 2, 2),
        (", owned: true, age: 3 years", 3, 3),
        (", owned: true, age: 3 years, owned_age: 3 years", 3, 3),
    ],
)
def test_a_battery_has_one_age_for_fading_and_for_costs(said, faded_years, owned_years):
    """Either key says it; the other follows."""
    found = built(FADE + said)
    assert found.power.battery.age_s == faded_years * YEAR_S
    assert [each.age_years for each in found.owned] == ([] if owned_years is None else [owned_years])


def test_the_age_of_a_battery_that_never_fades_is_for_costs_alone():
    """So the hash and the results of a file with owned_age are those of before."""
    found = built(", owned: true, owned_age: 2 years")
    assert (found.power.battery.age_s, found.power.battery.fade, found.owned[0].age_years) == (0, None, 2)
    assert built(", fade: none, age: 3 years").power == built("").power


def test_a_year_at_33_degrees_counts_twice():
    """3 % a year at 25 degC; the cycles are the same at any heat."""
    assert built(FADE).power.battery.fade == Fade(0.0004, 0.06)
    assert built(FADE.replace(", heat: 33 degC", "")).power.battery.fade == Fade(0.0004, 0.03)


def test_check_says_what_an_old_battery_still_gives():
    """82 % of 3 kWh after three years at 33 degC: 6 h 20 min of one unit and not 7 h 43 min."""
    old = built(f"{FADE}, age: 3 years, peak: 2 kW")
    said = " ".join(power_in_words.sentences(old))
    assert "The battery gives 3 kWh when new through an inverter of 90 %" in said
    assert "0.04 % of new with each full cycle and 6 % of new a year at the heat around it, down to half" in said
    assert "half; 3 years old as the run begins, it then gives 2.46 kWh." in said
    assert "For the seconds in which a unit starts its inverter gives up to 2,000 W." in said
    assert battery_carries(old) == (1, pytest.approx(6.326, abs=5e-4))
    assert battery_carries(built(FADE)) == (1, pytest.approx(7.714, abs=5e-4))


def test_the_age_of_a_battery_is_a_lever():
    """What if the battery were three years old, of a file that says so and of one that leaves its age out."""
    for said in (f"{FADE}, age: 1 year", FADE):
        found = with_values(original_of(TEXT % said), {"power.battery.age": "3 years"})
        (hospital,) = found.hospitals.values()
        assert hospital.power.battery.age_s == 3 * YEAR_S
