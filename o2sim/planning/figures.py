"""The figures a planner wants before any simulation: patients, flow, cylinders, cover, grid.

The need and what is given follow all that the scenario says of demand: recognition, oxygen without need, late
weaning, surges and overdispersed days (need.py); the total flow is their compound law (total_flow.py).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from o2sim.draws.laws import quantile
from o2sim.planning.need import OnOxygen, on_oxygen
from o2sim.planning.recorded_need import OfRegister, of_register
from o2sim.planning.total_flow import flow_exceeded, midpoints, patients_exceeded
from o2sim.planning.units import carried, in_order_share, rated_ml_min, up_share
from o2sim.scenario.types.hospital import (
    DAY_S,
    Concentrators,
    Cylinders,
    Generator,
    Hospital,
    Law,
    PatientClass,
    Power,
)
from o2sim.scenario.types.laws import law_mean
from o2sim.scenario.types.period import RESAMPLE
from o2sim.scenario.types.records import grid_share
from o2sim.scenario.types.stages import Stage, stages

FLOWS_ML_MIN = (500, 1_000, 2_000, 5_000, 10_000)


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
    """Oxygen given at one rate of admissions, or on a register's day; _99 is what is exceeded 1 % of the time.

    patients and flows are of all who are given oxygen: those found in need, until they are weaned, and those given
    it without need; needed_ is the part of it that is needed. Cylinders a day and days of cover are for cylinders
    alone, one per patient, each changed exactly at the residual pressure and part-used ones used up; None without
    cylinders, cover also where nobody needs any. Of several sizes cylinders are of the first for patients, and
    days of cover are of the gas in all.
    """

    patients: float
    patients_99: int
    flow_ml_min: float
    flow_99_ml_min: float
    litres_per_day: float
    needed_litres_per_day: float
    cylinders_per_day: float | None
    cover_days: float | None


@dataclass(frozen=True)
class CylinderTime:
    """How long one full cylinder lasts at one flow, in whole seconds rounded down, its leak included."""

    flow_ml_min: int
    whose: str  # classes with this mean flow, or ""
    to_residual_s: int
    to_flow_lost_s: int
    size: str = ""  # of the cylinder, where there are several


@dataclass(frozen=True)
class SizeFigures:
    """Cylinders of one size of several: how many, and the gas in a full one, all of it and what it gives."""

    name: str
    fleet: int
    litres: float
    usable_litres: float


@dataclass(frozen=True)
class GeneratorFigures:
    """The most a generator gives to units where it stands (None: no limit), and how many it carries."""

    watts: int | None
    units: int
    starts_below: float | None  # share of the battery's charge; None: when the grid fails


@dataclass(frozen=True)
class PlanningFigures:
    """What `o2sim check` prints for one hospital; flows in mL/min at 15 degC, 1 atm."""

    classes: tuple[ClassFigures, ...]
    peak_day: dt.date | None  # of 366 days the one with the highest mean flow; None where all are alike
    surges: bool  # whether surges are in it
    by_register: bool  # whether a register's own days are: the mean is then that of the horizon
    missed: float  # patients in need at once who are not recognised, yearly mean
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
    gathers: bool = False  # patients are gathered on fewer units on the battery
    voltage_share: float = 1.0  # of the time the grid is up, with a voltage that units can use
    generator: GeneratorFigures | None = None
    not_in_share: tuple[str, ...] = ()  # what else takes units out, beside failure and repair
    sizes: tuple[SizeFigures, ...] = ()  # in the order of the file; none where cylinders are alike
    first_size: str = ""  # of these, that which is given to patients first


def planning_figures(hospital: Hospital) -> PlanningFigures:
    """Return the planner's figures of one hospital; no simulation and no generator involved.

    The peak is that of the 366 days from the start of the horizon on: of season and surges, and of the days of a
    register that is replayed or repeated by year, as far as the horizon goes.
    """
    classes = hospital.patients
    parts = [stage for item in classes for stage in stages(item)]
    end = hospital.start + dt.timedelta(seconds=hospital.horizon_s)
    given = [given_in(hospital, part, end) for part in parts]
    day = int(np.argmax(sum(each.flow_by_day() for each in given))) if given else 0
    surges = any(item.surges for item in classes)
    by_register = any(isinstance(each, OfRegister) for each in given)
    swings = surges or by_register or any(item.season is not None for item in classes)
    yearly = [(each.mean, each.needed_mean) for each in given]
    at_peak = [each.at(day) for each in given] if swings else yearly
    flows = [(each.flow_ml_min, each.mean_flow_ml_min) for each in given]
    cylinders, units, power = hospital.cylinders, hospital.concentrators, hospital.power or Power()
    voltage = None if power.stabiliser else power.voltage
    return PlanningFigures(
        classes=tuple(
            ClassFigures(item.name, _of(item, parts, yearly), _of(item, parts, at_peak), *_means(item, parts))
            for item in classes
        ),
        peak_day=hospital.start + dt.timedelta(days=day) if swings else None,
        surges=surges,
        by_register=by_register,
        missed=sum(each.missed_mean for each in given),
        mean=_demand(yearly, given, flows, cylinders),
        peak=_demand(at_peak, given, [each.flow_on(day) for each in given] if swings else flows, cylinders),
        cylinder_litres=cylinders.full_gas / 60_000 if cylinders else None,
        usable_litres=usable_gas(cylinders) / 60_000 if cylinders else None,
        cylinder_times=_cylinder_times(cylinders, classes) if cylinders else (),
        fleet=cylinders.fleet if cylinders else 0,
        concentrators=units.count if units else 0,
        concentrator_flow_ml_min=rated_ml_min(units) if units else 0,
        concentrator_share=in_order_share(units) if units else None,
        grid_share=grid_share(hospital),
        battery=battery_carries(hospital),
        gathers=power.battery is not None and power.battery.gather and not (units and units.mixed),
        voltage_share=up_share(voltage.good_s, voltage.bad_s) if voltage else 1.0,
        generator=generator_carries(power.generator, units),
        not_in_share=_not_in_share(units, power) if units else (),
        sizes=tuple(map(_size, cylinders.each)) if cylinders and cylinders.sizes else (),
        first_size=cylinders.each[cylinders.places_for("bedside")[0]].name if cylinders else "",
    )


def given_in(hospital: Hospital, part: Stage, end: dt.date) -> OnOxygen:
    """Return the numbers of a stage of a class, from the start of the horizon on."""
    recorded = part.patients.recorded
    if recorded is not None and recorded.use != RESAMPLE:
        return of_register(hospital, part, recorded)
    return on_oxygen(part, hospital.start, end)


def _of(item: PatientClass, parts: Sequence[Stage], numbers: Sequence[tuple[float, float]]) -> float:
    """Return the patients of a class given oxygen, in all its stages."""
    return sum(pair[0] for part, pair in zip(parts, numbers, strict=True) if part.patients is item)


def _means(item: PatientClass, parts: Sequence[Stage]) -> tuple[float, float]:
    """Return the flow of a class, averaged over the stay, and the mean stay."""
    own, stay_s = [part for part in parts if part.patients is item], law_mean(item.duration_s)
    if len(own) == 1 or stay_s == 0:
        return law_mean(item.flow_ml_min), stay_s
    return sum(part.mean_s * law_mean(part.flow_ml_min) for part in own) / stay_s, stay_s


def _not_in_share(units: Concentrators, power: Power) -> tuple[str, ...]:
    """Return what takes units out of service beside their failures."""
    few = units.crew is not None and units.crew < units.count
    rules = [group.rules for group in units.groups]
    found = (
        (few, f"waiting for the {'technician' if units.crew == 1 else 'technicians'}"),
        (any(each.never_repaired > 0 for each in rules), "units written off"),
        (any(each.cut_damage > 0 for each in rules) and not power.stabiliser, "surges as the grid comes back"),
        (any(each.drift_s is not None for each in rules), "low concentration"),
        (any(each.service_every_s is not None for each in rules), "preventive service"),
        (any(each.repaired_as == "old" for each in rules), "failures of units that are repaired as old"),
    )
    return tuple(name for holds, name in found if holds)


def generator_carries(generator: Generator | None, units: Concentrators | None) -> GeneratorFigures | None:
    """Return what a generator gives beside its base load, and how many units that carries; None without one."""
    if generator is None or units is None:
        return None
    left = None if generator.power_w is None else max(0, generator.power_w - generator.base_load_w)
    count, _ = carried(units, left, generator.start_limit_w)
    below = generator.start_below_permille
    return GeneratorFigures(left, count, None if below is None else below / 1_000)


def usable_gas(cylinders: Cylinders) -> int:
    """Return the gas of a full cylinder above the residual pressure (or where flow is lost), in 1/60 mL."""
    return max(cylinders.full_gas - cylinders.kept_gas, 0)


def delivered_gas(cylinders: Cylinders) -> float:
    """Return what a delivered cylinder gives on average (1/60 mL): some hold less, some give nothing."""
    usable, bad = float(usable_gas(cylinders)), cylinders.underfilled
    if bad is not None:
        keep = cylinders.full_gas - usable
        held = quantile(bad.content, midpoints()) * cylinders.full_gas
        usable = (1 - bad.share) * usable + bad.share * float(np.maximum(held - keep, 0).mean())
    return usable * (1 - cylinders.unusable)


def whole_fleet(cylinders: Cylinders) -> float:
    """Return how many cylinders as the first size for patients give as much as the whole fleet does."""
    if not cylinders.sizes:
        return cylinders.fleet
    return sum(size.fleet * delivered_gas(size) for size in cylinders.each) / delivered_gas(cylinders)


def _size(size: Cylinders) -> SizeFigures:
    return SizeFigures(size.name, size.fleet, size.full_gas / 60_000, usable_gas(size) / 60_000)


def days_of_cover(full: float, cylinders_a_day: float) -> float | None:
    """Return how many days full cylinders last at a use; None where none is used.

    At a need, whatever source meets it: that is days of cover, here as on the sheets.
    """
    return full / cylinders_a_day if cylinders_a_day > 0 else None


def battery_carries(hospital: Hospital) -> tuple[int, float] | None:
    """Return how many units the battery's inverter carries, and for how many hours; None without one.

    When full, and as old as it is when a run begins.
    """
    battery = hospital.power.battery if hospital.power else None
    units = hospital.concentrators
    if battery is None or units is None or not any(g.count and round(g.rules.power_w) for g in units.groups):
        return None
    count, watts = carried(units, battery.inverter_w, battery.start_limit_w)
    if watts == 0:
        return count, 0.0
    return count, battery.usable_at_first_ws * battery.inverter_permille / (watts * 1_000 * 3_600)


def _demand(
    patients: Sequence[tuple[float, float]],
    given: Sequence[OnOxygen],
    flows: Sequence[tuple[Law, float]],
    cylinders: Cylinders | None,
) -> Demand:
    """Return the demand of (patients given oxygen, in need) in each stage, by law and mean of its flow."""
    laws = [law for law, _ in flows]
    counts = [pair[0] for pair in patients]
    count, spreads = sum(counts), [n * each.spread for n, each in zip(counts, given, strict=True)]
    flow, needed = (sum(pair[i] * mean for pair, (_, mean) in zip(patients, flows, strict=True)) for i in (0, 1))
    flow_99 = flow_exceeded(counts, laws, spreads=spreads) if flow > 0 else 0.0
    per_day = cover = None
    if cylinders is not None and usable_gas(cylinders) > 0:
        drawn = (flow + cylinders.leak_ml_min * count) * DAY_S  # mL/min x s = 1/60 mL
        per_day = drawn / delivered_gas(cylinders)
        cover = days_of_cover(whole_fleet(cylinders), per_day)
    return Demand(
        patients=count,
        patients_99=patients_exceeded(count, sum(spreads)),
        flow_ml_min=flow,
        flow_99_ml_min=flow_99,
        litres_per_day=flow * 1.44,  # mL/min x 1,440 min / 1,000
        needed_litres_per_day=needed * 1.44,
        cylinders_per_day=per_day,
        cover_days=cover,
    )


def _cylinder_times(cylinders: Cylinders, classes: Sequence[PatientClass]) -> tuple[CylinderTime, ...]:
    whose: dict[int, list[str]] = {flow: [] for flow in FLOWS_ML_MIN}
    for item in classes:
        whose.setdefault(max(round(law_mean(item.flow_ml_min)), 1), []).append(item.name)
    return tuple(
        CylinderTime(
            flow,
            ", ".join(names),
            usable_gas(size) // (flow + size.leak_ml_min),
            max(size.full_gas - size.lost_gas, 0) // (flow + size.leak_ml_min),
            size.name,
        )
        for size in cylinders.each
        for flow, names in sorted(whose.items())
    )
