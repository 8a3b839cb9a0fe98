"""Facility oxygen logistics simulator: scenario files in; stock-out probabilities, costs and charts out.

Each question has a function: `compare` strategies or options, `size` the stock, ask `whatif`, list the
`equipment`, run a `study` of many facilities, `trace` one replication. The public names are loaded when first
used, so that `import o2sim` and `o2sim --help` stay quick. Every import passes here first: here stands also which
modules show a result, and what workers run.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from o2sim.version import __version__ as __version__
from o2sim.wiring import connect as _connect

if TYPE_CHECKING:
    from o2sim.analysis.comparison import compare
    from o2sim.analysis.drivers import drivers
    from o2sim.analysis.many_facilities import study
    from o2sim.analysis.measures import summarise
    from o2sim.analysis.sizing import size
    from o2sim.analysis.study import Study, run_study
    from o2sim.analysis.to_buy import equipment
    from o2sim.analysis.tracing import trace
    from o2sim.analysis.whatif import whatif
    from o2sim.errors import O2simError
    from o2sim.gas import cylinder_lasts
    from o2sim.report.publish import write_report
    from o2sim.scenario import Scenario, load, loads

_PLACES = {
    "O2simError": "o2sim.errors",
    "Scenario": "o2sim.scenario",
    "Study": "o2sim.analysis.study",
    "compare": "o2sim.analysis.comparison",
    "cylinder_lasts": "o2sim.gas",
    "drivers": "o2sim.analysis.drivers",
    "equipment": "o2sim.analysis.to_buy",
    "load": "o2sim.scenario",
    "loads": "o2sim.scenario",
    "run_study": "o2sim.analysis.study",
    "size": "o2sim.analysis.sizing",
    "study": "o2sim.analysis.many_facilities",
    "summarise": "o2sim.analysis.measures",
    "trace": "o2sim.analysis.tracing",
    "whatif": "o2sim.analysis.whatif",
    "write_report": "o2sim.report.publish",
}

__all__ = [
    "O2simError",
    "Scenario",
    "Study",
    "compare",
    "cylinder_lasts",
    "drivers",
    "equipment",
    "load",
    "loads",
    "run_study",
    "size",
    "study",
    "summarise",
    "trace",
    "whatif",
    "write_report",
]

_connect("html", "o2sim.report.notebook")
_connect("chart", "o2sim.report.notebook_charts")
_connect("frame", "o2sim.report.frames")
_connect("sheets", "o2sim.report.sheets")
_connect("workers", "o2sim.analysis.point_runs", "o2sim.analysis.facility_study", "o2sim.cli")


def __getattr__(name: str) -> object:
    """Return a public name from the module that defines it."""
    if name not in _PLACES:
        known = ", ".join(__all__)
        raise AttributeError(f"module 'o2sim' has no attribute {name!r}; its public names are {known}")
    return getattr(import_module(_PLACES[name]), name)


def __dir__() -> list[str]:
    """Return the public names and the version."""
    return [*__all__, "__version__"]
