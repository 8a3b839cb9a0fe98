"""What was needed and not bought for want of money, in cylinders: it stands beside each cost, as poverty costs little.

A cylinder that was not bought is the usable gas of a full one that somebody needed and did not get, since no cylinder
could be paid for. Repairs and fuel that wait for money are in no such count.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from o2sim.model.rules import keep_gas
from o2sim.outcome import Outcome
from o2sim.scenario.types.hospital import DAY_S, YEAR_DAYS, Hospital
from o2sim.typed import item


@dataclass(frozen=True)
class Unbought:
    """Cylinders a year, as means."""

    needed: float = item("those delivered, and those not bought")
    not_bought: float = item("for want of money")


def is_counted(hospital: Hospital) -> bool:
    """Return True where cylinders are paid from a purse, so that money may be lacking for them."""
    return hospital.funds is not None and hospital.cylinders is not None


def unbought(hospital: Hospital, delivered: float, unfunded_gas: float) -> Unbought | None:
    """Return what was needed and not bought; None where nobody counts money.

    delivered: cylinders; unfunded_gas: that not given for want of funds, in 1/60 mL; both of a year.
    """
    stock = hospital.cylinders
    if stock is None or hospital.funds is None:
        return None
    lacking = unfunded_gas / (stock.full_gas - keep_gas(stock))
    return Unbought(delivered + lacking, lacking)


def unbought_a_year(hospital: Hospital, outcome: Outcome) -> Unbought | None:
    """Return what was needed and not bought in one replication, for 365 days; None where nobody counts money."""
    per_year = YEAR_DAYS * DAY_S / outcome.horizon_s
    return unbought(hospital, outcome.cylinders_delivered * per_year, outcome.unfunded_gas * per_year)


def mean_of(found: Iterable[Unbought | None]) -> Unbought | None:
    """Return the means of several replications; None where one has none."""
    known = list(found)
    every = [each for each in known if each is not None]
    if not every or len(every) < len(known):
        return None
    needed, lacking = (sum(getattr(each, name) for each in every) for name in ("needed", "not_bought"))
    return Unbought(needed / len(every), lacking / len(every))
