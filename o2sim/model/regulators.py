"""The regulator sets of the facility by kind: which flows they can be set to, which sizes of cylinder they fit."""

from __future__ import annotations

from o2sim.scenario.types.hospital import Cylinders


class RegulatorSets:
    """How many sets of each kind are free; the smallest range is taken first."""

    def __init__(self, cylinders: Cylinders) -> None:
        """Start with all sets that fit the valve of a size free."""
        self.kinds = cylinders.usable_sets
        self.free = [each.count for each in self.kinds]
        widths = [(each.width_ml_min, kind) for kind, each in enumerate(self.kinds)]
        self.smallest_first = [kind for _, kind in sorted(widths)]
        self._fits = [[each.fits(size.valve) for size in cylinders.each] for each in self.kinds]

    def fits(self, kind: int, size: int) -> bool:
        """Return True if sets of a kind can be mounted on cylinders of a size."""
        return self._fits[kind][size]

    def free_set(self, flow_ml_min: int, size: int) -> int | None:
        """Return the kind of a free set for a flow and a size, the smallest range first; None if there is none."""
        fit = (kind for kind in self.smallest_first if self.free[kind] and self.serves(kind, flow_ml_min, size))
        return next(fit, None)

    def has_any(self, flow_ml_min: int, size: int) -> bool:
        """Return True if there are sets for a flow and a size, free or not."""
        return any(each.count and self.serves(kind, flow_ml_min, size) for kind, each in enumerate(self.kinds))

    def serves(self, kind: int, flow_ml_min: int, size: int) -> bool:
        """Return True if sets of a kind can be set to a flow and fit a size."""
        return self._fits[kind][size] and self.kinds[kind].reads(flow_ml_min)
