"""How far a fleet is tried where no range is stated and one batch gives every stock at the cost of one.

From half of what the file says to twice as many, further up where a few replications show that to be too little.
Which stocks are looked at changes none of them: each meets its first bare shelf whatever the largest is.
"""

from __future__ import annotations

from math import ceil

from o2sim.questions.size.candidates import Question, field_of
from o2sim.questions.size.which_run import runs_of
from o2sim.runs.executors import Crew
from o2sim.scenario.changing.fleet_levels import FLEET

LOOKED_AT = 100  # replications
TIMES = (2, 4, 8, 16)  # as many cylinders as the file says
BEYOND = 1.25  # of the stock that these replications would have needed
WITHIN = 4  # times rarer than the target: what that stock may fail in


def range_of(question: Question, crew: Crew) -> tuple[int, int]:
    """Return the least and the largest fleet to look at."""
    cylinders = question.hospital.cylinders
    assert cylinders is not None
    fleet, spare = cylinders.fleet, int(LOOKED_AT * question.target / WITHIN)
    low, high = max(1, fleet // 2), TIMES[0] * fleet
    for times in TIMES:
        top = times * fleet
        over = field_of(question.source, question.strategy, [f"{FLEET} = {top}"])
        with crew:
            batch = runs_of(question, over.candidates, crew).batch(0, 0, LOOKED_AT)
        lowest = sorted(each.lowest_shelf for each in batch)
        if len(lowest) < LOOKED_AT:
            raise KeyboardInterrupt
        high = max(high, min(top, ceil(BEYOND * (top - lowest[spare]))))
        low = max(1, min(low, top - lowest[-1]))
        if lowest[spare] >= 0 and ceil(BEYOND * (top - lowest[spare])) <= top:
            break
    return low, high
