"""What stands behind the grid, traced by hand: shedding by plan, battery, sun, generator, fuel, who is shed."""

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
from o2sim.errors import InvariantError
from o2sim.model import power
from o2sim.model.steps.battery import solar_power_w
from o2sim.outcome import Cause, Outcome
from o2sim.scenario.types.hospital import Battery, Generator, Grid, Hospital, Law, Power, Refuel, Solar, Window

NIGHT = Window(20 * HOUR, 6 * HOUR)
GRID = Grid(constant(1), constant(1))  # up and down times come from the fixed draws
POWER_STEPS = ("power lost", "power restored", "power from", "battery empty", "generator runs", "generator stops",
               "generator does not start", "generator fails", "generator repaired", "fuel ordered",
               "fuel delivered", "fuel runs out")  # fmt: skip
FUEL_ML = 3_600_000  # in the unit of fuel


def generator(**changes: Any) -> Generator:
    """Return a generator that starts after 10 min and burns 1 L/h and 1 L/h for each kW."""
    standard: dict[str, Any] = {"start_delay_s": 600, "night_delay_s": 600, "night": NIGHT}
    return Generator(**standard | {"idle_ml_h": 1_000, "per_kw_ml_h": 1_000} | changes)


def battery(hours: float = 2.0, **changes: Any) -> Battery:
    """Return a battery without losses that carries one unit of 350 W for some hours, charged as fast."""
    return Battery(round(hours * 350 * HOUR), 350, **changes)


def chain(sources: tuple[str, ...] = UNIT, count: int = 1, **parts: Any) -> Hospital:
    """Return a hospital of some units of one outlet and 350 W with these parts of a power chain."""
    unit = units(count, outlets=1)
    return hospital(sources, concentrators=unit, grid=GRID, power=Power(**parts))


def play(rules: Hospital, up: list[int], down: list[int], patients: Any = ((0, DAY),), **more: Any) -> Outcome:
    """Run a hospital with these times of the grid and patients (arrival, stay)."""
    return run(rules, FixedDraws(patients=patients, up=up, down=down, **more))


def test_load_shedding_follows_the_clock_and_the_days() -> None:
    """START is a Friday: on Fridays and Saturdays from 22:00 to 02:00, beside a drawn cut that overlaps."""
    windows = (Window(22 * HOUR, 2 * HOUR, (4, 5)),)
    rules = replace(chain(load_shedding=windows), horizon_s=3 * DAY)
    outcome = play(rules, [23 * HOUR], [30 * MINUTE])
    assert steps(outcome, "power lost", "power restored") == [
        "22:00:00 power lost", "26:00:00 power restored", "46:00:00 power lost", "50:00:00 power restored",
    ]  # fmt: skip
    assert (outcome.power_out_s, outcome.power_cuts) == (8 * HOUR, 2)


def test_a_recorded_list_cuts_the_grid_when_it_says() -> None:
    """Recorded spells count from midnight of the start date, after the warm-up."""
    rules = replace(chain(), grid=Grid(cuts=((HOUR, 2 * HOUR), (5 * HOUR, 9 * DAY))), warm_up_s=DAY)
    outcome = play(rules, [], [], patients=[(DAY, DAY)])
    assert steps(outcome, "power lost", "power restored") == [
        "25:00:00 power lost", "26:00:00 power restored", "29:00:00 power lost",
    ]  # fmt: skip
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: 20 * HOUR}


