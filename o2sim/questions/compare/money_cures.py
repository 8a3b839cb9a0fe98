"""What would help where money is lacking, by how this hospital is paid and pays."""

from __future__ import annotations

from collections.abc import Iterator

from o2sim.outcome import Cause
from o2sim.scenario.types.hospital import Funds, Hospital

WAITING = {  # causes behind which money may be lacking: what the purse pays for, what it would buy
    Cause.CONCENTRATOR_DOWN: ("parts", "money for repairs"),
    Cause.NO_POWER: ("fuel", "money for fuel"),
}


def cure(cause: Cause, usual: str, hospital: Hospital | None) -> str:
    """Return what would help against a cause, behind a semicolon what would not; usual: without funds."""
    funds = None if hospital is None else hospital.funds
    if funds is None:
        return usual
    if cause == Cause.NO_FUNDS:
        return f"{_or(list(_of_money(funds)))}; more cylinders do not help"
    what, money = WAITING.get(cause, ("", ""))
    return f"{money}, {usual}" if what in funds.pays_for else usual


def _or(names: list[str]) -> str:
    return " or ".join(filter(None, [", ".join(names[:-1]), names[-1]]))


def _of_money(funds: Funds) -> Iterator[str]:
    """Yield what would bring more money for gas, or the same money in time."""
    allotment, supplier = funds.allotment, funds.supplier
    yield "money that comes again and again" if allotment is None else "a larger allotment"
    if allotment is not None and allotment.delay_s is not None:
        yield "the same money sooner"
    if funds.lapses is not None:
        yield "money that does not lapse"
    if funds.approval_s is not None:
        yield "quicker approval of orders"
    if supplier.terms != "credit":
        yield "a supplier who is paid later"
        return
    if supplier.limit_cents is not None:
        yield "a higher limit of what may be owed"
    if supplier.stops_when_overdue:
        yield "invoices that are paid when they fall due"
