"""What a sizing says where money is counted: what was not bought beside each cost, and that money is short."""

from __future__ import annotations

from o2sim.looks import unbought
from o2sim.looks.words import percent
from o2sim.money.unbought import Unbought
from o2sim.outcome import Cause
from o2sim.questions.size.result import SizingResult

MONEY_SHORT = (
    "Money, not the stock, is what is short there: a larger stock only bridges money that comes late. See to more "
    "money, the same sooner, or later payment (funds) before you buy cylinders."
)


def counts_money(result: SizingResult) -> bool:
    """Return True where money may be lacking for cylinders."""
    return result.measured is not None and result.measured.unbought is not None


def short_of_money(result: SizingResult) -> str:
    """Return how often money is what is short at the value looked at; "" where it never is."""
    seen = result.measured
    if seen is None or seen.unbought is None:
        return ""
    share = seen.chance_by_cause.get(Cause.NO_FUNDS.label, 0.0)
    said = unbought.clause(seen.unbought)
    lacking = f"{said[0].upper()}{said[1:]} there." if said else ""
    if not share:
        return lacking
    return (
        f"At that value somebody goes without for want of money in {percent(share)} of the replications. "
        f"{lacking} {MONEY_SHORT}"
    ).replace("  ", " ")


def beside_difference(one: Unbought | None, other: Unbought | None) -> str:
    """Return what was not bought on both sides of a difference in cost, in brackets; "" where all was."""
    said = unbought.differ(one, other)
    return f" ({said})" if said else ""
