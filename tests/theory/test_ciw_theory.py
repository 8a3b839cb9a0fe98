"""The line for concentrators against Ciw, an independent discrete-event simulator of queues.

Need runs by the clock, so with exponential stays a waiting patient gives up at the rate of leaving, and one who is
served stays as long again as a new patient: an M/M/c queue with two priorities and exponential patience.
"""

from __future__ import annotations

import ciw
import numpy as np
import pytest
from running import head, one_source, replicate, sizes

pytestmark = pytest.mark.theory
WARM_UP, END, UNITS = 60, 425, 6
RATES = {"first": 1.0, "second": 2.0}  # admissions a day
STAYS = {"first": 4.0, "second": 2.0}  # days

TEXT = f"""
patients:
  first: {{admissions: 1 / day, flow: 1 L/min, duration: {{exponential: {{mean: 4 days}}}}, priority: 1}}
  second: {{admissions: 2 / day, flow: 1 L/min, duration: {{exponential: {{mean: 2 days}}}}, priority: 2}}
concentrators: {{count: {UNITS}, rated_flow: 1 L/min, outlets: 1}}
"""


def waits_in_ciw(seed: int) -> tuple[float, ...]:
    """Return, a class, the mean days waited by and the number of those who left after the warm-up."""
    laws = {kind: [ciw.dists.Exponential(1 / stay)] for kind, stay in STAYS.items()}
    network = ciw.create_network(
        arrival_distributions={kind: [ciw.dists.Exponential(rate)] for kind, rate in RATES.items()},
        service_distributions=laws,
        reneging_time_distributions=laws,
        priority_classes={"first": 0, "second": 1},
        number_of_servers=[UNITS],
    )
    ciw.seed(seed)
    simulation = ciw.Simulation(network)
    simulation.simulate_until_max_time(END)
    records = [record for record in simulation.get_all_records() if record.exit_date >= WARM_UP]
    waits = [[record.waiting_time for record in records if record.customer_class == kind] for kind in RATES]
    return tuple(sum(wait) / (END - WARM_UP) for wait in waits)


def waits(outcome) -> list[float]:
    """Return, a class, the patient-days unserved a day, of those who left after the warm-up."""
    kind = {entry.item: entry.other for entry in outcome.log if entry.step == "patient arrives"}
    leavers = [e for e in outcome.log if e.step == "patient leaves" and e.time_s >= WARM_UP * 86_400]
    seconds = [sum(entry.value for entry in leavers if kind[entry.item] == number) for number in range(2)]
    return [total / 86_400 / (END - WARM_UP) for total in seconds]


@sizes
def test_line_with_priorities_against_ciw(size: int) -> None:
    """Patient-days unserved of each priority agree with Ciw within the standard error of the difference."""
    count = 150 * size
    ours = replicate(head() + TEXT + one_source("concentrator"), count, waits, log=True)
    theirs = np.array([waits_in_ciw(seed) for seed in range(count)])
    error = np.sqrt((ours.var(axis=0, ddof=1) + theirs.var(axis=0, ddof=1)) / count)
    assert np.abs((ours.mean(axis=0) - theirs.mean(axis=0)) / error).max() < 4
    assert error.max() < 0.1 * theirs.mean()  # close enough to tell the two priorities apart