def test_a_battery_carries_the_unit_and_is_charged_as_fast_as_it_empties() -> None:
    """Two hours' battery: 1 h used, half an hour charged, so the next cut finds it an hour and a half full."""
    outcome = play(chain(battery=battery()), [HOUR, 30 * MINUTE], [HOUR, 3 * HOUR])
    assert steps(outcome, *POWER_STEPS) == [
        "01:00:00 power lost", "01:00:00 power from: 2 0", "02:00:00 power restored", "02:00:00 power from: 0 2",
        "02:30:00 power lost", "02:30:00 power from: 2 0", "04:00:00 battery empty", "04:00:00 power from: 3 2",
        "05:30:00 power restored", "05:30:00 power from: 0 3",
    ]  # fmt: skip
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: 90 * MINUTE}
    assert (outcome.without_power_s, outcome.off_grid_running_s) == (90 * MINUTE, 150 * MINUTE)
    assert outcome.grid_charging_ws == 350 * 150 * MINUTE  # what was used is put back


def test_losses_of_charger_and_inverter_shorten_what_a_battery_gives() -> None:
    """At 50 % of the inverter 2 h last 1 h; at 50 % of the charger an hour of grid puts back half an hour."""
    rules = chain(battery=battery(2, charge_permille=500, inverter_permille=500))
    outcome = play(rules, [HOUR, HOUR], [2 * HOUR, 2 * HOUR])
    assert steps(outcome, "battery empty") == ["02:00:00 battery empty", "04:15:00 battery empty"]


def test_an_idle_unit_takes_nothing_from_the_battery() -> None:
    """A patient who comes 3 h into a cut finds a full battery of 2 h."""
    outcome = play(chain(battery=battery()), [HOUR], [10 * HOUR], patients=[(4 * HOUR, DAY)])
    assert steps(outcome, "battery empty") == ["06:00:00 battery empty"]


@pytest.mark.parametrize(("shed", "lost_patients"), [("number", [2, 3]), ("patients", [1])])
def test_what_the_inverter_cannot_carry_is_shed(shed: Any, lost_patients: list[int]) -> None:
    """800 W carry two units of 350 W; a third stops: the highest number, or the one with the fewest patients."""
    rules = chain(count=3, battery=battery(20, inverter_w=800), shed_first=shed)
    rules = replace(rules, concentrators=units(3, outlets=2))
    outcome = play(
        rules, [HOUR], [2 * HOUR], patients=[(0, DAY, 4_000), (1, DAY, 5_000), (2, DAY, 2_000), (3, DAY, 2_000)]
    )
    lost = [entry.item for entry in outcome.log if entry.step == "supply lost"]
    assert lost == lost_patients
    assert outcome.unserved_s[Cause.NO_POWER] == sum(outcome.unserved_s) == 2 * HOUR * len(lost)


def test_the_sun_charges_an_empty_battery_until_it_serves_again() -> None:
    """Empty at 01:00, the battery serves again once the sun has charged a fifth of it."""
    sun = Solar(350, constant(1.0), 0, DAY)
    assert [solar_power_w(sun, second, 1_000) for second in (0, 6 * HOUR, 12 * HOUR)] == [0, 247, 350]
    assert solar_power_w(replace(sun, sunrise_s=6 * HOUR), 5 * HOUR, 1_000) == 0
    rules = chain(battery=battery(1, reconnect_permille=200), solar=Solar(700, constant(1.0), 6 * HOUR, 18 * HOUR))
    outcome = play(replace(rules, grid=Grid(never_on=True)), [], [])
    charged_s = 6 * HOUR + -(-252_000 // 91)  # 91 W in the hour from 06:00; a fifth of 350 W x 1 h, in W s
    assert steps(outcome, "battery empty", "power from")[:4] == [
        "00:00:00 power from: 2 0",
        "01:00:00 battery empty",
        "01:00:00 power from: 3 2",
        f"{charged_s // HOUR:02}:{charged_s % HOUR // 60:02}:{charged_s % 60:02} power from: 2 3",
    ]


def test_a_generator_starts_late_burns_fuel_and_stops_with_the_grid() -> None:
    """Ten minutes in the dark, then 50 min at 1 L/h and 0.35 L/h for a unit of 350 W."""
    outcome = play(chain(generator=generator()), [HOUR], [HOUR])
    assert steps(outcome, *POWER_STEPS) == [
        "01:00:00 power lost", "01:00:00 power from: 3 0", "01:10:00 generator runs", "01:10:00 power from: 1 3",
        "02:00:00 power restored", "02:00:00 generator stops", "02:00:00 power from: 0 1",
    ]  # fmt: skip
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: 10 * MINUTE}
    assert outcome.fuel_used == outcome.fuel_for_oxygen == 1_125 * FUEL_ML
    assert outcome.generator_running_s == 50 * MINUTE


