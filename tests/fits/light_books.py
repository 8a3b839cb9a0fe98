"""Books drawn straight from laws, without an engine: a year of one class of patients, of cuts and of orders.

Every book is that of a hospital of its own: its truth is drawn first (`truth_of`), then what it writes down.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import PurePath

import numpy as np
import numpy.typing as npt
from scipy.stats import binom, poisson

from o2sim.draws.laws import quantile
from o2sim.records.books import Records
from o2sim.records.rows import CLOCK, DATES_ONLY, Admissions, Cut, Place, Stay, When
from o2sim.records.supply_rows import Order
from o2sim.scenario.types.laws import Law, law_mean, make_law
from o2sim.statistics.fitting import luck

FIRST, DAYS = dt.date(2026, 1, 1), 365
DAY, HOUR = dt.timedelta(days=1), dt.timedelta(hours=1)
CLASS = "children"
READ = 1.0  # of all admissions, the share with a reading: blanks bound shares, and such ranges hold more
CAME = 12 * HOUR  # the clock at which orders are placed, on average that of coming too
Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Truth:
    """A hospital: patients put on oxygen a year, shares in need and recognised, laws in h, L/min and days.

    clock: whether the book of patients has clocks. orders: a year.
    """

    seed: int
    patients: int
    in_need: float
    recognised: float
    clock: bool
    stay_h: Law
    flow_l_min: Law
    up_h: Law
    down_h: Law
    lead_days: Law
    orders: int

    def uniforms(self, purpose: str, shape: int | tuple[int, ...]) -> Values:
        """Return the luck of its books."""
        return luck.uniforms(self.seed, f"light books: {purpose}", self.patients, shape)

    @property
    def admissions_a_day(self) -> float:
        """Return all admissions."""
        return self.patients / DAYS / self.in_need / self.recognised


def truth_of(seed: int, patients: int) -> Truth:
    """Return a hospital by its number: laws of all three kinds in turn, means and widths from usual ranges."""
    u = luck.uniforms(seed, "light truths", patients, 9)
    between = [low + (high - low) * each for (low, high), each in zip(RANGES, u, strict=True)]
    mean_h, wide, need, recognised, mode, up_wide, down_h, lead, lead_wide = between
    kinds = ("lognormal", "gamma", "weibull")
    cycle_h = DAYS * 24 / patients  # as many cuts a year as patients
    return Truth(
        seed, patients, need, recognised, seed % 2 == 0, _law(kinds[seed % 3], mean_h, wide),
        make_law("triangular", {"low": 0.5, "mode": mode, "high": 3.0}),
        _law(kinds[(seed // 3) % 3], cycle_h * (1 - down_h), up_wide),
        _law(kinds[(seed // 9) % 3], cycle_h * down_h, wide),
        _law(kinds[(seed + 1) % 3], lead, lead_wide), {50: 12, 200: 26}.get(patients, 52),
    )  # fmt: skip


RANGES = (  # mean stay (h), its cv, share in need, recognised, mode of flow, cv of up, share down, lead, its cv
    (40, 100), (0.6, 1.2), (0.1, 0.25), (0.5, 0.9), (0.6, 2.5), (0.6, 1.2), (0.05, 0.3), (3, 6), (0.3, 0.7),
)  # fmt: skip


def _law(kind: str, mean: float, cv: float) -> Law:
    """Return a law by its mean and by how wide it is; a Weibull's shape is near that for this width."""
    if kind == "weibull":
        return make_law(kind, {"mean": mean, "shape": cv**-1.086})
    return make_law(kind, {"mean": mean, "sd": cv * mean})


def light_books(truth: Truth) -> Records:
    """Return the books of a hospital."""
    clock = Place(4, None, None, FIRST, FIRST + (DAYS - 1) * DAY, clock=CLOCK if truth.clock else DATES_ONLY)
    noon = dt.time(12)
    usual = (
        Place(5, sheet="Patients on oxygen", usual_start=noon, usual_end=noon),
        Place(6, sheet="Orders", usual_start=noon, usual_end=noon),
    )
    return Records(
        PurePath("light.xlsx"), "0" * 16, (CLASS,), (clock, *usual), stays=tuple(stays(truth)),
        admissions=tuple(admissions(truth)), cuts=tuple(cuts(truth)), orders=tuple(orders(truth)),
    )  # fmt: skip


