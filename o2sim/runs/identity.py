"""Where figures come from: the scenario, and how it was run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from o2sim.runs.precision import Precision
from o2sim.scenario.changing.joint import Joint
from o2sim.typed import Count, Hash, item

Engine = Annotated[str, (("enum", ("kernel", "reference")),)]


@dataclass(frozen=True)
class Origin:
    """The scenario that figures are of."""

    scenario: str
    scenario_hash: Hash = item("of what the file says")


@dataclass(frozen=True)
class Ran:
    """How it was run: the same again gives the same figures."""

    version: str = item("of o2sim")
    engine: Engine = item()
    seed: Count = item()
    replications: Count = item("done; those asked for, where the command states the number done elsewhere")


@dataclass(frozen=True)
class DrawnFrom:
    """The table of joint draws that a run met row by row, and how often."""

    file: str = item("of the draws")
    file_hash: Hash = item("SHA-256 of the file's bytes, the first 16 digits; of a data frame, of it as CSV")
    rows: Count = item()
    columns: tuple[str, ...] = item("keys of the scenario")
    rows_met: Count = item("by at least one replication")
    fewest_of_a_row: Count = item("replications of the row met least often; 0: not every row was met")
    most_of_a_row: Count = item("replications of the row met most often")
    kept_likely: tuple[str, ...] = item("uncertain numbers of the file without a column: at their likely values")


def drawn_from(joint: Joint, replications: int) -> DrawnFrom:
    """Return what so many replications met of joint draws."""
    rows = joint.rows
    return DrawnFrom(
        file=joint.table.file,
        file_hash=joint.table.hash,
        rows=rows,
        columns=joint.table.paths,
        rows_met=min(rows, replications),
        fewest_of_a_row=replications // rows,
        most_of_a_row=-(-replications // rows),
        kept_likely=joint.likely,
    )


@dataclass(frozen=True)
class Provenance:
    """What a study always says of itself, and how close it came where that was asked for."""

    of: Origin = item(flat=True)
    ran: Ran = item(flat=True)
    replications_requested: Count = item()
    complete: bool = item("false where Ctrl-C cut it short")
    horizon_days: float = item("length of a replication")
    per_days: float = item("what counts, hours, litres and money are scaled to")
    precision: Precision | None = item(default=None, sometimes=True)
