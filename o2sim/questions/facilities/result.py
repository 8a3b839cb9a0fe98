"""What a study of many facilities gives: the object that `o2sim study --json` prints, declared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from o2sim.money.unbought import Unbought
from o2sim.runs.identity import DrawnFrom, Ran
from o2sim.statistics import doubt
from o2sim.statistics.estimates import Mean, Probability
from o2sim.typed import Count, Currency, Hash, Inside, Share, item


@dataclass(frozen=True)
class Figures:
    """What a study says of one strategy of a facility."""

    replications: Count
    stock_out_probability: Probability
    interruption_probability: Probability
    stock_outs_per_year: Mean
    unserved_patient_hours: Mean
    unserved_supply_patient_hours: Mean
    annual_cost: Mean | None
    stock_out_by_inputs: Share | None = item(
        "over joint draws: share of the chance's variance that unknown inputs make; not there where that cannot "
        "be told",
        default=None,
        sometimes=True,
    )
    unbought: Unbought | None = item(
        "what was needed and not bought for want of money; only where money is counted",
        default=None,
        sometimes=True,
    )


@dataclass(frozen=True)
class FacilityFigures:
    """The figures of one facility."""

    facility: str
    place: str
    scenario_hash: Hash = item("of what the file says")
    horizon_days: float = item()
    currency: Currency | None = item("of the prices; null without prices")
    strategies: Mapping[str, Figures] = item()


@dataclass(frozen=True)
class StudyResult:
    """The figures of all facilities, and where they come from."""

    facilities_hash: str = item("of all facilities' hashes")
    ran: Ran = item(flat=True)
    facilities_finished: Count = item()
    facilities_requested: Count = item()
    complete: bool = item()
    per_days: float = item()
    confidence: Inside = item()
    interval_holds: doubt.HeldOfEither = item(doubt.SAID)
    facilities: tuple[FacilityFigures, ...] = item()
    draws: DrawnFrom | None = item("joint draws laid over each facility", default=None, sometimes=True)