def test_a_battery_bridges_the_start_of_the_generator_which_then_charges_it() -> None:
    """Nobody is without; whatever else the generator carries burns its own fuel."""
    rules = chain(generator=generator(base_load_w=1_000), battery=battery())
    outcome = play(rules, [HOUR], [HOUR])
    assert sum(outcome.unserved_s) == outcome.grid_charging_ws == 0
    oxygen = 350 * 50 * MINUTE + 350 * 10 * MINUTE  # W s: the unit, and ten minutes put back
    assert outcome.fuel_for_oxygen == oxygen * 1_000
    assert outcome.fuel_used == 2_000_000 * 50 * MINUTE + oxygen * 1_000  # 1 L/h idle and 1 L/h for 1 kW


def test_a_generator_too_small_carries_what_it_can() -> None:
    """800 W less 100 W for others carry two units of three."""
    rules = chain(count=3, generator=generator(power_w=800, base_load_w=100))
    outcome = play(rules, [HOUR], [HOUR], patients=[(0, DAY), (1, DAY), (2, DAY)])
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: 3 * 10 * MINUTE + 50 * MINUTE}


def test_at_night_the_operator_takes_longer() -> None:
    """A cut at 21:00 is dark for the hour of the night delay."""
    outcome = play(chain(generator=generator(night_delay_s=HOUR)), [21 * HOUR], [2 * HOUR])
    assert by_cause(outcome.unserved_s) == {Cause.NO_POWER: HOUR}


def test_outside_its_hours_a_generator_does_not_run() -> None:
    """Permitted from 08:00 to 09:00: it starts ten minutes into its hour and stops at the end of it."""
    rules = chain(generator=generator(hours=(Window(8 * HOUR, 9 * HOUR),)))
    outcome = play(rules, [6 * HOUR], [4 * HOUR])
    assert steps(outcome, "generator runs", "generator stops") == [
        "08:10:00 generator runs", "09:00:00 generator stops",
    ]  # fmt: skip


def test_a_failed_start_stays_failed_until_repaired() -> None:
    """Two hours of repair leave 1 h 50 min of a cut of 4 h, and the next start fails again."""
    rules = chain(generator=generator(start_chance=0.0, repair_s=constant(2 * HOUR)))
    outcome = play(rules, [HOUR], [4 * HOUR])
    assert steps(outcome, "generator does not start", "generator repaired", "generator runs") == [
        "01:10:00 generator does not start", "03:10:00 generator repaired",
        "03:20:00 generator does not start", "05:20:00 generator repaired",
    ]  # fmt: skip
    assert (by_cause(outcome.unserved_s), outcome.generator_failures) == ({Cause.NO_POWER: 4 * HOUR}, 2)


def test_a_generator_breaks_down_after_its_running_hours() -> None:
    """A life of 1 h: 50 min in the first cut, 10 min in the second, then an hour of repair and a new start."""
    life = {"running_failure_s": constant(HOUR), "repair_s": constant(HOUR)}
    outcome = play(chain(generator=generator(**life)), [HOUR, HOUR], [HOUR, 3 * HOUR])
    assert steps(outcome, "generator runs", "generator fails", "generator repaired") == [
        "01:10:00 generator runs", "03:10:00 generator runs", "03:20:00 generator fails",
        "04:20:00 generator repaired", "04:30:00 generator runs", "05:30:00 generator fails",
        "06:30:00 generator repaired",
    ]  # fmt: skip


