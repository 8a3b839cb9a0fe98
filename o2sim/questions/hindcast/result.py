"""What a hindcast gives: the object that `o2sim hindcast --json` prints, declared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from o2sim.questions.hindcast.inputs import Check
from o2sim.runs.identity import Origin, Ran
from o2sim.typed import Count, Share, item

Day = Annotated[str, (("format", "date"),)]  # as 2027-03-04
Trust = Literal["may be trusted", "in part", "not yet", "cannot be said"]
TRUSTED: Trust = "may be trusted"
IN_PART: Trust = "in part"
NOT_YET: Trust = "not yet"
UNSAID: Trust = "cannot be said"


@dataclass(frozen=True)
class Range:
    """A forecast: its mean, and the ends of its middle 50 and 90 %."""

    mean: float
    low_50: float
    high_50: float
    low_90: float
    high_90: float


@dataclass(frozen=True)
class Interval:
    """From one count of the stock card to the next, in full cylinders."""

    begin: Day = item("day of the count it starts from", key="from")
    end: Day = item("day of the next count", key="to")
    full_before: Count = item()
    came: Count = item()
    full: Count = item("counted")
    full_forecast: Range = item()
    used: int = item("full before, and come, less full now")
    used_forecast: Range = item()
    bare_days_forecast: float = item("mean days with a bare shelf")
    rank: Share | None = item("of the use within its forecast; null where it is not compared")
    left_out: str = item("why it is not compared; empty where it is")


@dataclass(frozen=True)
class Scored:
    """A series of counts against its forecasts."""

    name: str = item("what is counted")
    counts: Count = item("compared")
    left_out: Count = item("not compared: days not in all books, or a count that cannot be")
    recorded: float = item("sum of the counts compared; a mean where the counts are of patients")
    forecast: Range = item("of the same")
    bias: float | None = item("forecast over recorded, less 1; null where nothing was recorded")
    bias_by_luck: Share = item("chance of a difference as large, were the scenario right")
    inside_50: Count = item("counts within the middle 50 % of their forecasts")
    inside_90: Count = item("counts within the middle 90 %")
    crps: float = item("mean score of the forecasts, in the unit of the counts: 0 is the best")
    naive_counts: Count = item("counts that have naive forecasts too; the three scores that follow are of these")
    crps_of_these: float | None = item()
    crps_of_earlier_counts: float | None = item("of a forecast by the use of up to 26 earlier counts")
    crps_of_last_count: float | None = item("of a forecast by the use of the count before")
    judged: Count = item("counts by which the ranges are judged: those without a bare shelf in their forecast")
    judged_inside_90: Count = item("of these within the middle 90 %")
    ranks: tuple[Count, ...] = item("of the judged within their forecasts, in bins of one width: even if right")
    ranks_chi_square: float = item()
    ranks_effective: float = item("counts that they are worth, since neighbours are alike")
    ranks_even_by_luck: Share | None = item("p of the chi-square test; null with under 10 counts")


@dataclass(frozen=True)
class Total:
    """Days of one kind, over all the time compared."""

    name: str
    days: Count = item("compared")
    recorded: Count = item()
    forecast: Range = item()


@dataclass(frozen=True)
class Hindcasted:
    """How a scenario, given what was recorded, forecasts the rest of it."""

    of: Origin = item(flat=True)
    ran: Ran = item(flat=True)
    records: str = item("name of the workbook or folder")
    records_hash: str = item("of what it holds, 16 hexadecimal digits")
    strategy: str = item()
    why_strategy: str = item("asked for, or why it was chosen")
    first: Day = item("day of the recorded time")
    last: Day = item("day of the recorded time")
    days_compared: Count = item("days whose books are all there")
    trust: Trust = item()
    verdict: tuple[str, str] = item("whether and for what it may be trusted; which number to doubt")
    series: tuple[Scored, ...] = item()
    totals: tuple[Total, ...] = item()
    numbers: tuple[Check, ...] = item("of the scenario beside those of the records")
    stock: tuple[Interval, ...] = item("the stock card, count by count")
    as_recorded: tuple[str, ...] = item("what is as recorded, what is drawn")
    cautions: tuple[str, ...] = item("of the records, and of the method")
