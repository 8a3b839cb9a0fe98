"""A hospital in, the figures a planner wants before any simulation out: patients, flow, cylinders, cover, grid.

Patients on oxygen at once are M(t)/G/infinity, so their number on a day is Poisson with a mean known exactly
(Eick, Massey and Whitt 1993), and their total flow is compound Poisson (Panjer 1981; both from memory). Above a
mean of NORMAL_FROM patients the flow's 99 % point is that of the normal law, corrected for skewness.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri, pdtr

from o2sim.draws.laws import quantile
from o2sim.draws.season import cumulative
from o2sim.scenario.laws import law_mean
from o2sim.scenario.spells import listed_cuts
from o2sim.scenario.stages import Stage, stages
from o2sim.scenario.types import DAY_S, Cylinders, Hospital, Law, PatientClass

Array = npt.NDArray[np.float64]

YEAR = 366  # days looked at for the season's peak: one whole turn
LOOK_BACK = 1_096  # days of past admissions followed one by one; longer stays meet the yearly mean rate
POINTS = 2_000  # equally likely points that stand for a law
GRID_POINTS = 5_000  # most points of the flow grid
PANJER_MEAN = 500.0  # exp(-mean) is far from underflow below this
NORMAL_FROM = 2_000.0  # patients; beyond, the grid's step is no longer small beside the flow of one patient
FLOWS_ML_MIN = (500, 1_000, 2_000, 5_000, 10_000)
SHARE = 0.99


@dataclass(frozen=True)
class ClassFigures:
    """One class of patients: numbers on oxygen at once (yearly mean, peak day), mean flow and mean stay."""

    name: str
    patients_mean: float
    patients_peak: float
    flow_ml_min: float
    stay_s: float


@dataclass(frozen=True)
class Demand:
    """The need at one rate of admissions; _99 is what is exceeded 1 % of the time.

    Cylinders a day and days of cover are for cylinders alone, one per patient, each changed exactly at the
    residual pressure and part-used ones used up; None without cylinders, cover also where nobody needs any.
    """

    patients: float
    patients_99: int
    flow_ml_min: float
    flow_99_ml_min: float
    litres_per_day: float
    cylinders_per_day: float | None
    cover_days: float | None


@dataclass(frozen=True)
class CylinderTime:
    """How long one full cylinder lasts at one flow, in whole seconds rounded down, its leak included."""

    flow_ml_min: int
    whose: str  # classes with this mean flow, or ""
    to_residual_s: int
    to_flow_lost_s: int


@dataclass(frozen=True)
class PlanningFigures:
    """What `o2sim check` prints for one hospital; flows in mL/min at 15 degC, 1 atm."""

    classes: tuple[ClassFigures, ...]
    peak_day: dt.date | None  # the day of the year with the highest mean flow; None without a season
    mean: Demand
    peak: Demand
    cylinder_litres: float | None  # in a full one
    usable_litres: float | None  # down to the residual pressure
    cylinder_times: tuple[CylinderTime, ...]
    fleet: int
    concentrators: int
    concentrator_flow_ml_min: int  # rated, all units together
    concentrator_share: float | None  # of units in order in the long run, running all the time
    grid_share: float  # of time the grid is up in the long run
    battery: tuple[int, float] | None = None  # units it carries, and for how many hours; None without one


def planning_figures(hospital: Hospital) -> PlanningFigures:
    """Return the planner's figures of one hospital; no simulation and no generator involved."""
    classes = hospital.patients
    parts = [stage for item in classes for stage in stages(item)]
    flows = [law_mean(part.flow_ml_min) for part in parts]
    yearly = [part.at_once for part in parts]
    by_day = np.array([stage_by_day(part, hospital.start) for part in parts]).reshape(-1, YEAR)
    day = int(np.argmax(np.array(flows) @ by_day)) if classes else 0
    seasonal = any(item.season is not None for item in classes)
    at_peak = [float(value) for value in by_day[:, day]] if seasonal else yearly
    cylinders, units = hospital.cylinders, hospital.concentrators
    return PlanningFigures(
        classes=tuple(
            ClassFigures(item.name, _of(item, parts, yearly), _of(item, parts, at_peak), *_means(item, parts))
            for item in classes
        ),
        peak_day=hospital.start + dt.timedelta(days=day) if seasonal else None,
        mean=_demand(yearly, parts, cylinders),
        peak=_demand(at_peak, parts, cylinders),
        cylinder_litres=cylinders.full_gas / 60_000 if cylinders else None,
        usable_litres=usable_gas(cylinders) / 60_000 if cylinders else None,
        cylinder_times=_cylinder_times(cylinders, classes) if cylinders else (),
        fleet=cylinders.fleet if cylinders else 0,
        concentrators=units.count if units else 0,
        concentrator_flow_ml_min=units.count * units.rated_flow_ml_min if units else 0,
        concentrator_share=up_share(units.failure_s, units.repair_s) if units else None,
        grid_share=grid_share(hospital),
        battery=battery_carries(hospital),
    )


