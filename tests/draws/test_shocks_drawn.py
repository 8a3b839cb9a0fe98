"""The draws of shocks: onsets by calendar, lengths by onset, what a count rules out, who sees the same storms."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import pytest
from build import DAY, HOUR, UNIT_FIRST, constant, hospital, kind, resupply
from counts import counted

from o2sim.draws import Draws
from o2sim.draws.extra import _ABOVE
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import Grid, Hospital, Law, RoadClosure, Shock, ShockPatients
from o2sim.scenario.types.now import GridNow, Now
from o2sim.scenario.types.spells import merged

LONG = Law("exponential", (20.0 * DAY,))
STORM = Shock(
    "storm", 0.05, (), Law("gamma", (4.0, 0.25)), LONG, LONG, LONG, ShockPatients(3.0, LONG, 2 * DAY, ("adults",))
)
RULE = resupply(DAY, 1, 4, HOUR)
NOON = dt.datetime(2027, 7, 1, 12)


def stormy(start: dt.date = dt.date(2027, 1, 1), *shocks: Shock, **changes: object) -> Hospital:
    """Return a hospital with a road, a grid and some adults for a year, and shocks: storms unless given."""
    standard = {"horizon_s": 365 * DAY, "resupply": RULE, "patients": (kind("adults", admissions_per_day=2.0),)}
    return hospital(UNIT_FIRST, start=start, shocks=shocks or (STORM,), **(standard | changes))


@pytest.mark.parametrize("spells", ["closures", "outages", "listed_cuts"])
def test_spells_of_storms_are_in_order_and_apart(spells):
    """Storms that overlap or touch are one closed road, one outage, one cut, as engines expect."""
    every = [[tuple(each) for each in getattr(Draws(1, number), spells)(stormy())] for number in range(20)]
    assert sum(map(len, every)) > 100
    for found in every:
        assert all(start < end for start, end in found)
        assert all(before[1] < after[0] for before, after in pairwise(found))


def test_a_run_that_begins_later_meets_the_same_storms():
    """An onset and its lengths are of the calendar: from July on both runs have them, those under way too."""
    early, late = stormy(), stormy(dt.date(2027, 7, 1), horizon_s=184 * DAY)
    shift_s, under_way = 181 * DAY, 0
    for number in range(30):
        found = {each.second: each for each in Draws(1, number).storms(early)}
        for each in Draws(1, number).storms(late):
            under_way += each.onset_s < 0
            begins = {each.road[0], each.power[0], each.supplier[0], each.patients[0] - 2 * DAY}
            assert begins == {each.onset_s}
            if each.second in found:
                same = found[each.second]
                assert [each.onset_s, *each.road, *each.patients] == [
                    second - shift_s for second in (same.onset_s, *same.road, *same.patients)
                ]
            else:
                assert each.onset_s < -shift_s  # of the year before, over before January's run
        later = [each for each in found.values() if each.on[1] > shift_s]
        assert {each.second for each in later} <= {each.second for each in Draws(1, number).storms(late)}
    assert under_way > 20


def test_storms_of_the_year_before_reach_into_a_run():
    """On 1 January the road is shut as often as on any other day: a run does not begin with a calm."""
    shut = sum(Draws(2, number).closures(stormy())[0][0] < 0 for number in range(200))
    assert 90 < shut < 160  # 1 - exp(-0.05 x 20) = 63 %


def test_one_more_shock_shifts_nobody_elses_luck():
    """Storms are drawn by their name: another shock, or another order, changes none of them."""
    flood = Shock("flood", 0.02, road_s=LONG)
    alone = list(Draws(3, 0).storms(stormy()))
    for shocks in ((STORM, flood), (flood, STORM)):
        both = Draws(3, 0).storms(stormy(dt.date(2027, 1, 1), *shocks))
        assert [each for each in both if each.shock is STORM] == alone
        assert {each.shock.name for each in both} == {"storm", "flood"}


def test_patients_of_a_storm_stand_under_its_second():
    """Two runs of one calendar meet the same extra patients: their flows, stays and numbers are of the storm."""
    drawn = {"flow_ml_min": Law("uniform", (500.0, 5_000.0)), "duration_s": LONG}
    patients = (kind("adults", admissions_per_day=2.0, **drawn),)
    once = Shock("storm", 0.01, (9,), patients=ShockPatients(3.0, constant(5 * DAY), DAY))
    found = []
    for start, days in ((dt.date(2027, 1, 1), 365), (dt.date(2027, 6, 1), 200)):
        rules = stormy(start, once, horizon_s=days * DAY, patients=patients)
        for number in range(6):
            table = Draws(4, number).patients(rules)
            extra = [place for place, ordinal in enumerate(table.ordinal) if ordinal >= _ABOVE]
            begin_s = start.toordinal() * DAY
            found.append([
                (table.ordinal[at], begin_s + table.arrival_s[at], table.flow_ml_min[at], table.need_s[at])
                for at in extra
            ])  # fmt: skip
    assert found[:6] == found[6:]
    assert sum(map(len, found)) > 100


def test_every_strategy_sees_the_same_storms():
    """Also one without a road or units: an oximeter at the bed may fall silent with the power."""
    text = """
