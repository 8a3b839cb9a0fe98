"""Every random number of a run, sampled ahead: the only place that touches a generator."""

from o2sim.draws.admissions import Flows, PatientTable
from o2sim.draws.laws import quantile
from o2sim.draws.sample import Draws, Series

__all__ = ["Draws", "Flows", "PatientTable", "Series", "quantile"]
