"""The bedside equipment of a scenario: what is read, what a strategy changes, warnings, headline, timeline."""

import pytest
from scenario_texts import SMALL

from o2sim.questions.compare import next_steps
from o2sim.scenario import loads, warnings
from o2sim.scenario.types.hospital import Bedside, RegulatorSet, Splitters

SETS = """\
  fleet: 4
  valve: bullnose
  regulator_sets:
    - {count: 3, flowmeter: {high: 15 L/min}, valve: bullnose}
    - {count: 2, flowmeter: {low: 0.1 L/min, high: 2 L/min}}
    - {count: 5, valve: pin-index}
  splitters: {count: 2, outlets: 4}
"""
BEDSIDE = """\
bedside:
  humidifiers: 6
  humidify_above: 3 L/min
  delivery_sets: {nasal prongs: 10, face mask: unlimited}
"""
WHOLE = (SMALL.replace("  fleet: 4\n", SETS) + BEDSIDE).replace("24 h", "24 h\n    delivery: nasal prongs")


def only(text):
    """Return the hospital of the one strategy of a text."""
    (found,) = loads(text).hospitals.values()
    return found


def test_every_key_is_read_in_internal_units():
    """Sets by range and valve, splitters, humidifiers, delivery; `regulators` is all sets together."""
    found = only(WHOLE)
    sets = (
        RegulatorSet(3, 0, 15_000, "bullnose"),
        RegulatorSet(2, 100, 2_000),
        RegulatorSet(5, valve="pin-index"),
    )
    assert (found.cylinders.regulators, found.cylinders.regulator_sets, found.cylinders.valve) == (
        10,
        sets,
        "bullnose",
    )
    assert found.cylinders.usable_sets == sets[:2]
    assert found.cylinders.splitters == Splitters(2, 4)
    assert found.bedside == Bedside(6, 3_000, (("nasal prongs", 10),))
    assert found.patients[0].delivery == "nasal prongs"


def test_without_the_keys_nothing_is_limited():
    """One kind of set for any flow, as many as cylinders; no splitters; humidifiers without end."""
    found = only(SMALL)
    assert found.cylinders.usable_sets == (RegulatorSet(4),)
    by_size = Bedside(humidify_above_ml_min=None)
    assert (found.cylinders.splitters, found.bedside, found.patients[0].delivery) == (None, by_size, None)


@pytest.mark.parametrize(
    ("size", "litres"), [("preterm", 1), ("newborn", 1), ("infant", 2), ("child", 4), ("adult", 4), (None, 4)]
)
def test_from_which_flow_on_a_patient_needs_a_humidifier_goes_by_size(size, litres):
    """WHO, Oxygen therapy for children, 2016 (from memory); a stated flow holds for all."""
    keys = "humidifiers: 2", "humidifiers: 2, humidify_above: 3 L/min"
    by_size, stated = (only(f"{SMALL}bedside: {{{each}}}\n").bedside for each in keys)
    assert (by_size.dry_above_ml_min(size), stated.dry_above_ml_min(size)) == (1_000 * litres, 3_000)
    assert Bedside().dry_above_ml_min(size) == 4_000


def test_a_strategy_changes_regulators_for_sets_and_takes_splitters_back():
    """A number stated by a strategy replaces the kinds of the scenario, and `none` its splitters."""
    change = "{sources: [cylinder], cylinders: {regulators: 7, splitters: none}}"
    found = only(WHOLE.replace("{sources: [cylinder]}", change)).cylinders
    assert (found.usable_sets, found.splitters) == ((RegulatorSet(7),), None)


DOUBTS = {
    "sets of another valve": (WHOLE, "cylinders.regulator_sets[3]: 5 sets for pin-index valves, the cylinders'"),
    "flows beyond every flowmeter": (
        WHOLE.replace("flow: 1 L/min", "flow: {uniform: {low: 10 L/min, high: 20 L/min}}"),
        "cylinders.regulator_sets: 50.0% of child need a flow outside 0 to 15 L/min",
    ),
    "humidifiers for nobody": (WHOLE, "bedside.humidifiers: no flow above 3 L/min and no nasopharyngeal catheter"),
    "delivery sets for nobody": (
        WHOLE.replace("delivery: nasal prongs", "delivery: face mask"),
        "bedside.delivery_sets.nasal prongs: no class has this delivery",
    ),
}


@pytest.mark.parametrize("name", DOUBTS)
def test_what_cannot_be_used_or_limits_nobody_is_told(name):
    """Each doubt with its place."""
    text, said = DOUBTS[name]
    assert any(said in str(problem) for problem in warnings(loads(text)))


def test_equipment_that_fits_and_limits_raises_no_doubt():
    """A catheter needs the humidifiers, prongs are in use, every set fits."""
    text = WHOLE.replace("    - {count: 5, valve: pin-index}\n", "").replace(
        "nasal prongs", "nasopharyngeal catheter"
    )
    assert not [str(each) for each in warnings(loads(text)) if "bedside" in str(each) or "regulator" in str(each)]


@pytest.mark.parametrize(
    ("by_cause", "said"),
    [
        (
            {"no regulator": {"mean": 12.0}},
            "For lack of a regulator that fits, 12 patient-hours a year under “mixed” are lost: reg",
        ),
        (
            {"no humidifier or delivery set": {"mean": 12.0}},
            "For lack of a humidifier or a delivery set, 12 patient-hours a year under “mixed” are",
        ),
        ({"no regulator": {"mean": 0.9}}, ""),
        ({"no regulator": {"mean": 9.0}, "no power": {"mean": 100.0}}, ""),
    ],
)
def test_the_remedy_is_named_where_the_hours_are_worth_telling(by_cause, said):
    """From 1 patient-hour a year and a tenth of all unserved hours on."""
    hours = max(10.0, sum(each["mean"] for each in by_cause.values()))
    item = {"unserved_hours_by_cause": by_cause, "unserved_patient_hours": {"mean": hours}}
    told = next_steps.remedies({"strategies": {"mixed": item}}, ["mixed"])
    assert said in told
    assert bool(said) == bool(told)
