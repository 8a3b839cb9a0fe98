"""The costing: factors against printed tables, a cost study's formula, lines by hand, sums added again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from test_cost import COSTS, CYLINDERS, MIXED, YEAR

from o2sim.money import added, cheque, cost, costing
from o2sim.money.not_counted import NEVER, not_counted
from o2sim.money.payers import is_counted, is_paid
from o2sim.outcome import AtOnce
from o2sim.scenario.types.costing import OtherCost, StaffTime, Training
from o2sim.scenario.types.hospital import Costs, Equipment

RECOVERY = {"cylinders": 0.1172305, "regulators": 0.2183546, "concentrators": 0.1605064}  # 3 %: 10, 5, 7 years
STAFF = StaffTime(wage_per_year=3_600, look_s=60, connect_s=600, fetch_s=900, filter_s=600)  # 2 an hour
BUSY = replace(YEAR, cylinders_opened=300, at_once=AtOnce(cylinders=(100, 0, 3_600_000)))  # 7,200,000 cylinder-s
WATCHED = replace(CYLINDERS, gauge_check_s=7_200, change_time_s=600)
FULL = replace(
    COSTS, freight=0.1, duty=0.05, installation=0.04, cylinder_test=18, test_every_years=10, staff=STAFF,
    training=Training(40, 12), perspective="health service", price_year=2026,
    concentrator=replace(COSTS.concentrator, paid_by="donor"),
    other=(
        OtherCost("guard", yearly=600), OtherCost("shelter", once=2_500, life_years=20, paid_by="health service"),
        OtherCost("food", yearly=900, paid_by="families"), OtherCost("soap", yearly=70, paid_by="donor"),
    ),
)  # fmt: skip
PRICED = replace(MIXED, cylinders=WATCHED, costs=FULL)


def lines_of(hospital, kind=""):
    """Return the lines of a costing of the busy year by item."""
    return {each.item: each for each in costing.cost_lines(hospital, [BUSY]) if kind in ("", each.kind)}


@pytest.mark.theory
@pytest.mark.parametrize(
    ("years", "rate", "factor"),
    [(5, 0.03, 4.580), (10, 0.03, 8.530), (20, 0.03, 14.877), (5, 0.06, 4.212), (10, 0.06, 7.360), (10, 0, 10)],
)
def test_annuity_factors_against_the_printed_table(years, rate, factor):
    """Annuity factors to the three digits printed in textbooks of health economics (from memory)."""
    assert costing.annuity_factor(years, rate) == pytest.approx(factor, abs=5e-4)
    assert cost.equivalent_annual_cost(1.0, years, rate) == pytest.approx(1 / factor, rel=2e-4)


@pytest.mark.theory
def test_equivalent_annual_cost_against_the_formula_of_a_textbook():
    """E = (K - S / (1 + r)^n) / A(n, r), Drummond and others, Methods for the Economic Evaluation of Health Care
    Programmes; K 10,000, S 1,000, 10 years at 6 %: discount factor 0.5584, A 7.3601 of the tables (from memory).
    """
    by_hand = (10_000 - 1_000 * 0.5584) / 7.3601
    assert cost.equivalent_annual_cost(10_000, 10, 0.06, salvage=1_000) == pytest.approx(by_hand, rel=1e-5)


@pytest.mark.theory
def test_present_values_against_the_printed_table():
    """1 in ten years at 3 % is 0.744, in five at 6 % 0.747 (tables, from memory); at a beginning a year less."""
    assert costing.present_value([], [0] * 9 + [1], 0.03) == pytest.approx(0.744, abs=5e-4)
    assert costing.present_value([0] * 5 + [1], [], 0.06) == pytest.approx(0.747, abs=5e-4)
    assert costing.present_value([1], [], 0.06) == 1
    with pytest.raises(ValueError, match="negative"):
        costing.annuity_factor(5, -0.01)


@pytest.mark.theory
@pytest.mark.parametrize("rate", [0.0, 0.03, 0.06])
def test_cash_with_replacements_is_worth_the_annuities(rate):
    """Over 70 years, a multiple of all lives: purchases, replacements and what is left at the end, discounted, are
    worth the annuity times the annuity factor.
    """
    own = replace(FULL.concentrator, paid_by="own")
    hospital = costing.at_rate(replace(PRICED, costs=replace(FULL, concentrator=own, other=FULL.other[:1])), rate)
    begun = [sum(each.amount for each in cheque.purchases(hospital))] + [0.0] * 69
    for again in cheque.replacements(hospital, 70):
        begun[again["year"] - 1] += again["amount"]
    left = sum(each.count * each.salvage for each in cheque.purchases(hospital))
    worth = costing.present_value(begun, [0] * 69 + [-left], rate)
    assert worth == pytest.approx(costing.capital_a_year(hospital) * costing.annuity_factor(70, rate), rel=1e-9)


def test_what_comes_on_top_of_prices_by_hand():
    """10 % freight, 5 % duty, 4 % installation for the life of each thing, 12 persons at 40 for two years."""
    found = {name: line.economic for name, line in lines_of(PRICED, "capital").items()}
    worth = {"cylinders": 40 * 150, "regulators": 12 * 50, "concentrators": 5 * 648}
    for name, price in worth.items():
        for what, share in (("freight", 0.1), ("duty", 0.05), ("installation", 0.04)):
            assert found[f"{what}: {name}"] == pytest.approx(share * price * RECOVERY[name], rel=1e-6)
    assert found["training"] == pytest.approx(480 * 0.5226108, rel=1e-6)  # 0.03 / (1 - 1.03^-2)
    assert found["other: shelter"] == pytest.approx(2_500 * 0.0672157, rel=1e-6)
    assert lines_of(PRICED)["cylinder tests"].economic == 40 * 18 / 10


def test_what_is_made_at_home_pays_no_freight_and_an_own_installation_goes_before_the_share():
    """Regulators that are not imported have no freight and duty; at 3 each to install it is 36 and not 4 %."""
    home = Equipment(price=50, life_years=5, imported=False, installation=3)
    found = lines_of(replace(PRICED, costs=replace(FULL, regulator=home)))
    assert {"freight: regulators", "duty: regulators"} & set(found) == set()
    assert found["installation: regulators"].cash == (36, 0, 0, 0, 0)


def test_hours_of_staff_by_hand():
    """300 changes of 10 min and ways of 15, 1,000 looks of 1 min, 780 connected in 10 min, 5 filters a week."""
    assert added.staff_hours(PRICED, FULL, BUSY) == pytest.approx({
        "changing cylinders": 50, "fetching cylinders": 75, "looking at gauges": 1_000 / 60,
        "connecting patients": 130, "cleaning filters": 5 * 365 / 7 / 6,
    })  # fmt: skip
    hours = 50 + 75 + 1_000 / 60 + 130 + 5 * 365 / 7 / 6
    assert cost.annual_cost(PRICED, BUSY)["staff"] == pytest.approx(2 * hours)


def test_posts_in_place_of_tasks():
    """Half a post of 3,600 a year costs 1,800, however long the horizon was."""
    posts = replace(PRICED, costs=replace(FULL, staff=StaffTime(wage_per_year=3_600, posts=0.5)))
    assert cost.annual_cost(posts, BUSY)["staff"] == pytest.approx(1_800)
    assert cost.annual_cost(posts, replace(BUSY, horizon_s=BUSY.horizon_s // 5))["staff"] == pytest.approx(1_800)
    assert costing.hours_by_task(posts, [BUSY]) == pytest.approx({"posts": 900})


def test_gifts_count_at_their_worth_and_leave_no_purse():
    """Five given units cost their annuity and no cash; given soap counts 70 a year, and is in no bill."""
    found, plain = lines_of(PRICED), replace(PRICED, costs=replace(FULL, concentrator=COSTS.concentrator))
    assert found["concentrators"].economic == pytest.approx(5 * 648 * RECOVERY["concentrators"], rel=1e-6)
    assert found["concentrators"].cash == found["other: soap"].cash == (0, 0, 0, 0, 0)
    assert cost.annual_cost(PRICED, BUSY) == cost.annual_cost(plain, BUSY)
    assert cheque.capital(plain) - cheque.capital(PRICED) == pytest.approx(5 * 648 * 1.19)
    assert found["concentrator service"].cash[0] == 300  # the hospital's own


def test_cash_by_year_by_hand():
    """Training again as years 3 and 5 begin; a first filling of 35 at 20; the bill is for what was delivered."""
    found = lines_of(PRICED)
    assert found["training"].cash == (480, 0, 480, 0, 480)
    assert found["first filling of the cylinders"].cash == (700, 0, 0, 0, 0)
    assert found["refill"].economic == 6_080
    assert found["refill"].cash == (6_000,) * 5
    assert found["stock change"].cash == (0,) * 5
    assert found["other: shelter"].cash == (2_500, 0, 0, 0, 0)


@pytest.mark.parametrize("perspective", ["hospital", "health service", "society"])
def test_lines_add_up_to_the_yearly_cost_and_to_the_cheque(perspective):
    """From each perspective: economic lines are the yearly cost, cash the cheque's purchases and recurrent."""
    hospital = replace(PRICED, costs=replace(FULL, perspective=perspective))
    every, capital = lines_of(hospital).values(), lines_of(hospital, "capital").values()
    assert sum(each.economic for each in every) == pytest.approx(sum(cost.annual_cost(hospital, BUSY).values()))
    assert sum(each.cash[0] for each in capital) == pytest.approx(cheque.capital(hospital))
    ran = sum(each.cash[0] for each in every) - cheque.capital(hospital)
    assert ran == pytest.approx(cheque.recurrent(hospital, BUSY))


