"""What a scenario file says: `load` and `loads` give a Scenario, `warnings` what is doubtful in it."""

from o2sim.scenario.checks import warnings
from o2sim.scenario.loading import load, loads
from o2sim.scenario.types import (
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
