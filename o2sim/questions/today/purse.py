"""What the purse pays for today: how many cylinders can be ordered, and the hospital once an order is paid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from o2sim.looks.words import money
from o2sim.model.prices import prices_of
from o2sim.model.purse import new_purse
from o2sim.scenario.types.funds import Funds
from o2sim.scenario.types.hospital import Hospital

CENTS = 100
NO_APPROVAL = (
    "An order is looked at as if it were approved at the count: it comes later by as long as its approval takes."
)


def pays_for(hospital: Hospital, wanted: int) -> int:
    """Return how many of the cylinders wanted today can be paid for; all of them where nobody counts money."""
    purse = new_purse(hospital)
    left = purse.left(0) if purse is not None and _counted(hospital) is not None else None
    return wanted if purse is None or left is None else purse.prices.affordable(left, wanted, emergency=False)


def once_paid(hospital: Hospital, count: int) -> Hospital:
    """Return the hospital with so many cylinders paid at the count, or owed."""
    funds = _counted(hospital)
    if funds is None or not count:
        return hospital
    cost = prices_of(hospital).order((count,), emergency=False)
    if funds.supplier.terms != "credit":
        return replace(hospital, funds=replace(funds, opening_cents=max(0, funds.opening_cents - cost)))
    limit = funds.supplier.limit_cents
    owing = replace(funds.supplier, limit_cents=None if limit is None else max(0, limit - cost))
    return replace(hospital, funds=replace(funds, supplier=owing))


def notes(hospital: Hospital) -> Iterator[str]:
    """Yield what is to be known of the money for an order; nothing where nobody counts it."""
    funds = _counted(hospital)
    if funds is None or hospital.costs is None:
        return
    there = money(funds.opening_cents / CENTS, hospital.costs.currency)
    yield f"The purse has {there} at the count (funds.opening); an order of today is paid from it, or owed."
    if funds.approval_s is not None:
        yield NO_APPROVAL


def _counted(hospital: Hospital) -> Funds | None:
    """Return the purse where it pays for oxygen."""
    return hospital.funds if hospital.funds is not None and hospital.funds.pays("oxygen") else None
