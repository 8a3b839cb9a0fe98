"""What the question of today can be asked, for `o2sim today` and for the function of that name."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.runs import settings as shared
from o2sim.settings import setting

FEWEST_DAYS, MOST_DAYS = 1, 120
SEARCHED = 500  # replications of an order that is only tried, and of what else might happen
FEWEST = 100  # with fewer a chance of 5 % could not be known from luck


@dataclass(frozen=True)
class TodaySettings:
    """Which strategy, how far ahead, which chance is too much, and how often it is simulated.

    On the command line the target is read as a share.
    """

    strategy: str | None = setting(
        None, "How oxygen is given. Default: the first with cylinders and concentrators, else with cylinders."
    )
    days: int = setting(21, "How many days to look ahead.", least=FEWEST_DAYS, most=MOST_DAYS)
    on: str | None = setting(
        None,
        "Today's date, such as 2027-05-04, where the count is older. Default: the computer's date, if it lies 0 "
        "to 60 days after the count; else the day of the count.",
        metavar="DATE",
    )
    target: float | str = setting(
        0.05,
        "The highest chance that somebody goes without for want of supply until the order after today's can be "
        "there.",
        typed="5 %",
        reads="share",
    )
    replications: int = setting(
        2_000,
        f"How many times to simulate what may come; orders are first tried with {SEARCHED}.",
        least=FEWEST,
        most=100_000,
    )
    seed: int = shared.seed()
    engine: str = shared.engine()
