"""Work for an engine room that takes no compiler: it counts, sleeps, fails, hangs or dies as it is asked."""

import json
import os
import time

from o2sim.errors import O2simError

TEXT = [{"kind": "text", "text": "Nobody went without."}]
ANSWER = {
    "said": ["Nobody went without."],
    "likely": [],
    "range": False,
    "best": "mixed", "picture": [], "table": TEXT, "more": TEXT, "priced": False,
    "scenario_hash": "0123", "version": "9", "seed": 1, "engine": "kernel",
}  # fmt: skip
OTHER = {
    "power": {"field": None, "points": [], "strategies": []},
    "keep": {"said": ["Keep 6."], "short": "Keep 6.", "more": TEXT, "near": [], "runs": "years", "fleet": None,
             "acts_by": {}, "is_example": True, "to_write": None, "sheets": None, "text": None, "target": "10 %",
             "strategy": "cylinders only"},
    "buy": {"strategy": "cylinders only", "options": [], "currency": "USD", "horizon_days": 365, "steps": [
        {"option": "option 1", "pay_now": 720.0, "a_year": 90.0, "chance": 0.1, "unserved_hours": 3.0,
         "interval": {"low": 0.05, "high": 0.2}, "is_clear": True, "choices": {"cylinders.fleet": "4"},
         "lines": [{"item": "cylinders", "in_all": 4, "there": 1, "buy": 3, "each": 240.0, "amount": 720.0}]}],
        "scenario_hash": "0123", "version": "9", "seed": 1, "engine": "kernel"},
    "matters": {"said": ["Find out first: days to delivery."], "choice": "mixed", "more": TEXT, "picture": [],
                "rows": [{"what": "days to delivery", "low": "2 days", "high": "8 days", "at_low": 0.1,
                          "at_high": 0.2, "beyond_luck": True, "known_by": "order book",
                          "turn": {"name": "cylinders only", "begins": "6 days", "tried": ["5 days", "6 days"]},
                          "question": [3, "delivery"]}]},
}  # fmt: skip

COUNTED = {
    "said": ["Order at least 2 today.", "No need to phone."], "short": "Order at least 2 today",
    "unknown": ["Not counted, and drawn: whether the power is on."], "counted_said": "Counted: 4 full.",
    "counts": {"full": 4, "part_used": 0, "empty": 5, "on_order": 0, "on_oxygen": {"all": 3}, "accounted": 9,
               "fleet": 14},
    "figures": {"hours": 74.4, "flow": 9.0, "origin": "counted", "bare": 0.18, "until": "2026-12-02T18:00",
                "order": 2, "bare_with": 0.012},
    "picture": [], "tables": TEXT, "tonight": TEXT, "notes": ["By luck."], "line": "o2sim 9", "review": TEXT,
    "sheet": "<style>b {}</style><h1>Oxygen today</h1>",
}  # fmt: skip


def counted(given):
    """Return what comes of a count of today."""
    when = given["values"]["counted"].replace(" ", "T")
    line = {"o2sim_today": 1, "scenario": "Small ward", "counted": when, "counts": COUNTED["counts"], "full": {}}
    asked = {name: given[name] for name in ("values", "strategy", "on", "card", "part_used")}
    return {**COUNTED, **asked, "counted": when, "card_line": json.dumps(line)}


def get_ready():
    """Be ready at once."""


def get_ready_slowly():
    """Be ready after a while, as after an installation."""
    time.sleep(0.6)


def do(name, given, progress):
    """Do what the name says."""
    if name == "fail":
        raise O2simError("found 3; allowed: 2")
    if name == "break":
        raise ZeroDivisionError("by 0")
    if name == "hang":
        time.sleep(given.get("s", 60))
    if name == "die":
        progress(1, 10)
        os._exit(9)
    if name == "today":
        return {**_count(3, 0.0, progress), **counted(given)}
    found = _count(given.get("of", 3), given.get("each_s", 0.0), progress)
    return {**found, **ANSWER} if name == "answer" else {**found, **OTHER.get(name, {})}


def _count(of, each_s, progress):
    done = 0
    try:
        for done in range(1, of + 1):
            time.sleep(each_s)
            progress(done, of)
    except KeyboardInterrupt:
        if done < 2:
            raise
        return {"complete": False, "done": done - 1, "of": of, "short": "stopped"}
    return {"complete": True, "done": done, "of": of, "short": "counted"}