def _of(item: PatientClass, parts: Sequence[Stage], numbers: Sequence[float]) -> float:
    """Return the patients of a class in all its stages."""
    return sum(number for part, number in zip(parts, numbers, strict=True) if part.patients is item)


def _means(item: PatientClass, parts: Sequence[Stage]) -> tuple[float, float]:
    """Return the flow of a class, averaged over the stay, and the mean stay."""
    own, stay_s = [part for part in parts if part.patients is item], law_mean(item.duration_s)
    if len(own) == 1 or stay_s == 0:
        return law_mean(item.flow_ml_min), stay_s
    return sum(part.mean_s * law_mean(part.flow_ml_min) for part in own) / stay_s, stay_s


def usable_gas(cylinders: Cylinders) -> int:
    """Return the gas of a full cylinder above the residual pressure (or where flow is lost), in 1/60 mL."""
    return max(cylinders.full_gas - max(cylinders.residual_gas, cylinders.lost_gas), 0)


def up_share(up: Law | None, down: Law | None) -> float:
    """Return mean up / (mean up + mean down), the long-run share of an alternating renewal process."""
    if up is None or down is None:
        return 1.0
    up_s, down_s = law_mean(up), law_mean(down)
    return up_s / (up_s + down_s) if up_s + down_s > 0 else 1.0


def grid_share(hospital: Hospital) -> float:
    """Return the share of time the grid is up: by itself in the long run, by plan and record in the horizon."""
    grid = hospital.grid
    if grid is not None and grid.never_on:
        return 0.0
    share = up_share(grid.up_s, grid.down_s) if grid is not None else 1.0
    cuts = sum(
        end - max(start, hospital.warm_up_s) for start, end in listed_cuts(hospital) if end > hospital.warm_up_s
    )
    return share * (1 - cuts / hospital.horizon_s)


