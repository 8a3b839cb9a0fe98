"""Makes the demo workbook: a year of records of Heron Point, an invented hospital, with the usual gaps.

    python tests/records/heron_point.py

writes scenarios/heron_point_records.xlsx anew. The seed was chosen before anybody looked at what it gives.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT)]

from drawn_hospital import USUAL, drawn_history, numbered, records_of  # noqa: E402
from written_books import filled_template  # noqa: E402

from o2sim.records.books import Records  # noqa: E402
from o2sim.records.supply_rows import Thought  # noqa: E402

SEED = 2026
WORKBOOK = ROOT / "scenarios" / "heron_point_records.xlsx"
NAME = "Heron Point"
TRUTH = """
name: Heron Point hospital
about: the hospital whose records the demo workbook holds; every figure is invented
start: 2026-01-01
horizon: 365 days
warm_up: 28 days
tolerated_gap: 10 min
response_time: {lognormal: {median: 5 min, geometric_sd: 2}}

patients:
  newborns:
    admissions: 0.7 / day
    hypoxaemic: 24 %
    recognised: 80 %
    flow: {triangular: {low: 0.5 L/min, mode: 0.5 L/min, high: 1 L/min}}
    duration: {lognormal: {median: 62 h, geometric_sd: 2.1}}
    size: newborn
    delivery: nasal prongs
    priority: 1
  children:
    admissions: 4.2 / day
    hypoxaemic: 13 %
    recognised: 78 %
    flow: {triangular: {low: 0.5 L/min, mode: 1 L/min, high: 2 L/min}}
    duration: {lognormal: {median: 52 h, geometric_sd: 1.9}}
    size: child
    delivery: nasal prongs
    priority: 1
    season: {peak: june, ratio: 2}
  adults:
    admissions: 2.6 / day
    hypoxaemic: 11 %
    recognised: 70 %
    flow: {triangular: {low: 1 L/min, mode: 3 L/min, high: 6 L/min}}
    duration: {gamma: {mean: 75 h, sd: 58 h}}
    size: adult
    delivery: nasal prongs
    priority: 2

cylinders:
  water_capacity: 47 L
  filling_pressure: 13.7 MPa
  fill_temperature: 30 degC
  residual_pressure: 800 kPa
  flow_lost_below: 400 kPa
  fleet: 18
  regulators: 8
  leak: 0.1 L/min
  gauge_check: 3 h
  change_time: 10 min

resupply:
  review: 7 days
  reorder_point: 12
  order_up_to: 16
  lead_time: {gamma: {mean: 5 days, sd: 2.5 days}}
  road_closures:
    - {from: 2026-05-01, to: 2026-07-31, chance_per_day: 4 %, length: {gamma: {mean: 6 days, sd: 4 days}}}

concentrators:
  count: 3
  rated_flow: 5 L/min
  outlets: 2
  power: 350 W
  failure: {exponential: {mean: 3500 h}}
  failure_clock: running
  repair: {lognormal: {median: 60 days, geometric_sd: 1.8}}
  never_repaired: 10 %

power:
  grid:
    up: {exponential: {mean: 28 h}}
    down: {lognormal: {median: 2.5 h, geometric_sd: 2.2}}

strategies:
  mixed: {sources: [concentrator, cylinder]}
"""
THOUGHTS = (
    Thought(0, "cylinders.change_time", "5 min", "10 min", "25 min", "asked"),
    Thought(0, "cylinders.leak", "0.05 L/min", "0.1 L/min", "0.4 L/min", "guess"),
)
THIN = replace(USUAL, stock_gap=(224, 251))


def heron_point() -> Records:
    """Return the records of the demo workbook."""
    drawn = records_of(drawn_history(TRUTH, "mixed", 365, SEED), THIN, NAME)
    return replace(drawn, thoughts=numbered(THOUGHTS))


if __name__ == "__main__":
    WORKBOOK.write_bytes(filled_template(heron_point()))