def test_whose_costs_are_counted():
    """The hospital leaves out the service and families, the service families, society nobody; gifts are unpaid."""
    who, costs = ("own", "health service", "donor", "families"), {}
    for perspective in ("hospital", "health service", "society"):
        costs = replace(FULL, perspective=perspective)
        counted, paid = [w for w in who if is_counted(costs, w)], [w for w in who if is_paid(costs, w)]
        assert (counted, paid) == {
            "hospital": (["own", "donor"], ["own"]),
            "health service": (["own", "health service", "donor"], ["own", "health service"]),
            "society": (["own", "health service", "donor", "families"], ["own", "health service", "families"]),
        }[perspective]


def test_what_others_pay_is_left_out_and_named():
    """For the hospital the shelter and the food are others': 2,500 over 20 years, and 900 a year."""
    hospital = replace(PRICED, costs=replace(FULL, perspective="hospital"))
    found = {each.item: (each.paid_by, each.amount) for each in costing.left_out(hospital, [BUSY])}
    assert found == {
        "other: shelter": ("health service", pytest.approx(2_500 * 0.0672157, rel=1e-6)),
        "other: food": ("families", 900),
    }


def test_staff_whom_others_pay_are_left_out_of_the_hospitals_cost():
    """Paid by the health service, the hours are in no cost of the hospital, and named with their worth."""
    costs = replace(FULL, perspective="hospital", staff=replace(STAFF, paid_by="health service"))
    hospital = replace(PRICED, costs=costs)
    left = {each.item: each.amount for each in costing.left_out(hospital, [BUSY])}
    assert "staff" not in cost.annual_cost(hospital, BUSY)
    assert left["staff"] == pytest.approx(cost.annual_cost(PRICED, BUSY)["staff"])


