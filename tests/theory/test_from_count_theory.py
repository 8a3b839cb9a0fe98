"""Runs that begin from a count against theory: what is met at a known age, and what is met at a random moment.

Of what has lasted an age a, a share S(a + t) / S(a) lasts t more; what is met at a random moment lasts t more
with chance (1 / mean) x the integral of S from t on: Cox, Renewal Theory, 1962. Where nobody waits, the number on
oxygen is a coin for each who was met and a Poisson number of those who came since: Eick, Massey & Whitt, "The
physics of the Mt/G/infinity queue", 1993. Both from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from build import DAY, HOUR, UNIT, constant, cylinders, hospital, kind, units
from counts import MIDNIGHT, counted
from running import daily, sizes, z, z_share
from scipy import integrate, special, stats

from o2sim.draws import Draws
from o2sim.draws.count_record import NEVER_BACK, WORKS
from o2sim.draws.from_count import start_of
from o2sim.model.run import simulate
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import Concentrators, Grid, Hospital, Law, Resupply, RoadClosure, Scenario
from o2sim.scenario.types.now import (
    CountedCylinders,
    GridNow,
    Now,
    OnOxygen,
    OrderUnderWay,
    RoadNow,
    UnitsNow,
)

Floats = npt.NDArray[np.float64]
pytestmark = pytest.mark.theory
RUNS = 1_500
STAY = Law("lognormal", (float(np.log(60 * HOUR)), float(np.log(2.2))))  # median 60 h
NEW_A_DAY = 2.0
SO_FAR_H = (2, 5, 30, 50, 100, 240)
AFTER_H = (24, 48, 168)
ON_THE_DAYS = [hours // 24 for hours in AFTER_H]
SIX = Now(MIDNIGHT, on_oxygen=tuple(OnOxygen(0, None, hours * HOUR) for hours in SO_FAR_H))
ROOM = Concentrators(1, 10**6, 1_000, 350.0, None, "running", None)  # for everybody


def ward(now: Now, new_a_day: float = NEW_A_DAY) -> Hospital:
    """Return a hospital in which nobody lacks anything, for eight days from a count at midnight."""
    adults = kind(admissions_per_day=new_a_day, duration_s=STAY)
    return counted(hospital(UNIT, patients=(adults,), concentrators=ROOM, horizon_s=8 * DAY), now)


def runs(rules: Hospital, count: int, seed: int, log: bool = False) -> Iterator[tuple[Draws, Outcome]]:
    """Run a hospital so many times."""
    scenario = Scenario("count", "", "count.yaml", "0" * 16, {"s": rules})
    for number in range(count):
        draws = Draws(seed, number)
        yield draws, simulate(scenario, "s", draws, log=log)


def sample(rules: Hospital, count: int, seed: int, statistic: Callable[[Outcome], object]) -> Floats:
    """Return a statistic of each of so many runs; shape (count, ...)."""
    return np.array([statistic(outcome) for _, outcome in runs(rules, count, seed)], dtype=np.float64)


def lasts(law: Law) -> Any:
    """Return the law of scipy.stats for a law, in hours."""
    a, b = law.parameters
    if law.kind == "lognormal":
        return stats.lognorm(b, scale=np.exp(a) / HOUR)
    return stats.gamma(a, scale=b / HOUR) if law.kind == "gamma" else stats.weibull_min(a, scale=b / HOUR)


def still_on(law: Law, age_h: float, after_h: float) -> float:
    """Return the chance that what has lasted an age lasts so much longer."""
    return float(lasts(law).sf(age_h + after_h) / lasts(law).sf(age_h))


def met_still_on(law: Law, after_h: float) -> float:
    """Return the chance that what is met at a random moment lasts so much longer."""
    return 1 - float(integrate.quad(lasts(law).sf, 0, after_h)[0] / lasts(law).mean())


def law_of_number(after_h: float) -> Floats:
    """Return the chances of each number of the six, and of those who came, on oxygen after so many hours."""
    chances = np.ones(1)
    for age_h in SO_FAR_H:
        stays = still_on(STAY, age_h, after_h)
        chances = np.convolve(chances, [1 - stays, stays])
    new = NEW_A_DAY / 24 * integrate.quad(lasts(STAY).sf, 0, after_h)[0]
    return np.convolve(chances, stats.poisson(new).pmf(np.arange(60)))


def test_number_on_oxygen_against_eick_massey_and_whitt_by_hand() -> None:
    """The law of the number, worked out apart: means, standard deviations, and chances of more than eight."""
    found = []
    for after_h in AFTER_H:
        chances = law_of_number(after_h)
        number = np.arange(len(chances))
        mean = float(chances @ number)
        found.append((mean, float(chances @ (number - mean) ** 2) ** 0.5, float(chances[9:].sum())))
    expected = [(6.4139, 1.7408, 0.11418), (6.5566, 2.2111, 0.18451), (6.7525, 2.5832, 0.23826)]
    assert np.round(found, 5) == pytest.approx(np.array(expected), abs=6e-5)


@sizes
def test_number_on_oxygen_against_eick_massey_and_whitt(size: int) -> None:
    """Six met after 2 to 240 h, two new a day: the number after one, two and seven days."""
    found = sample(ward(SIX), size * RUNS, 11, lambda outcome: daily(outcome, "patients")[ON_THE_DAYS])
    for place, after_h in enumerate(AFTER_H):
        chances, number = law_of_number(after_h), found[:, place]
        values = np.arange(len(chances))
        mean = float(chances @ values)
        centred = values - mean
        sd = float(chances @ centred**2) ** 0.5
        assert abs(z(number, mean, sd)) < 4
        assert abs(z((number - mean) ** 2, sd**2, float(chances @ centred**4 - sd**4) ** 0.5)) < 4
        assert abs(z_share(number > 8, float(chances[9:].sum()))) < 4


@sizes
def test_patient_hours_of_a_week_against_the_integrated_survival(size: int) -> None:
    """399.705 h of the six and 707.75 h of those who come, in the coming seven days."""
    week_h = 168.0
    of_six = sum(integrate.quad(lambda t, a=age_h: still_on(STAY, a, t), 0, week_h)[0] for age_h in SO_FAR_H)
    of_new = NEW_A_DAY / 24 * integrate.quad(lambda t: (week_h - t) * lasts(STAY).sf(t), 0, week_h)[0]
    assert (of_six, of_new) == (pytest.approx(399.705, abs=0.001), pytest.approx(707.75, abs=0.01))
    week = replace(ward(SIX), horizon_s=7 * DAY)
    found = sample(week, size * RUNS, 12, lambda outcome: outcome.need_s / HOUR)
    assert abs(z(found, of_six + of_new)) < 4
    nobody_new = replace(ward(SIX, 0.0), horizon_s=7 * DAY)
    assert abs(z(sample(nobody_new, size * RUNS, 13, lambda outcome: outcome.need_s / HOUR), of_six)) < 4


@sizes
def test_stays_of_unknown_age_against_renewal_theory(size: int) -> None:
    """Of ten met who have been on oxygen nobody knows how long, a share of 0.49957 is still on after 48 h."""
    assert met_still_on(STAY, 48) == pytest.approx(0.49957, abs=6e-6)
    ten = Now(MIDNIGHT, on_oxygen=(OnOxygen(0),) * 10)
    found = sample(ward(ten, 0.0), size * RUNS // 3, 14, lambda outcome: daily(outcome, "patients")[ON_THE_DAYS])
    for place, after_h in enumerate(AFTER_H):
        stays = met_still_on(STAY, after_h)
        assert abs(z(found[:, place], 10 * stays, (10 * stays * (1 - stays)) ** 0.5)) < 4


@sizes
def test_an_unknown_number_on_oxygen_against_the_steady_poisson_law(size: int) -> None:
    """Where nobody has counted the patients, mean and variance of their number are 6.8228 at all times."""
    mean = NEW_A_DAY / 24 * float(lasts(STAY).mean())
    assert mean == pytest.approx(6.8228, abs=6e-5)
    found = sample(
        ward(Now(MIDNIGHT)), size * RUNS, 15, lambda outcome: daily(outcome, "patients")[[0, *ON_THE_DAYS]]
    )
    assert np.abs(z(found, mean, mean**0.5)).max() < 4
    assert np.abs(z((found - mean) ** 2, mean, (mean + 2 * mean**2) ** 0.5)).max() < 4


UP, DOWN = (Law("lognormal", (float(np.log(median_h * HOUR)), float(np.log(2.5)))) for median_h in (5, 2))


def powered(now: Now, up: Law) -> Hospital:
    """Return a ward with a grid, for a day from a count."""
    grid = Grid(up, DOWN)
    return counted(hospital(UNIT, concentrators=units(), patients=(kind(),), grid=grid), now)


@sizes
def test_a_cut_of_known_age_against_its_conditional_law(size: int) -> None:
    """A cut that has lasted an hour: how likely it lasts more than 1.5, 3.0857 and 6 h in all."""
    rules = powered(Now(MIDNIGHT, grid=GridNow(False, HOUR)), constant(100 * DAY))
    out_h = sample(rules, size * RUNS, 16, lambda outcome: outcome.power_out_s / HOUR)
    for whole_h in (1.5, 3.0857, 6):
        assert abs(z_share(out_h > whole_h - 1, still_on(DOWN, 1, whole_h - 1))) < 4


@sizes
def test_a_grid_nobody_knows_of_is_as_often_up_as_in_the_long_run(size: int) -> None:
    """Up with the share of E up / (E up + E down) at the count and, being stationary, after one and six hours."""
    rules, found = powered(Now(MIDNIGHT), UP), []
    for draws, outcome in runs(rules, size * RUNS, 17, log=True):
        start = draws.start(rules)
        assert start is not None
        turns = [each.time_s for each in outcome.log if each.step in ("power lost", "power restored")]
        found.append(
            [(start["grid_up"] + sum(turn <= at_s for turn in turns)) % 2 for at_s in (0, HOUR, 6 * HOUR)]
        )
    share = lasts(UP).mean() / (lasts(UP).mean() + lasts(DOWN).mean())
    assert np.abs(z_share(np.array(found, dtype=np.float64), float(share))).max() < 4


LEAD = Law("gamma", (3.0, 1.5 * DAY))


def supplied(*on_order: OrderUnderWay, point: int = 0, level: int = 10) -> Hospital:
    """Return a hospital with 4 full and 6 empty cylinders and nobody to use them, for 60 days from a count."""
    rules = hospital(
        cylinders=cylinders(fleet=10),
        resupply=Resupply(60 * DAY, point, level, LEAD),
        horizon_s=60 * DAY,
    )
    return counted(rules, Now(MIDNIGHT, CountedCylinders(4, 6), on_order, next_review_s=0))


def rest_h(age_h: float) -> float:
    """Return the mean of what is left of a lead time after so long, from the partial moments of a gamma law."""
    shape, scale_h = LEAD.parameters[0], LEAD.parameters[1] / HOUR
    x = age_h / scale_h
    return float(shape * scale_h * special.gammaincc(shape + 1, x) / special.gammaincc(shape, x) - age_h)


def deliveries_h(rules: Hospital, count: int, seed: int) -> Floats:
    """Return the hours to each delivery of so many runs; shape (count, deliveries)."""
    found = [
        [each.time_s / HOUR for each in outcome.log if each.step == "delivery"]
        for _, outcome in runs(rules, count, seed, log=True)
    ]
    return np.array(found)


@sizes
@pytest.mark.parametrize("age_h", [0, 60, 240])
def test_an_order_on_its_way_against_the_mean_rest_of_a_gamma_law(size: int, age_h: int) -> None:
    """An order placed 0, 60 or 240 h ago: the mean time until it comes."""
    found = deliveries_h(supplied(OrderUnderWay(3, age_h * HOUR)), size * RUNS, 18)
    assert abs(z(found[:, 0], rest_h(age_h))) < 4


@sizes
def test_a_younger_order_comes_by_its_own_lead_time_but_not_before_the_older(size: int) -> None:
    """Only the older is known not to have come; the younger waits for it where it would pass."""
    old_h, young_h = 144.0, 108.0
    rules = supplied(OrderUnderWay(2, int(young_h) * HOUR), OrderUnderWay(3, int(old_h) * HOUR))
    found = deliveries_h(rules, size * RUNS, 19)
    assert (found[:, 1] >= found[:, 0]).all()
    assert abs(z(found[:, 0], rest_h(old_h))) < 4

    def neither(t: float) -> float:
        return float(1 - (1 - still_on(LEAD, old_h, t)) * lasts(LEAD).cdf(t + young_h))

    assert abs(z(found[:, 1], integrate.quad(neither, 0, 60 * 24)[0])) < 4


@sizes
def test_an_order_of_unknown_age_against_renewal_theory(size: int) -> None:
    """An order met at a random moment of its way comes within 2, 4 and 8 days as renewal theory says."""
    found = deliveries_h(supplied(OrderUnderWay(3)), size * RUNS, 20)[:, 0]
    for after_h in (48, 96, 192):
        assert abs(z_share(found > after_h, met_still_on(LEAD, after_h))) < 4


def test_an_order_of_this_second_has_the_luck_of_one_that_the_rule_would_place() -> None:
    """Placed by the count or by the rule, an order of the same second arrives at the same second."""
    by_count, by_rule = supplied(OrderUnderWay(3, 0)), supplied(point=6, level=7)
    assert deliveries_h(by_count, 50, 21).tolist() == deliveries_h(by_rule, 50, 21).tolist()


LIFE, REPAIR = Law("weibull", (2.0, 1_200.0 * HOUR)), Law("gamma", (2.0, 6.0 * DAY))
MONTH_H = 720


def served(now: UnitsNow | None, **changes: Any) -> Hospital:
    """Return a hospital of units that wear, with a patient on the first, for 30 days from a count."""
    standard: dict[str, Any] = {"failure_s": LIFE, "repair_s": constant(100 * DAY), "failure_clock": "running"}
    bank = Concentrators(
        **{"count": 1, "rated_flow_ml_min": 5_000, "outlets": 4, "power_w": 350.0} | standard | changes
    )
    patients = (kind(duration_s=constant(100 * DAY)),)
    rules = hospital(UNIT, concentrators=bank, patients=patients, horizon_s=30 * DAY)
    return counted(rules, Now(MIDNIGHT, on_oxygen=(OnOxygen(0, None, 0, "concentrator"),), units=now))


@sizes
def test_a_unit_by_its_meter_against_the_conditional_weibull_law(size: int) -> None:
    """A unit that has run for 400 h, one that is new, and one whose meter nobody read: failed within a month."""
    fails = lambda outcome: outcome.concentrator_failures > 0  # noqa: E731
    for seed, meter_h in ((22, 0), (23, 400)):
        rules = served(UnitsNow(1, (), (meter_h * HOUR,)))
        assert abs(z_share(sample(rules, size * RUNS, seed, fails), 1 - still_on(LIFE, meter_h, MONTH_H))) < 4
    found = sample(served(UnitsNow(1)), size * RUNS, 24, fails)
    assert abs(z_share(found, 1 - met_still_on(LIFE, MONTH_H))) < 4


@sizes
def test_a_repair_under_way_against_its_conditional_law(size: int) -> None:
    """A unit that has been down for 8 days, and one for nobody knows how long: still down after 5 and 15 days."""
    for seed, age_s in ((25, 8 * DAY), (26, None)):
        rules, back_h = served(UnitsNow(0, (age_s,)), repair_s=REPAIR, failure_s=constant(1_000 * DAY)), []
        for _, outcome in runs(rules, size * RUNS, seed, log=True):
            back_h.append(next((each.time_s / HOUR for each in outcome.log if each.step == "repair done"), 1e9))
        for after_h in (120, 360):
            chance = met_still_on(REPAIR, after_h) if age_s is None else still_on(REPAIR, age_s / HOUR, after_h)
            assert abs(z_share(np.array(back_h) > after_h, chance)) < 4


@sizes
def test_the_longer_a_unit_is_down_the_likelier_it_is_written_off(size: int) -> None:
    """By the rule of Bayes, one in five being never repaired: the share of those down for 20 days."""
    rules = served(UnitsNow(0, (20 * DAY,)), repair_s=REPAIR, never_repaired=0.2, failure_s=constant(1_000 * DAY))
    never = [start_of((27, number), rules).units["repair_s"][0] == NEVER_BACK for number in range(size * RUNS)]
    chance = 0.2 / (0.2 + 0.8 * lasts(REPAIR).sf(480))
    assert abs(z_share(np.array(never, dtype=np.float64), float(chance))) < 4


@sizes
def test_units_nobody_looked_at_work_as_often_as_in_the_long_run(size: int) -> None:
    """Of four units, by the calendar: life / (life + repair) work at the count and, being stationary, later."""
    rules = served(None, count=4, repair_s=REPAIR, failure_clock="calendar")
    turns = {"unit fails": -1, "repair done": 1}
    found = []
    for draws, outcome in runs(rules, size * RUNS // 2, 28, log=True):
        start = draws.start(rules)
        assert start is not None
        work = int((start.units["repair_s"] == WORKS).sum())
        found.append([
            work + sum(turns.get(each.step, 0) for each in outcome.log if each.time_s <= days * DAY)
            for days in (0, 7, 25)
        ])  # fmt: skip
    share = float(lasts(LIFE).mean() / (lasts(LIFE).mean() + lasts(REPAIR).mean()))
    assert np.abs(z(np.array(found, dtype=np.float64), 4 * share, (4 * share * (1 - share)) ** 0.5)).max() < 4


LASTING = Law("gamma", (1.96, 5 * DAY / 1.4))


def roads(road: RoadNow | None) -> Hospital:
    """Return a hospital whose road is shut on one midnight in twenty, for a week on average, and what is known."""
    rules = supplied()
    assert rules.resupply is not None
    assert rules.now is not None
    closures = (RoadClosure(None, None, 0.05, LASTING),)
    return replace(
        rules, now=replace(rules.now, road=road), resupply=replace(rules.resupply, road_closures=closures)
    )


def shut_at(rules: Hospital, time_s: int, count: int) -> Floats:
    """Return 1 for each of so many runs in which the road is shut at a second, else 0."""
    met = (Draws(31, number).closures(rules) for number in range(count))
    return np.array([any(start <= time_s < end for start, end in spells) for spells in met], dtype=np.float64)


@sizes
def test_a_road_may_be_shut_as_a_run_begins_against_the_days_before(size: int) -> None:
    """Closures begin at midnights with chance 5 %: it is open if none of those days before is still on."""
    still_open = float(np.prod([1 - 0.05 * lasts(LASTING).sf(24 * day) for day in range(200)]))
    assert abs(z_share(shut_at(roads(None), 0, size * RUNS), 1 - still_open)) < 4


@sizes
def test_an_open_road_is_shut_later_by_closures_to_come_alone(size: int) -> None:
    """Open at this midnight; ten days later it is open if none of the closures of ten days is still on."""
    assert shut_at(roads("open"), 0, 200).sum() == 0
    still_open = float(np.prod([1 - 0.05 * lasts(LASTING).sf(24 * day) for day in range(10)]))
    assert abs(z_share(shut_at(roads("open"), 10 * DAY, size * RUNS), 1 - still_open)) < 4


def test_a_road_that_is_shut_is_so_in_every_run() -> None:
    """It is shut at the count, and opens in the end."""
    assert shut_at(roads("shut"), 0, 200).all()
    assert not shut_at(roads("shut"), 59 * DAY, 200).all()
