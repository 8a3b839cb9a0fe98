"""What a scenario file says: `load` and `loads` give a Scenario, `warnings` what is doubtful in it."""

from o2sim.scenario.building.loading import load, loads
from o2sim.scenario.checks.checks import warnings
from o2sim.scenario.types.hospital import (
    Concentrators,
    Costs,
    Cylinders,
    Equipment,
    Grid,
    Hospital,
    Law,
    PatientClass,
    Resupply,
    RoadClosure,
    Scenario,
    Season,
    Strategy,
)

__all__ = [
    "Concentrators",
    "Costs",
    "Cylinders",
    "Equipment",
    "Grid",
    "Hospital",
    "Law",
    "PatientClass",
    "Resupply",
    "RoadClosure",
    "Scenario",
    "Season",
    "Strategy",
    "load",
    "loads",
    "warnings",
]
