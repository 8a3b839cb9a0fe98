"""Facility oxygen logistics simulator: scenario files in; stock-out probabilities, costs and charts out.

The public names below are loaded when first used, so that `import o2sim` and `o2sim --help` stay quick.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from o2sim.analysis.cost import equivalent_annual_cost
    from o2sim.analysis.drivers import drivers
    from o2sim.analysis.measures import summarise
    from o2sim.analysis.options import decide, options_scenario
    from o2sim.analysis.sizing import size
    from o2sim.analysis.study import Study, run_study
    from o2sim.analysis.whatif import whatif
    from o2sim.draws import Draws
    from o2sim.errors import O2simError, ScenarioError
    from o2sim.gas import cylinder_lasts, total_litres
    from o2sim.model.run import simulate
    from o2sim.outcome import Cause, Outcome
    from o2sim.report.publish import write_report
    from o2sim.scenario import Scenario, load, loads

__version__ = "0.1.0"

_PLACES = {
    "Cause": "o2sim.outcome",
    "Draws": "o2sim.draws",
    "O2simError": "o2sim.errors",
    "Outcome": "o2sim.outcome",
    "Scenario": "o2sim.scenario",
    "ScenarioError": "o2sim.errors",
    "Study": "o2sim.analysis.study",
    "cylinder_lasts": "o2sim.gas",
    "decide": "o2sim.analysis.options",
    "drivers": "o2sim.analysis.drivers",
    "equivalent_annual_cost": "o2sim.analysis.cost",
    "load": "o2sim.scenario",
    "loads": "o2sim.scenario",
    "options_scenario": "o2sim.analysis.options",
    "run_study": "o2sim.analysis.study",
    "simulate": "o2sim.model.run",
    "size": "o2sim.analysis.sizing",
    "summarise": "o2sim.analysis.measures",
    "total_litres": "o2sim.gas",
    "whatif": "o2sim.analysis.whatif",
    "write_report": "o2sim.report.publish",
}

__all__ = [
    "Cause",
    "Draws",
    "O2simError",
    "Outcome",
    "Scenario",
    "ScenarioError",
    "Study",
    "cylinder_lasts",
    "decide",
    "drivers",
    "equivalent_annual_cost",
    "load",
    "loads",
    "options_scenario",
    "run_study",
    "simulate",
    "size",
    "summarise",
    "total_litres",
    "whatif",
    "write_report",
]


def __getattr__(name: str) -> object:
    """Return a public name from the module that defines it."""
    if name not in _PLACES:
        known = ", ".join(__all__)
        raise AttributeError(f"module 'o2sim' has no attribute {name!r}; its public names are {known}")
    return getattr(import_module(_PLACES[name]), name)


def __dir__() -> list[str]:
    """Return the public names and the version."""
    return [*__all__, "__version__"]
