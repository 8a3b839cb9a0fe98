"""A small invented ward with uncertain numbers, over which tests lay joint draws."""

WARD = """
name: Draws ward
start: 2027-01-01
horizon: 20 days
patients: {all: {admissions: {low: 0.5 / day, likely: 1 / day, high: 2 / day}, flow: 2 L/min,
                 duration: {exponential: {mean: 40 h}}}}
cylinders: {content: 6800 L, fleet: 14, regulators: 8}
resupply: {review: 7 days, reorder_point: 9, order_up_to: 12,
           lead_time: {gamma: {mean: {low: 2 days, likely: 4 days, high: 8 days}, sd: 2 days}}}
concentrators: {count: 2, rated_flow: 5 L/min, outlets: 2, power: 350 W}
power: {grid: {up: {exponential: {mean: 20 h}}, down: {lognormal: {median: 4 h, geometric_sd: 2}}}}
strategies: {cylinders only: {sources: [cylinder]}, mixed: {sources: [concentrator, cylinder]}}
"""
