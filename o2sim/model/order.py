"""One order of cylinders: how many, when they come, and what its draws are keyed by."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any


@dataclass(slots=True, eq=False)
class Order:
    """An open order; (day, nth order of its kind on that day) names it under every strategy."""

    number: int
    count: int  # cylinders still to come
    arrival_s: int
    emergency: bool
    day: dt.date
    nth: int
    delivery: Any = field(default=None, repr=False)  # the pending event
