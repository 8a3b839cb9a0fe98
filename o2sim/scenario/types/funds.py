"""The purse that pays for gas, fuel and repairs as frozen dataclasses in the units used inside, with their keys.

Money is whole hundredths of the currency of the costs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from o2sim.scenario.keys.field import ASSUMED, COMMON, DAY_S
from o2sim.scenario.keys.record import key, lasting, part, part_or_none, time_key, whole_key
from o2sim.scenario.types.laws import Law

Terms = Literal["prepaid", "on delivery", "credit"]
Purchase = Literal["oxygen", "fuel", "parts"]
PURCHASES: tuple[Purchase, ...] = ("oxygen", "fuel", "parts")
OXYGEN_ALONE: tuple[Purchase, ...] = PURCHASES[:1]
MONTH, YEAR = "month", "year"
DUE_S = 30 * DAY_S
MONTH_NUMBERS = {
    name: number
    for number, name in enumerate(
        ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
         "november", "december"),
        1,
    )
}  # fmt: skip


def cents(amount: float) -> int:
    """Return money in whole hundredths of its currency."""
    return round(100 * amount)


def _money(help_: str, default: str | None = None, **more: Any) -> Any:
    """Return a key that is money, held in hundredths."""
    return key("money", help_, default, None if default is None else "", turned=cents, **more)


@dataclass(frozen=True)
class Allotment:
    """Money that comes again and again: each month, each year, or at an interval from the start of the run."""

    amount_cents: int = _money("what comes each time", required=True)
    every_s: int | Literal["month", "year"] = key(
        "duration", "how often: at a midnight by the calendar, or so long apart from the start of the run, as "
        "30 days", "month", COMMON, least="1 day", words=(MONTH, YEAR), value=MONTH,
    )  # fmt: skip
    day: int = whole_key("day of the month on which it is due; in a shorter month its last", "1", 1, 31)
    month: int | None = key(  # its number
        "word", "month in which it is due, with every: year", words=MONTH_NUMBERS, otherwise="january"
    )
    delay_s: Law | None = lasting("how much later it comes than it is due", least="0 s", otherwise="none")


@dataclass(frozen=True)
class Fees:
    """Money that patients pay as they leave."""

    amount_cents: int = _money("what one patient pays", required=True)
    paid_by: float = key("share", "of the patients, those who pay", required=True)


@dataclass(frozen=True)
class Supplier:
    """How the supplier of gas is paid. limit_cents and due_s matter with credit alone."""

    terms: Terms = key(
        "word", "an order is paid as it is placed, as it comes, or by invoice", "prepaid", ASSUMED,
        words=("prepaid", "on delivery", "credit"),
    )  # fmt: skip
    limit_cents: int | None = _money(
        "with credit: what may be owed and on order together", words="none", otherwise="none", value=None
    )
    due_s: int = time_key("with credit: from delivery until an invoice is due", "30 days", COMMON, value=DUE_S)
    stops_when_overdue: bool = key(
        "true or false", "with credit: nothing can be ordered while an invoice is overdue", "false"
    )


@dataclass(frozen=True)
class Funds:
    """The purse of a hospital: what it begins with, what comes, what is lost, what it pays for and how."""

    opening_cents: int = _money("in the purse as the run begins, its warm-up included", "0")
    allotment: Allotment | None = part_or_none(Allotment, "money that comes again and again", "none comes")
    lapses: int | None = key(  # the number of a month
        "word", "month at whose end what is left is lost", "never", ASSUMED,
        words={"never": None, **MONTH_NUMBERS},
    )  # fmt: skip
    fees: Fees | None = part_or_none(Fees, "what patients pay", "nobody pays")
    pays_for: tuple[Purchase, ...] = key(
        "purchases", "what is paid from it, in this order where money comes for several; somebody else pays for "
        "all else", otherwise="oxygen alone", value=OXYGEN_ALONE,
    )  # fmt: skip
    approval_s: Law | None = lasting(
        "from the review that decides an order until it is placed", least="0 s",
        otherwise="placed at once",
    )  # fmt: skip
    supplier: Supplier = part(Supplier, "how the supplier of gas is paid", "prepaid", value=Supplier())

    def pays(self, what: Purchase) -> bool:
        """Return True for what is paid from it."""
        return what in self.pays_for
