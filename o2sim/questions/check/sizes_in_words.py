"""The rules of cylinders of several sizes in words, for `o2sim check`."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.looks.sizes import uses_of
from o2sim.looks.words import joined
from o2sim.scenario.types.hospital import Cylinders, Hospital


def sentences(hospital: Hospital, cylinders: Cylinders) -> Iterator[str]:
    """Yield which size is for what, which is chosen, its levels, and what a lorry takes; nothing for one size."""
    if not cylinders.sizes:
        return
    there = [(place, size) for place, size in enumerate(cylinders.each) if size.fleet]
    each = [f"{size.name} for {uses_of(hospital, place)}" for place, size in there]
    yield f"Cylinders come in {_count(len(each))}: {joined(each)}. Full ones come for empties of the same size."
    for use, whom in (("bedside", "patients"), ("backup", "back-ups"), ("transfer", "the way")):
        yield from _choice(cylinders, use, whom)
    if hospital.resupply is not None:
        levels = [(size, *hospital.resupply.levels[place]) for place, size in there]
        said = [f"{size.name} at {point} or fewer, up to {upto}" for size, point, upto in levels]
        yield f"Each size is ordered by itself, and comes in one trip: {joined(said)}."
        if hospital.resupply.vehicle_space is not None:
            spaces = joined([f"{size.name} takes {size.space or 1}" for _, size in there])
            yield (
                f"A trip has {hospital.resupply.vehicle_space} spaces ({spaces}); where it is too small the size "
                "that would last the fewest days is loaded first, one at a time."
            )


def _count(sizes: int) -> str:
    return "1 size" if sizes == 1 else f"{sizes} sizes"


def _choice(cylinders: Cylinders, use: str, whom: str) -> Iterator[str]:
    places = cylinders.places_for(use)  # type: ignore[arg-type]
    names = [cylinders.each[place].name for place in places]
    if len(names) > 1 and getattr(cylinders.use, use):
        how = "as listed" if cylinders.choose == "listed" else "the smallest that lasts until the next look"
        yield f"For {whom}: {', then '.join(names)}" + (f" ({how})." if use == "bedside" else ".")