def battery_carries(hospital: Hospital) -> tuple[int, float] | None:
    """Return how many units the battery's inverter carries, and for how many hours when full; None without one."""
    battery = hospital.power.battery if hospital.power else None
    units = hospital.concentrators
    watts = round(units.power_w) if units else 0
    if battery is None or units is None or units.count * watts == 0:
        return None
    count = units.count if battery.inverter_w is None else min(units.count, battery.inverter_w // watts)
    if count == 0:
        return 0, 0.0
    return count, battery.usable_ws * battery.inverter_permille / (count * watts * 1_000 * 3_600)


def patients_by_day(item: PatientClass, first: dt.date) -> Array:
    """Return the mean number of one class on oxygen at noon of each day from `first`, shape (366,)."""
    return np.asarray(sum(stage_by_day(stage, first) for stage in stages(item)))


def stage_by_day(stage: Stage, first: dt.date) -> Array:
    """Return the mean number of one class in one stage of its flow at noon of each day, shape (366,).

    The mean at t is the integral of the rate over the last stay, averaged over stays (Eick, Massey, Whitt 1993);
    in a stage, over that part of it. The points that stand for the stays make it good to 1 in 10,000.
    """
    item = stage.patients
    rate = item.admissions_per_day * item.hypoxaemic
    day_zero = first - dt.timedelta(days=LOOK_BACK)
    noon = np.arange(LOOK_BACK, LOOK_BACK + YEAR, dtype=np.float64) + 0.5
    stays = quantile(item.duration_s, _midpoints()) / DAY_S
    begun = np.minimum(stays, stage.from_s / DAY_S)
    ended = stays if stage.to_s is None else np.minimum(stays, stage.to_s / DAY_S)
    if float((ended - begun).mean()) == 0:
        return np.zeros(YEAR)

    def until(ago: Array) -> Array:
        return cumulative(np.asarray(noon[:, None] - np.minimum(ago, LOOK_BACK)), item.season, day_zero)

    since = until(begun) if stage.from_s else cumulative(noon, item.season, day_zero)[:, None]
    excess = np.maximum(ended - LOOK_BACK, 0) - np.maximum(begun - LOOK_BACK, 0)
    # Equally likely points lose a little of a long tail; the law's own mean is exact, so scale to it.
    scale = stage.mean_s / DAY_S / float((ended - begun).mean())
    return np.asarray(rate * scale * (since - until(ended) + excess).mean(axis=1))


def total_flow(patients: Sequence[float], flows: Sequence[Law]) -> tuple[Array, float]:
    """Return the probability of each total flow, shape (points,), and the grid step in mL/min.

    patients: Poisson means, one per class; flows: the law of one patient's flow in mL/min, one per class.
    """
    count = sum(patients)
    if count <= 0:
        return np.ones(1), 1.0
    points = [quantile(law, _midpoints()) for law in flows]
    largest = max(float(value.max()) for value in points)
    second = sum(n * float(np.mean(value**2)) for n, value in zip(patients, points, strict=True))
    first = sum(n * float(np.mean(value)) for n, value in zip(patients, points, strict=True))
    reach = first + 10 * math.sqrt(second) + 2 * largest
    step = next(step for step in _steps() if reach / step <= GRID_POINTS)
    severity = np.zeros(int(largest // step) + 2)
    for mean, value in zip(patients, points, strict=True):
        _spread(severity, value / step, mean / count / value.size)
    return compound_poisson(count, severity, int(reach // step) + 1), float(step)


def compound_poisson(mean: float, severity: Array, size: int) -> Array:
    """Return P(sum = j steps), j = 0 .. size-1, of Poisson(mean) many terms with the given law on 0, 1, 2...

    Panjer's recursion; a large mean is halved until exp(-mean) does not underflow, then convolved back.
    """
    doublings = max(0, math.ceil(math.log2(mean / PANJER_MEAN))) if mean > 0 else 0
    rate = mean / 2**doublings
    weights = np.arange(severity.size) * severity
    total = np.zeros(size)
    total[0] = math.exp(-rate * (1 - severity[0]))
    for j in range(1, size):
        terms = min(j, severity.size - 1)
        total[j] = rate / j * float(weights[1 : terms + 1] @ total[j - terms : j][::-1])
    for _ in range(doublings):
        total = np.convolve(total, total)[:size]
    return total


def flow_exceeded(patients: Sequence[float], flows: Sequence[Law], share: float = SHARE) -> float:
    """Return the total flow in mL/min that is not exceeded with probability `share`; arguments as total_flow's.

    Up to NORMAL_FROM patients exact on the grid; above, the normal approximation of the compound Poisson with the
    first Cornish-Fisher term for its skewness (from memory), which at NORMAL_FROM is within 0.5 % of the grid's.
    """
    if sum(patients) <= NORMAL_FROM:
        chances, step = total_flow(patients, flows)
        return step * int(np.searchsorted(np.cumsum(chances), share))
    return normal_flow(patients, flows, share)


def normal_flow(patients: Sequence[float], flows: Sequence[Law], share: float = SHARE) -> float:
    """Return the approximate quantile of the total flow in mL/min from its moments; see flow_exceeded."""
    points = [quantile(law, _midpoints()) for law in flows]
    first = sum(n * law_mean(law) for n, law in zip(patients, flows, strict=True))
    second, third = (
        sum(n * float(np.mean(value**power)) for n, value in zip(patients, points, strict=True))
        for power in (2, 3)
    )
    if second <= 0:
        return 0.0
    z = float(ndtri(share))
    return first + z * math.sqrt(second) + (z * z - 1) / 6 * third / second


def poisson_quantile(mean: float, share: float = SHARE) -> int:
    """Return the least n with P(Poisson(mean) <= n) >= share; from the normal point, never above it, onwards."""
    n = max(0, math.floor(mean + float(ndtri(share)) * math.sqrt(mean)))
    while float(pdtr(n, mean)) < share:
        n += 1
    return n


def _midpoints() -> Array:
    return (np.arange(POINTS) + 0.5) / POINTS


def _steps() -> list[int]:
    """Return grid steps in mL/min, finest first: 1, 2, 5, 10 ..."""
    return [lead * 10**power for power in range(12) for lead in (1, 2, 5)]


def _spread(severity: Array, position: Array, weight: float) -> None:
    """Add `weight` at each position, shared between its two grid points so that the mean is kept."""
    below = np.floor(position).astype(np.int64)
    part = position - below
    np.add.at(severity, below, weight * (1 - part))
    np.add.at(severity, below + 1, weight * part)


def _demand(patients: Sequence[float], parts: Sequence[Stage], cylinders: Cylinders | None) -> Demand:
    """Return the need of so many patients in each stage: numbers in stages are Poisson apart (thinning)."""
    flow = sum(n * law_mean(part.flow_ml_min) for n, part in zip(patients, parts, strict=True))
    flow_99 = flow_exceeded(patients, [part.flow_ml_min for part in parts]) if flow > 0 else 0.0
    per_day = cover = None
    if cylinders is not None and usable_gas(cylinders) > 0:
        drawn = (flow + cylinders.leak_ml_min * sum(patients)) * DAY_S  # mL/min x s = 1/60 mL
        per_day = drawn / usable_gas(cylinders)
        cover = cylinders.fleet / per_day if per_day > 0 else None
    return Demand(
        patients=sum(patients),
        patients_99=poisson_quantile(sum(patients)),
        flow_ml_min=flow,
        flow_99_ml_min=flow_99,
        litres_per_day=flow * 1.44,  # mL/min x 1,440 min / 1,000
        cylinders_per_day=per_day,
        cover_days=cover,
    )


def _cylinder_times(cylinders: Cylinders, classes: Sequence[PatientClass]) -> tuple[CylinderTime, ...]:
    whose: dict[int, list[str]] = {flow: [] for flow in FLOWS_ML_MIN}
    for item in classes:
        whose.setdefault(max(round(law_mean(item.flow_ml_min)), 1), []).append(item.name)
    usable = usable_gas(cylinders)
    deliverable = max(cylinders.full_gas - cylinders.lost_gas, 0)
    return tuple(
        CylinderTime(
            flow,
            ", ".join(names),
            usable // (flow + cylinders.leak_ml_min),
            deliverable // (flow + cylinders.leak_ml_min),
        )
        for flow, names in sorted(whose.items())
    )
