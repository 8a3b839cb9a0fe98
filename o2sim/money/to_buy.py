"""What there is to be under a strategy, what of it is there already, and what is left to buy, line by line.

Cheque, list of equipment and options all read this, so their numbers agree.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from o2sim.money import added, cost, listed
from o2sim.money.added import item_of
from o2sim.money.payers import is_paid
from o2sim.money.yard import Stock, first_due, stock
from o2sim.scenario.types.hospital import Costs, Equipment, Hospital

UNKNOWN_LIFE = 1_000.0  # years
NO_PRICES = Costs(currency="")
_NOT_THINGS = (cost.CYLINDER_RENT, cost.SERVICE, *cost.LISTED)


@dataclass(frozen=True)
class Thing:
    """A line: how many there are to be, and what of that is there, due and to be bought.

    each: what one costs; None where no price is known. life_years: None where not known. yearly: used up and
    bought each year. rented: paid by rent. given: paid by others than those whose purse is counted.
    """

    item: str
    count: int
    stock: Stock
    each: Equipment | None
    life_years: float | None = None
    yearly: bool = False
    rented: bool = False
    given: bool = False

    @property
    def amount(self) -> float | None:
        """Return the money to buy what is wanting, less what is due brings; 0 for a gift, None without a price."""
        if self.each is None or self.given:
            return None if self.each is None else 0.0
        return self.stock.bought * self.each.price - self.stock.due * self.each.salvage

    @property
    def next_due(self) -> int | None:
        """Return the year in which the first of those kept is replaced; None without one, or a known life."""
        if self.life_years is None or not self.stock.kept:
            return None
        return min(first_due(age, self.life_years) for age in self.stock.kept)

    @property
    def unpriced(self) -> bool:
        """Return True for what is to be bought at a price that nobody has stated."""
        return self.each is None and not self.rented and self.stock.bought > 0


def things(hospital: Hospital) -> Iterator[Thing]:
    """Yield all that there is to be, as the scenario counts it or by the rule of a line; prices or not."""
    costs = hospital.costs or NO_PRICES
    for item, count, each, _ in cost.owned(replace(hospital, costs=costs)):
        if added.item_of(item) in _NOT_THINGS or not count:
            continue
        rented = item_of(item) == cost.CYLINDERS and costs.cylinder_rent_per_year > 0 and not each.price
        life_years = None if hospital.costs is None else each.life_years
        price = each if each.price else None
        found, given = _stock(hospital, item, count, life_years), not is_paid(costs, each.paid_by)
        yield Thing(item, count, found, price, life_years, rented=rented, given=given)
    for kind, count in listed.quantities(hospital):
        price, life_years = listed.price_of(costs, kind), listed.life_of(kind)
        life_years = price.life_years if price is not None and not kind.yearly else life_years
        found = _stock(hospital, kind.item, count, life_years)
        given = price is not None and not is_paid(costs, price.paid_by)
        yield Thing(kind.item, count, found, price, life_years, kind.yearly, given=given)


def _stock(hospital: Hospital, item: str, count: int, life_years: float | None) -> Stock:
    return stock(hospital, item, count, UNKNOWN_LIFE if life_years is None else life_years)


def unpriced(hospital: Hospital) -> list[str]:
    """Return what is to be bought and has no price: in no total, here or in the cost of a year."""
    return [thing.item for thing in things(hospital) if thing.unpriced]
