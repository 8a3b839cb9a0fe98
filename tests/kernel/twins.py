"""Both engines on one hospital and the same draws: what differs, if anything, the first differing event first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, replace
from itertools import zip_longest
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as first_of
from hypothesis import strategies as st
from random_hospitals import BATTERIES, GENERATORS, MEANS, RECORDS_OF_CUTS, hospitals, parted
from states import NEVER, first_parted, states_where

from o2sim.draws import Draws
from o2sim.model.run import simulate
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import (
    Battery,
    Cylinders,
    DayHours,
    Grid,
    Hospital,
    Law,
    PatientClass,
    Power,
    Refuel,
    Scenario,
    Season,
    Solar,
    Staff,
    StoreAccess,
    Timed,
    Window,
)

HOUR = 3_600
LONG_S = 12 * 24 * HOUR  # the stock book looks back a week, which the days of most hospitals are too few for
LINES_BEFORE = 6  # of the log, shown with the first event that differs
LATE = Law("exponential", (5_000.0,))
UP, DOWN = (Law("exponential", (mean,)) for mean in MEANS[1:3])
SUN = Solar(1_000, Law("uniform", (0.0, 1.2)), 6 * HOUR, 18 * HOUR)
SMALL = Battery(360_000, 400, 850, None, 900)  # emptied and charged within a cut or two
SHED = (Window(18 * HOUR, 2 * HOUR, (0, 3, 4, 5)),)
MONTHS = (1.4, 0.8, *[1.0] * 10)


@st.composite
def twin_hospitals(draw: Any) -> Hospital:
    """Draw a hospital as the model's own tests do; half the time with all else that a scenario may say."""
    rules: Hospital = _by_hand(draw, draw(hospitals()))
    if draw(st.booleans()):
        return rules
    units, grid = rules.concentrators, rules.grid
    if units is not None and units.crew is not None:
        units = replace(units, travel_s=draw(st.sampled_from([None, LATE])))
    if units is not None:
        every_s = draw(st.sampled_from([units.service_every_s, 5 * HOUR, 30 * HOUR]))
        units = replace(units, service_every_s=every_s, analyser_check_s=draw(st.sampled_from([None, 2 * HOUR])))
    power = rules.power
    if units is not None and draw(st.booleans()):  # all that stands behind the grid at once
        grid = Grid(UP, draw(st.sampled_from([DOWN, LATE])))
        battery = draw(st.one_of(st.just(SMALL), BATTERIES))
        generator = replace(draw(GENERATORS), start_below_permille=draw(st.sampled_from([None, 300, 900])))
        generator = replace(generator, started_by_staff=rules.staff is not None and draw(st.booleans()))
        if draw(st.booleans()):  # so little fuel that it runs out
            little = Refuel(1_000, draw(st.sampled_from([DOWN, LATE])))
            generator = replace(generator, tank_ml=3_000, refuel=little)
        power = Power(SHED, None, False, generator, battery, draw(st.sampled_from([None, SUN])))
    if grid is not None and draw(st.booleans()):
        grid = replace(grid, **draw(st.sampled_from(RECORDS_OF_CUTS)))
    return replace(
        rules,
        horizon_s=draw(st.sampled_from([*[rules.horizon_s] * 7, LONG_S])),
        patients=tuple(_class(draw, kind) for kind in rules.patients),
        cylinders=_looks(draw, rules.cylinders) if rules.cylinders is not None else None,
        concentrators=units,
        grid=grid,
        power=replace(power, stabiliser=draw(st.booleans())) if power is not None else None,
        staff=rules.staff or draw(st.sampled_from([None, Staff(1, 1), Staff(2, 0)])),
        day_hours=draw(st.sampled_from([DayHours(), DayHours(8 * HOUR, 20 * HOUR)])),
        allocation=replace(
            rules.allocation,
            preempt=draw(st.booleans()),
            reserve=draw(st.sampled_from([0, 1, 2])),
            first_unit=draw(st.sampled_from(["lowest number", "least loaded", "most loaded"])),
        ),
    )


