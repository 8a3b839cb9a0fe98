"""All parts that the books of supply and equipment give, the better first where two give the same key."""

from __future__ import annotations

from o2sim.fits.found import Part
from o2sim.fits.supply.cuts import cut_parts
from o2sim.fits.supply.daily_hours import hours_parts
from o2sim.fits.supply.logger import logger_parts
from o2sim.fits.supply.orders import order_parts
from o2sim.fits.supply.roads import road_parts
from o2sim.fits.supply.stock import stock_parts
from o2sim.fits.supply.units import unit_parts
from o2sim.records.books import Records

MAKERS = (cut_parts, logger_parts, hours_parts, order_parts, road_parts, unit_parts, stock_parts)


def supply_parts(records: Records, seed: int) -> tuple[Part, ...]:
    """Return what the books of power, orders, roads, units and stock give; the same for the same records and seed.

    A part may give no key and only cautions: what was found and why nothing is written.
    """
    return tuple(part for make in MAKERS for part in make(records, seed))
