"""Show a result by the maker registered for its type, in a module that has the words for it.

Four looks: HTML in a notebook, a chart, a data frame, sheets to print. An upper floor registers its makers, as in
`@frame.register(Study)`; wiring.py knows which modules do so, and loads them when a look is first asked for.
"""

from __future__ import annotations

from functools import singledispatch
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from o2sim import wiring
from o2sim.errors import O2simError

if TYPE_CHECKING:
    import pandas as pd


class Shown:
    """A result that shows itself in a notebook: statement, tables with intervals, provenance."""

    def _repr_html_(self) -> str:
        """Return HTML that loads nothing from elsewhere and holds no script."""
        return html_of(self)


class Chart(Protocol):
    """A drawing that shows itself in a notebook, with its title, what it shows in words, and a note."""

    @property
    def title(self) -> str:
        """Return what it is called."""

    @property
    def alt(self) -> str:
        """Return what it shows, in words."""

    @property
    def note(self) -> str:
        """Return what stands below it."""

    @property
    def figure(self) -> Any:
        """Return the figure of Matplotlib, to be changed or drawn upon."""

    def save(self, path: str | Path) -> Path:
        """Write the drawing to a file, PNG or SVG by the end of its name; return its path."""


@singledispatch
def html(result: object) -> str:
    """Return a result as HTML; a plain text for what is none. Register its makers here; call html_of."""
    return f"<p>{escape(repr(result))}</p>"


@singledispatch
def chart(result: object, **_: Any) -> Chart:
    """Return a drawing of a result. Register its makers here; call chart_of."""
    raise _no_result(result)


@singledispatch
def frame(result: object, **_: Any) -> pd.DataFrame:
    """Return a result as a data frame. Register its makers here; call frame_of."""
    raise _no_result(result)


@singledispatch
def sheets(result: object, _: Path) -> list[Path]:
    """Write the sheets that go with a result into a folder. Register its makers here; call sheets_of."""
    raise _no_result(result)


@singledispatch
def scenario_copy(result: object, _path: Path, _force: bool) -> Path:
    """Write a copy of a scenario with a result in it. Register its makers here; call copy_of."""
    raise _no_result(result)


def html_of(result: object) -> str:
    """Return a result as HTML; a plain text for what is none."""
    wiring.load("html")
    return html(result)


def chart_of(result: object, **asked: Any) -> Chart:
    """Return a drawing of a result. Raises O2simError for what is none."""
    wiring.load("chart")
    return chart(result, **asked)


def copy_of(result: object, path: Path, force: bool) -> Path:
    """Write a copy of a scenario with an answer in it; return its path. Raises O2simError where there is none."""
    wiring.load("sheets")
    return scenario_copy(result, path, force)


def frame_of(result: object, **asked: Any) -> pd.DataFrame:
    """Return a result as a data frame. Raises O2simError for what is none."""
    wiring.load("frame")
    return frame(result, **asked)


def sheets_of(result: object, folder: Path) -> list[Path]:
    """Write the sheets that go with a sizing into a folder; return their paths. Raises O2simError for another."""
    wiring.load("sheets")
    return sheets(result, folder)


def _no_result(found: object) -> O2simError:
    return O2simError(f"found {type(found).__name__}; allowed: a result of o2sim")