def _by_hand(draw: Any, rules: Hospital) -> Hospital:
    """Half the time part a hospital that may be parted into wards, and have cylinders fetched and connected."""
    cylinders = rules.cylinders
    if rules.manifold is not None or (cylinders is not None and cylinders.splitters) or draw(st.booleans()):
        return rules
    staff = draw(st.sampled_from([rules.staff, Staff(1, 1, 1), Staff(2, 1, 300)]))
    rules = replace(
        rules, staff=staff, store=draw(st.sampled_from([StoreAccess(0, 600), StoreAccess(300, 1_200)]))
    )
    if not rules.wards and not (cylinders is not None and cylinders.regulator_sets):
        rules = draw(parted(rules))
    return replace(rules, moving_s=draw(st.sampled_from([None, 60]))) if rules.wards else rules


def _class(draw: Any, kind: PatientClass) -> PatientClass:
    return replace(
        kind,
        recognised=draw(st.sampled_from([1.0, 0.7])),
        given_without_need=draw(st.sampled_from([0.0, 0.3])),
        weaned_late_s=draw(st.sampled_from([None, LATE])),
        season=draw(st.sampled_from([None, Season(peak=None, monthly=MONTHS)])),
    )


def _looks(draw: Any, cylinders: Cylinders) -> Cylinders:
    change_when = draw(st.sampled_from(["residual", "will_not_last", "timed"]))
    timed = Timed(draw(st.sampled_from([0, 600, 2 * HOUR])), draw(st.sampled_from([0.0, 0.6, 1.0])))
    return replace(
        cylinders,
        check_times_s=draw(st.sampled_from([(), (), (6 * HOUR, 14 * HOUR, 22 * HOUR)])),
        missed_by_day=draw(st.sampled_from([0.0, 0.2])),
        missed_by_night=draw(st.sampled_from([0.0, 0.6])),
        gauge_error_gas=draw(st.sampled_from([0, 200_000])),
        change_when=change_when,
        timed=timed if change_when == "timed" else None,
        left_open=draw(st.sampled_from([0.0, 0.2])),
    )


def differences(hospital: Hospital, draws: Draws, states: bool = True) -> list[str]:
    """Return what differs between the engines: the first event, then every field of the outcome.

    The first event stands with what both engines hold then, unless states are not wanted: to stop the compiled
    engine in the middle it has to be compiled once more.
    """
    scenario = Scenario("twins", "", "twins.yaml", "0" * 16, {"s": hospital})
    one, other = (simulate(scenario, "s", draws, engine, log=True) for engine in ("reference", "kernel"))
    found = _events(hospital, draws, one, other, states) if one.log != other.log else []
    for part in fields(Outcome):
        if part.name not in ("log", "daily") and getattr(one, part.name) != getattr(other, part.name):
            values = getattr(one, part.name), getattr(other, part.name)
            found.append(f"{part.name}: {values[0]} by the reference, {values[1]} by the kernel")
    if one.daily.tolist() != other.daily.tolist():
        found.append(f"daily:\n{one.daily}\nby the reference,\n{other.daily}\nby the kernel")
    if found and states and one.log == other.log:
        found.append("\n".join(first_parted(hospital, draws, NEVER)))
    return found


def _events(hospital: Hospital, draws: Draws, one: Outcome, other: Outcome, states: bool) -> list[str]:
    """Return the first event that differs, with those before it and the states of both engines."""
    for place, (entry, twin) in enumerate(zip_longest(one.log, other.log)):
        if entry != twin:
            before = [str(each) for each in one.log[max(0, place - LINES_BEFORE) : place]]
            differ = f"{entry} by the reference", f"{twin} by the kernel"
            held = states_where(hospital, draws, place) if states else []
            return ["\n".join([f"event {place} differs", *before, *differ, *held])]
    return []


def compare_drawn(
    drawn: st.SearchStrategy[Hospital],
    most: int,
    start: int,
    shows: Callable[[Hospital, Draws], Iterable[str]],
    names: Sequence[str],
) -> Counter[str]:
    """Draw hospitals in, in how many of them each of some names was shown out; both engines must agree on all."""
    seen: Counter[str] = Counter()

    @first_of(start)
    @settings(
        max_examples=most,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(rules=drawn)
    def look(rules: Hospital) -> None:
        seen["hospitals"] += 1
        draws = Draws(start, seen["hospitals"])
        assert differences(rules, draws) == [], rules
        seen.update(shows(rules, draws))

    look()
    for name in names:
        print(f"{name:50} in {seen[name]} of {seen['hospitals']} hospitals")
    return seen
