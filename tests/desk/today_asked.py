"""A count sent to a desk, as a store keeper does on a Saturday morning."""

import datetime as dt
from urllib.parse import quote_plus

from desk_asked import worked_out

NOW = dt.datetime(2026, 11, 28, 9, 30, 20)
NEEDED = {"today_full": "4", "today_empty": "5"}


def at_nine(desk):
    """Set the desk's calendar and clock."""
    desk.desk.today, desk.desk.clock = NOW.date, NOW.time


def sent(desk, **typed):
    """Send a count."""
    return desk.post("/today", "&".join(f"{name}={quote_plus(text)}" for name, text in typed.items()))


def counted(desk, **typed):
    """Work out today for a count, and return the page."""
    at_nine(desk)
    assert sent(desk, **{**NEEDED, **typed}).place == "/run"
    return worked_out(desk, "/today")