start: 2027-01-01
horizon: 365 days
patients: {adults: {admissions: 1 / day, flow: 1 L/min, duration: 2 days}}
cylinders: {content: 6800 L, fleet: 20, regulators: 5, gauge_check: 2 h}
resupply: {lead_time: 4 days}
concentrators: {count: 2, rated_flow: 5 L/min, outlets: 4, power: 350 W}
shocks: {storm: {rate: 9 / year, road: 7 days, power: 3 days, patients: {multiplier: 2, length: 5 days}}}
"""
    scenario, draws = loads(text), Draws(5, 0)
    each = list(scenario.hospitals.values())
    assert len(each) == 3
    assert draws.storms(each[0]) == draws.storms(each[1]) == draws.storms(each[2]) != ()
    assert draws.shock_records(each[0]).tolist() == draws.shock_records(each[1]).tolist()
    assert draws.patients(each[0]).ordinal == draws.patients(each[2]).ordinal
    assert draws.closures(each[1]) == draws.closures(each[0]) != []
    assert draws.listed_cuts(each[1]) == draws.listed_cuts(each[0]) != ()
    assert Draws(5, 0).listed_cut_records(each[1]).tolist() == list(draws.listed_cuts(each[1]))


def test_a_road_open_at_a_count_rules_out_the_storms_that_would_hold_it():
    """Nothing of them is left, power and patients neither; storms whose road is open again stay."""
    plain, unknown = stormy(NOON.date()), counted(stormy(), Now(NOON))
    is_open = counted(stormy(), Now(NOON, road="open"))
    gone = 0
    for number in range(40):
        before = list(Draws(6, number).storms(unknown))
        after = list(Draws(6, number).storms(is_open))
        held = [each for each in before if each.road[0] <= 0 < each.road[1]]
        assert [each for each in before if each not in held] == after
        gone += len(held)
        assert all(start > 0 or end <= 0 for start, end in Draws(6, number).closures(is_open))
    assert gone > 20
    assert [each.second for each in Draws(6, 0).storms(plain)] == [
        each.second for each in Draws(6, 0).storms(unknown)
    ]  # half a day later


def test_a_grid_up_at_a_count_rules_out_the_storms_that_would_hold_it():
    """A cut that was not there is no storm's; a grid down may be anybody's."""
    up, down = (counted(stormy(), Now(NOON, grid=GridNow(each))) for each in (True, False))
    cut = [any(a <= 0 < b for a, b in Draws(6, number).listed_cuts(down)) for number in range(40)]
    assert sum(cut) > 10
    for number in range(40):
        assert all(each.power[0] > 0 or each.power[1] <= 0 for each in Draws(6, number).storms(up))


def test_a_road_shut_at_a_count_is_shut_by_a_storm_met_at_random():
    """Where none drawn holds it and no closure is listed: for the rest of one, no storm that begins in the run."""
    rare = replace(STORM, rate_per_day=0.0001, severity=constant(0.5), road_s=constant(8 * DAY), patients=None)
    shut = counted(stormy(dt.date(2027, 1, 1), rare), Now(NOON, road="shut"))
    ends = [Draws(7, number).closures(shut)[0][1] for number in range(300)]
    assert all(Draws(7, number).closures(shut)[0][0] <= 0 for number in range(300))
    assert abs(sum(ends) / 300 - 2 * DAY) < 4 * (4 * DAY / 12**0.5) / 300**0.5  # uniform within 4 days
    assert sum(Draws(7, number).shocks_met(shut)[0] for number in range(300)) < 30
    listed = resupply(DAY, 1, 4, HOUR, road_closures=(RoadClosure(None, None, 0.001, constant(DAY)),))
    assert all(Draws(7, n).closures(replace(shut, resupply=listed))[0][1] <= DAY for n in range(20))


def test_failures_of_a_supplier_are_the_onsets_within_the_run():
    """What was paid ahead is lost at each, in order; other shocks lose nothing."""
    gone = Shock("supplier fails", 0.02, supplier_s=constant(90 * DAY), prepaid_lost=True)
    rules = stormy(dt.date(2027, 1, 1), STORM, gone)
    found = Draws(8, 0).failures_of_supplier(rules)
    assert found == sorted(found)
    assert found == [
        each.onset_s for each in Draws(8, 0).storms(rules) if each.shock is gone and each.onset_s >= 0
    ]
    assert len(found) > 2
    assert Draws(8, 0).failures_of_supplier(stormy()) == []


def test_what_storms_close_stands_beside_what_is_listed():
    """Cuts of a record and of storms, closures by date and of storms: all of them, joined where they meet."""
    days = tuple((day * DAY, (day + 1) * DAY) for day in range(0, 360, 40))
    dates = [dt.date(2027, 1, 1) + dt.timedelta(days=start_s // DAY) for start_s, _ in days]
    road = replace(RULE, road_closures=tuple(RoadClosure(each, each) for each in dates))
    rules = stormy(grid=Grid(cuts=days, first_day=0, days=365), resupply=road)
    for number in range(5):
        cuts, closed = Draws(9, number).listed_cuts(stormy()), Draws(9, number).closures(stormy())
        assert Draws(9, number).listed_cuts(rules) == merged([*cuts, *days])
        assert tuple(map(tuple, Draws(9, number).closures(rules))) == merged([*map(tuple, closed), *days])
