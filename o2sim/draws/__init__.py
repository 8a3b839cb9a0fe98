"""Every random number of a run, sampled ahead: the only place that touches a generator.

The names below are loaded when first used: who needs only plain uniform numbers stays without the compiler.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from o2sim.draws.admissions import Flows, PatientTable
    from o2sim.draws.laws import quantile
    from o2sim.draws.sample import Draws, Series

_PLACES = {
    "Draws": "o2sim.draws.sample",
    "Flows": "o2sim.draws.admissions",
    "PatientTable": "o2sim.draws.admissions",
    "Series": "o2sim.draws.sample",
    "quantile": "o2sim.draws.laws",
}

__all__ = ["Draws", "Flows", "PatientTable", "Series", "quantile"]


def __getattr__(name: str) -> object:
    """Return a name of this package, its module loaded now."""
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_PLACES[name]), name)
