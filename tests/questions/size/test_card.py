"""What a reorder card needs: delivery times with closed roads, use a day, when to phone; worked by hand."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from build import CYLINDER, DAY, HOUR, LITRE, UNIT_FIRST, constant, cylinders, hospital, kind, resupply, units
from test_sizing import WARD

from o2sim.outcome import DAILY_COLUMNS
from o2sim.planning.delivery_time import DeliveryTime, delivery_time
from o2sim.planning.figures import planning_figures
from o2sim.questions.size.candidate_runs import Kept, kept_of
from o2sim.questions.size.parts import card
from o2sim.questions.size.result import PhoneSeason
from o2sim.runs.study import run_replication
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import Emergency, Law, RoadClosure

MARCH = RoadClosure(dt.date(2027, 3, 1), dt.date(2027, 3, 10))  # closed for ten days, every year of draws alike
SIX_HOURS = Emergency(20, constant(6 * HOUR), below=3)


def one_patient(sources=CYLINDER, change=None, **rules):
    """Return a hospital with one patient on average, at 1 L/min, on cylinders of 720 usable litres: two a day."""
    supply = resupply(7 * DAY, 20, 40, 3 * DAY, **rules)
    return hospital(
        sources,
        **{
            "cylinders": cylinders(fleet=50, full_gas=726 * LITRE),
            "resupply": supply,
            "horizon_s": 365 * DAY,
            "patients": (kind(admissions_per_day=1.0, duration_s=constant(DAY)),),
            "concentrators": units() if sources != CYLINDER else None,
        }
        | (change or {}),
    )


@pytest.mark.parametrize(
    ("rules", "emergency", "expected"),
    [
        # Three days: those of 26, 27, 28 February wait until 11 March, 13, 12, 11 days; the second longest of 28
        # is what 19 in 20 do not exceed. In March it would be 9.
        ({"road_closures": (MARCH,)}, False, DeliveryTime(12, 3, 12 * DAY, 2)),
        # Own cylinders do not leave on the closed road either: 13, 12, 11 days, and in March 13 down to 4.
        ({"road_closures": (MARCH,), "own_cylinders": True}, False, DeliveryTime(12, 3, 12 * DAY, 2)),
        # The supplier stops from 1 to 10 March and then takes three days: 13 down to 4 days; 30 of 31 are 12.
        ({"supplier_outages": (MARCH,)}, False, DeliveryTime(12, 12, 12 * DAY, 3)),
        # Due on a Saturday: Monday, two days later. One order in seven, in the first month as in all.
        ({"no_delivery": (5, 6)}, False, DeliveryTime(5, 5, 5 * DAY, 1)),
        # Six hours, from another supplier on the same road: 10 days down to 1 in March; 30 of 31 are 9.
        (
            {
                "road_closures": (MARCH,),
                "supplier_outages": (MARCH,),
                "no_delivery": (5, 6),
                "emergency": SIX_HOURS,
            },
            True,
            DeliveryTime(9, 1, 9 * DAY, 3),
        ),
        ({"road_closures": (MARCH,)}, True, None),
        ({}, False, DeliveryTime(3, 3, 3 * DAY, None)),
        ({"emergency": SIX_HOURS}, True, DeliveryTime(1, 1, 6 * HOUR, None)),
    ],
)
def test_within_how_many_days_19_in_20_deliveries_come(rules, emergency, expected):
    """Constant lead times and spells on stated dates, followed by hand; the worst month of placing counts."""
    assert delivery_time(one_patient(**rules), emergency) == expected


def test_without_a_calendar_it_is_the_law():
    """An exponential time of 2 days on average is below 2 ln 20 = 5.99 days in 19 of 20 cases."""
    rules = one_patient()
    rules = replace(rules, resupply=replace(rules.resupply, lead_time_s=Law("exponential", (2.0 * DAY,))))
    found = delivery_time(rules)
    assert (found.days, found.open_days, found.placed_in) == (6, 6, None)
    assert found.late_s == pytest.approx(2 * DAY * math.log(20))


@pytest.mark.parametrize(("chance", "days"), [(0.45, 5), (0.65, 6)])
def test_drawn_closures_against_their_chance(chance, days):
    """One day's way, and a road that closes on 10 April with a chance, for seven days.

    Orders of 9 to 15 April then take 8 down to 2 days, each one in 30 of the month's. At 45 % 6 days or more are
    3 x 1.5 = 4.5 %, 5 or more 6 %; at 65 % 7 or more are 2 x 2.17 = 4.3 %, 6 or more 6.5 %.
    """
    april = RoadClosure(dt.date(2027, 4, 10), dt.date(2027, 4, 10), chance, constant(7 * DAY))
    rules = one_patient(road_closures=(april,))
    found = delivery_time(replace(rules, resupply=replace(rules.resupply, lead_time_s=constant(DAY))))
    assert found == DeliveryTime(days, 1, days * DAY, 4)


def years(*days_l):
    """Return replications of a year that used so many litres on each day, two cylinders emptied a day."""
    return [
        Kept(frozenset(), None, 365 * DAY, emptied=730, days_l=np.array(each, dtype=np.int32)) for each in days_l
    ]


def test_a_card_worked_by_hand():
    """Two a day for the twelve days of the worst month are 24; 720 L a day, two cylinders, fewer than that."""
    found = card(one_patient(road_closures=(MARCH,)), years([720] * 364))
    assert (found.usual, found.unaided, found.cautious) == (2.0, 2.0, 2.0)
    assert (found.concentrators_help, found.seasonal) == (False, False)
    assert (found.phone_days, found.most_used, found.phone_at) == (12, 12.0, 24)


ALL_BUT_FEBRUARY_AND_MARCH = (1, *range(4, 13))


def test_each_season_has_its_own_number_to_phone_at():
    """Orders of February and March take 12 and 9 days instead of 3: two a day are 24 then, else 6."""
    found = card(one_patient(road_closures=(MARCH,)), ())
    assert found.phone_by_season == (
        PhoneSeason((2, 3), 12, None, 24),
        PhoneSeason(ALL_BUT_FEBRUARY_AND_MARCH, 3, None, 6),
    )


@pytest.mark.parametrize(
    "rules",
    [
        {},
        {"no_delivery": (5, 6)},
        {"supplier_outages": (MARCH,)},
        {"road_closures": (RoadClosure(dt.date(2027, 1, 1), dt.date(2027, 12, 31)),), "emergency": SIX_HOURS},
    ],
    ids=["lead time alone", "weekends", "supplier", "closed in all months"],
)
def test_without_a_season_of_closed_roads_there_is_one_number(rules):
    """One of all twelve months, for the delivery time of the worst of them."""
    found = card(one_patient(**rules), ())
    (season,) = found.phone_by_season
    assert season.months == tuple(range(1, 13))
    assert season.days == (found.emergency_delivery or found.delivery).days
    assert season.phone_at == 2 * season.days == found.phone_at


@pytest.mark.parametrize(
    ("day", "hard", "most"),
    [
        (110, 1, (12.0, 3.0)),  # late in April, in one year of 20: no matter
        (40, 2, (77.0, 3.0)),  # in February: all five and seven plain days
        (32, 2, (77.0, 16.0)),  # on 2 February: the last of three days from 31 January on
    ],
)
def test_each_season_goes_by_the_days_that_begin_in_its_months(day, hard, most):
    """In a hard year five days on end take 10,080 L each, 14 cylinders; all others take 720 L, one cylinder."""
    flat, burst = [720] * 364, [720] * day + [10_080] * 5 + [720] * (359 - day)
    found = card(one_patient(road_closures=(MARCH,)), years(*[flat] * (20 - hard), *[burst] * hard))
    assert tuple(season.most_used for season in found.phone_by_season) == most
    assert found.phone_at == max(season.phone_at for season in found.phone_by_season)


def test_a_number_that_is_no_greater_while_the_road_may_close_is_none():
    """Three days of 14 cylinders in April are 42, more than March's 24: one number, 5 x 14 + 7 of any 12 days."""
    flat, burst = [720] * 364, [720] * 110 + [10_080] * 5 + [720] * 249
    found = card(one_patient(road_closures=(MARCH,)), years(*[flat] * 18, *[burst] * 2))
    assert found.phone_by_season == (PhoneSeason(tuple(range(1, 13)), 12, 77.0, 77),)


