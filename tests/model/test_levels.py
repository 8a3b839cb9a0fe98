"""How long how many cylinders, outlets and units are in use at once: hand-worked days, and broken counts."""

from __future__ import annotations

from typing import Any

import pytest
from build import (
    DAY,
    HOUR,
    MINUTE,
    UNIT,
    UNIT_FIRST,
    FixedDraws,
    constant,
    cylinders,
    hospital,
    run,
    units,
)

from o2sim.errors import InvariantError
from o2sim.model.levels import NOT_COUNTED, Levels
from o2sim.scenario.types.hospital import Battery, Generator, Grid, Power, Window

GRID = Grid(constant(1), constant(1))
NIGHT = Window(0, 0)


def test_cylinders_at_once_by_hand() -> None:
    """Two patients overlap by half an hour; a change of cylinder counts as use."""
    draws = FixedDraws([(0, HOUR), (30 * MINUTE, HOUR)])
    found = run(hospital(cylinders=cylinders(change_time_s=5 * MINUTE)), draws).at_once
    assert found.cylinders == found.patients_on_cylinders == (DAY - 90 * MINUTE, HOUR, 30 * MINUTE)


def test_units_at_once_by_hand() -> None:
    """Three patients, two to a unit: units are on while they serve anybody, and their hours add up."""
    draws = FixedDraws([(0, 3 * HOUR), (HOUR, HOUR), (HOUR, 4 * HOUR)])
    outcome = run(hospital(UNIT, concentrators=units(count=2, outlets=2)), draws)
    # one patient to 1 h, three to 2 h, two (one on each unit) to 3 h, one on the second unit to 5 h
    assert outcome.at_once.outlets == (DAY - 5 * HOUR, 3 * HOUR, HOUR, HOUR)
    assert outcome.at_once.units_running == (DAY - 5 * HOUR, 3 * HOUR, 2 * HOUR)
    assert outcome.unit_running_s == (3 * HOUR, 4 * HOUR)
    assert outcome.at_once.units_out == (DAY,)


def test_a_unit_out_of_order_is_counted_until_it_is_repaired() -> None:
    """It fails after an hour of running and is repaired for two; the patient is on a cylinder meanwhile."""
    draws = FixedDraws([(0, 4 * HOUR)], failures={0: (HOUR,)}, repairs={0: (2 * HOUR,)})
    rules = hospital(UNIT_FIRST, concentrators=units(fails=True), cylinders=cylinders(full_gas=10**9))
    found = run(rules, draws).at_once
    assert found.units_out == found.units_in_repair == found.cylinders == (DAY - 2 * HOUR, 2 * HOUR)
    assert found.units_running == (DAY - 2 * HOUR, 2 * HOUR)


def test_the_second_unit_waits_for_the_only_technician() -> None:
    """Both fail after an hour: two are out at first, and one of them is in repair."""
    law: dict[str, Any] = {"failures": {0: (HOUR,), 1: (HOUR,)}, "repairs": {0: (2 * HOUR,), 1: (3 * HOUR,)}}
    rules = units(count=2, outlets=1, fails=True)
    object.__setattr__(rules, "crew", 1)
    found = run(hospital(UNIT, concentrators=rules), FixedDraws([(0, 2 * HOUR), (0, 2 * HOUR)], **law)).at_once
    assert found.units_out == (DAY - 5 * HOUR, 3 * HOUR, 2 * HOUR)
    assert found.units_in_repair == (DAY - 5 * HOUR, 5 * HOUR)


@pytest.mark.parametrize("source", ["battery", "generator"])
def test_units_off_grid_are_counted_while_these_carry_them(source: str) -> None:
    """The grid is lost from 2 h to 5 h; of that time a unit serves one patient for an hour, another is idle."""
    power = Power(battery=Battery(10**8, 100))
    if source == "generator":
        power = Power(generator=Generator(0, 0, NIGHT))
    rules = hospital(UNIT, concentrators=units(count=2), grid=GRID, power=power)
    found = run(rules, FixedDraws([(HOUR, 2 * HOUR)], up=(2 * HOUR,), down=(3 * HOUR,))).at_once
    assert {"battery": found.units_on_battery, "generator": found.units_on_generator}[source] == (2 * HOUR, HOUR)
    assert found.units_running == (DAY - 2 * HOUR, 2 * HOUR)


def test_the_warm_up_counts_for_nothing_and_use_goes_on_from_it() -> None:
    """A patient of the warm-up is on a cylinder and off it an hour into the horizon."""
    rules = hospital(warm_up_s=DAY, cylinders=cylinders(full_gas=10**9))
    found = run(rules, FixedDraws([(0, DAY + HOUR)])).at_once
    assert found.cylinders == (DAY - HOUR, HOUR)


def test_a_forgotten_change_breaks_the_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Levels that miss a change are not what is in use, and the run says so."""
    monkeypatch.setattr(Levels, "change", lambda *_: None)
    with pytest.raises(InvariantError, match="what is in use at once"):
        run(hospital(UNIT), FixedDraws([(0, HOUR)]))


def test_time_by_level_must_add_up() -> None:
    """One unit runs off the grid for 10 s: every second at some level, and the sum is the unit's running time."""
    levels = Levels(1)
    levels.change((0, 0, 1, 1, NOT_COUNTED, 1, 0, 0), 0)
    levels.credit(10)
    levels.unit_running_s = [10]
    assert levels.balances(10, 10)
    assert not levels.balances(9, 10)
    assert not levels.balances(10, 9)
    levels.unit_running_s = [9]
    assert not levels.balances(10, 10)
    levels.unit_running_s, levels.covered_s = [10], 11
    assert not levels.balances(10, 10)
