"""What a scenario file says: `load` and `loads` give a Scenario, `warnings` what is doubtful in it."""

from o2sim.scenario.building.loading import load, loads
from o2sim.scenario.checks.checks import warnings
from o2sim.scenario.types.hospital import Law, Scenario

__all__ = ["Law", "Scenario", "load", "loads", "warnings"]