def test_to_society_duty_is_passed_on_and_no_cost():
    """Duty leaves the purse and is in no economic cost of society: a transfer (Drummond and others)."""
    found = lines_of(replace(PRICED, costs=replace(FULL, perspective="society")))
    assert found["duty: cylinders"].economic == 0
    assert found["duty: cylinders"].cash[0] == pytest.approx(40 * 150 * 0.05)


def test_without_the_new_keys_nothing_is_added():
    """Items and amounts are those of the prices alone; the same with every new key at what stands for none."""
    none = replace(
        COSTS, freight=0.0, duty=0.0, installation=0.0, perspective="hospital", price_year=2026, test_every_years=5
    )
    assert cost.annual_cost(replace(MIXED, costs=none), YEAR) == cost.annual_cost(MIXED, YEAR)
    assert list(cost.lines(MIXED)) == list(cost.owned(MIXED))
    assert cheque.recurrent(replace(MIXED, costs=none), YEAR) == cheque.recurrent(MIXED, YEAR)


def test_what_is_not_counted_is_named():
    """Prices alone leave out staff, freight and the like; with every key nothing but what no key can say."""
    rent_apart = replace(MIXED, costs=replace(COSTS, cylinder_rent_per_year=0))
    assert not_counted(rent_apart) == (
        "time of staff", "freight", "duty", "installation", "cylinder tests", "training", *NEVER,
    )  # fmt: skip
    assert not_counted(PRICED) == NEVER
    assert not_counted(replace(MIXED, costs=None)) == ()


def test_what_has_no_price_is_named():
    """With no price at all each thing there is named once; tasks of staff that have no time are as well."""
    bare = not_counted(replace(MIXED, costs=Costs("crowns")))
    assert bare[:4] == (
        "price of cylinders",
        "price of regulators",
        "price of concentrators",
        "concentrator service",
    )
    assert {"refills", "repairs", "electricity", "consumables"} < set(bare)
    some = not_counted(replace(PRICED, costs=replace(FULL, staff=StaffTime(wage_per_year=3_600))))
    assert some == (
        "time to look at gauges", "time to fetch cylinders", "time to connect patients", "time to clean filters",
        *NEVER,
    )  # fmt: skip
