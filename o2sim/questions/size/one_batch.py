"""One batch of replications at the largest stock in, the chance of running short at every smaller one out.

As long as nobody has met a bare shelf, a stock that is smaller by d throughout (fleet, full at the start,
reorder point and order-up-to level alike) goes through the very same orders and deliveries with d fewer full
cylinders on the shelf. So it meets its first bare shelf exactly where the larger one has fewer than d left after
a cylinder is taken; the lowest shelf of each replication gives the whole curve, and its order statistic a stock
with a guarantee. Counted is the first time somebody wants a cylinder and the shelf is bare, warm-up included: it
comes before any interruption for want of a cylinder, so the answer is on the safe side.
"""

from __future__ import annotations

from collections.abc import Sequence

from o2sim.outcome import Cause
from o2sim.questions.size.candidates import Field
from o2sim.scenario.changing.fleet_levels import FLEET
from o2sim.scenario.changing.levers import Lever
from o2sim.scenario.types.hospital import Hospital


def why_not(hospital: Hospital, levers: Sequence[Lever], field: Field, causes: Sequence[Cause]) -> tuple[str, ...]:
    """Return why one batch cannot give the curve; nothing where it can."""
    cylinders, resupply = hospital.cylinders, hospital.resupply
    if [each.path for each in levers] != [FLEET] or cylinders is None:
        return ("only the whole stock, cylinders.fleet with its levels, moves without changing any order",)
    found = (
        (tuple(causes) != (Cause.NO_CYLINDER,), "the target names other causes than no cylinder"),
        (field.held, "the levels are held while the fleet changes, so orders come at other times"),
        (hospital.manifold is not None, "banks of the manifold take what is on the shelf"),
        (resupply is not None and resupply.emergency is not None, "emergency orders look at a level that stays"),
        (hospital.allocation.reserve > 0, "the last cylinders are kept for a priority"),
        (cylinders.losses_per_day > 0, "how many go missing depends on how many there are"),
        (
            cylinders.unusable > 0 or cylinders.underfilled is not None,
            "a bad fill comes to the bedside at another time",
        ),
        (bool(hospital.wards), "wards keep cylinders of their own"),
    )
    return tuple(reason for holds, reason in found if holds)


def failures_at(lowest: Sequence[int], fewer: int) -> int:
    """Return how many replications meet a bare shelf with `fewer` cylinders less."""
    return sum(each < fewer for each in lowest)
