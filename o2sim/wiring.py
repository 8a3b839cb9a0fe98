"""Which modules of upper floors are loaded for what lower ones leave to them; the package's face names them.

So a lower floor names nobody above it. Results are shown by makers that register in shown.py as their modules are
loaded; workers load what they will run before they are given anything.
"""

from __future__ import annotations

from importlib import import_module

_modules: dict[str, tuple[str, ...]] = {}


def connect(use: str, *modules: str) -> None:
    """Give the names of the modules that a use of them loads; they are not loaded yet."""
    _modules[use] = modules


def modules_for(use: str) -> tuple[str, ...]:
    """Return the names given for a use."""
    return _modules[use]


def load(use: str) -> None:
    """Import the modules given for a use, where they are not yet."""
    for name in _modules[use]:
        import_module(name)
