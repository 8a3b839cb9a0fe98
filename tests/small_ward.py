"""A small invented ward with prices, concentrators and a bad grid, for tests of the functions a notebook uses."""

WARD = """
name: Small ward
start: 2027-01-01
horizon: 60 days
warm_up: 7 days
tolerated_gap: 10 min
response_time: 5 min
patients: {all: {admissions: 1 / day, flow: 2 L/min, duration: {exponential: {mean: 40 h}}}}
cylinders: {content: 6800 L, fleet: 14, regulators: 8, gauge_check: 2 h}
resupply: {review: 7 days, reorder_point: 9, order_up_to: 12, lead_time: {gamma: {mean: 4 days, sd: 2 days}}}
concentrators: {count: 2, rated_flow: 5 L/min, outlets: 2, power: 350 W}
power: {grid: {up: {exponential: {mean: 20 h}}, down: {lognormal: {median: 4 h, geometric_sd: 2}}}}
costs:
  currency: USD
  cylinders: {price: 240 USD, life: 20 years, refill: 10 USD}
  concentrators: {price: 648 USD, life: 7 years}
strategies:
  cylinders only: {sources: [cylinder]}
  concentrators only: {sources: [concentrator]}
  mixed: {sources: [concentrator, cylinder]}
options: {of: mixed, vary: {cylinders.fleet: [12, 14], concentrators.count: [1, 2]}}
"""