def test_fuel_is_ordered_runs_out_and_comes() -> None:
    """2.7 L last two hours at 1.35 L/h; ordered at 1.35 L, delivered after 3 h, the tank is filled."""
    tank = generator(tank_ml=2_700, refuel=Refuel(1_350, constant(3 * HOUR)))
    outcome = play(chain(generator=tank), [HOUR], [12 * HOUR])
    assert steps(outcome, "fuel ordered", "fuel runs out", "fuel delivered", "generator runs") == [
        "01:10:00 generator runs", "02:10:00 fuel ordered: 18600", "03:10:00 fuel runs out",
        "05:10:00 fuel delivered: 2700", "05:20:00 generator runs", "06:20:00 fuel ordered: 33600",
        "07:20:00 fuel runs out", "09:20:00 fuel delivered: 2700", "09:30:00 generator runs",
        "10:30:00 fuel ordered: 48600", "11:30:00 fuel runs out",
        "13:30:00 fuel delivered: 2700",
    ]  # fmt: skip
    assert (outcome.fuel_used, outcome.fuel_received) == (3 * 2_700 * FUEL_ML, 3 * 2_700 * FUEL_ML)


@pytest.mark.parametrize("part", ["fuel", "level"])
def test_a_planted_leak_breaks_the_balance(monkeypatch: pytest.MonkeyPatch, part: str) -> None:
    """One unit of fuel, or of energy in the battery, that vanishes is seen."""
    credit = power.PowerChain.credit

    def leaking(self: power.PowerChain, now_s: int) -> int:
        holder = self.generator if part == "fuel" else self.battery
        setattr(holder, part, getattr(holder, part) - 1)
        return credit(self, now_s)

    monkeypatch.setattr(power.PowerChain, "credit", leaking)
    with pytest.raises(InvariantError, match="energy in the battery and fuel in the tank"):
        play(chain(generator=generator(tank_ml=5_000), battery=battery()), [HOUR], [HOUR])


LUCK = Grid(Law("exponential", (8.0 * HOUR,)), Law("exponential", (2.0 * HOUR,)))


@pytest.mark.no_cover
@pytest.mark.parametrize("sources", [UNIT, UNIT_FIRST])
@pytest.mark.parametrize(
    "nothing",
    [
        {"battery": Battery(0, 600)},
        {"battery": Battery(0, 600), "solar": Solar(2_000, Law("constant", (1.0,)), 6 * HOUR, 18 * HOUR)},
        {"generator": generator(start_delay_s=10**8, night_delay_s=10**8)},
        {"generator": generator(tank_ml=0)},
        {"stabiliser": True},
    ],
    ids=["battery of zero", "panels on it", "operator never comes", "empty tank", "stabiliser"],
)
def test_what_gives_nothing_is_as_good_as_nothing(sources: tuple[str, ...], nothing: dict[str, Any]) -> None:
    """Bit for bit: patients, gaps, cylinders and power are as with the grid alone."""
    bare = replace(chain(sources, count=2), horizon_s=20 * DAY, grid=LUCK, power=None, response_time_s=300)
    kind = replace(bare.patients[0], admissions_per_day=6.0, duration_s=Law("exponential", (20.0 * HOUR,)))
    bare = replace(bare, patients=(kind,))
    for replication in range(3):
        luck = Draws(5, replication)
        one, other = run(bare, luck), run(replace(bare, power=Power(**nothing)), luck)
        assert [vars(entry) for entry in one.log] == [
            vars(entry) for entry in other.log if not entry.step.startswith(("generator", "fuel", "power from"))
        ]
        ours, theirs = vars(one) | {"log": 0, "daily": 0, "events": 0}, vars(other) | {"log": 0, "daily": 0}
        assert ours == theirs | {"events": 0}
        assert (one.power_cuts, one.daily.tolist()) == (other.power_cuts, other.daily.tolist())
    assert one.power_cuts > 20
