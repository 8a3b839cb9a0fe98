"""Data frames in, the files beside a scenario that they stand for out."""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from o2sim import tabular
from o2sim.errors import O2simError, Problem, ScenarioError
from o2sim.scenario.text import nodes
from o2sim.scenario.text.problems import nearest, quote

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Given:
    """Tables by the name of the file each stands for; folder is where the other files lie, None without one."""

    tables: AnyMapping[str, bytes]
    folder: Path | None


def given(tables: AnyMapping[str, pd.DataFrame] | None, folder: Path | None) -> Given | Path | None:
    """Return what stands beside a scenario. Raises O2simError for what is no data frame."""
    if tables is not None and not isinstance(tables, AnyMapping):
        raise O2simError(f"tables: found {type(tables).__name__}; allowed: data frames by the names of files")
    if not tables:
        return folder
    read = {name: tabular.csv_text(table, f"tables[{name!r}]").encode() for name, table in tables.items()}
    return Given(read, folder)


def check_named(beside: Given | Path | None, root: nodes.Mapping, file: str) -> None:
    """Raise ScenarioError for a table of a name that the scenario has nowhere: it would be passed over unseen."""
    if not isinstance(beside, Given):
        return
    said = {node.text.strip() for node in nodes.walk(root) if isinstance(node, nodes.Scalar)}
    unused = [name for name in beside.tables if name not in said]
    if unused:
        known = sorted(text for text in said if text.endswith(".csv"))
        allowed = f"names of files in the scenario: {', '.join(known) or 'none'}"
        raise ScenarioError(
            [
                Problem(
                    file, 0, "tables", f"the scenario names no file {quote(name)}", allowed, nearest(name, known)
                )
                for name in unused
            ]
        )
