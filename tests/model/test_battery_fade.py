"""A battery that fades with its years and its full cycles: closed forms in both engines, and traces by hand."""

from dataclasses import replace
from typing import Any

import pytest
from build import DAY, HOUR, UNIT, FixedDraws, constant, hospital, kind, steps, units
from build import run as play

from o2sim.draws import Draws
from o2sim.errors import InvariantError
from o2sim.model import power
from o2sim.model.run import ENGINES, simulate
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.battery import YEAR_S, at_heat, faded_ws
from o2sim.scenario.types.hospital import (
    Battery,
    Fade,
    Generator,
    Grid,
    Hospital,
    Power,
    Recorded,
    Scenario,
    Solar,
    Window,
)

KWH = 3_600_000
LEAD_ACID = Fade(per_cycle=0.0004)  # 1,000 cycles at half depth, that is 500 full ones, to 80 %
both_engines = pytest.mark.parametrize("engine", ENGINES)


def ward(battery: Battery, up_h: int, down_h: int, watts: float, days: int = 1, **changes: Any) -> Hospital:
    """Return one unit that serves one patient throughout, on a grid that is up and down for so long in turn."""
    always = Recorded("replay", 0, days, (0,), (1_000,), (days * DAY,))
    return hospital(
        UNIT,
        patients=(replace(kind(), recorded=always),),
        concentrators=replace(units(), power_w=watts),
        grid=Grid(constant(up_h * HOUR), constant(down_h * HOUR)),
        power=Power(battery=battery, **changes),
        horizon_s=days * DAY,
    )


def run(rules: Hospital, engine: str = "reference") -> Outcome:
    """Return the outcome with its log in an engine."""
    scenario = Scenario("test", "", "test.yaml", "0" * 16, {"s": rules})
    return simulate(scenario, "s", Draws(1, 0), engine=engine, log=True)


def usable_kwh(outcome: Outcome, day: int) -> float:
    """Return what the battery gives from full to empty after the midnight at which a day is over."""
    found = [entry.other for entry in outcome.log if entry.step == "battery fades" and entry.time_s <= day * DAY]
    return found[-1] / KWH


@both_engines
@pytest.mark.parametrize(("per_year", "day", "kwh"), [(0.0, 365, 2.562), (0.0, 500, 2.4), (0.03, 365, 2.472)])
def test_fade_by_cycles_and_years_against_the_linear_form(
    engine: str, per_year: float, day: int, kwh: float
) -> None:
    """3 kWh that give 3 kWh a day, 0.04 % a cycle and 3 % a year: losses add up (common practice)."""
    battery = Battery(3 * KWH, 2_000, fade=replace(LEAD_ACID, per_year=per_year))
    outcome = run(ward(battery, 6, 6, 250.0, day + 1), engine)  # 6 h off at 250 W, twice a day: a full cycle
    assert usable_kwh(outcome, day) == pytest.approx(kwh, abs=1 / KWH)
    assert outcome.battery_usable_ws == round(kwh * KWH)
    assert outcome.battery_new_ws == 3 * KWH


@both_engines
@pytest.mark.parametrize(
    ("battery", "hours"),
    [
        (Battery(3 * KWH, 500, inverter_permille=900), 7.714),
        (Battery(3 * KWH, 500, inverter_permille=900, age_s=2 * YEAR_S, fade=Fade(per_year=0.1)), 6.171),
        (
            Battery(3 * KWH, 500, inverter_permille=900, age_s=3 * YEAR_S, fade=Fade(per_year=at_heat(0.03, 33))),
            6.326,
        ),
        (Battery(2_700 * 3_600, 500), 7.714),  # the same at the inverter
    ],
)
def test_hours_of_one_unit_against_energy_over_power(engine: str, battery: Battery, hours: float) -> None:
    """350 W for 3 kWh x 0.9 / 350 W hours; at 80 % of new; after three years at 33 degC, where ageing doubles."""
    outcome = run(ward(battery, 1, 100, 350.0), engine)
    (empty,) = (entry.time_s for entry in outcome.log if entry.step == "battery empty")
    assert (empty - HOUR) / HOUR == pytest.approx(hours, abs=5e-4)
    assert outcome.unserved_s[Cause.NO_POWER] == DAY - empty


def test_a_battery_never_falls_below_half() -> None:
    """Whole W x s, half rounded up; a year at the heat of 41 degC counts as four."""
    assert faded_ws(101, Fade(0.05, 0.5), 100 * YEAR_S, 10_000) == 51
    assert at_heat(0.03, 41) == pytest.approx(0.12)
    assert at_heat(0.03, 25) == 0.03


@both_engines
def test_what_no_longer_has_room_is_cut_off_and_counted(engine: str) -> None:
    """A full battery of 1 kWh that loses 10 % of new a day: 100 Wh at each of two midnights after the first."""
    rules = ward(Battery(KWH, 100, fade=Fade(per_year=36.5)), 1_000, 1, 350.0, 3)
    outcome = run(rules, engine)
    assert steps(outcome, "battery fades") == [
        "24:00:00 battery fades: 3240000 360000000",
        "48:00:00 battery fades: 2880000 360000000",
    ]
    assert outcome.battery_faded_mws == 2 * 360_000_000
    assert run(replace(rules, warm_up_s=DAY, horizon_s=2 * DAY), engine).battery_faded_mws == 2 * 360_000_000
    assert run(replace(rules, warm_up_s=2 * DAY, horizon_s=DAY), engine).battery_faded_mws == 360_000_000


def test_a_battery_in_the_store_of_a_hospital_without_units_does_not_fade() -> None:
    """Without concentrators there is no power chain, and nothing is said of the battery."""
    rules = replace(hospital(), power=Power(battery=Battery(KWH, 100, fade=LEAD_ACID)))
    assert rules.fading_battery is None
    assert play(rules, FixedDraws()).battery_new_ws == 0


@both_engines
def test_an_emptied_battery_serves_again_once_its_charge_is_enough_of_what_it_gives_now(engine: str) -> None:
    """62 W of sun store 473 Wh: less than half of 1 kWh, but more than half of the 900 Wh from midnight on."""
    sun = Solar(62, constant(1.0), 6 * HOUR, 18 * HOUR)
    battery = Battery(KWH, 100, reconnect_permille=500, fade=Fade(per_year=36.5))
    outcome = run(ward(battery, 1, 1_000, 350.0, 2, solar=sun), engine)
    back = [entry.time_s for entry in outcome.log if entry.step == "power from" and entry.other == 2]
    assert back[:2] == [HOUR, DAY]


@both_engines
def test_a_generator_stops_as_fading_leaves_the_battery_no_room(engine: str) -> None:
    """Called at 90 % in a cut at 20:00, it charges slowly until midnight, when 90 % is full."""
    generator = Generator(0, 0, Window(0, HOUR), start_below_permille=900)
    battery = Battery(KWH, 1, fade=Fade(per_year=36.5))
    outcome = run(ward(battery, 20, 1_000, 350.0, 2, generator=generator), engine)
    assert steps(outcome, "generator stops")[0] == "24:00:00 generator stops"


def test_energy_cut_off_unseen_breaks_the_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Opening + stored - drained - faded = level, in every replication."""
    rules = ward(Battery(KWH, 100, fade=Fade(per_year=36.5)), 1_000, 1, 350.0, 3)
    monkeypatch.setattr(power.PowerChain, "faded", property(lambda _: 0, lambda *_: None), raising=False)
    with pytest.raises(InvariantError, match="energy in the battery"):
        run(rules)
