"""Facility oxygen logistics simulator: from a scenario file to the chance of a stock-out, costs and charts.

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
    from o2sim.errors import O2simError
    from o2sim.measures.measures import summarise
    from o2sim.quantities.gas import cylinder_lasts
    from o2sim.questions.choose.comparison import compare
    from o2sim.questions.drivers.drivers import drivers
    from o2sim.questions.equipment.to_buy import equipment
    from o2sim.questions.facilities.many_facilities import study
    from o2sim.questions.fit.fitting import fit
    from o2sim.questions.hindcast.hindcast import hindcast
    from o2sim.questions.report.publish import write_report
    from o2sim.questions.size.sizing import size
    from o2sim.questions.today.today import today
    from o2sim.questions.trace.tracing import trace
    from o2sim.questions.whatif.whatif import whatif
    from o2sim.records.reading import read_records
    from o2sim.runs.study import Study, run_study
    from o2sim.scenario import Scenario, load, loads

_PLACES = {
    "O2simError": "o2sim.errors",
    "Scenario": "o2sim.scenario",
    "Study": "o2sim.runs.study",
    "compare": "o2sim.questions.choose.comparison",
    "cylinder_lasts": "o2sim.quantities.gas",
    "drivers": "o2sim.questions.drivers.drivers",
    "equipment": "o2sim.questions.equipment.to_buy",
    "fit": "o2sim.questions.fit.fitting",
    "hindcast": "o2sim.questions.hindcast.hindcast",
    "load": "o2sim.scenario",
    "loads": "o2sim.scenario",
    "read_records": "o2sim.records.reading",
    "run_study": "o2sim.runs.study",
    "size": "o2sim.questions.size.sizing",
    "study": "o2sim.questions.facilities.many_facilities",
    "summarise": "o2sim.measures.measures",
    "today": "o2sim.questions.today.today",
    "trace": "o2sim.questions.trace.tracing",
    "whatif": "o2sim.questions.whatif.whatif",
    "write_report": "o2sim.questions.report.publish",
}

__all__ = [
    "O2simError",
    "Scenario",
    "Study",
    "compare",
    "cylinder_lasts",
    "drivers",
    "equipment",
    "fit",
    "hindcast",
    "load",
    "loads",
    "read_records",
    "run_study",
    "size",
    "study",
    "summarise",
    "today",
    "trace",
    "whatif",
    "write_report",
]

_SHOWN = (
    "compare",
    "choose",
    "size",
    "whatif",
    "drivers",
    "equipment",
    "facilities",
    "trace",
    "check",
    "fit",
    "hindcast",
    "today",
)
_DRAWN = (
    "report.shown_chart",
    "choose.charts",
    "size.charts",
    "whatif.charts",
    "drivers.charts",
    "hindcast.charts",
    "today.charts",
)
_connect("html", "o2sim.looks.notebook", *(f"o2sim.questions.{room}.shown" for room in _SHOWN))
_connect("frame", *(f"o2sim.questions.{room}.shown" for room in _SHOWN))
_connect("chart", *(f"o2sim.questions.{place}" for place in _DRAWN))
_connect("sheets", "o2sim.questions.size.sheets", "o2sim.questions.fit.files")
_connect(
    "workers",
    "o2sim.questions.whatif.point_runs",
    "o2sim.questions.facilities.facility_study",
    "o2sim.cli",
    "o2sim.runs.warm",  # last: what is loaded so far is shared by all workers
)


def __getattr__(name: str) -> object:
    """Return a public name from the module that defines it."""
    if name not in _PLACES:
        known = ", ".join(__all__)
        raise AttributeError(f"module 'o2sim' has no attribute {name!r}; its public names are {known}")
    return getattr(import_module(_PLACES[name]), name)


def __dir__() -> list[str]:
    """Return the public names and the version."""
    return [*__all__, "__version__"]
