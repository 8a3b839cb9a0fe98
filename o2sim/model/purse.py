"""The purse of a hospital: money in it, kept for orders, owed; what the last orders lacked. Whole hundredths."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field

from o2sim.model.prices import Prices, prices_of
from o2sim.scenario.types.hospital import Funds, Hospital


@dataclass(slots=True)
class Invoice:
    """A delivery not yet paid in full."""

    due_s: int
    left: int


@dataclass(slots=True)
class Purse:
    """Money by what it is for, and what waits for money."""

    rules: Funds
    prices: Prices
    cash: int
    reserved: int = 0  # of the cash, for orders and fuel that are decided and not yet paid
    ordered: int = 0  # with credit: on order, not yet billed
    owed: int = 0
    invoices: deque[Invoice] = field(default_factory=deque)  # the oldest first; they fall due in this order
    fees_due: int = 0  # paid by patients since the last midnight
    lacking: int = 0  # cylinders that the latest review whose order could have come by now could not order
    lacking_from: int = -1  # the number of that order
    was_cut: bool = False  # the last review
    emergency_cut: bool = False  # the last look at an emergency
    fuel_waits: bool = False
    fuel_reserved: int = 0
    decided_on_day: dict[dt.date, int] = field(default_factory=dict)
    opening_cash: int = 0  # at the start of the horizon
    opening_owed: int = 0

    @property
    def free(self) -> int:
        """Return the cash that is not kept for anything."""
        return self.cash - self.reserved

    def is_overdue(self, now_s: int) -> bool:
        """Return True while an invoice is unpaid after the second at which it fell due."""
        return bool(self.invoices) and self.invoices[0].due_s < now_s

    def left(self, now_s: int) -> int | None:
        """Return what an order may cost now; None: anything, less than 0: none can be placed."""
        supplier = self.rules.supplier
        if supplier.terms != "credit":
            return self.free
        if supplier.stops_when_overdue and self.is_overdue(now_s):
            return -1
        return None if supplier.limit_cents is None else supplier.limit_cents - self.owed - self.ordered

    def pays(self, counts: Sequence[int], now_s: int, *, emergency: bool) -> bool:
        """Return True if so many cylinders, by size, can be ordered now."""
        left = self.left(now_s)
        return left is None or self.prices.order(counts, emergency) <= left

    def pays_least(self, count: int, now_s: int) -> bool:
        """Return True if so many cylinders of the cheapest size can be ordered now."""
        left = self.left(now_s)
        return left is None or self.prices.least(count) <= left

    def found(self) -> dict[str, int]:
        """Return what there was at the start and at the end of the horizon, by the fields of an Outcome."""
        return {
            "opening_cash_cents": self.opening_cash,
            "opening_owed_cents": self.opening_owed,
            "closing_cash_cents": self.cash,
            "closing_owed_cents": self.owed,
        }

    def begin_horizon(self) -> None:
        """Note what there is as the horizon begins."""
        self.opening_cash, self.opening_owed = self.cash, self.owed


def new_purse(hospital: Hospital) -> Purse | None:
    """Return the purse as a run begins, None where there is always money."""
    funds = hospital.funds
    if funds is None:
        return None
    return Purse(funds, prices_of(hospital), funds.opening_cents, opening_cash=funds.opening_cents)
