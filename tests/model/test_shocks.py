"""Shocks in a run: the same as their spells listed, nothing where they never come, what is counted in storms."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from build import (
    CYLINDER,
    DAY,
    HOUR,
    LITRE,
    MINUTE,
    START,
    UNIT_FIRST,
    FixedDraws,
    at,
    constant,
    cylinders,
    hospital,
    kind,
    resupply,
    units,
)

from o2sim.draws import Draws, shocks
from o2sim.draws.shocks import Storm
from o2sim.model.run import simulate
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import (
    Grid,
    Hospital,
    Law,
    RoadClosure,
    Scenario,
    Shock,
    ShockPatients,
    Shortfall,
    Surge,
)

ENGINES = pytest.mark.parametrize("engine", ["reference", "kernel"])
YEARLY = 365 * DAY


def run(rules: Hospital, engine: str, draws: Draws | None = None) -> Outcome:
    """Return what one engine finds, the event log included."""
    scenario = Scenario("test", "", "test.yaml", "0" * 16, {"s": rules})
    return simulate(scenario, "s", draws or Draws(9, 0), engine=engine, log=True)


def without_counts(outcome: Outcome) -> Outcome:
    """Return an outcome without what is counted of shocks."""
    return replace(outcome, shocks=0, shock_s=0, shock_short_s=(0, 0, 0))


def ward(**changes: object) -> Hospital:
    """Return a ward of 90 days with two units, a grid that fails, few cylinders and a supplier."""
    standard = {
        "horizon_s": 90 * DAY,
        "warm_up_s": 10 * DAY,
        "tolerated_gap_s": 10 * MINUTE,
        "shortfall": Shortfall(500, 300, "supply clock"),
        "patients": (kind("adults", admissions_per_day=3.0, duration_s=Law("exponential", (2.0 * DAY,))),),
        "cylinders": cylinders(fleet=12, full_at_start=12, full_gas=6_000 * LITRE),
        "resupply": resupply(DAY, 10, 12, 2 * DAY),
        "concentrators": units(2),
        "grid": Grid(up_s=Law("exponential", (1.0 * DAY,)), down_s=Law("exponential", (2.0 * HOUR,))),
    }
    return hospital(UNIT_FIRST, **(standard | changes))


@ENGINES
def test_a_shock_that_cuts_the_grid_is_its_cuts_listed(engine):
    """Beside the drawn grid, with the same log and the same figures as a record of the cuts has."""
    rules = ward(shocks=(Shock("storm", 0.1, power_s=Law("exponential", (2.0 * DAY,))),))
    cuts = [(start_s - 10 * DAY, end_s - 10 * DAY) for start_s, end_s in Draws(9, 0).listed_cuts(rules)]
    assert len(cuts) > 4
    listed = replace(rules, shocks=(), grid=replace(rules.grid, cuts=tuple(cuts), first_day=-10, days=100))
    found = run(rules, engine)
    assert found.shocks > 4
    assert found.power_out_s > 0
    assert without_counts(found) == run(listed, engine)
    assert found.log == run(listed, engine).log


@ENGINES
@pytest.mark.parametrize(("effect", "key"), [("road_s", "road_closures"), ("supplier_s", "supplier_outages")])
def test_a_shock_of_whole_days_is_its_closures_or_outages_by_date(engine, effect, key, monkeypatch):
    """Begun at midnights and days long, so that dates say the same: the same log and figures."""
    drawn = shocks.onsets_of_year
    monkeypatch.setattr(shocks, "onsets_of_year", lambda *of: np.unique(drawn(*of) // DAY * DAY))
    rules = ward(grid=None, shocks=(Shock("storm", 0.1, **{effect: constant(3 * DAY)}),))
    spells = Draws(9, 0).closures(rules) if key == "road_closures" else Draws(9, 0).outages(rules)
    dates = [
        RoadClosure(*(START + dt.timedelta(days=day) for day in (start_s // DAY - 10, end_s // DAY - 11)))
        for start_s, end_s in spells
    ]
    assert len(dates) > 4
    listed = replace(rules, shocks=(), resupply=replace(rules.resupply, **{key: tuple(dates)}))
    found, calm = run(rules, engine), run(replace(rules, shocks=()), engine)
    assert without_counts(found) == run(listed, engine) != calm
    assert found.log == run(listed, engine).log


@ENGINES
def test_a_shock_that_never_comes_changes_nothing(engine):
    """A rate of 0, a tiny rate and no shocks at all give the same run, in every figure and line."""
    none = run(ward(), engine)
    law, more = Law("exponential", (5.0 * DAY,)), ShockPatients(4.0, constant(9 * DAY))
    for rate in (0.0, 1e-9):
        rules = ward(shocks=(Shock("storm", rate, (), None, law, law, law, more),))
        assert run(rules, engine) == none
        assert run(rules, engine).log == none.log


@ENGINES
def test_patients_of_a_shock_of_no_others_leave_all_others_as_they_are(engine):
    """Those who come anyway come at the same second, with the same flow and stay; the others among them."""
    rules = ward(shocks=(Shock("storm", 0.05, patients=ShockPatients(3.0, constant(10 * DAY), DAY)),))
    plain, more = Draws(9, 0).patients(ward()), Draws(9, 0).patients(rules)
    own = [place for place, number in enumerate(more.ordinal) if number < 1 << 62]
    assert len(more) > len(own) + 20
    assert [more.arrival_s[place] for place in own] == plain.arrival_s
    assert [more.need_s[place] for place in own] == plain.need_s
    assert run(rules, engine).arrivals > run(ward(), engine).arrivals


class Stormy(FixedDraws):
    """Draws written down, with storms."""

    def __init__(self, patients, found: tuple[Storm, ...]) -> None:
        super().__init__(patients)
        self.found = found

    def storms(self, _hospital: Hospital) -> tuple[Storm, ...]:
        """Return the storms written down."""
        return self.found


def storm(from_: str, **spells: tuple[str, str]) -> Storm:
    """Return a storm from a time of day on, with spells between two."""
    found = {name: (at(start), at(end)) for name, (start, end) in spells.items()}
    return Storm(Shock("storm", 1.0, road_s=constant(1)), at(from_), 0, **found)


def test_short_hours_while_a_storm_is_on_by_hand():
    """Short from 01:00 to 05:00 for want of supply; two storms from 02:00 to 03:30, one from 04:00."""
    found = (
        storm("02:00", road=("02:00", "03:00")),
        storm("02:30", road=("02:30", "02:40"), patients=("03:00", "03:30")),
        storm("04:00", power=("04:00", "09:00")),
    )
    rules = hospital(CYLINDER, cylinders=cylinders(fleet=0), shortfall=Shortfall(500, 0, "supply clock"),
                     shocks=(found[0].shock,))  # fmt: skip
    outcome = run(rules, "reference", Stormy([(at("01:00"), 4 * HOUR)], found))
    assert (outcome.short_s, outcome.shock_short_s) == ((4 * HOUR, 0, 0), (9_000, 0, 0))
    assert (outcome.shocks, outcome.shock_s) == (3, 90 * MINUTE + 5 * HOUR)


def test_a_storm_of_the_warm_up_counts_as_far_as_it_reaches_into_the_horizon():
    """Its onset is none of the year's; its hours are, and so are the short hours in it."""
    found = (storm("20:00", road=("20:00", "30:00")), storm("32:00", road=("32:00", "33:00")))
    rules = hospital(CYLINDER, cylinders=cylinders(fleet=0), shortfall=Shortfall(500, 0, "supply clock"),
                     warm_up_s=DAY, shocks=(found[0].shock,))  # fmt: skip
    outcome = run(rules, "reference", Stormy([(at("22:00"), 20 * HOUR)], found))
    assert (outcome.shocks, outcome.shock_s) == (1, 7 * HOUR)
    assert (outcome.short_s[0], outcome.shock_short_s[0]) == (18 * HOUR, 7 * HOUR)


