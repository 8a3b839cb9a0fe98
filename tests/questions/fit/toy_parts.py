"""Parts as fitters give them, made of simple laws, for the tests of what is written from them."""

from __future__ import annotations

import numpy as np

from o2sim.fits.found import COUNTS, ROWS, THOUGHT, TOTALS, Curve, Number, Panel, Part, Whole

DRAWS = 24  # as a real fit has 200: each is loaded
RANKS = (np.arange(DRAWS) + 0.5) / DRAWS


def spread(middle, share=0.2, seed=1):
    """Return draws spread evenly about a middle, in a shuffled order."""
    return np.random.default_rng(seed).permutation(middle * (1 + share * (2 * RANKS - 1)))


def admissions(name="children", rate=2.0, tier=ROWS, sheet="Patients on oxygen", **more):
    """Return a part that gives who is put on oxygen: a rate, and shares of 100 %."""
    key = f"patients.{name}"
    numbers = (Number(f"{key}.admissions", "/ day", rate, spread(rate, 0.2, 2)),)
    wholes = (Whole(f"{key}.hypoxaemic", "100 %"), Whole(f"{key}.recognised", "100 %"))
    said = "231 patients, Jan to Dec 2026, 90 % range"
    more.setdefault("cautions", ("17 of 231 stays have no end.",))
    return Part(f"how many {name} come", sheet, tier, said, numbers, wholes, rows=231, used=214, **more)


def stays(name="children"):
    """Return a part that gives a law whole, its draws of two families."""
    draws = tuple(
        f"{{lognormal: {{median: {60 * x:.4g} h, geometric_sd: 2.1}}}}" if place % 3 else
        f"{{weibull: {{mean: {80 * x:.4g} h, shape: 1.2}}}}"
        for place, x in enumerate(spread(1.0))
    )  # fmt: skip
    text = (
        "{lognormal: {median: {low: 50 h, likely: 61 h, high: 74 h}, "
        "geometric_sd: {low: 1.9, likely: 2.1, high: 2.4}}}"
    )
    hours = np.arange(0.0, 200.0, 10.0)
    left = np.exp(-hours / 80)
    panel = Panel(
        f"How long {name} stay on oxygen", "hours on oxygen", "share still on oxygen",
        (Curve(hours, left, "recorded", "steps"),
         Curve(hours, left, "lognormal", "line", (left * 0.9, np.minimum(1.0, left * 1.1)))),
    )  # fmt: skip
    return Part(
        f"how long {name} stay on oxygen", "Patients on oxygen", ROWS,
        "214 of 231 stays, Jan to Dec 2026, lognormal (Akaike 4.1 before gamma), 90 % range",
        wholes=(Whole(f"patients.{name}.duration", text, draws),), panels=(panel,), rows=231, used=214,
        test_p=0.31,
    )  # fmt: skip


def cuts():
    """Return a part that gives parameters of two laws as numbers."""
    numbers = (
        Number("power.grid.up.exponential.mean", "h", 40.0, spread(40.0, 0.3, 3)),
        Number("power.grid.down.lognormal.median", "h", 2.2, spread(2.2, 0.2, 4)),
        Number("power.grid.down.lognormal.geometric_sd", "", 2.4, spread(2.4, 0.1, 5)),
    )
    return Part("how often the power fails", "Power cuts", ROWS, "180 cuts, 2026", numbers, rows=180, used=180)


def lead_time(tier=ROWS, median=5.0):
    """Return a part that gives one parameter of a law, the name of the law left out."""
    numbers = (Number("resupply.lead_time.mean", "days", median, spread(median, 0.3, 6)),)
    sheet = {ROWS: "Orders", THOUGHT: "What we think"}[tier]
    return Part("lead time", sheet, tier, "32 orders", numbers, rows=32, used=3)


def fleet(count=37.0):
    """Return a part that gives a whole number without doubt."""
    return Part("fleet", "Stock card", COUNTS, "the newest line", (Number("cylinders.fleet", "", count,
                np.full(DRAWS, count)),), rows=52, used=1)  # fmt: skip


def season():
    """Return a part that gives a section whole."""
    draws = tuple(f"{{peak: july, ratio: {1 + x:.4g}}}" for x in spread(0.6, 0.5, 7))
    text = "{peak: july, ratio: {low: 1.2, likely: 1.6, high: 2}}"
    wholes = (Whole("patients.children.season", text, draws),)
    return Part("season of children", "Month totals", TOTALS, "12 months", wholes=wholes, rows=12, used=12)


def all_parts():
    """Return one of each."""
    return (admissions(), stays(), season(), cuts(), lead_time(), fleet())
