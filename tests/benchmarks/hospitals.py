"""A shipped hospital and a factor in, the same hospital so many times as large out; and a loss system."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from o2sim import load, loads
from o2sim.scenario.types.hospital import Hospital, Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
HOSPITALS = ("health_centre", "district_hospital", "city_hospital")
DAY_S = 86_400


def shipped(name: str) -> Scenario:
    """Return a shipped scenario."""
    return load(SCENARIOS / f"{name}.yaml")


def scaled(scenario: Scenario, factor: float, days: int | None = None) -> Scenario:
    """Return a scenario with so many times the patients, cylinders and units, over so many days."""
    hospitals = {name: _scaled(hospital, factor, days) for name, hospital in scenario.hospitals.items()}
    return replace(scenario, hospitals=hospitals)


def _scaled(hospital: Hospital, factor: float, days: int | None) -> Hospital:
    def times(count: int) -> int:
        return max(1, round(count * factor))

    patients = tuple(replace(k, admissions_per_day=k.admissions_per_day * factor) for k in hospital.patients)
    gas, units, order = hospital.cylinders, hospital.concentrators, hospital.resupply
    if gas is not None:
        full = times(gas.full_at_start)
        gas = replace(gas, fleet=times(gas.fleet), full_at_start=full, regulators=times(gas.regulators))
    if order is not None:
        up_to = None if order.order_up_to is None else times(order.order_up_to)
        truck = None if order.vehicle_capacity is None else times(order.vehicle_capacity)
        order = replace(order, reorder_point=times(order.reorder_point), order_up_to=up_to, vehicle_capacity=truck)
    if units is not None:
        units = replace(units, count=times(units.count))
    horizon_s = hospital.horizon_s if days is None else days * DAY_S
    return replace(
        hospital, patients=patients, cylinders=gas, concentrators=units, resupply=order, horizon_s=horizon_s
    )


def loss_system(servers: int, per_day: float, hours: float, days: int) -> Scenario:
    """Return M/M/c/c: units of one outlet that never fail, patients who are transferred where none is free."""
    return loads(
        f"name: loss\nstart: 2031-01-01\nhorizon: {days} days\nif_unserved: transfer\ntolerated_gap: 1 h\n"
        f"patients: {{a: {{admissions: {per_day} / day, flow: 1 L/min, "
        f"duration: {{exponential: {{mean: {hours} h}}}}}}}}\n"
        f"concentrators: {{count: {servers}, outlets: 1, rated_flow: 5 L/min}}\n"
        "strategies: {units: {sources: [concentrator]}}\n"
    )
