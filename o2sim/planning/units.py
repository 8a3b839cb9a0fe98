"""Concentrators before any simulation: the share of them in order, and how many a source of power carries."""

from __future__ import annotations

from o2sim.scenario.types.hospital import Concentrators, Law
from o2sim.scenario.types.laws import law_mean


def rated_ml_min(units: Concentrators) -> int:
    """Return the rated flow of all units together."""
    return sum(group.count * group.rules.rated_flow_ml_min for group in units.groups)


def in_order_share(units: Concentrators) -> float:
    """Return the long-run share of units in order, each by its rated flow.

    A technician's way is in it, a wait for one is not, nor the age of a unit or a clock that goes on.
    """
    shares = [(_share(group.rules), group.count * group.rules.rated_flow_ml_min) for group in units.groups]
    if len({share for share, _ in shares}) == 1:
        return shares[0][0]
    return sum(share * flow for share, flow in shares) / sum(flow for _, flow in shares)


def _share(rules: Concentrators) -> float:
    return up_share(rules.failure_s, rules.repair_s, law_mean(rules.travel_s) if rules.travel_s else 0.0)


def up_share(up: Law | None, down: Law | None, more_s: float = 0.0) -> float:
    """Return mean up / (mean up + mean down), the long-run share of an alternating renewal process.

    more_s is added to each time down.
    """
    if up is None or down is None:
        return 1.0
    up_s, down_s = law_mean(up), law_mean(down) + more_s
    return up_s / (up_s + down_s) if up_s + down_s > 0 else 1.0


def carried(units: Concentrators, limit_w: int | None, peak_w: int | None) -> tuple[int, int]:
    """Return how many units a source of power carries, and their watts together.

    They start one after the other by number, each that fits: within the limit, and within the peak as it starts;
    None: no limit. peak_w counts only for units with a starting surge.
    """
    count = load_w = 0
    for group in units.groups:
        watts, surge = round(group.rules.power_w), group.rules.start_surge_permille
        for _ in group.numbers:
            within = limit_w is None or load_w + watts <= limit_w
            if within and (peak_w is None or surge is None or load_w * 1_000 + surge * watts <= peak_w * 1_000):
                count, load_w = count + 1, load_w + watts
    return count, load_w
