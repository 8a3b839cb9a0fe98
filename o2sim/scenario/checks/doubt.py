"""What a check yields, and times as messages show them."""

from __future__ import annotations

from o2sim.scenario.types.hospital import Cylinders

Doubt = tuple[str, str, str]  # field, what was found, what to do


def minutes(seconds: float) -> str:
    """Return a time for a message: minutes up to three hours, then hours."""
    return f"{seconds / 60:.3g} min" if seconds < 3 * 3600 else f"{seconds / 3600:.3g} h"


def key_of(size: Cylinders, key: str) -> str:
    """Return the dotted key of what is said of the cylinders of a size."""
    return f"cylinders.sizes.{size.name}.{key}" if size.name else f"cylinders.{key}"


def called(size: Cylinders) -> str:
    """Return what a cylinder of a size is called."""
    return f"{size.name} cylinder".strip()


def sizes_at_beds(cylinders: Cylinders) -> list[Cylinders]:
    """Return the sizes for patients, the first choice first."""
    return [cylinders.each[place] for place in cylinders.places_for("bedside")]
