"""What a purse pays for orders, fuel and repairs, in whole hundredths of the currency: the prices of the costs."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.types.funds import cents
from o2sim.scenario.types.hospital import Hospital

ML_PER_LITRE = 1_000


@dataclass(frozen=True)
class Prices:
    """Hundredths of the currency. trip: all ways of an order, two for own cylinders; emergencies cost more."""

    trip: int = 0
    refill: int = 0
    carriage: int = 0  # each cylinder
    emergency_trip: int = 0
    emergency_cylinder: int = 0
    fuel: int = 0  # a litre
    repair: int = 0
    full_gas: int = 0  # of a cylinder, where a bill goes by the gas that was filled in; else 0

    def trip_of(self, emergency: bool) -> int:
        """Return the price of bringing an order, however many cylinders."""
        return self.trip + (self.emergency_trip if emergency else 0)

    def cylinder_of(self, emergency: bool) -> int:
        """Return the price of one cylinder of an order."""
        return self.refill + self.carriage + (self.emergency_cylinder if emergency else 0)

    def order(self, count: int, emergency: bool) -> int:
        """Return what an order of so many cylinders may cost at most."""
        return self.trip_of(emergency) + count * self.cylinder_of(emergency)

    def bill(self, count: int, refilled_gas: int, emergency: bool) -> int:
        """Return what is paid for so many that came; refilled_gas: what was in the empties that were filled."""
        saved = self.refill * refilled_gas // self.full_gas if self.full_gas else 0
        return self.order(count, emergency) - saved

    def affordable(self, free: int, wanted: int, emergency: bool) -> int:
        """Return how many of the cylinders wanted an amount of money pays for."""
        left, each = free - self.trip_of(emergency), self.cylinder_of(emergency)
        if left < 0:
            return 0
        return min(wanted, left // each) if each else wanted

    def fuel_of(self, ml: int) -> int:
        """Return the price of so much fuel, rounded up."""
        return -(-ml * self.fuel // ML_PER_LITRE)


def prices_of(hospital: Hospital) -> Prices:
    """Return the prices that a hospital pays by its costs; all 0 without them."""
    costs, resupply, stock = hospital.costs, hospital.resupply, hospital.cylinders
    if costs is None:
        return Prices()
    trips = 2 if resupply is not None and resupply.own_cylinders else 1
    by_gas = stock is not None and stock.billing == "by gas"
    return Prices(
        trip=trips * cents(costs.trip),
        refill=cents(costs.refill),
        carriage=cents(costs.transport_per_cylinder),
        emergency_trip=cents(costs.emergency_trip),
        emergency_cylinder=cents(costs.emergency_cylinder),
        fuel=cents(costs.fuel_per_litre),
        repair=cents(costs.repair),
        full_gas=stock.full_gas if stock is not None and by_gas else 0,
    )
