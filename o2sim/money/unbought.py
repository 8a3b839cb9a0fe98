"""What was needed and not bought for want of money: it stands beside each cost, as poverty costs little.

A cylinder that was not bought is the usable gas of a full one that somebody needed and did not get, since no
cylinder could be paid for. A concentrator is broken without repair while it is out of order and nobody is at work
on it: where the purse pays for parts that may be for want of money; services and units written off are in it too.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from o2sim.model.rules import keep_gas
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.typed import item

HOUR_S = 3_600


@dataclass(frozen=True)
class Unbought:
    """Means a year."""

    needed: float | None = item("cylinders delivered, and those not bought; null without cylinders")
    not_bought: float | None = item("cylinders, for want of money")
    broken_hours: float | None = item(
        "unit-hours out of order with no repair under way; null where the purse pays for no parts"
    )

    @property
    def lacks(self) -> bool:
        """Return True where anything that was needed was not bought."""
        return bool(self.not_bought) or bool(self.broken_hours)


@dataclass(frozen=True)
class Lacking:
    """The sums of some replications that this is made of: cylinders, 1/60 mL, unit-seconds."""

    delivered: float
    unfunded_gas: float
    broken_s: float


def lacking_of(outcome: Outcome) -> Lacking:
    """Return what one replication adds."""
    out, mended = (
        sum(level * seconds for level, seconds in enumerate(found))
        for found in (outcome.at_once.units_out, outcome.at_once.units_in_repair)
    )
    return Lacking(outcome.cylinders_delivered, outcome.unfunded_gas, out - mended)


def unbought(hospital: Hospital, sums: Lacking, replications: int = 1) -> Unbought | None:
    """Return the means of so many replications for 365 days; None where nobody counts money."""
    stock, funds = hospital.cylinders, hospital.funds
    repairs = funds is not None and funds.pays("parts") and hospital.concentrators is not None
    if funds is None or (stock is None and not repairs):
        return None
    per_year = YEAR_DAYS * DAY_S / hospital.horizon_s / max(1, replications)
    lacking = None if stock is None else sums.unfunded_gas * per_year / (stock.full_gas - keep_gas(stock))
    return Unbought(
        needed=None if lacking is None else sums.delivered * per_year + lacking,
        not_bought=lacking,
        broken_hours=sums.broken_s * per_year / HOUR_S if repairs else None,
    )


def mean_of(found: Iterable[Unbought | None]) -> Unbought | None:
    """Return the means of several replications; None where one has none."""
    known = list(found)
    every = [each for each in known if each is not None]
    if not every or len(every) < len(known):
        return None

    def mean(name: str) -> float | None:
        parts = [getattr(each, name) for each in every]
        return None if None in parts else sum(parts) / len(parts)

    return Unbought(mean("needed"), mean("not_bought"), mean("broken_hours"))
