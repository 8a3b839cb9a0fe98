"""Lead times and other waits: what a shut road hides, and what leaving out the open ones does to a mean."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from o2sim.scenario.types.laws import Law
from o2sim.statistics.fitting.laws import integral, moment, partial_moment, quantile
from o2sim.statistics.fitting.spells import Spells, between, in_steps, joined

Values = npt.NDArray[np.float64]


def lead_times(
    ordered: npt.ArrayLike,
    came: npt.ArrayLike,
    shut_from: npt.ArrayLike = (),
    shut_to: npt.ArrayLike = (),
    last: int | None = None,
    after_opening: int = 0,
    shift: float = 0.0,
) -> Spells:
    """Return the lead times of orders, in days, as they would be on an open road, one row for each order.

    ordered, came: numbers of days, shape (n,); came nan for one that is open at the end of day `last`.
    shut_from, shut_to: first day shut and day opened again, shape (m,). A delivery from the day the road opened
    to `after_opening` days later was ready at any time since the road was shut, or since it was ordered if that
    was later: it counts as no more than between the two. All others by dates only. An order still open while the
    road is shut has waited to the day the road was shut. shift: usual clock of coming less that of ordering, in
    days (0.4 for orders at midnight that come at 10:00). Raises ValueError for what came before it was ordered,
    or an open one without `last`.
    """
    begun, ended = np.asarray(ordered, np.float64), np.asarray(came, np.float64)
    is_open = np.isnan(ended)
    if np.any(ended < begun) or (is_open.any() and last is None) or (is_open & (begun > (last or 0))).any():
        raise ValueError(
            "orders: one came before it was ordered, or is open with no day to which the book is kept"
        )
    shut, opened = np.asarray(shut_from, np.float64), np.asarray(shut_to, np.float64)
    parts = [
        _one(begin, end, shut, opened, last, after_opening, shift)
        for begin, end in zip(begun.tolist(), ended.tolist(), strict=True)
    ]
    return joined(*parts) if parts else in_steps([])


def on_open_roads(law: Law, ordered: float, shut_from: npt.ArrayLike, shut_to: npt.ArrayLike, u: float) -> float:
    """Return the day an order comes: when it is ready by the law, or when the road that is then shut opens.

    u: chance at which the law is taken; days as in lead_times, of which this is the other direction.
    """
    ready = ordered + float(quantile(law, u))
    for shut, opened in zip(np.atleast_1d(shut_from).tolist(), np.atleast_1d(shut_to).tolist(), strict=True):
        if shut <= ready < opened:
            return float(opened)
    return ready


def share_over(law: Law, span: float) -> float:
    """Return the share of spells that begin evenly over a span and are over by its end: G(span) / span."""
    return float(integral(law, span)) / span


def mean_of_those_over(law: Law, span: float) -> float:
    """Return the mean of the spells that begin evenly over a span and are over by its end, in the unit of the law.

    What one gets who leaves out those still open: (span E[L; L <= span] - E[L^2; L <= span]) / G(span).
    """
    kept = span * partial_moment(law, span) - partial_moment(law, span, 2)
    return float(kept) / float(integral(law, span))


def mean_total_in_a_crowd(law: Law) -> float:
    """Return the mean whole length of what is under way at a random moment: E[L^2] / E[L]; half is past."""
    return moment(law, 2) / moment(law)


def median_total_in_a_crowd(law: Law) -> float:
    """Return the median whole length of what is met under way at a random moment: long ones are met more often."""
    low, high = 0.0, 1e6 * moment(law)
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if float(partial_moment(law, middle)) < moment(law) / 2 else (low, middle)
    return high


def _one(
    begin: float, end: float, shut: Values, opened: Values, last: int | None, after: int, shift: float
) -> Spells:
    """Return the row of one order; end nan where it is open."""
    seen_to = float(last) if last is not None else np.inf
    if np.isnan(end):
        here = (shut <= seen_to) & (seen_to < opened)
        reach = float(shut[here].min()) if here.any() else seen_to + 1
        return in_steps([max(reach - begin, 0.0)], over=False, shift=shift)
    met = (opened <= end) & (end <= opened + after) & (shut < end)
    if met.any():
        most = max(end - begin + shift, 1.0)
        return between([min(max(float(shut[met].min()) - begin, 0.0), most)], [most])
    return in_steps([end - begin], limit=[seen_to - begin + 1], shift=shift)
