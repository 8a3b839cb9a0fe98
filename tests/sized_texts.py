"""A scenario with large and small cylinders, for tests of whatever goes by size."""

SIZED = """\
name: Two sizes
horizon: 60 days
warm_up: 7 days
transfer: {after: 2 h, travel: 2 h, oxygen: cylinder, back_after: 2 h}
patients:
  children: {admissions: 2 / day, flow: 1 L/min, duration: 24 h, recognised: 100 %}
cylinders:
  filling_pressure: 13.7 MPa
  sizes:
    large: {water_capacity: 47 L, valve: bullnose, fleet: 10, space: 6, refill: 16 USD, price: 240 USD}
    small: {water_capacity: 4.7 L, valve: pin-index, fleet: 12, refill: 6 USD, price: 90 USD, owned: 5}
  use: {bedside: [large], backup: [small], transfer: [small]}
  regulator_sets: [{count: 6, valve: bullnose}, {count: 4, valve: pin-index}]
  backup: {for: [children], count: 3}
concentrators: {count: 2, rated_flow: 5 L/min}
power: {grid: {up: {exponential: {mean: 2 days}}, down: {exponential: {mean: 3 h}}}}
resupply:
  lead_time: 3 days
  sizes: {large: {reorder_point: 6, order_up_to: 9}, small: {reorder_point: 8}}
  vehicle_space: 60
costs:
  currency: USD
  cylinders: {price: 300 USD, life: 20 years, salvage: 30 USD, refill: 20 USD}
  regulators: {price: 60 USD}
  transport: {trip: 40 USD}
strategies:
  cylinders only: {sources: [cylinder]}
  mixed: {sources: [concentrator, cylinder]}
"""
