"""What a purse pays for orders, fuel and repairs, in whole hundredths of the currency: the prices of the costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from o2sim.scenario.types.funds import cents
from o2sim.scenario.types.hospital import Concentrators, Costs, Hospital

ML_PER_LITRE = 1_000
BY_SIZE = ("refill", "full_gas")  # of Prices


@dataclass(frozen=True)
class Prices:
    """Hundredths of the currency. trip: all ways of an order, two for own cylinders; emergencies cost more."""

    trip: int = 0
    carriage: int = 0  # each cylinder
    emergency_trip: int = 0
    emergency_cylinder: int = 0
    fuel: int = 0  # a litre
    repair: tuple[int, ...] = ()  # by unit
    refill: tuple[int, ...] = (0,)  # of a cylinder, by size
    full_gas: tuple[int, ...] = (0,)  # of one, by size, where a bill goes by the gas that was filled in; else 0

    def trip_of(self, emergency: bool) -> int:
        """Return the price of bringing an order, however many cylinders."""
        return self.trip + (self.emergency_trip if emergency else 0)

    def cylinder_of(self, size: int, emergency: bool) -> int:
        """Return the price of one cylinder of a size in an order."""
        return self.refill[size] + self.carriage + (self.emergency_cylinder if emergency else 0)

    def order(self, counts: Sequence[int], emergency: bool) -> int:
        """Return what an order of so many cylinders, by size, may cost at most."""
        each = (count * self.cylinder_of(size, emergency) for size, count in enumerate(counts))
        return self.trip_of(emergency) + sum(each)

    def least(self, count: int) -> int:
        """Return what an order of so many cylinders of the cheapest size may cost at most."""
        return self.trip_of(False) + count * min(self.cylinder_of(size, False) for size in range(len(self.refill)))

    def bill(self, counts: Sequence[int], refilled_gas: Sequence[int], emergency: bool) -> int:
        """Return what is paid for so many that came, by size.

        refilled_gas: what was in the empties that were filled, by size.
        """
        by_size = zip(self.refill, refilled_gas, self.full_gas, strict=True)
        return self.order(counts, emergency) - sum(price * gas // full for price, gas, full in by_size if full)

    def affordable(self, free: int, wanted: int, emergency: bool) -> int:
        """Return how many of the cylinders wanted an amount of money pays for, where all are of one size."""
        left, each = free - self.trip_of(emergency), self.cylinder_of(0, emergency)
        if left < 0:
            return 0
        return min(wanted, left // each) if each else wanted

    def fuel_of(self, ml: int) -> int:
        """Return the price of so much fuel, rounded up."""
        return -(-ml * self.fuel // ML_PER_LITRE)


def _repairs(units: Concentrators | None, costs: Costs) -> tuple[int, ...]:
    """Return what a repair of each unit costs: what its model says, else what the costs say."""
    rules = [group.rules for group in units.groups for _ in group.numbers] if units is not None else []
    return tuple(cents(costs.repair if each.repair_price is None else each.repair_price) for each in rules)


def prices_of(hospital: Hospital) -> Prices:
    """Return the prices that a hospital pays by its costs; all 0 without them.

    A refill of a size costs what is said there, else what the costs say.
    """
    costs, resupply, stock = hospital.costs, hospital.resupply, hospital.cylinders
    sizes = stock.each if stock is not None else ()
    if costs is None:
        return Prices(refill=(0,) * len(sizes) or (0,), full_gas=(0,) * len(sizes) or (0,))
    trips = 2 if resupply is not None and resupply.own_cylinders else 1
    by_gas = stock is not None and stock.billing == "by gas"
    return Prices(
        trip=trips * cents(costs.trip),
        carriage=cents(costs.transport_per_cylinder),
        emergency_trip=cents(costs.emergency_trip),
        emergency_cylinder=cents(costs.emergency_cylinder),
        fuel=cents(costs.fuel_per_litre),
        repair=_repairs(hospital.concentrators, costs),
        refill=tuple(cents(costs.refill if size.refill is None else size.refill) for size in sizes) or (0,),
        full_gas=tuple(size.full_gas if by_gas else 0 for size in sizes) or (0,),
    )
