"""Scenario texts that several tests share: a small one and the whole example of the design; fields set anew."""

from collections.abc import Mapping

from o2sim.scenario import Scenario
from o2sim.scenario.changing.override import Original, changed, loaded

SMALL = """\
name: One bed
patients:
  child:
    admissions: 1 / day
    flow: 1 L/min
    duration: 24 h
cylinders:
  water_capacity: 47 L
  fleet: 4
resupply:
  lead_time: 1 day
strategies: {cylinders only: {sources: [cylinder]}}
"""

WHOLE = """\
name: Misty Ridge district hospital
about: 60 beds, wet-season road closures
start: 2027-01-01
horizon: 365 days
warm_up: 28 days          # run before the horizon, not counted
tolerated_gap: 10 min     # a longer gap is an interruption; a counting threshold, not a safe time
response_time: 5 min      # staff connect another source after a loss of supply

patients:
  newborns:
    admissions: 1.5 / day
    hypoxaemic: 22 %
    flow: 0.5 L/min
    duration: {lognormal: {median: 60 h, geometric_sd: 2.2}}
    priority: 1
  children:
    admissions: 8 / day
    hypoxaemic: 12 %
    flow: {triangular: {low: 0.5 L/min, mode: 1 L/min, high: 2 L/min}}
    duration: {lognormal: {median: 55 h, geometric_sd: 2.0}}
    priority: 1
    season: {peak: may, ratio: 1.8}
  adults:
    admissions: 7 / day
    hypoxaemic: 9 %
    flow: {triangular: {low: 2 L/min, mode: 4 L/min, high: 10 L/min}}
    duration: {lognormal: {median: 60 h, geometric_sd: 2.2}}
    priority: 2
    if_unserved: transfer

cylinders:
  water_capacity: 47 L
  filling_pressure: 13.7 MPa
  fill_temperature: 25 degC
  residual_pressure: 800 kPa
  flow_lost_below: 400 kPa
  fleet: 40
  regulators: 12
  leak: 0.1 L/min
  gauge_check: 2 h
  change_time: 10 min

resupply:
  review: 7 days
  reorder_point: 22
  order_up_to: 36
  lead_time: {gamma: {mean: 4 days, sd: 2 days}}
  vehicle_capacity: 12
  minimum_order: 4
  road_closures:
    - {from: 2027-04-01, to: 2027-06-30, chance_per_day: 5 %, length: {gamma: {mean: 7 days, sd: 5 days}}}

concentrators:
  count: 5
  rated_flow: 5 L/min
  outlets: 4
  power: 350 W
  failure: {exponential: {mean: 4000 h}}
  failure_clock: running
  repair: {lognormal: {median: 30 days, geometric_sd: 2.0}}

power:
  grid:
    up: {exponential: {mean: 36 h}}
    down: {lognormal: {median: 2 h, geometric_sd: 2.5}}

costs:
  currency: USD
  discount_rate: 3 %
  cylinders: {price: 250 USD, life: 20 years, salvage: 20 USD, rent: 12 USD/year, refill: 18 USD}
  regulators: {price: 80 USD, life: 5 years}
  concentrators: {price: 648 USD, life: 7 years, service: 60 USD/year, repair: 100 USD}
  transport: {trip: 90 USD, cylinder: 2 USD}
  electricity: 0.18 USD/kWh
  consumables: 1.50 USD

strategies:
  cylinders only: {sources: [cylinder]}
  concentrators only: {sources: [concentrator]}
  mixed: {sources: [concentrator, cylinder], concentrators: {count: 3}}
"""


def with_values(
    source: Original, values: Mapping[str, str], strategy: str | None = None, *, move_levels: bool = False
) -> Scenario:
    """Return the scenario with fields set and all checks made anew. Raises ScenarioError where that is none."""
    return loaded(source, changed(source, values, strategy, move_levels=move_levels))