def test_concentrators_do_not_lengthen_the_cautious_cover():
    """Beside a unit the same two a day stand, however few the simulated years used: 2 x 12, not 0.1 x 3."""
    kept = [replace(each, emptied=36) for each in years([70] * 364)]
    found = card(one_patient(UNIT_FIRST, road_closures=(MARCH,)), kept)
    assert found.usual == pytest.approx(36 / 365)
    assert (found.concentrators_help, found.cautious, found.phone_at) == (True, 2.0, 24)


def test_an_emergency_rule_has_its_own_delivery():
    """A day's worth for a delivery of six hours; the ordinary one still takes its three days."""
    found = card(one_patient(emergency=SIX_HOURS), ())
    assert (found.delivery.days, found.emergency_delivery.days, found.phone_at) == (3, 1, 2)
    assert (found.usual, found.most_used) == (None, None)


def test_no_cylinders_no_card():
    """Nothing to order, nothing to put on a wall."""
    assert card(one_patient(change={"resupply": None}), ()) is None


@pytest.mark.parametrize("strategy", ["cylinders only", "mixed"])
def test_the_telephone_is_never_below_what_a_lead_time_used(strategy):
    """In 20 simulated runs, window by window: at most one of them used more in the time of a delivery."""
    rules = loads(WARD).hospitals[strategy]
    outcomes = [run_replication(loads(WARD), [strategy], 1, number, "kernel")[0] for number in range(20)]
    found = card(rules, [kept_of(rules, each) for each in outcomes])
    used = DAILY_COLUMNS.index("used_litres")
    usable_l = planning_figures(rules).usable_litres
    above = 0
    for outcome in outcomes:
        litres = outcome.daily[1:, used].tolist()
        windows = [sum(litres[day : day + found.phone_days]) / usable_l for day in range(len(litres))]
        above += max(windows) > found.phone_at
    assert above <= 1
    assert found.phone_at >= found.cautious * found.phone_days


def test_days_of_cover_of_check_are_the_cards():
    """The fleet over the card's cautious use, also where every fourth cylinder is unusable: 50 / (2 / 0.75)."""
    rules = one_patient(UNIT_FIRST)
    bad = replace(rules, cylinders=replace(rules.cylinders, unusable=0.25))
    assert planning_figures(rules).peak.cover_days == 50 / card(rules, ()).cautious == 25.0
    assert planning_figures(bad).peak.cover_days == 50 / card(bad, ()).cautious == pytest.approx(18.75)
