"""Wards, the access to the central store and the moving of units, as a scenario states them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Ward:
    """What stands on one ward; the concentrators are numbered ward by ward, the first ward's first."""

    name: str
    concentrators: int = 0
    regulators: int = 0
    bedside_cylinders: int = 0  # full ones kept on the ward itself


@dataclass(frozen=True)
class StoreAccess:
    """How long it takes to fetch a cylinder from the central store."""

    fetch_by_day_s: int = 0
    fetch_by_night_s: int = 0


AT_HAND = StoreAccess()  # no time at all
