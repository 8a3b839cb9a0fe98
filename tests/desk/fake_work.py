"""Work for an engine room that takes no compiler: it counts, sleeps, fails, hangs or dies as it is asked."""

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
             "acts_by": {}, "to_write": None, "sheets": None, "text": None, "target": "10 %",
             "strategy": "cylinders only"},
    "buy": {"strategy": "cylinders only", "options": [], "currency": "USD", "horizon_days": 365, "steps": [
        {"option": "option 1", "pay_now": 720.0, "a_year": 90.0, "chance": 0.1, "unserved_hours": 3.0,
         "interval": {"low": 0.05, "high": 0.2}, "is_clear": True, "choices": {"cylinders.fleet": "4"},
         "lines": [{"item": "cylinders", "in_all": 4, "there": 1, "buy": 3, "each": 240.0, "amount": 720.0}]}],
        "scenario_hash": "0123", "version": "9", "seed": 1, "engine": "kernel"},
    "matters": {"said": TEXT, "rest": TEXT, "picture": []},
}  # fmt: skip


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
