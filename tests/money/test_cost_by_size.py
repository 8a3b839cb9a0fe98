"""Money by size of cylinder: each at its own prices, one named size as cylinders that are alike."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sized_texts import SIZED

from o2sim.money.by_size import counted, shell
from o2sim.money.cheque import capital, cheque, purchases, recurrent
from o2sim.money.cost import annual_cost
from o2sim.money.not_counted import not_counted
from o2sim.money.to_buy import things
from o2sim.outcome import Outcome
from o2sim.scenario import loads
from o2sim.scenario.types.hospital import DAY_S

YEAR_S = 365 * DAY_S
LITRE = 60_000
HOSPITAL = loads(SIZED).hospitals["cylinders only"]
LARGE, SMALL = HOSPITAL.cylinders.each
USABLE = tuple(size.full_gas - size.kept_gas for size in (LARGE, SMALL))
OUTCOME = Outcome(
    replication=0,
    horizon_s=YEAR_S,
    cylinders_delivered=50,
    cylinders_emptied=41,
    deliveries=9,
    delivered_by_size=(20, 30),
    drawn_gas_by_size=(18 * USABLE[0], 25 * USABLE[1]),
    lost_by_size=(1, 2),
    refilled_gas_by_size=(0, 0),
    opening_usable_gas_by_size=(4 * USABLE[0], 3 * USABLE[1]),
    closing_usable_gas_by_size=(6 * USABLE[0], 3 * USABLE[1]),
)


def test_refills_are_at_the_price_of_each_size():
    """18 large and 25 small ones went; of the 20 large delivered two are left, of the 30 small five are unused."""
    items = annual_cost(HOSPITAL, OUTCOME)
    assert items["refill"] == 18 * 16 + 25 * 6
    assert items["stock change"] == pytest.approx((20 - 2 - 18) * 16 + (30 - 25) * 6)
    assert items["transport"] == 9 * 40


def test_missing_cylinders_cost_the_price_of_their_size():
    """One large and two small ones, where some go missing."""
    stock = HOSPITAL.cylinders
    sizes = tuple(replace(size, losses_per_day=0.01) for size in stock.sizes)
    hospital = replace(HOSPITAL, cylinders=replace(stock, sizes=sizes))
    assert annual_cost(hospital, OUTCOME)["lost cylinders"] == 1 * 240 + 2 * 90


def test_a_bill_by_gas_is_of_each_size():
    """Of what came back half of a large one, and two small ones, were in it still: not paid again."""
    hospital = replace(HOSPITAL, cylinders=replace(HOSPITAL.cylinders, billing="by gas"))
    outcome = replace(OUTCOME, refilled_gas_by_size=(LARGE.full_gas // 2, 2 * SMALL.full_gas))
    assert annual_cost(hospital, outcome)["refill"] == pytest.approx(19.5 * 16 + 28 * 6)


def test_a_size_without_prices_has_those_of_all_cylinders():
    """Price, salvage and refill; of a price of its own it brings the same tenth at its end."""
    costs, plain = HOSPITAL.costs, replace(SMALL, price=None, refill=None)
    assert (shell(costs, plain).price, shell(costs, plain).salvage) == (300, 30)
    assert (shell(costs, SMALL).price, shell(costs, SMALL).salvage) == (90, pytest.approx(9))


def test_one_named_size_costs_as_the_same_cylinders_without_a_name():
    """Every item of a year with refills, losses and a fall of the stock, and all that is bought."""
    stock, costs = HOSPITAL.cylinders, HOSPITAL.costs
    alike = replace(LARGE, name="", price=None, refill=None, losses_per_day=0.01)
    plain = replace(HOSPITAL, cylinders=alike, owned=())
    named = replace(plain, cylinders=replace(stock, **_of(alike), sizes=(replace(_size(stock), name="all"),)))
    emptied = 40
    drawn = emptied * USABLE[0]
    outcome = replace(
        OUTCOME,
        cylinders_delivered=38,
        cylinders_emptied=emptied,
        cylinders_lost=2,
        opening_usable_gas=9 * USABLE[0],
        closing_usable_gas=7 * USABLE[0],
        delivered_by_size=(38,),
        drawn_gas_by_size=(drawn,),
        lost_by_size=(2,),
        refilled_gas_by_size=(0,),
        opening_usable_gas_by_size=(9 * USABLE[0],),
        closing_usable_gas_by_size=(7 * USABLE[0],),
    )
    assert annual_cost(named, outcome) == pytest.approx(annual_cost(plain, outcome))
    assert (capital(named), recurrent(named, outcome)) == pytest.approx(
        (capital(plain), recurrent(plain, outcome))
    )
    assert costs.refill == 20


def _size(stock):
    return replace(stock.sizes[0], price=None, refill=None, losses_per_day=0.01)


def _of(alike):
    return {"fleet": alike.fleet, "full_at_start": alike.full_at_start, "losses_per_day": alike.losses_per_day}


def test_the_cost_of_two_sizes_is_the_sum_of_two_of_one_size():
    """Purchases and refills; trips are made once and stand aside."""
    whole = annual_cost(replace(HOSPITAL, owned=()), OUTCOME)
    parts = [_alone(place) for place in (0, 1)]
    for item in ("cylinders", "refill", "stock change"):
        assert whole[item] == pytest.approx(sum(part[item] for part in parts))


def _alone(place):
    """Return the cost of one of the sizes, as if it were all there is."""
    size = replace(HOSPITAL.cylinders.each[place], name="")
    costs = replace(HOSPITAL.costs, refill=size.refill, cylinder=shell(HOSPITAL.costs, size))
    hospital = replace(HOSPITAL, cylinders=replace(size, price=None, refill=None), costs=costs, owned=())
    mine = list(counted(HOSPITAL.cylinders, OUTCOME))[place]
    outcome = replace(
        OUTCOME,
        cylinders_delivered=mine.delivered,
        cylinders_emptied=round(mine.emptied),
        opening_usable_gas=OUTCOME.opening_usable_gas_by_size[place],
        closing_usable_gas=OUTCOME.closing_usable_gas_by_size[place],
    )
    return annual_cost(hospital, outcome)


def test_the_cheque_has_a_line_for_each_size():
    """Five of twelve small ones are there; the first filling is of those that are bought."""
    bought = {each.item: (each.count, each.price, each.there) for each in purchases(HOSPITAL)}
    assert bought["cylinders: large"] == (10, 240, 0)
    assert bought["cylinders: small"] == (7, 90, 5)
    lines = {each["item"]: (each["count"], each["price"]) for each in cheque(HOSPITAL, [OUTCOME])["purchases"]}
    assert lines["first filling of the cylinders: large"] == (10, 16)
    assert lines["first filling of the cylinders: small"] == (7, 6)


def test_what_is_there_is_of_its_size():
    """No large one is owned."""
    there = {each.item: each.stock.there for each in things(HOSPITAL) if each.item.startswith("cylinders")}
    assert there == {"cylinders: large": 0, "cylinders: small": 5}


def test_a_size_without_a_refill_price_is_named():
    """Neither the size nor all cylinders have one."""
    text = SIZED.replace("refill: 6 USD, ", "").replace(", refill: 20 USD", "")
    assert "refills: small" in not_counted(loads(text).hospitals["cylinders only"])
    assert "refills: large" not in not_counted(loads(text).hospitals["cylinders only"])
