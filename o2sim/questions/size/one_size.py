"""Of cylinders of several sizes one is sized at a time, with its levels, the others as they are stated."""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.errors import O2simError
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.level_pairs import LEVELS_TOGETHER
from o2sim.scenario.text.problems import listing
from o2sim.scenario.types.hospital import Cylinders, Hospital


def require_one_size(hospital: Hospital, paths: Sequence[str]) -> None:
    """Refuse what is of all cylinders together where they come in several sizes."""
    stock = hospital.cylinders
    together = [path for path in paths if path in (FLEET, LEVELS_TOGETHER)]
    if stock is not None and stock.sizes and together:
        own = listing(f"cylinders.sizes.{size.name}.fleet" for size in stock.sizes)
        raise O2simError(
            f"size: found {together[0]}, but the cylinders come in several sizes: one is sized at a time with its "
            f"levels, the others as stated; allowed: {own}"
        )


def is_of_no_bed(stock: Cylinders, path: str) -> bool:
    """Return True for a field of a size for back-ups or the way alone: other causes show that it is too few."""
    at_beds = stock.places_for("bedside")
    others = [size.name for place, size in enumerate(stock.each) if place not in at_beds]
    return any(path.startswith((f"cylinders.sizes.{name}.", f"resupply.sizes.{name}.")) for name in others)