def _written(days: float, *, clock: bool = True) -> When:
    """Return a time, in days from the begin of the book, as it is written: to the minute, or its date."""
    when = dt.datetime.combine(FIRST, dt.time()) + round(days * 1440) * dt.timedelta(minutes=1)
    return when if clock else when.date()


def stays(truth: Truth) -> list[Stay]:
    """Return the register: at any time of the year, alike; SpO2 and flow always written."""
    count = int(poisson.ppf(truth.uniforms("how many", 1)[0], truth.patients))
    begun = np.sort(truth.uniforms("when", count)) * DAYS
    hours = quantile(truth.stay_h, truth.uniforms("stays", count))
    flows = quantile(truth.flow_l_min, truth.uniforms("flows", count)) * 1_000
    rows = []
    for number, (begin, long_h, flow) in enumerate(zip(begun, hours, flows, strict=True), 4):
        end = begin + long_h / 24
        is_on = end >= DAYS
        rows.append(
            Stay(
                number, class_=CLASS, spo2_percent=85.0, begun=_written(begin, clock=truth.clock),
                flow_ml_min=float(flow), ended=None if is_on else _written(end, clock=truth.clock),
                still_on=is_on or None,
            )
        )  # fmt: skip
    return rows


def admissions(truth: Truth) -> list[Admissions]:
    """Return all admissions by month; those in need and recognised are of the register."""
    on_oxygen = [stay.begun.month for stay in stays(truth) if stay.begun is not None]
    luck_ = truth.uniforms("admissions", (12, 4))
    rows = []
    for month, u in enumerate(luck_, 1):
        first = dt.date(2026, month, 1)
        days = ((first + 32 * DAY).replace(day=1) - first).days
        a_day = truth.admissions_a_day
        missed = int(poisson.ppf(u[0], a_day * days * truth.in_need * (1 - truth.recognised)))
        others = int(poisson.ppf(u[1], a_day * days * (1 - truth.in_need)))
        needing = on_oxygen.count(month) + missed
        below, above = (int(binom.ppf(v, n, READ)) if n else 0 for v, n in ((u[2], needing), (u[3], others)))
        rows.append(Admissions(month + 3, first, CLASS, needing + others, below + above, below))
    return rows


def cuts(truth: Truth) -> list[Cut]:
    """Return the cuts of the year, from a grid that has been on and off for long."""
    count = 3 * truth.patients + 400
    ups, downs = (quantile(law, truth.uniforms(name, count)) for law, name in
                  ((truth.up_h, "up"), (truth.down_h, "down")))  # fmt: skip
    lead_h = 40 * (law_mean(truth.up_h) + law_mean(truth.down_h))
    back = np.cumsum(ups + downs)
    off, on = (back - downs - lead_h) / 24, (back - lead_h) / 24
    rows = []
    for begin, end in zip(off, on, strict=True):
        if 0 <= begin < DAYS:
            rows.append(Cut(len(rows) + 4, _written(begin), _written(end) if end < DAYS else None))
    return rows


def orders(truth: Truth) -> list[Order]:
    """Return orders at even steps, at some time of their day; none waits for another."""
    step = DAYS / truth.orders
    placed = (np.arange(truth.orders) + truth.uniforms("ordered", truth.orders)) * step
    came = placed + quantile(truth.lead_days, truth.uniforms("lead times", truth.orders))
    return [
        Order(
            number, _written(begin, clock=False), 10, _written(end, clock=False) if end < DAYS else None,
            10 if end < DAYS else None,
        )
        for number, (begin, end) in enumerate(zip(placed, came, strict=True), 4)
    ]  # fmt: skip
