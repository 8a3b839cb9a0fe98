"""Gathering patients on fewer units on the battery, and a generator that waits for a low battery, by hand."""

from dataclasses import replace
from typing import Any

import pytest
from build import DAY, HOUR, MINUTE, UNIT, UNIT_FIRST, FixedDraws, by_cause, constant, hospital, run, steps, units

from o2sim.draws import Draws
from o2sim.model import power
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.hospital import (
    Allocation,
    Battery,
    Generator,
    Grid,
    Hospital,
    Law,
    Power,
    Solar,
    Staff,
    Window,
)

GRID = Grid(constant(1), constant(1))  # up and down times come from the fixed draws
APART = Allocation(first_unit="least loaded")
NIGHT = Window(20 * HOUR, 6 * HOUR)
FUEL_ML = 3_600_000  # in the unit of fuel


def clinic(count: int = 2, hours: float = 2.0, gather: bool = True, **changes: Any) -> Hospital:
    """Return units of 350 W, 5 L/min and 4 outlets behind a battery that carries one of them for some hours."""
    inverter_w = changes.pop("inverter_w", None)
    battery = Battery(round(hours * 350 * HOUR), 350, inverter_w=inverter_w, gather=gather)
    standard: dict[str, Any] = {"concentrators": units(count), "grid": GRID, "power": Power(battery=battery)}
    return hospital(UNIT, **standard | {"allocation": APART} | changes)


def play(rules: Hospital, patients: Any, up: Any = (HOUR,), down: Any = (10 * HOUR,)) -> Outcome:
    """Run a hospital through a cut from 01:00 to 11:00 unless other times are given."""
    return run(rules, FixedDraws(patients=patients, up=up, down=down))