@ENGINES
def test_short_hours_in_storms_are_all_of_them_where_one_is_always_on(engine):
    """A storm that lasts longer than the run: all short seconds are within it."""
    always = Shock("storm", 0.5, road_s=constant(300 * DAY))
    outcome = run(ward(shocks=(always,)), engine)
    assert outcome.shock_s == outcome.horizon_s
    assert outcome.shock_short_s == outcome.short_s
    assert sum(outcome.short_s) > 0


def test_where_any_flow_serves_nobody_is_counted_short_in_storms():
    """Gaps counted as of old have no short seconds, in storms or else."""
    rules = ward(shortfall=Shortfall(), shocks=(Shock("storm", 0.5, road_s=constant(300 * DAY)),))
    outcome = run(rules, "reference")
    assert outcome.shock_short_s == outcome.short_s == (0, 0, 0)


def test_a_shock_and_a_surge_stand_beside_each_other():
    """A class may have both; the patients of either have numbers and luck of their own."""
    adults = replace(ward().patients[0], surges=(Surge(START, constant(30 * DAY), 2.0),))
    more = Shock("storm", 0.05, patients=ShockPatients(3.0, constant(10 * DAY)))
    table = Draws(9, 0).patients(ward(patients=(adults,), shocks=(more,)))
    assert len(set(table.ordinal)) == len(table.ordinal)
    assert sum(10**9 <= number < 1 << 62 for number in table.ordinal) > 50
    assert sum(number >= 1 << 62 for number in table.ordinal) > 50