def moves(outcome: Outcome) -> list[tuple[int, int, int]]:
    """Return (hour, patient, unit) of everybody connected to a unit after 00:00."""
    found = [entry for entry in outcome.log if entry.step == "on concentrator" and entry.time_s > 0]
    return [(entry.time_s // HOUR, entry.item, entry.other) for entry in found]


@pytest.mark.parametrize(("gather", "empty_at"), [(False, "02:00:00"), (True, "03:00:00")])
def test_two_half_empty_units_gathered_on_one_make_the_battery_last_twice_as_long(
    gather: bool, empty_at: str
) -> None:
    """700 Wh are one hour of two units or two of one: from the cut at 01:00 until 02:00, or until 03:00."""
    outcome = play(clinic(gather=gather), [(0, DAY, 2_000), (0, DAY, 2_000)])
    assert steps(outcome, "battery empty") == [f"{empty_at} battery empty"]
    assert steps(outcome, "unit emptied") == (["01:00:00 unit emptied: 1 1"] if gather else [])
    without_h = 2 * (8 if gather else 9)
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: without_h * HOUR}


def test_gathering_is_by_plan_and_without_a_gap() -> None:
    """Whatever the response time and however few the staff, nobody goes without while the battery lasts."""
    rules = clinic(response_time_s=HOUR, staff=Staff(1, 1), hours=20)
    outcome = play(rules, [(0, DAY, 2_000), (0, DAY, 2_000)])
    assert sum(outcome.unserved_s) == 0
    assert moves(outcome) == [(1, 1, 0)]
    assert outcome.concentrator_running_s == DAY + HOUR  # the emptied unit stands still for the rest of the day


def test_what_does_not_fit_stays_and_is_gathered_once_it_does() -> None:
    """3 and 3 L/min need two units; when one patient of two leaves at 04:00 the rest fit on one."""
    patients = [(0, DAY, 3_000), (0, DAY, 2_000), (0, 4 * HOUR, 2_000)]
    outcome = play(clinic(hours=20), patients)
    assert steps(outcome, "unit emptied") == ["04:00:00 unit emptied: 1 1"]


def test_the_least_loaded_unit_is_emptied_the_largest_flow_first_to_the_lowest_number() -> None:
    """Loads of 3, 2 and 4 L/min: unit 1 is emptied, its patients of 0.5 and 1.5 L/min go to units 2... and 0."""
    rules = clinic(3, hours=20, allocation=Allocation(first_unit="lowest number"))
    patients = [
        (0, DAY, 3_000), (1, 30 * MINUTE, 2_000),  # unit 0
        (2, DAY, 1_500), (3, DAY, 500), (4, 30 * MINUTE, 3_000),  # unit 1
        (5, DAY, 4_000),  # unit 2
    ]  # fmt: skip
    outcome = play(rules, patients)
    assert steps(outcome, "unit emptied") == ["01:00:00 unit emptied: 1 2"]
    assert moves(outcome)[-2:] == [(1, 2, 0), (1, 3, 0)]


def test_a_unit_that_stops_leaves_its_power_to_another() -> None:
    """The inverter carries two units: with one of them emptied the third, shed at the cut, runs again at once."""
    patients = [(0, DAY, 2_000), (0, DAY, 2_500), (0, DAY, 4_500)]
    rules = clinic(3, hours=20, inverter_w=700, response_time_s=HOUR)
    assert play(replace(rules), patients).unserved_s[Cause.NO_POWER] == 0
    bare = replace(rules, power=Power(battery=replace(rules.power.battery, gather=False)))  # type: ignore[union-attr, arg-type]
    assert play(bare, patients).unserved_s[Cause.NO_POWER] == 9 * HOUR


def test_one_who_has_two_units_is_not_moved() -> None:
    """7 L/min from two units, 2 L/min beside 1: only the third unit could be emptied, and the others have room."""
    patients = [(0, DAY, 7_000), (0, DAY, 2_000)]
    rules = clinic(3, hours=40, allocation=Allocation(first_unit="least loaded", two_units=True))
    outcome = play(rules, patients)
    assert steps(outcome, "unit emptied") == ["01:00:00 unit emptied: 2 1"]
    assert sum(outcome.unserved_s) == 0


def test_on_the_generator_nobody_is_gathered() -> None:
    """It is for the battery: where a generator takes over at 01:10 a later admission gets a unit of its own."""
    late = Generator(10 * MINUTE, 10 * MINUTE, NIGHT, idle_ml_h=1_000)
    rules = clinic()
    rules = replace(rules, power=replace(rules.power, generator=late))  # type: ignore[type-var]
    outcome = play(rules, [(0, DAY, 2_000), (2 * HOUR, DAY, 2_000)])
    assert steps(outcome, "unit emptied") == []


def waiting(below: int | None, **changes: Any) -> Hospital:
    """Return one unit, a battery of 2 h charged as fast as it empties, and a generator that waits for it."""
    generator = Generator(10 * MINUTE, 10 * MINUTE, NIGHT, idle_ml_h=1_000, start_below_permille=below)
    parts: dict[str, Any] = {"generator": generator, "battery": Battery(2 * 350 * HOUR, 350)}
    return hospital(UNIT, concentrators=units(1), grid=GRID, power=Power(**parts | changes))


def test_a_generator_is_started_when_the_battery_is_low_and_stopped_when_it_is_full() -> None:
    """2 h of battery: a quarter is left after 1 h 30 min; full again 1 h 40 min after the generator runs.

    The ten minutes of its start come out of the battery as well: 20 min are left, 1 h 40 min are put back.
    """
    outcome = play(waiting(250), [(0, DAY)])
    assert steps(outcome, "battery low", "generator runs", "generator stops") == [
        "02:30:00 battery low", "02:40:00 generator runs", "04:20:00 generator stops",
        "05:50:00 battery low", "06:00:00 generator runs", "07:40:00 generator stops",
        "09:10:00 battery low", "09:20:00 generator runs", "11:00:00 generator stops",
    ]  # fmt: skip
    assert sum(outcome.unserved_s) == 0
    assert outcome.fuel_used == 3 * 100 * MINUTE * 1_000_000
    assert power.FUEL_PER_ML == FUEL_ML


def test_a_short_cut_never_starts_a_generator_that_waits() -> None:
    """An hour's cut leaves half of the battery; one a second later goes on from there, a second's charge on."""
    outcome = play(waiting(250), [(0, DAY)], up=(HOUR, 1), down=(HOUR, HOUR))
    assert steps(outcome, "battery low", "generator runs") == ["02:30:02 battery low", "02:40:02 generator runs"]


def test_a_battery_that_is_low_when_the_grid_fails_calls_at_once() -> None:
    """Charged at 1 W it is still at its quarter when the grid fails again at 02:36."""
    slow = {"battery": Battery(2 * 350 * HOUR, 1)}
    outcome = play(waiting(250, **slow), [(0, DAY)], up=(HOUR, MINUTE), down=(95 * MINUTE, 2 * HOUR))
    assert steps(outcome, "battery low", "generator runs") == ["02:30:00 battery low", "02:46:00 generator runs"]


def test_an_empty_battery_calls_where_a_late_generator_has_not_come() -> None:
    """With a threshold of zero it is called for when the battery has nothing left."""
    outcome = play(waiting(0), [(0, DAY)])
    assert steps(outcome, "battery low", "battery empty", "generator runs")[:3] == [
        "03:00:00 battery low", "03:00:00 battery empty", "03:10:00 generator runs",
    ]  # fmt: skip


LUCK = Grid(Law("exponential", (8.0 * HOUR,)), Law("exponential", (2.0 * HOUR,)))
SUN = Solar(300, Law("constant", (0.5,)), 6 * HOUR, 18 * HOUR)


@pytest.mark.no_cover
@pytest.mark.parametrize("sources", [UNIT, UNIT_FIRST])
def test_rules_that_cannot_bind_change_nothing(sources: tuple[str, ...]) -> None:
    """Bit for bit: waiting for 100 % of a battery is starting when the grid fails; one unit cannot be gathered."""
    battery = Battery(1_500 * HOUR, 300, 850, None, 900, 200)
    generator = Generator(900, 1_800, NIGHT, 0.8, constant(30 * HOUR), constant(20 * HOUR), idle_ml_h=1_000)
    chain = Power(generator=generator, battery=battery, solar=SUN)
    rules = hospital(
        sources, concentrators=units(1), grid=LUCK, power=chain, horizon_s=20 * DAY, response_time_s=300
    )
    kind = replace(rules.patients[0], admissions_per_day=6.0, duration_s=Law("exponential", (20.0 * HOUR,)))
    rules = replace(rules, patients=(kind,))
    others = (
        replace(chain, generator=replace(generator, start_below_permille=1_000)),
        replace(chain, battery=replace(battery, gather=True)),
    )
    for other in others:
        one, two = (run(replace(rules, power=each), Draws(5, 1)) for each in (chain, other))
        assert vars(one) | {"daily": 0} == vars(two) | {"daily": 0}
        assert one.generator_running_s > 0
